"""Which sizes and which part of the maps a picture reads: the rest need not be decoded."""

import numpy as np

from texbake.arrays import F32, I32, bands
from texbake.view.project import Projected, places, steps_at
from texbake.view.sample import MOST_TAPS, footprint
from texbake.view.spans import BITS, CENTRES, owners

Window = tuple[float, float, float, float]

# Maps up to this size are decoded as they are; of larger ones, what is hidden is left out.
_LARGE_PX = 2048
_ROWS = 64


def needed(
    maps_px: tuple[int, int], uv: F32, views: list[tuple[Projected, tuple[int, int]]]
) -> tuple[int, Window]:
    """Find the largest level that any view reads, and the part of the maps.

    Parameters
    ----------
    maps_px : (int, int)
        Width and height of the maps.
    uv : (F, 3, 2) float32
    views : list of (Projected, (width, height))

    Returns
    -------
    base : int
        Number of the level: each is half the size of the one before.
    window : (left, top, right, bottom)
        In shares of width and height, from the top left.
    """
    level = min((_level(maps_px, uv, one) for one, _ in views), default=0)
    low, high = np.ones(2), np.zeros(2)
    for one, size_px in views:
        face = one.faces.number
        if level == 0 and max(maps_px) > _LARGE_PX:
            face = _seen(one, size_px)
        if len(face):
            low = np.minimum(low, uv[face].min(axis=(0, 1)))
            high = np.maximum(high, uv[face].max(axis=(0, 1)))
    if (low >= high).any():
        return level, (0.0, 0.0, 1.0, 1.0)
    return level, (float(low[0]), 1.0 - float(high[1]), float(high[0]), 1.0 - float(low[1]))


def _level(maps_px: tuple[int, int], uv: F32, one: Projected) -> int:
    """Largest level that some face reads at its middle."""
    face = one.faces.number
    if not len(face):
        return 0
    middle = one.faces.corner.mean(axis=1).astype(np.float32) / float(1 << BITS)
    where = places(one, face, middle[:, 0], middle[:, 1])
    minor, major, _, _ = footprint(maps_px, steps_at(where, uv))
    return int(np.log2(np.maximum(np.maximum(minor, major / MOST_TAPS), 1.0).min()))


def _seen(one: Projected, size_px: tuple[int, int]) -> I32:
    """Faces that are seen at the middle of some pixel."""
    width, height = size_px
    seen = [np.unique(owners(one.faces, rows, width, CENTRES)) for rows in bands(height, _ROWS)]
    face = np.unique(np.concatenate(seen))
    return np.asarray(face[face >= 0], np.int32)
