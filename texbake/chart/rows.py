"""What there is to know of each panel, in the units that a tailor and a painter of textures use."""

import math
from dataclasses import dataclass

import numpy as np

from texbake.advice import Mirrored, PanelFigures, face_areas, flipped, panel_figures, uv_stretch
from texbake.arrays import F64
from texbake.chart.uvmap import UvMap, up_in_uv, uv_map
from texbake.garment.values import Garment
from texbake.layout.values import Layout


@dataclass(frozen=True, slots=True, kw_only=True)
class Sewn:
    """A panel that another is sewn to, and along how many mm."""

    name: str
    length_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class PanelRow:
    """One panel of a garment.

    Attributes
    ----------
    number : int
        The lowest of its islands, counted from 0: what a recipe writes as ``island: NUMBER``.
    name : str
    islands : tuple of int
        All of its islands; a recipe joins several with ``islands: [..]``.
    faces : int
        Triangles.
    area_cm2 : float
        In space.
    width_mm, length_mm : float
        Of the pattern, across the grain and along it.
    stretch_rms, stretch_max : float
        Edge-length error of the pattern against space, as a share.
    uv_stretch_mean, uv_stretch, uv_stretch_max : float
        Longest by shortest step of a texel on the cloth: mean over the area, of all but the worst
        1 % of it, and of the worst triangle.
    texels_per_cm : float
        Mean over the panel's area; ``low`` and ``high`` leave out 1 % of it at either end. 0 for
        a panel that has no texels.
    texels_per_cm_low, texels_per_cm_high : float
    mirrored : 'no', 'yes' or 'partly'
        Whether UV shows the cloth from its inside.
    grain_deg : float
        The cloth's lengthwise direction in UV, counter-clockwise from +V (up), in (-180, 180].
    seams : tuple of Sewn
        Longest first; one to itself bears the panel's own name.
    hem_mm : float
        Length of its open edges.
    objects, groups, materials : tuple of str
        Names in the mesh file that its faces bear; empty where the file gives none.
    """

    number: int
    name: str
    islands: tuple[int, ...]
    faces: int
    area_cm2: float
    width_mm: float
    length_mm: float
    stretch_rms: float
    stretch_max: float
    uv_stretch_mean: float
    uv_stretch: float
    uv_stretch_max: float
    texels_per_cm: float
    texels_per_cm_low: float
    texels_per_cm_high: float
    mirrored: Mirrored
    grain_deg: float
    seams: tuple[Sewn, ...]
    hem_mm: float
    objects: tuple[str, ...]
    groups: tuple[str, ...]
    materials: tuple[str, ...]


def panel_rows(garment: Garment, layout: Layout) -> tuple[PanelRow, ...]:
    """Describe every panel, in the garment's order.

    Parameters
    ----------
    garment : Garment
    layout : Layout
        Of the size that texels are counted at.

    Returns
    -------
    tuple of PanelRow
    """
    area, ratio = face_areas(garment), uv_stretch(layout)
    to_uv = uv_map(garment)
    figures = [panel_figures(layout, panel, area, ratio) for panel in garment.panels]
    return tuple(_row(garment, to_uv, area, index, one) for index, one in enumerate(figures))


def _row(garment: Garment, to_uv: UvMap, area: F64, index: int, figures: PanelFigures) -> PanelRow:
    panel = garment.panels[index]
    mine = area[panel.faces]
    size = np.ptp(garment.pattern_mm[panel.faces].reshape(-1, 2), axis=0)
    dense = figures.texels_per_cm
    up = up_in_uv(to_uv.by_y[panel.faces], mine)
    seams, hem_mm = _sewn(garment, index)
    mesh = garment.mesh
    return PanelRow(
        number=min(panel.islands),
        name=panel.name,
        islands=panel.islands,
        faces=len(panel.faces),
        area_cm2=panel.area_mm2 / 100.0,
        width_mm=float(size[0]),
        length_mm=float(size[1]),
        stretch_rms=panel.stretch_rms,
        stretch_max=panel.stretch_max,
        uv_stretch_mean=figures.uv_stretch_mean,
        uv_stretch=figures.uv_stretch,
        uv_stretch_max=figures.uv_stretch_max,
        texels_per_cm=dense.mean,
        texels_per_cm_low=dense.low,
        texels_per_cm_high=dense.high,
        mirrored=_mirrored(to_uv.handed[panel.faces], mine),
        grain_deg=math.degrees(math.atan2(-up[0], up[1])) + 0.0,
        seams=seams,
        hem_mm=hem_mm,
        objects=_names(mesh.objects, mesh.object_of[panel.faces].tolist()),
        groups=_names(mesh.groups, mesh.group_of[panel.faces].tolist()),
        materials=_names(mesh.materials, mesh.material_of[panel.faces].tolist()),
    )


def _mirrored(handed: F64, area: F64) -> Mirrored:
    """Judge by area."""
    return flipped(float(area[handed < 0].sum()), float(area[handed > 0].sum()))


def _sewn(garment: Garment, index: int) -> tuple[tuple[Sewn, ...], float]:
    """What a panel is sewn to, and the length of its hems."""
    length: dict[int, float] = {}
    hem_mm = 0.0
    for chain in garment.chains:
        if index not in chain.panels:
            continue
        if chain.kind == "hem":
            hem_mm += chain.length_mm
        elif chain.kind == "seam":
            first, second = chain.panels
            other = second if first == index else first
            length[other] = length.get(other, 0.0) + chain.length_mm
    order = sorted(length, key=lambda other: (-length[other], other))
    seams = tuple(Sewn(name=garment.panels[k].name, length_mm=length[k]) for k in order)
    return seams, hem_mm


def _names(table: tuple[str, ...], used: list[int]) -> tuple[str, ...]:
    """Names that some faces bear, without the empty one, in the file's order."""
    return tuple(dict.fromkeys(table[k] for k in sorted(set(used)) if table[k]))
