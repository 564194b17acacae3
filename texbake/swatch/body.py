"""What a piece of cloth is laid on: a table, and a curtain of soft folds.

Both are developable, so cloth lies on them without stretch. The curtain hangs from a straight edge
and falls into folds that deepen downwards; across each row, cloth is measured along the fold.
"""

import math

import numpy as np

from texbake.arrays import F64, I64
from texbake.view import Model

FOLDS = 3.4  # in the width of the cloth (by eye, as all of this curtain)
DEEP = 0.26  # depth of a fold at the lower edge, of its width
LEAN = 0.35  # how far folds wander sideways from top to bottom, in folds
FINE = 1024  # steps along a row for measuring it
GRID = (80, 24)  # cells across and down


def flat(width_mm: float, length_mm: float) -> Model:
    """Two faces on a table, the middle at the origin, seen from +z."""
    x, y = (np.array([-0.5, 0.5]) * side for side in (width_mm, length_mm))
    points = np.zeros((2, 2, 3))
    points[..., 0], points[..., 1] = np.meshgrid(x, y)
    return _surface(points, np.array([0.0, 1.0]), np.array([0.0, 1.0]))


def curtain(width_mm: float, length_mm: float) -> Model:
    """A piece of cloth in folds, its middle near the origin, seen from +z."""
    u, v = (np.linspace(0.0, 1.0, count + 1) for count in GRID)
    points = np.stack([_row(width_mm, u, float(t)) for t in v])
    points[..., 1] = (v[:, None] - 0.5) * length_mm
    return _surface(points, u, v)


def _row(width_mm: float, u: F64, up: float) -> F64:
    """Points of one row, evenly spaced along the cloth; ``up``: 0 at the lower edge, 1 on top."""
    x = np.linspace(-0.5, 0.5, FINE) * width_mm
    fold = width_mm / FOLDS
    drop = 1.0 - up
    phase = 2.0 * math.pi * (x / fold + LEAN * drop * drop) + 0.6 * np.sin(2.9 * x / fold)
    deep = DEEP * fold * (0.25 + 0.75 * drop * drop * (3.0 - 2.0 * drop))
    z = 0.5 * deep * (np.sin(phase) + 0.22 * np.sin(2.0 * phase + 1.0))
    run = np.concatenate([[0.0], np.cumsum(np.hypot(np.diff(x), np.diff(z)))])
    place = (u - 0.5) * width_mm + 0.5 * run[-1]  # the middle of the cloth on that of the row
    out = np.zeros((len(u), 3))
    out[:, 0], out[:, 2] = np.interp(place, run, x), np.interp(place, run, z)
    return out


def _surface(points: F64, u: F64, v: F64) -> Model:
    """Two triangles to each cell of a grid of points (rows, columns, 3), row 0 at the bottom."""
    across, up = (_along(points, axis) for axis in (1, 0))
    normal = np.cross(across, up)
    normal /= np.linalg.norm(normal, axis=2, keepdims=True)
    across /= np.linalg.norm(across, axis=2, keepdims=True)
    corners = _corners(points.shape[:2])
    uv = np.stack(np.meshgrid(u, v), axis=2).reshape(-1, 2)
    tangent = np.concatenate([across, np.ones_like(across[..., :1])], axis=2).reshape(-1, 4)
    return Model(
        points_mm=points.reshape(-1, 3)[corners],
        normals=normal.reshape(-1, 3)[corners].astype(np.float32),
        tangents=tangent[corners].astype(np.float32),
        uv=uv[corners],
        face=np.arange(len(corners), dtype=np.int32),
    )


def _along(points: F64, axis: int) -> F64:
    """Direction from each point to the next."""
    return np.asarray(np.gradient(points, axis=axis), np.float64)


def _corners(shape: tuple[int, ...]) -> I64:
    """Corner numbers of the triangles of a grid, counter-clockwise, (F, 3)."""
    number = np.arange(shape[0] * shape[1]).reshape(shape)
    a, b, c, d = number[:-1, :-1], number[:-1, 1:], number[1:, 1:], number[1:, :-1]
    halves = [np.stack(three, axis=2).reshape(-1, 3) for three in ((a, b, c), (a, c, d))]
    return np.concatenate(halves)
