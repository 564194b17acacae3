"""Everything that there is to say of a layout, as numbers."""

from dataclasses import dataclass
from typing import Literal

import numpy as np

from texbake.advice.gaps import Gap, gap_wanted, gaps
from texbake.advice.per_face import (
    ENDS,
    Density,
    density,
    face_areas,
    handed,
    share_under,
    uv_stretch,
)
from texbake.arrays import F64, I32
from texbake.garment.values import Garment, Panel
from texbake.layout.raster import paint, snap
from texbake.layout.values import Layout

Mirrored = Literal["no", "yes", "partly"]
LEAST_GAP = 3.0  # texels looked for at least: level 0
OFF = 1e-6  # of the square: files write six digits


@dataclass(frozen=True, slots=True, kw_only=True)
class PanelFigures:
    """One panel.

    Attributes
    ----------
    name : str
    line : int or None
        Where a recipe names it.
    stretch_rms, stretch_max : float
        Edge-length error of its pattern against space, as a share.
    uv_stretch_mean, uv_stretch, uv_stretch_max : float
        Longest by shortest step of a texel on the surface: mean over the area, of all but the
        worst 1 % of it, and of the worst face. 0 for a panel without texels.
    texels_per_cm : Density
    """

    name: str
    line: int | None
    stretch_rms: float
    stretch_max: float
    uv_stretch_mean: float
    uv_stretch: float
    uv_stretch_max: float
    texels_per_cm: Density


@dataclass(frozen=True, slots=True, kw_only=True)
class Shared:
    """Texels whose centres lie in two islands, or twice in one that is folded."""

    islands: tuple[int, int]
    texels: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Off:
    """An island off the square, and by how much in UV at the farthest."""

    island: int
    by: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Figures:
    """A layout at one size.

    Attributes
    ----------
    size_px, gutter_px : int
    panels : tuple of PanelFigures
    names : tuple of str
        The panel of each island; "" for none.
    density_spread : float
        Texels per cm of the densest panel by those of the coarsest; 1 where there is only one.
    densest, coarsest : str
        Which these are.
    unused : float
        Share of the texels whose centre lies in no island.
    gaps : tuple of Gap
        Islands nearer to each other than the gutter needs, nearest first; else the nearest two.
        Those that share texels are left out.
    gap_wanted : int
        What the gutter needs, texels.
    off : tuple of Off
    mirrored, folded : tuple of int
        Islands that show the cloth from its inside, wholly; and in more than 1 % of their area.
    shared : tuple of Shared
        The most texels first.
    """

    size_px: int
    gutter_px: int
    panels: tuple[PanelFigures, ...]
    names: tuple[str, ...]
    density_spread: float
    densest: str
    coarsest: str
    unused: float
    gaps: tuple[Gap, ...]
    gap_wanted: int
    off: tuple[Off, ...]
    mirrored: tuple[int, ...]
    folded: tuple[int, ...]
    shared: tuple[Shared, ...]


def measure(garment: Garment, layout: Layout, *, gutter_px: int) -> Figures:
    """Measure a layout.

    Parameters
    ----------
    garment : Garment
    layout : Layout
        Of the size that texels are counted at; its gutter does not count.
    gutter_px : int
        What the recipe asks for.
    """
    area, ratio = face_areas(garment), uv_stretch(layout)
    panels = tuple(panel_figures(layout, panel, area, ratio) for panel in garment.panels)
    dense = sorted((p for p in panels if p.texels_per_cm.mean > 0), key=_mean)
    shared = _shared(garment, layout.size_px)
    wanted = gap_wanted(gutter_px)
    together = {one.islands for one in shared if one.islands[0] != one.islands[1]}
    near = gaps(garment, layout.size_px, within=max(float(wanted), LEAST_GAP), apart=together)
    covered = int(np.count_nonzero(layout.face >= 0)) - len(layout.partial)
    turned = _flipped(garment, area)
    return Figures(
        size_px=layout.size_px,
        gutter_px=gutter_px,
        panels=panels,
        names=_names(garment),
        density_spread=_mean(dense[-1]) / _mean(dense[0]) if dense else 1.0,
        densest=dense[-1].name if dense else "",
        coarsest=dense[0].name if dense else "",
        unused=1.0 - covered / layout.face.size,
        gaps=tuple(near),
        gap_wanted=wanted,
        off=off_square(garment.mesh.uv[garment.panel >= 0], garment.island[garment.panel >= 0]),
        mirrored=tuple(k for k, kind in turned.items() if kind == "yes"),
        folded=tuple(k for k, kind in turned.items() if kind == "partly"),
        shared=shared,
    )


def off_square(uv: F64, island: I32) -> tuple[Off, ...]:
    """Find islands that leave the square by more than 1e-6 of it, and by how much.

    Parameters
    ----------
    uv : (F, 3, 2) float64
    island : (F,) int32
    """
    by = np.maximum(-uv, uv - 1.0).reshape(len(uv), -1).max(axis=1, initial=0.0)
    most = np.zeros(int(island.max(initial=-1)) + 1)
    np.maximum.at(most, island, by)
    return tuple(Off(island=k, by=float(most[k])) for k in np.flatnonzero(most > OFF).tolist())


def _mean(panel: PanelFigures) -> float:
    return panel.texels_per_cm.mean


def panel_figures(layout: Layout, panel: Panel, area: F64, ratio: F64) -> PanelFigures:
    """Measure one panel.

    Parameters
    ----------
    layout : Layout
    panel : Panel
    area, ratio : (F,) float64
        ``face_areas`` and ``uv_stretch`` of all faces.
    """
    mine = panel.faces[(ratio[panel.faces] > 0) & (area[panel.faces] > 0)]
    value, weight = ratio[mine], area[mine]
    total = float(weight.sum())
    return PanelFigures(
        name=panel.name,
        line=panel.line,
        stretch_rms=panel.stretch_rms,
        stretch_max=panel.stretch_max,
        uv_stretch_mean=float((value * weight).sum()) / total if total > 0 else 0.0,
        uv_stretch=share_under(value, weight, 1.0 - ENDS) if total > 0 else 0.0,
        uv_stretch_max=float(value.max(initial=0.0)),
        texels_per_cm=density(layout, panel.faces, area[panel.faces]),
    )


def _shared(garment: Garment, size_px: int) -> tuple[Shared, ...]:
    """Count the texels that islands have in common."""
    snapped = snap(garment.mesh.uv, garment.panel, size_px)
    found = paint(snapped, size_px, garment.island)[1]
    shared = [Shared(islands=pair, texels=texels) for pair, texels in found.items()]
    return tuple(sorted(shared, key=lambda one: (-one.texels, one.islands)))


def _flipped(garment: Garment, area: F64) -> dict[int, Mirrored]:
    """Say of every island of a panel whether UV mirrors it."""
    way = np.where(garment.panel >= 0, np.sign(handed(garment)), 0.0) * area
    count = int(garment.island.max(initial=-1)) + 1
    turned = np.bincount(garment.island, np.maximum(-way, 0.0), count)
    ahead = np.bincount(garment.island, np.maximum(way, 0.0), count)
    return {
        k: flipped(float(turned[k]), float(ahead[k]))
        for k in range(count)
        if turned[k] + ahead[k] > 0
    }


def flipped(turned: float, ahead: float) -> Mirrored:
    """Judge by the areas that lie either way round; 1 % may lie the other."""
    if turned <= ENDS * (turned + ahead):
        return "no"
    return "yes" if ahead <= ENDS * (turned + ahead) else "partly"


def _names(garment: Garment) -> tuple[str, ...]:
    """Name the panel of each island."""
    names = [""] * (int(garment.island.max(initial=-1)) + 1)
    for panel in garment.panels:
        for island in panel.islands:
            names[island] = panel.name
    return tuple(names)
