"""Which segments can be the nearest one somewhere on each face."""

import numpy as np

from texbake.arrays import F64, I32, I64, bands
from texbake.garment.values import Garment

PAIRS_AT_ONCE = 1 << 17  # faces times segments: about 20 MB of temporaries


def candidates(
    garment: Garment, panel_of: I32, ends: F64, reach_mm: float, spare_mm: float
) -> tuple[I64, I64]:
    """Pairs of face and segment, by face and then by segment.

    A segment stays out where it is farther from the whole face than reach, or than some other
    segment is from the farthest point of the face (a corner, since distance to a segment is
    convex).
    """
    faces = np.flatnonzero(np.isin(garment.panel, panel_of))
    parts = [(np.empty(0, np.int64), np.empty(0, np.int64))]
    for batch in bands(len(faces), max(1, PAIRS_AT_ONCE // max(len(ends), 1))):
        some = faces[batch]
        triangle = garment.pattern_mm[some]
        apart = garment.panel[some][:, None] != panel_of[None, :]
        limit = np.where(apart, np.inf, _farthest(triangle, ends)).min(axis=1)
        limit = np.minimum(limit + spare_mm, reach_mm) + spare_mm
        least = np.where(apart, np.inf, _gap(triangle, ends))
        at, segment = np.nonzero(least <= limit[:, None])
        parts.append((some[at], segment))
    return np.concatenate([f for f, _ in parts]), np.concatenate([s for _, s in parts])


def _farthest(triangle: F64, ends: F64) -> F64:
    """Distance from each segment to the farthest point of each triangle. (F, E)."""
    along = ends[:, 1] - ends[:, 0]
    arm = triangle[:, :, None] - ends[:, 0]
    t = (_dot(arm, along) / _dot(along, along)).clip(0.0, 1.0)
    arm -= t[..., None] * along
    farthest: F64 = np.sqrt(_dot(arm, arm).max(axis=1))
    return farthest


def _gap(triangle: F64, ends: F64) -> F64:
    """Least distance from triangles to segments, or a little less. (F, E).

    The widest gap between their shadows on a line: both sides' normals and the segment itself.
    """
    along = _unit(ends[:, 1] - ends[:, 0])
    sides = _unit(np.roll(triangle, -1, axis=1) - triangle)
    gap = np.zeros((len(triangle), len(ends)))
    for axis in (along, np.stack([-along[:, 1], along[:, 0]], axis=1)):
        shadow = _dot(triangle[:, :, None], axis)
        own = _dot(ends, axis[:, None])
        _widen(gap, shadow.min(axis=1), shadow.max(axis=1), own.min(axis=1), own.max(axis=1))
    for k in range(3):
        axis = np.stack([-sides[:, k, 1], sides[:, k, 0]], axis=1)
        shadow = _dot(triangle, axis[:, None])
        own = _dot(ends[None], axis[:, None, None])
        low, high = shadow.min(axis=1)[:, None], shadow.max(axis=1)[:, None]
        _widen(gap, low, high, own.min(axis=2), own.max(axis=2))
    return gap


def _widen(gap: F64, low: F64, high: F64, own_low: F64, own_high: F64) -> None:
    """Raise ``gap``, which ``_gap`` has made, to what is between two intervals."""
    np.maximum(gap, own_low - high, out=gap)
    np.maximum(gap, low - own_high, out=gap)


def _unit(vector: F64) -> F64:
    """Vectors of length 1; zero stays zero, whose shadows never part."""
    length = np.sqrt(_dot(vector, vector))[..., None]
    return vector / np.where(length > 0, length, 1.0)


def _dot(a: F64, b: F64) -> F64:
    """Dot product over the last axis, which holds 2, summed in a fixed order."""
    total: F64 = a[..., 0] * b[..., 0] + a[..., 1] * b[..., 1]
    return total
