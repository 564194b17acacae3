"""Turn a flat piece so that +y is the grain, and put the origin at its middle.

Only the shape in space decides, so a new UV layout changes nothing.
"""

import math

import numpy as np

from texbake.arrays import F64, I64

UP, FRONT, LEFT = np.array([0.0, 1, 0]), np.array([0.0, 0, 1]), np.array([1.0, 0, 0])
# Below this share of its area a piece has no clear direction: sine of 6 degrees.
CLEAR = 0.1


def lay_on_grain(
    points_mm: F64, faces: I64, flat_mm: F64, *, grain_rad: float = 0.0, middle_mm: F64
) -> F64:
    """Turn and shift a flat piece to the pattern plane.

    Parameters
    ----------
    points_mm : (V, 3) float64
        Positions in space, mm, +Y up.
    faces : (K, 3) int64
        Triangles, counter-clockwise seen from outside.
    flat_mm : (V, 2) float64
        The same vertices laid flat, not mirrored.
    grain_rad : float
        How far the warp leans from the garment's up, counter-clockwise seen from outside.
    middle_mm : (3,) float64
        Middle of the garment.

    Returns
    -------
    (V, 2) float64
        x across the grain, y along it, mm; origin at the centre of area. With ``grain_rad`` 0 and
        seen from outside, y is the garment's up and x points right.
    """
    corners, flat = points_mm[faces], flat_mm[faces]
    normal = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    area = 0.5 * np.linalg.norm(normal, axis=1)
    total = max(float(area.sum()), 1e-300)
    up = _up(corners, flat, normal.sum(axis=0), middle_mm)
    centre = (area[:, None] * flat.mean(axis=1)).sum(axis=0) / total
    angle = math.atan2(up[0], up[1]) - grain_rad  # turns ``up`` to +y, then the warp
    c, s = math.cos(angle), math.sin(angle)
    return np.asarray((flat_mm - centre) @ np.array([[c, s], [-s, c]]))


def _up(corners: F64, flat: F64, normal: F64, middle_mm: F64) -> F64:
    """Find the direction (2,) in the flat piece that is the garment's up.

    A piece that lies (a yoke) has no up of its own: it goes on where the front's up leads, to the
    back on top, to the front underneath. A tube that lies along x (a sleeve held out) has neither:
    its up is towards the middle of the garment, as a hanging sleeve's is.
    """
    over = -FRONT if normal[1] >= 0 else FRONT
    inward = LEFT if corners.mean(axis=(0, 1))[0] < middle_mm[0] else -LEFT
    best, most = np.array([0.0, 1.0]), 1e-9
    for axis in (UP, over, inward):
        direction, clear = _mean_direction(corners, flat, axis)
        if clear >= CLEAR:
            return direction
        if clear > most:
            best, most = direction, clear
    return best


def _mean_direction(corners: F64, flat: F64, axis: F64) -> tuple[F64, float]:
    """Return the area-weighted mean (2,) of ``axis`` laid flat with each face, and its length."""
    a, b = corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]
    normal = np.cross(a, b)
    area2 = np.linalg.norm(normal, axis=1)
    whole = area2 > 1e-12 * float((a * a).sum(axis=1).max(initial=0.0))
    a, normal, area2 = a[whole], normal[whole], area2[whole]
    if len(a) == 0:
        return np.array([0.0, 1.0]), 0.0
    # Frame of the face: first along side a. How far the flat face is turned from it: the best fit
    # of all three corners about their middle, so that no corner is preferred.
    first = a / np.linalg.norm(a, axis=1)[:, None]
    second = np.cross(normal / area2[:, None], first)
    own = corners[whole] - corners[whole].mean(axis=1, keepdims=True)
    shape = np.einsum("kcd,kd->kc", own, first) + 1j * np.einsum("kcd,kd->kc", own, second)
    laid = flat[whole] - flat[whole].mean(axis=1, keepdims=True)
    turn = (np.conj(shape) * (laid[..., 0] + 1j * laid[..., 1])).sum(axis=1)
    turn = turn / np.maximum(np.abs(turn), 1e-300)
    mean = complex((area2 * turn * (first @ axis + 1j * (second @ axis))).sum() / area2.sum())
    return np.array([mean.real, mean.imag]), abs(mean)
