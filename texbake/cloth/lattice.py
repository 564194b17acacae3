"""Periodic tables of values, read between their nodes.

Reading is most of what cloth costs, so its form is what numpy does fast: the channels of a node lie
together, padded to a number that one copy fetches; the first row and column come again at the end,
so that the four nodes round a place are four views of one table, taken at one index.
"""

import numpy as np

from texbake.arrays import F32, I32


def lattice(values: F32, least: int = 1) -> F32:
    """Lay a periodic table out for reading.

    Parameters
    ----------
    values : (rows, columns, K) float32
    least : int
        Lanes at least, a power of two.

    Returns
    -------
    ((rows + 1) * (columns + 1), lanes) float32
        ``lanes`` is K or the power of two above it.
    """
    rows, columns, count = values.shape
    lanes = max(least, 1 << (count - 1).bit_length())
    out = np.zeros((rows + 1, columns + 1, lanes), np.float32)
    out[:-1, :-1, :count] = values
    out[-1] = out[0]
    out[:, -1] = out[:, 0]
    return out.reshape(-1, lanes)


def between(table: F32, columns: int, cell: I32, s: F32, t: F32) -> F32:
    """Read a table between four nodes.

    Parameters
    ----------
    table : (R, lanes) float32
        One or more lattices, one after the other.
    columns : int
        Of the values; a row of the table has one more.
    cell : (N,) int32
        Row of the table of each place's first node.
    s, t : (N,) float32
        How far each place is on the way to the next column, and to the next row.

    Returns
    -------
    (N, lanes) float32
    """
    at = cell.astype(np.int64)  # once, not at each of the four
    lanes, stride = table.shape[1], columns + 1
    s, t = spread(s, lanes), spread(t, lanes)
    low = towards(np.take(table, at, 0), np.take(table[1:], at, 0), s)
    high = np.take(table[stride:], at, 0)
    return towards(low, towards(high, np.take(table[stride + 1 :], at, 0), s), t)


def channels(read: F32, count: int) -> F32:
    """Turn what was read, (N, lanes), into (count, N): each channel by itself."""
    return np.ascontiguousarray(read.T[:count])


def wrapped(low: F32, count: int) -> I32:
    """Cells, whole numbers of either sign, modulo ``count``; a mask where that does it."""
    cells = low.astype(np.int32)
    if count & (count - 1):
        cells %= count  # takes ten times as long
    else:
        cells &= count - 1
    return cells


def spread(share: F32, lanes: int) -> F32:
    """(N,) repeated to (N, lanes): a broadcast over few lanes takes five times as long."""
    return share[:, None] if lanes == 1 else np.repeat(share, lanes).reshape(-1, lanes)


def towards(first: F32, second: F32, t: F32) -> F32:
    """``first`` moved towards ``second`` by the share ``t``, in place; ``second`` is used up."""
    second -= first
    second *= t
    first += second
    return first
