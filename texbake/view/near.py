"""A close-up: a hand's breadth of one panel, seen square on.

The camera goes where the panel is flat and, if it can, where a sewn edge is in the picture beside
plain cloth, so that both weave and stitches can be judged. What lies between it and the cloth (the
other leg, the other front) is not drawn.
"""

import difflib
import math
from typing import Final

import numpy as np

from texbake.arrays import F64, I32
from texbake.errors import UserError
from texbake.garment.panels import panels_named
from texbake.garment.values import Garment
from texbake.view.values import Camera
from texbake.view.views import LENS_RAD, axes_of

SPAN_MM: Final = 90.0  # a hand's breadth: across the picture
_EDGE_MM: Final = 26.0  # a sewn edge so far from the middle is well in the picture
_ROUND_MM: Final = 40.0  # cloth within it should be flat
_CLEAR_MM: Final = 60.0  # what is so far in front of the cloth is not drawn
_MOST_SPOTS: Final = 400


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
    raise UserError(
        f"there is no panel '{name}'", fix=f"{hint}the garment has: {', '.join(names)}"
    )


def near_camera(garment: Garment, panel: int, size_px: tuple[int, int]) -> Camera:
    """Place a camera before the flattest spot of a panel, square to it.

    Parameters
    ----------
    garment : Garment
    panel : int
        Index into ``garment.panels``.
    size_px : (int, int)
        Width and height; ``SPAN_MM`` fit into the width.

    Returns
    -------
    Camera
        Up in the picture is up in space, as far as it can be.
    """
    spot, normal = flat_spot(garment, panel)
    away = SPAN_MM / 2.0 / math.tan(LENS_RAD / 2.0) + _CLEAR_MM
    width, height = size_px
    return Camera(
        eye_mm=spot + away * normal,
        axes=axes_of(normal),
        focal_px=away * width / SPAN_MM,
        centre_px=(width / 2.0, height / 2.0),
        size_px=size_px,
        near_mm=away - _CLEAR_MM,
    )


def flat_spot(garment: Garment, panel: int) -> tuple[F64, F64]:
    """Return the place on a panel that shows it best, and the normal there.

    Returns
    -------
    spot, normal : (3,) float64
        mm, and unit.
    """
    faces = garment.panels[panel].faces
    points = garment.mesh.points_mm[garment.mesh.faces[faces]]
    twice = np.cross(points[:, 1] - points[:, 0], points[:, 2] - points[:, 0])
    middle = points.mean(axis=1)
    tried = np.unique(np.linspace(0, len(faces) - 1, min(len(faces), _MOST_SPOTS)).astype(int))
    best, chosen = -np.inf, (middle[0], np.array([0.0, 0.0, 1.0]))
    edge = _edge_mm(garment, panel, middle)
    for k in tried.tolist():  # at most 400 spots, 30 us each
        away = middle - middle[k]
        close = (away * away).sum(axis=1) < _ROUND_MM**2
        close[k] = True
        total = twice[close].sum(axis=0)
        length = math.sqrt(float((total * total).sum()))
        area = float(np.sqrt((twice[close] ** 2).sum(axis=1)).sum())
        if length <= 1e-9 * max(area, 1e-9):
            continue
        score = _score(length / area, area / 2.0, float(edge[k]))
        if score > best:
            best, chosen = score, (middle[k], total / length)
    return chosen


def _score(flatness: float, area_mm2: float, edge_mm: float) -> float:
    """How well a spot shows its panel: flat, full of cloth, a sewn edge at hand's width."""
    full = min(1.0, area_mm2 / (0.6 * math.pi * _ROUND_MM**2))
    beside = math.exp(-(((edge_mm - _EDGE_MM) / (0.6 * _EDGE_MM)) ** 2))
    return 12.0 * flatness + full + 0.5 * beside


def _edge_mm(garment: Garment, panel: int, middle: F64) -> F64:
    """Distance of points to the nearest seam or hem of a panel, mm; inf where it has none."""
    ends: list[F64] = []
    for chain in garment.chains:
        if panel in chain.panels and chain.kind != "cut":
            ends.append(chain.points_mm.mean(axis=1))
    if not ends:
        return np.full(len(middle), np.inf)
    from scipy.spatial import cKDTree  # heavy: only where it is used

    return np.asarray(cKDTree(np.concatenate(ends)).query(middle)[0], np.float64)


def panel_faces(garment: Garment, panel: int) -> I32:
    """Faces of a panel."""
    return garment.panels[panel].faces
