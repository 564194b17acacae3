"""Texels that an island meets without holding their centre.

They matter: a bilinear read inside an island sees them. They are few, along the borders.
"""

import numpy as np

from texbake.arrays import F64, I32, I64
from texbake.layout.raster import Snapped, ceil_div, spread

THIN_TEXELS = 1 / 32  # thinner faces own no border: their map, extended to a centre, runs wild


def border(snapped: Snapped, island: I32) -> tuple[I64, I32]:
    """Edges with their island on one side only, as if very thin faces were not there.

    Parameters
    ----------
    snapped : Snapped
    island : (F,) int32
        Island of each face of the garment.

    Returns
    -------
    edge : (E, 2, 2) int64
        Upper end first, on the integer grid.
    face : (E,) int32
        The face that owns it; of mirrored faces on one side of a fold, the lowest.
    """
    thick = _height(snapped.corner) >= THIN_TEXELS * (1 << snapped.bits)
    corner = snapped.corner[thick]
    tail, head = corner.reshape(-1, 2), np.roll(corner, -1, axis=1).reshape(-1, 2)
    down = (tail[:, 1] < head[:, 1]) | ((tail[:, 1] == head[:, 1]) & (tail[:, 0] < head[:, 0]))
    upper, lower = np.where(down[:, None], tail, head), np.where(down[:, None], head, tail)
    face = np.repeat(snapped.face[thick], 3)
    left = (np.repeat(snapped.turn[thick], 3) > 0) == down
    order = np.lexsort((face, *lower.T, *upper.T, island[face]))
    key = np.concatenate([upper, lower, island[face][:, None]], axis=1)[order]
    fresh = np.concatenate([np.ones(1, bool), (key[1:] != key[:-1]).any(axis=1)])[: len(key)]
    group = np.flatnonzero(fresh)
    if not len(group):
        return np.empty((0, 2, 2), np.int64), np.empty(0, np.int32)
    lefts = np.add.reduceat(left[order].astype(np.int64), group)
    one_sided = (lefts == 0) | (lefts == np.diff(group, append=len(key)))
    kept = order[group[one_sided]]
    return np.stack([upper[kept], lower[kept]], axis=1), face[kept]


def _height(corner: I64) -> F64:
    """Least height of each triangle: twice its area by its longest side. (K,) float64."""
    side = (np.roll(corner, -1, axis=1) - corner).astype(np.float64)
    area = np.abs(side[:, 0, 0] * side[:, 1, 1] - side[:, 0, 1] * side[:, 1, 0])
    longest = (side[:, :, 0] * side[:, :, 0] + side[:, :, 1] * side[:, :, 1]).max(axis=1)
    height: F64 = area / np.sqrt(longest)
    return height


def partly(edge: I64, owner: I32, bits: int, image: I32, size_px: int) -> tuple[I64, I32]:
    """Texels that an island meets but whose centre it does not.

    Every such texel has a border edge through the inside of its square, so the walk is along
    border edges, row by row. Of several edges the one nearest to the centre counts.

    Parameters
    ----------
    edge : (E, 2, 2) int64
        From ``border``.
    owner : (E,) int32
    bits : int
    image : (H, W) int32
        From ``paint``: texels that have a face are left alone.
    size_px : int

    Returns
    -------
    index : (P,) int64
        Flat, ascending.
    face : (P,) int32
    """
    which, row, start, end = _walk(edge, bits, size_px)
    part, column = spread(start, end - start)
    which, row = which[part], row[part]
    index = row * size_px + column
    free = np.flatnonzero(image.reshape(-1)[index] < 0)
    which, index = which[free], index[free]
    far2 = _far2(edge[which] / float(1 << bits), row[free] + 0.5, column[free] + 0.5)
    order = np.lexsort((owner[which], far2, index))
    index, face = index[order], owner[which[order]]
    first = np.concatenate([np.ones(1, bool), index[1:] != index[:-1]])[: len(index)]
    return index[first], face[first]


def _walk(edge: I64, bits: int, size_px: int) -> tuple[I64, I64, I64, I64]:
    """Per edge and row of texels: the columns whose inside the edge meets, half open."""
    one = 1 << bits
    top = (edge[:, 0, 1] // one).clip(0, size_px)
    bottom = ceil_div(edge[:, 1, 1], one).clip(0, size_px)
    which, row = spread(top, (bottom - top).clip(0))
    x0, y0, x1, y1 = edge.reshape(-1, 4)[which].T
    rise, run, level = y1 - y0, x1 - x0, y1 == y0
    deep = np.where(level, 1, rise)
    enter, leave = np.maximum(y0, row * one) - y0, np.minimum(y1, (row + 1) * one) - y0
    enter = np.where(level, x0, x0 * rise + run * enter)
    leave = np.where(level, x1, x0 * rise + run * leave)
    start = np.minimum(enter, leave) // (deep * one)
    end = ceil_div(np.maximum(enter, leave), deep * one)
    start, end = start.clip(0, size_px), end.clip(0, size_px)
    return which, row, start, np.maximum(start, end)


def _far2(edge: F64, y: F64, x: F64) -> F64:
    """Squared distance from points to their segments, texels. float64: decides ties alike."""
    x0, y0, x1, y1 = edge.reshape(-1, 4).T
    dx, dy, px, py = x1 - x0, y1 - y0, x - x0, y - y0
    t = ((px * dx + py * dy) / (dx * dx + dy * dy)).clip(0.0, 1.0)
    px, py = px - t * dx, py - t * dy
    return px * px + py * py
