"""What lies past the borders of a picture, as a recipe for each index outside it.

wrap: the other side. mirror: the picture turned over at its border, whose texel comes twice.
hold: the picture turned by half a turn about its border texel, so that f(-k) = 2 f(0) - f(k):
heights and slopes go on, a plane stays a plane, and noise is not carried on as a slope.
"""

from dataclasses import dataclass

import numpy as np

from texbake.arrays import F32, I64, U8, U16, Bool
from texbake.convert.values import Edge


@dataclass(frozen=True, slots=True, eq=False)
class Line:
    """Where the values at a run of indices come from.

    The value is sign * f[index] + first * f[0] + last * f[-1].

    Attributes
    ----------
    index : (N,) int64
        Inside the picture.
    sign, first, last : (N,) float32
        All 1, 0, 0 but past the borders of a picture that holds.
    inner : slice
        Which of the N lie inside the picture; they are in order, without gaps.
    """

    index: I64
    sign: F32
    first: F32
    last: F32
    inner: slice


def line(start: int, stop: int, count: int, edge: Edge) -> Line:
    """Say where the values at indices ``start`` to ``stop`` of ``count`` samples come from.

    >>> line(-2, 3, 3, "wrap").index.tolist(), line(-2, 3, 3, "mirror").index.tolist()
    ([1, 2, 0, 1, 2], [1, 0, 0, 1, 2])
    """
    at = np.arange(start, stop)
    inner = slice(min(max(-start, 0), at.size), min(max(count - start, 0), at.size))
    turns: I64 = np.zeros_like(at)
    turned: Bool = np.zeros(at.size, np.bool_)
    if edge == "wrap":
        index = at % count
    elif edge == "mirror":
        index = at % (2 * count)
        index = np.minimum(index, 2 * count - 1 - index)
    elif count == 1:  # nothing to go on with
        index = np.zeros_like(at)
    else:
        period = 2 * (count - 1)
        turns, index = np.divmod(at, period)
        turned = index > count - 1
        index = np.where(turned, period - index, index)
    return Line(
        index,
        np.where(turned, -1.0, 1.0).astype(np.float32),
        (-2.0 * turns).astype(np.float32),
        (2.0 * (turns + turned)).astype(np.float32),
        inner,
    )


def block(samples: U8 | U16 | F32, rows: Line, columns: Line) -> F32:
    """Return a block of samples, past the borders too.

    Parameters
    ----------
    samples : (H, W) uint8, uint16 or float32
    rows, columns : Line
        R rows and C columns.

    Returns
    -------
    (R, C) float32
    """
    out: F32 = np.empty((rows.index.size, columns.index.size), np.float32)
    for part in (rows.inner, *_outside(rows)):
        if part.stop > part.start:
            out[part] = _across(samples, _selected(rows, part), columns)
    bent = np.flatnonzero((rows.first != 0.0) | (rows.last != 0.0))
    if bent.size:
        first, last = (_across(samples, slice(k, k + 1), columns) for k in (0, len(samples) - 1))
        out[bent] *= rows.sign[bent, None]
        out[bent] += rows.first[bent, None] * first
        out[bent] += rows.last[bent, None] * last
    return out


def mask_block(covered: Bool, rows: Line, columns: Line) -> Bool:
    """Return a block of a mask, past the borders too, (R, C) bool."""
    return covered[rows.index][:, columns.index]


def _outside(part: Line) -> tuple[slice, slice]:
    """Return what lies before and what lies after the picture."""
    return slice(0, part.inner.start), slice(part.inner.stop, part.index.size)


def _selected(rows: Line, part: slice) -> slice | I64:
    """Return the rows of a part: a slice, which is not copied, for those inside."""
    if part == rows.inner:
        start = int(rows.index[part.start])
        return slice(start, start + part.stop - part.start)
    return rows.index[part]


def _across(samples: U8 | U16 | F32, rows: slice | I64, columns: Line) -> F32:
    """Return whole rows of the picture as they are seen through ``columns``."""
    inner = columns.inner
    lines = samples[rows]
    out: F32 = np.empty((len(lines), columns.index.size), np.float32)
    if inner.stop > inner.start:
        start = int(columns.index[inner.start])
        out[:, inner] = lines[:, start : start + inner.stop - inner.start]
    for part in _outside(columns):
        if part.stop > part.start:
            bent = lines[:, columns.index[part]] * columns.sign[part]
            bent += columns.first[part] * lines[:, :1].astype(np.float32)
            bent += columns.last[part] * lines[:, -1:].astype(np.float32)
            out[:, part] = bent
    return out
