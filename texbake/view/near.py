"""A close-up: a hand's breadth of one panel, seen square on.

The camera goes where the panel is flat and, if it can, where a sewn edge is in the picture beside
plain cloth, so that both weave and stitches can be judged. What lies between it and the cloth (the
other leg, the other front) is not drawn.
"""

import difflib
import math
from dataclasses import dataclass
from typing import Final

import numpy as np

from texbake.arrays import F64, Bool
from texbake.errors import UserError
from texbake.garment.panels import panels_named
from texbake.garment.values import Garment
from texbake.view.project import project, to_picture
from texbake.view.spans import CENTRES, owners
from texbake.view.values import Camera, Model
from texbake.view.views import LENS_RAD, axes_of

SPAN_MM: Final = 90.0  # a hand's breadth: across the picture
_EDGE_MM: Final = 26.0  # a sewn edge so far from the middle is well in the picture
_ROUND_MM: Final = 40.0  # cloth within it should be flat
_CLEAR_MM: Final = 60.0  # what is so far in front of the cloth is not drawn
_AROUND_MM: Final = 40.0  # cloth so far beside the picture may throw shade into it
_MOST_SPOTS: Final = 400
_LOOKED_AT: Final = 24
_SKETCH_PX: Final = (48, 36)

# What makes a good spot, by eye: flat, a sewn edge beside it, much of the panel, no gap.
_FLAT: Final = 12.0
_SEWN: Final = 1.0
_OWN: Final = 2.0
_EMPTY: Final = 8.0


@dataclass(frozen=True, slots=True, eq=False)
class _Spot:
    """A place to look at: how good it is, its normal, how far its own face rises over it."""

    score: float
    middle_mm: F64
    normal: F64
    rise_mm: float


def panel_to_show(garment: Garment, name: str) -> int:
    """Return the index of the panel that a name means; of several, the one of most area.

    Raises
    ------
    UserError
        If there is none.
    """
    found = () if name == "all" else panels_named(garment.panels, name)
    if found:
        return max(found, key=lambda k: (garment.panels[k].area_mm2, -k))
    names = [panel.name for panel in garment.panels]
    near = difflib.get_close_matches(name, names, 1)
    hint = f"did you mean {near[0]}? " if near else ""
    raise UserError(f"there is no panel '{name}'", fix=f"{hint}the garment has: {', '.join(names)}")


def near_camera(garment: Garment, model: Model, panel: int, size_px: tuple[int, int]) -> Camera:
    """Place a camera before the spot of a panel that shows it best, square to it.

    Parameters
    ----------
    garment : Garment
    model : Model
        Of the garment, with all its faces that are on the maps.
    panel : int
        Index into ``garment.panels``.
    size_px : (int, int)
        Width and height; ``SPAN_MM`` fit into the width.

    Returns
    -------
    Camera
        Up in the picture is up in space, as far as it can be.
    """
    spots = _flat_spots(garment, panel)
    own = _on_panel(garment, model, panel)
    scores = [spot.score + _filling(model, own, spot) for spot in spots]
    return _camera(spots[int(np.argmax(scores))], size_px)


def casters(model: Model, camera: Camera) -> Model:
    """Faces that may throw shade in a close-up: those about it that are drawn.

    So nothing unseen darkens the cloth, and the depth maps, spread over little, are fine.
    """
    px, depth = to_picture(camera, model.points_mm)
    width, height = camera.size_px
    margin = _AROUND_MM / SPAN_MM * width
    low, high = px.min(axis=1), px.max(axis=1)
    about = (high > -margin).all(axis=1) & (low < np.array([width, height]) + margin).all(axis=1)
    drawn = depth.min(axis=1) >= camera.near_mm
    behind = depth.min(axis=1) > camera.near_mm + 2.0 * _CLEAR_MM
    kept = np.flatnonzero(about & drawn & ~behind)
    if not len(kept):
        return model
    return Model(
        points_mm=model.points_mm[kept],
        normals=model.normals[kept],
        tangents=model.tangents[kept],
        uv=model.uv[kept],
        face=model.face[kept],
    )


def _camera(spot: _Spot, size_px: tuple[int, int]) -> Camera:
    """Look at a spot along its normal."""
    away = SPAN_MM / 2.0 / math.tan(LENS_RAD / 2.0) + _CLEAR_MM
    width, height = size_px
    return Camera(
        eye_mm=spot.middle_mm + away * spot.normal,
        axes=axes_of(spot.normal),
        focal_px=away * width / SPAN_MM,
        centre_px=(width / 2.0, height / 2.0),
        size_px=size_px,
        near_mm=max(1.0, away - max(_CLEAR_MM, spot.rise_mm + 1.0)),
    )


def _flat_spots(garment: Garment, panel: int) -> list[_Spot]:
    """Most promising spots of a panel, the best first."""
    faces = garment.panels[panel].faces
    points = garment.mesh.points_mm[garment.mesh.faces[faces]]
    twice = np.cross(points[:, 1] - points[:, 0], points[:, 2] - points[:, 0])
    middle = points.mean(axis=1)
    edge = _edge_mm(garment, panel, middle)
    tried = np.unique(np.linspace(0, len(faces) - 1, min(len(faces), _MOST_SPOTS)).astype(int))
    found = []
    for k in tried.tolist():  # at most 400 spots, 30 us each
        away = middle - middle[k]
        close = (away * away).sum(axis=1) < _ROUND_MM**2
        close[k] = True
        total = twice[close].sum(axis=0)
        length = math.sqrt(float((total * total).sum()))
        area = float(np.sqrt((twice[close] ** 2).sum(axis=1)).sum())
        if length > 1e-9 * max(area, 1e-9):
            beside = math.exp(-(((float(edge[k]) - _EDGE_MM) / (0.6 * _EDGE_MM)) ** 2))
            normal = total / length
            rise = float(((points[k] - middle[k]) * normal).sum(axis=1).max())
            found.append(_Spot(_FLAT * length / area + _SEWN * beside, middle[k], normal, rise))
    found.sort(key=lambda spot: -spot.score)
    return found[:_LOOKED_AT] or [_Spot(0.0, middle[0], np.array([0.0, 0.0, 1.0]), 0.0)]


def _on_panel(garment: Garment, model: Model, panel: int) -> Bool:
    """Say which faces of the model are the panel's."""
    own = np.zeros(len(garment.panel), np.bool_)
    own[garment.panels[panel].faces] = True
    return own[model.face]


def _filling(model: Model, own: Bool, spot: _Spot) -> float:
    """How much of a small picture is the panel, and how little is empty."""
    camera = _camera(spot, _SKETCH_PX)
    seen = owners(project(model, camera).faces, slice(0, _SKETCH_PX[1]), _SKETCH_PX[0], CENTRES)
    there = seen >= 0
    return _OWN * float((there & own[seen]).mean()) - _EMPTY * float((~there).mean())


def _edge_mm(garment: Garment, panel: int, middle: F64) -> F64:
    """Distance of points to the nearest seam or hem of a panel, mm; inf where it has none."""
    ends = [
        chain.points_mm[:, 0] * (1.0 - share) + chain.points_mm[:, 1] * share
        for chain in garment.chains
        if panel in chain.panels and chain.kind != "cut"
        for share in (0.0, 0.25, 0.5, 0.75)
    ]
    if not ends:
        return np.full(len(middle), np.inf)
    from scipy.spatial import cKDTree  # heavy: only where it is used

    return np.asarray(cKDTree(np.concatenate(ends)).query(middle)[0], np.float64)
