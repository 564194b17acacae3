"""What is seen beside the garment: a grey that falls off a little, and a soft shade on the floor."""

import numpy as np

from texbake.arrays import F32
from texbake.view.values import Camera, Ground


def backdrop(ground: Ground, camera: Camera, rows: slice) -> F32:
    """Light of the backdrop in a band of rows.

    Parameters
    ----------
    ground : Ground
    camera : Camera
    rows : slice
        Rows of pixels.

    Returns
    -------
    (3, N) float32
        Linear light, row by row.
    """
    width, height = camera.size_px
    x = np.arange(width, dtype=np.float32) + 0.5
    y = np.arange(rows.start, rows.stop, dtype=np.float32) + 0.5
    fall = y / height
    fall = fall * fall * (3.0 - 2.0 * fall)
    grey = (ground.top + (ground.bottom - ground.top) * fall)[:, None]
    light = grey * (1.0 - _floor_shade(ground, camera, x, y))
    return np.broadcast_to(light.reshape(1, -1), (3, light.size))


def _floor_shade(ground: Ground, camera: Camera, x: F32, y: F32) -> F32:
    """Share of light that the floor has lost where each pixel sees it. (rows, width)."""
    right, up, back = (axis.astype(np.float32) for axis in camera.axes)
    across = ((x - camera.centre_px[0]) / camera.focal_px)[None, :]
    along = ((camera.centre_px[1] - y) / camera.focal_px)[:, None]
    ray = [across * float(right[k]) + along * float(up[k]) - float(back[k]) for k in range(3)]
    eye = [float(k) for k in camera.eye_mm]
    down = ray[1] < -1e-4
    far = (ground.floor_mm - eye[1]) / np.where(down, ray[1], -1.0)
    column = (eye[0] + far * ray[0] - ground.low_mm[0]) / ground.step_mm - 0.5
    row = (eye[2] + far * ray[2] - ground.low_mm[1]) / ground.step_mm - 0.5
    size = len(ground.shade)
    inside = down & (column > 0) & (row > 0) & (column < size - 1) & (row < size - 1)
    shade = _bilinear(ground.shade, np.where(inside, column, 0.0), np.where(inside, row, 0.0))
    return np.where(inside, shade, 0.0).astype(np.float32)


def _bilinear(cells: F32, column: F32, row: F32) -> F32:
    """Blend of 2 x 2 cells; all four must exist, or the share of those beyond be 0."""
    size = len(cells)
    i = np.minimum(column.astype(np.int32), size - 2)
    k = np.minimum(row.astype(np.int32), size - 2)
    x, y = column - i, row - k
    upper = cells[k, i] * (1.0 - x) + cells[k, i + 1] * x
    lower = cells[k + 1, i] * (1.0 - x) + cells[k + 1, i + 1] * x
    out: F32 = upper * (1.0 - y) + lower * y
    return out
