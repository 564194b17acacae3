"""What is seen beside the garment: a grey that falls off a little, and its shade on the floor."""

import numpy as np

from texbake.arrays import F32
from texbake.view.values import Camera, Cell, Ground


def backdrop(
    ground: Ground, cells: tuple[Cell, ...], height_px: int, rows: slice, columns: slice
) -> F32:
    """Light of the backdrop and the floor in a part of a picture.

    Parameters
    ----------
    ground : Ground
    cells : tuple of Cell
        The views in the picture. The shade under each runs on beyond its cell.
    height_px : int
        Of the picture.
    rows, columns : slice
        The part.

    Returns
    -------
    (rows, columns) float32
        Linear light.
    """
    x = np.arange(columns.start, columns.stop, dtype=np.float32) + 0.5
    y = np.arange(rows.start, rows.stop, dtype=np.float32) + 0.5
    fall = y / height_px
    fall = fall * fall * (3.0 - 2.0 * fall)
    light = np.repeat((ground.top + (ground.bottom - ground.top) * fall)[:, None], len(x), axis=1)
    for cell in cells:
        light *= 1.0 - _floor_shade(ground, cell.camera, x - cell.left, y - cell.top)
    return light


def dither(width: int, rows: slice, left: int) -> F32:
    """Noise of less than one code, even and without a pattern, so that no steps show. (rows, W).

    Interleaved gradient noise (Jimenez 2014): each 3 x 3 pixels have nine different values.
    """
    x = np.arange(left, left + width, dtype=np.float64)
    y = np.arange(rows.start, rows.stop, dtype=np.float64)[:, None]
    inner = 0.06711056 * x + 0.00583715 * y
    noise = 52.9829189 * (inner - np.floor(inner))
    return (noise - np.floor(noise) - 0.5).astype(np.float32)


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
