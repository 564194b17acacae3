"""How much of each lamp a point sees: depth maps from the lamp, with soft edges.

A depth map holds how near to the lamp the first cloth lies. A point is lit where nothing is much
nearer. Four cells are compared and their answers blended (percentage-closer filtering: Reeves,
Salesin and Cook 1987), so that the shadow's edge is a ramp and not steps. Points are first moved
out along their normal by little more than a cell, since the cells of a slanted face lie on a stair.
"""

import math
from dataclasses import dataclass

import numpy as np

from texbake.arrays import F32, F64, I32
from texbake.view.spans import CENTRES, faces_in, visible
from texbake.view.values import Light, Model
from texbake.view.vectors import along

_RIM = 2  # cells left free round the garment
_OUT = 1.6  # points are moved out by so many cells
_TOWARDS = 0.6  # and towards the lamp by so many


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class DepthMap:
    """What a lamp sees of the garment.

    Attributes
    ----------
    axes : (3, 3) float32
        Rows: to the right in the map, down in it, to the lamp. In space, per cell for the first
        two, per mm for the last.
    origin : (3,) float32
        Added to ``axes @ point``: then x, y are in cells from the map's corner.
    nearness : (N, N) float32
        mm to the lamp along the last axis; -inf where nothing is.
    cell_mm : float
    """

    axes: F32
    origin: F32
    nearness: F32
    cell_mm: float


def depth_map(model: Model, to_light: F64, size_px: int) -> DepthMap:
    """Draw the garment as a lamp far away sees it.

    Parameters
    ----------
    model : Model
    to_light : (3,) float64
        Unit vector in space.
    size_px : int
        Cells to a side of the map, at least 8.

    Returns
    -------
    DepthMap
    """
    across = _across(to_light)
    seen = model.points_mm @ np.stack([*across, to_light]).T
    flat = seen.reshape(-1, 3)
    low, high = flat[:, :2].min(axis=0), flat[:, :2].max(axis=0)
    cell = max(float((high - low).max()) / (size_px - 2 * _RIM), 1e-6)
    seen[:, :, :2] = (seen[:, :, :2] - low) / cell + _RIM
    faces = faces_in(seen[:, :, :2], _planes(seen), (size_px, size_px))
    nearness = visible(faces, slice(0, size_px), size_px, CENTRES)[0][:, 0, :]
    return DepthMap(
        axes=np.stack([*(across / cell), to_light]).astype(np.float32),
        origin=np.array([*(_RIM - low / cell), 0.0], np.float32),
        nearness=nearness,
        cell_mm=cell,
    )


def seen_share(depth: DepthMap, points_mm: F32, normals: F32) -> F32:
    """How much of a lamp each point sees.

    Parameters
    ----------
    depth : DepthMap
    points_mm, normals : (3, N) float32
        The normals are the mesh's, without relief, on the side that is seen. A point is moved
        out along them, so cloth is dark where the lamp is behind it.

    Returns
    -------
    (N,) float32
        0 to 1.
    """
    size = depth.nearness.shape[0]
    moved = normals * (_OUT * depth.cell_mm)
    moved += points_mm
    z = along(moved, depth.axes[2])
    z += _TOWARDS * depth.cell_mm
    x, y = (along(moved, depth.axes[k]) + (float(depth.origin[k]) - 0.5) for k in range(2))
    np.clip(x, 0.0, size - 1.001, out=x)
    np.clip(y, 0.0, size - 1.001, out=y)
    column, row = x.astype(np.int32), y.astype(np.int32)
    x -= column
    y -= row
    at = row * size
    at += column
    flat = depth.nearness.reshape(-1)
    upper = _blend(flat, at, z, x)
    at += size
    lower = _blend(flat, at, z, x)
    lower -= upper
    lower *= y
    lower += upper
    return lower


def _blend(flat: F32, at: I32, z: F32, share: F32) -> F32:
    """Compare with two neighbouring cells and blend the answers, 1 for lit."""
    lit = (np.take(flat, at) <= z).astype(np.float32)
    at += 1
    other = (np.take(flat, at) <= z).astype(np.float32)
    at -= 1
    other -= lit
    other *= share
    other += lit
    return other


def _across(to_light: F64) -> F64:
    """Two unit vectors at right angles to a third and to each other. (2, 3)."""
    least = int(np.abs(to_light).argmin())
    axis = np.zeros(3)
    axis[least] = 1.0
    right = np.cross(axis, to_light)
    right = right / math.sqrt(float((right * right).sum()))
    return np.stack([right, np.cross(to_light, right)])


def _planes(seen: F64) -> F64:
    """Nearness at (x, y, 1) of each face; faces seen edge on are flat. (F, 3)."""
    side = seen[:, 1:] - seen[:, :1]
    p, q = side[:, 0], side[:, 1]
    area = p[:, 0] * q[:, 1] - p[:, 1] * q[:, 0]
    safe = np.where(np.abs(area) > 1e-9, area, np.inf)
    by_x = (p[:, 2] * q[:, 1] - q[:, 2] * p[:, 1]) / safe
    by_y = (q[:, 2] * p[:, 0] - p[:, 2] * q[:, 0]) / safe
    rest = seen[:, 0, 2] - by_x * seen[:, 0, 0] - by_y * seen[:, 0, 1]
    return np.stack([by_x, by_y, rest], axis=1)


def lamps_in_space(lights: tuple[Light, ...], axes: F64) -> F64:
    """Directions to the lamps in space, (L, 3): they stand still relative to the camera."""
    return np.array([light.to_light for light in lights], np.float64).reshape(-1, 3) @ axes
