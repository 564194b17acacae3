"""Which covered texel each texel of the gutter repeats: the nearest, exactly.

A distance transform in two passes (Meijster, Roerdink and Hesselink 2000), but sparse. Along
rows, only texels beside the end of a covered run are written. Along columns, each texel of the
gutter looks one row further up and down at a time, and is done when no row so far away can hold
anything nearer. Being exact, the result cannot depend on how rows are cut into bands.
"""

import math

import numpy as np
from numpy.typing import NDArray

from texbake.arrays import I32, I64, Bool, bands

NOTHING = np.iinfo(np.int16).max  # no covered texel within reach in this row
ROWS = 256


def reach_px(gutter_px: int) -> int:
    """How far a gutter must reach along rows and columns, texels.

    A bilinear read at mip level k blends texels of that level whose centres lie within 2**k of
    the point, and each averages 2**k texels of level 0: together it sees less than 1.5 * 2**k
    texels to each side of the texel that the point lies in. A gutter of 16 promises level 4.

    >>> [reach_px(g) for g in (0, 1, 2, 4, 16, 31)]
    [0, 1, 2, 5, 23, 31]
    """
    if gutter_px == 0:
        return 0
    widest = 1 << (gutter_px.bit_length() - 1)
    return max(gutter_px, math.ceil(1.5 * widest) - 1)


def gutter(face: I32, gutter_px: int) -> tuple[I64, I64]:
    """Pair every background texel near an island with the nearest covered texel.

    Parameters
    ----------
    face : (H, W) int32
        -1 for background.
    gutter_px : int
        >= 0; the gutter reaches ``reach_px`` of it along rows and columns.

    Returns
    -------
    to, source : (G,) int64
        Flat indices, ``to`` ascending. Nearest by Euclidean distance of texel centres; of equals,
        the one in the nearest row, then above, then left.

    Raises
    ------
    ValueError
        For a negative gutter.
    """
    if gutter_px < 0:
        raise ValueError(f"gutter_px is {gutter_px}; it must be 0 or more")
    if gutter_px == 0:
        return np.empty(0, np.int64), np.empty(0, np.int64)
    reach = min(reach_px(gutter_px), max(face.shape))
    far = math.isqrt(2 * reach * reach) + 1
    parts = [_band(face, rows, reach, far) for rows in bands(len(face), ROWS + 2 * far)]
    to, source = zip(*parts, strict=True)
    return np.concatenate(to), np.concatenate(source)


def _band(face: I32, rows: slice, reach: int, far: int) -> tuple[I64, I64]:
    """Gutter of some rows, seen with ``far`` rows more on both sides."""
    height, width = face.shape
    count, top = rows.stop - rows.start, rows.start - far
    stride = width + 1  # a column more stops walks at the end of a row
    covered = np.zeros((count + 2 * far, stride), bool)
    low, high = max(top, 0), min(rows.stop + far, height)
    np.greater_equal(face[low:high], 0, out=covered[low - top : high - top, :width])
    beside = _beside(covered, far)
    within = np.abs(beside[far - reach : far + count + reach]) <= reach
    zone = _dilate(within, 2 * reach + 1)
    zone &= ~covered[far : far + count]
    zone[:, width] = False
    at = np.flatnonzero(zone)
    source = _nearest(beside, at + far * stride, far)
    return _outside(at, rows.start, width), _outside(source, top, width)


def _outside(at: I64, top: int, width: int) -> I64:
    """Flat index in the band, which is a column wider, to flat index in the image."""
    return at - at // (width + 1) + top * width


def _beside(covered: Bool, far: int) -> NDArray[np.int16]:
    """Columns to the nearest covered texel of the same row; the left one of equals."""
    stop = covered.copy()
    stop[:, -1] = True
    stop = stop.reshape(-1)
    flat = covered.reshape(-1)
    beside = np.where(flat, np.int16(0), np.int16(NOTHING))
    edge = flat[:-1] != flat[1:]
    last = np.flatnonzero(edge & flat[:-1])
    first = np.flatnonzero(edge & flat[1:]) + 1
    for k in range(1, far + 1):  # over distances: each pass writes all rows at once
        last = last[~stop[last + k]]
        beside[last + k] = -k
    for k in range(1, far + 1):
        first = first[~stop[first - k]]
        first = first[np.abs(beside[first - k]) > k]
        beside[first - k] = k
    return beside.reshape(covered.shape)


def _dilate(within: Bool, window: int) -> Bool:
    """Or of each ``window`` rows in succession; window - 1 rows fewer."""
    width = 1
    while 2 * width <= window:
        within = within[:-width] | within[width:]
        width *= 2
    rest = window - width
    return within[:-rest] | within[rest:] if rest else within


def _nearest(beside: NDArray[np.int16], at: I64, far: int) -> I64:
    """Flat index of the nearest covered texel, for flat indices ``at`` that have one."""
    stride, flat = beside.shape[1], beside.reshape(-1)
    across = flat[at].astype(np.int32)
    best, source = across * across, at + across
    open_ = np.arange(len(at))
    for down in range(1, far + 1):  # over rows: each pass looks at all open texels at once
        open_ = open_[best[open_] > down * down]
        for shift in (-down * stride, down * stride):
            there = at[open_] + shift
            across = flat[there].astype(np.int32)
            distance2 = across * across + down * down
            nearer = np.flatnonzero(distance2 < best[open_])
            best[open_[nearer]] = distance2[nearer]
            source[open_[nearer]] = there[nearer] + across[nearer]
    return source
