"""Which face lies at each texel, exactly.

Corners are snapped to a fine integer grid, so that faces which share an edge share it to the bit.
Each face is cut into spans, one per row of texel centres, with integer division that rounds up on
both ends: where one face's span ends its neighbour's begins, and no centre is lost or doubled.

Spans are then merged as intervals, not painted: their ends cut each row into pieces, each piece
gets the lowest face that claims it, and one ``np.repeat`` writes the image. Work therefore grows
with the number of spans, not of texels, and overlaps are counted on the way.
"""

import math
from dataclasses import dataclass

import numpy as np

from texbake.arrays import F64, I32, I64, bands

RANGE_BITS = 29  # |coordinate| <= 2**29: products of two differences then fit int64
LEAST_BITS = 8  # coarser, and tables solved on the grid would suffer
SPANS_AT_ONCE = 1 << 18  # about 30 MB of temporaries


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Snapped:
    """Faces on the integer grid.

    Attributes
    ----------
    bits : int
        A texel is ``2**bits`` wide: the image, where no face leaves it, about ``2**29``.
    corner : (K, 3, 2) int64
        x to the right, y *down* from the top left of the image.
    face : (K,) int32
        The face that each row of ``corner`` is, ascending.
    turn : (K,) int8
        1 or -1: which way round the corners run.
    """

    bits: int
    corner: I64
    face: I32
    turn: I64


def snap(uv: F64, panel: I32, size_px: int) -> Snapped:
    """Snap the faces that have a panel, an area and a part in the image.

    Parameters
    ----------
    uv : (F, 3, 2) float64
        (0, 0) at the bottom left.
    panel : (F,) int32
        -1 for faces to leave out.
    size_px : int

    Returns
    -------
    Snapped

    Raises
    ------
    ValueError
        Where a face that meets the image reaches too far outside of it.
    """
    low, high = uv.min(axis=1), uv.max(axis=1)
    face = np.flatnonzero((panel >= 0) & (low < 1).all(axis=1) & (high > 0).all(axis=1))
    texel = to_image(uv[face], size_px)
    largest = max(float(np.abs(texel).max(initial=0.0)), float(size_px))
    bits = RANGE_BITS - math.ceil(math.log2(largest))
    if bits < LEAST_BITS:
        raise ValueError(f"UV coordinates reach {largest / size_px:g}: too far outside of 0..1")
    corner = np.rint(texel * float(1 << bits)).astype(np.int64)
    a, b = corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0]
    turn = np.sign(a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0])
    flat = turn == 0
    return Snapped(
        bits=bits,
        corner=corner[~flat],
        face=face[~flat].astype(np.int32),
        turn=turn[~flat],
    )


def to_image(uv: F64, size_px: int) -> F64:
    """UV to texels from the top left: x to the right, y down. (..., 2) float64."""
    return np.stack([uv[..., 0] * size_px, (1.0 - uv[..., 1]) * size_px], axis=-1)


def paint(snapped: Snapped, size_px: int, panel: I32) -> tuple[I32, dict[tuple[int, int], int]]:
    """Give each texel the face that its centre lies in.

    Parameters
    ----------
    snapped : Snapped
    size_px : int
    panel : (F,) int32
        Panel of each face of the garment.

    Returns
    -------
    face : (H, W) int32
        -1 for background; where faces overlap, the lowest.
    overlaps : dict
        (lower panel, higher panel) -> texels that they both claim.
    """
    face = np.empty((size_px, size_px), np.int32)
    top, bottom = _rows(snapped, size_px)
    spans = int((bottom - top).sum())
    rows = max(1, min(size_px, size_px * SPANS_AT_ONCE // max(spans, 1)))
    overlaps: dict[tuple[int, int], int] = {}
    for band in bands(size_px, rows):
        owner, claim, start, end = _spans(snapped, top, bottom, band, size_px)
        bounds, winner, losers = _merge(claim[owner], start, end, band, size_px)
        face[band] = np.repeat(winner, np.diff(bounds)).reshape(-1, size_px)
        _count(overlaps, losers, panel)
    return face, dict(sorted(overlaps.items()))


def _rows(snapped: Snapped, size_px: int) -> tuple[I64, I64]:
    """First row of centres in each face, and one past the last. (K,) int64 each."""
    half, y = (1 << snapped.bits) // 2, snapped.corner[:, :, 1]
    top = ceil_div(y.min(axis=1) - half, 1 << snapped.bits)
    bottom = ceil_div(y.max(axis=1) - half, 1 << snapped.bits)
    return top.clip(0, size_px), bottom.clip(0, size_px)


def _spans(
    snapped: Snapped, top: I64, bottom: I64, band: slice, size_px: int
) -> tuple[I64, I32, I64, I64]:
    """Spans of the faces in a band, highest face first; ends as flat indices, half open."""
    top, bottom = top.clip(band.start, band.stop), bottom.clip(band.start, band.stop)
    used = np.flatnonzero(bottom > top)[::-1]
    corner = snapped.corner[used]
    order = np.argsort(corner[:, :, 1], axis=1, kind="stable")
    corner = np.take_along_axis(corner, order[:, :, None], axis=1)
    which, row = spread(top[used], bottom[used] - top[used])
    y = (2 * row + 1) << (snapped.bits - 1)
    upper, middle, lower = corner[:, 0], corner[:, 1], corner[:, 2]
    knee = (y >= middle[which, 1])[:, None]
    first = np.where(knee, middle[which], upper[which])
    last = np.where(knee, lower[which], middle[which])
    short = _crossing(first, last, y, snapped.bits).clip(0, size_px)
    long = _crossing(upper[which], lower[which], y, snapped.bits).clip(0, size_px)
    row *= size_px
    kept = short != long
    start, end = np.minimum(short, long) + row, np.maximum(short, long) + row
    return which[kept], snapped.face[used], start[kept], end[kept]


def _crossing(upper: I64, lower: I64, y: I64, bits: int) -> I64:
    """First column whose centre is not left of the edge, at height ``y`` of texel centres."""
    rise = lower[:, 1] - upper[:, 1]
    above = (upper[:, 0] - (1 << (bits - 1))) * rise + (lower[:, 0] - upper[:, 0]) * (
        y - upper[:, 1]
    )
    return ceil_div(above, rise << bits)


def _merge(
    claim: I32, start: I64, end: I64, band: slice, size_px: int
) -> tuple[I64, I32, tuple[I32, I32, I64]]:
    """Cut the band at every end of a span and give each piece its lowest face.

    Spans come highest face first, so that of several writes to a piece the last, which numpy
    keeps, is the lowest. Returns the pieces' bounds, their faces and what lost to what.
    """
    ends = np.array([band.start * size_px, band.stop * size_px])
    bounds = _distinct(np.concatenate([ends, start, end]))
    piece_from = np.searchsorted(bounds, start)
    which, piece = spread(piece_from, np.searchsorted(bounds, end) - piece_from)
    claim = claim[which]
    winner = np.full(len(bounds) - 1, -1, np.int32)
    winner[piece] = claim
    lost = np.flatnonzero(winner[piece] != claim)
    piece = piece[lost]
    return bounds, winner, (winner[piece], claim[lost], bounds[piece + 1] - bounds[piece])


def _count(overlaps: dict[tuple[int, int], int], losers: tuple[I32, I32, I64], panel: I32) -> None:
    """Add the texels that faces lost to others, per pair of panels."""
    winner, claim, texels = losers
    if not len(texels):
        return
    pair = np.sort(np.stack([panel[winner], panel[claim]], axis=1), axis=1)
    pairs, which = np.unique(pair, axis=0, return_inverse=True)
    for (low, high), count in zip(
        pairs.tolist(), np.bincount(which.ravel(), weights=texels).tolist(), strict=True
    ):
        overlaps[low, high] = overlaps.get((low, high), 0) + round(count)


def _distinct(values: I64) -> I64:
    """Sort and drop repeats (np.unique hashes first, which is slower here)."""
    values.sort()
    fresh = np.ones(len(values), bool)
    np.not_equal(values[1:], values[:-1], out=fresh[1:])
    return values[fresh]


def spread(first: I64, count: I64) -> tuple[I64, I64]:
    """Unroll ranges: which range each element is of, and ``first``, ``first + 1`` ... of each.

    >>> spread(np.array([5, 9]), np.array([2, 1]))
    (array([0, 0, 1]), array([5, 6, 9]))
    """
    which = np.repeat(np.arange(len(count)), count)
    value = np.arange(len(which))
    value += np.repeat(first - (np.cumsum(count) - count), count)
    return which, value


def ceil_div(top: I64, bottom: I64 | int) -> I64:
    """Integer division, rounded up; ``bottom`` > 0."""
    return -(-top // bottom)
