"""What differs from yarn to yarn and along each: thick and thin places, fibres of several colours.

A sheet of hashed values stands for all yarns of a system side by side: rows are strips across the
yarns, columns are cells along them. It is large (hundreds of yarns, a metre along), so no repeat
shows. Means over 2, 4, 8 ... strips and cells are kept in both directions independently, and a
texel reads the mean that its footprint covers, so streaks and flecks fade as they should: the
sheet is white noise across the yarns, whose mean over n falls as 1 / sqrt(n).
"""

import math
from dataclasses import dataclass

import numpy as np

from texbake.arrays import F32, I32, I64
from texbake.cloth.hash import hash01, normals

STRIPS = 6  # strips to a yarn: about as many fibre bundles lie side by side on its face
LEVELS = (8, 7)  # halvings kept across and along: up to 128 strips and 64 cells to a texel


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Streaks:
    """Values of one yarn system as every face's texels see them.

    Attributes
    ----------
    values : (P, K) float32
        All means, level by level. Column 0 is tone (zero mean, unit variance at full size), the
        rest are the shares of a melange (mean exactly the recipe's).
    start : (F,) int64
        First row of ``values`` for each face.
    across, along : (F, 3) float32
        Per face: strips (cells) per mm at its level, their count there, and the width over which
        neighbours blend, in strips (cells).
    shift_mm : (F, 2) float32
        Where on the sheet each face's panel begins: no two panels show the same streaks.
    """

    values: F32
    start: I64
    across: F32
    along: F32
    shift_mm: F32


def sheet(strips: int, cells: int, *, shares: tuple[float, ...], keep: float, seed: int) -> F32:
    """Make the full-size sheet.

    Parameters
    ----------
    strips, cells : int
        Powers of two.
    shares : tuple of float
        Of each fibre colour, sum 1; empty for a yarn of one colour.
    keep : float
        Chance that a fibre bundle goes on into the next cell along.

    Returns
    -------
    (strips, cells, 1 + len(shares)) float32
    """
    out = np.empty((strips, cells, 1 + len(shares)), np.float32)
    yarns = -(-strips // STRIPS)
    tone = _smooth(normals((yarns, cells), seed))
    owner = np.arange(strips) // STRIPS
    out[:, :, 0] = tone[owner]
    if shares:
        out[:, :, 1:] = _fibres(tone[owner], shares, keep, seed)
    return out


def _smooth(values: F32) -> F32:
    """Neighbours along a yarn resemble each other; unit variance, zero mean."""
    blended = values + 0.8 * (np.roll(values, 1, 1) + np.roll(values, -1, 1))
    blended -= blended.mean()
    out: F32 = (blended / blended.std()).astype(np.float32)
    return out


def _fibres(tone: F32, shares: tuple[float, ...], keep: float, seed: int) -> F32:
    """One-hot colour of each cell: drawn by share, kept along the yarn, blended unevenly.

    Carding never mixes perfectly: places along a yarn are richer in the first colour or the last
    by a tenth or two, which is what the eye reads as melange from afar (by eye, no source).
    """
    strips, cells = tone.shape
    row = np.arange(strips, dtype=np.int64)[:, None]
    column = np.arange(cells, dtype=np.int64)[None, :]
    draw = hash01(row + 0 * column, column + 0 * row, seed + 101)
    again = hash01(row + 0 * column, column + 0 * row, seed + 202) >= keep
    again[:, 0] = True
    since = np.maximum.accumulate(np.where(again, column, 0), axis=1)
    draw = np.take_along_axis(draw, since, 1)
    skewed = np.clip(draw + 0.06 * tone * (4.0 * draw * (1.0 - draw)), 0.0, 1.0)
    edges = np.cumsum(shares)[:-1]
    chosen = (skewed[:, :, None] >= edges.astype(np.float32)).sum(2)
    hot = (chosen[:, :, None] == np.arange(len(shares))).astype(np.float32)
    out: F32 = hot + (np.array(shares, np.float32) - hot.mean((0, 1)))
    return out


def streaks(
    full: F32,
    strip_mm: float,
    cell_mm: float,
    extent_mm: F32,
    shift_mm: F32,
) -> Streaks:
    """Prepare a sheet for the faces that wear it.

    Parameters
    ----------
    full : (strips, cells, K) float32
    strip_mm, cell_mm : float
        Size of a strip and a cell at the recipe's scale.
    extent_mm : (F, 2) float32
        How far a texel of each face reaches across and along the yarns.
    shift_mm : (F, 2) float32
    """
    values, starts = _ripmap(full)
    sides, levels = [], []
    for axis, size in enumerate((strip_mm, cell_mm)):
        reach = np.maximum(extent_mm[:, axis] / size, 1e-6)
        top = min(LEVELS[axis], int(math.log2(full.shape[axis])) + 1) - 1
        level = np.clip(np.round(np.log2(reach)), 0, top).astype(np.int64)
        factor = 2.0**level
        width = np.clip(reach / factor, 0.05, 1.0)
        sides.append(np.stack([1.0 / (size * factor), full.shape[axis] / factor, width], 1))
        levels.append(level)
    return Streaks(
        values=values,
        start=starts[levels[0], levels[1]],
        across=sides[0].astype(np.float32),
        along=sides[1].astype(np.float32),
        shift_mm=shift_mm,
    )


def _ripmap(full: F32) -> tuple[F32, I64]:
    """Every combination of halvings in both directions, end to end, and where each begins."""
    strips, cells, lanes = full.shape
    tops = [
        min(most, int(math.log2(n)) + 1) for most, n in zip(LEVELS, (strips, cells), strict=True)
    ]
    starts = np.zeros((tops[0], tops[1]), np.int64)
    parts, place, wide = [], 0, full
    for i in range(tops[0]):
        part = wide
        for j in range(tops[1]):
            starts[i, j] = place
            parts.append(part.reshape(-1, lanes))
            place += len(parts[-1])
            if j + 1 < tops[1]:
                part = 0.5 * (part[:, ::2] + part[:, 1::2])
        if i + 1 < tops[0]:
            wide = 0.5 * (wide[::2] + wide[1::2])
    return np.concatenate(parts), starts


def read(streak: Streaks, face: I32, across_mm: F32, along_mm: F32) -> F32:
    """Streaks at N texels.

    Returns
    -------
    (K, N) float32
    """
    shift = np.take(streak.shift_mm, face, 0)
    rows = _place(np.take(streak.across, face, 0), across_mm + shift[:, 0])
    columns = _place(np.take(streak.along, face, 0), along_mm + shift[:, 1])
    start = np.take(streak.start, face)
    width = rows_of(streak, face)
    low, high = start + rows[0] * width, start + rows[1] * width
    first = _mix(streak.values, low + columns[0], low + columns[1], columns[2])
    second = _mix(streak.values, high + columns[0], high + columns[1], columns[2])
    second -= first
    second *= rows[2][:, None]
    first += second
    return first.T


def rows_of(streak: Streaks, face: I32) -> I64:
    """Cells to a row at each texel's level."""
    out: I64 = np.take(streak.along[:, 1], face).astype(np.int64)
    return out


def _place(table: F32, mm: F32) -> tuple[I64, I64, F32]:
    """Two neighbouring strips (or cells) and how far towards the second."""
    at = mm * table[:, 0]
    at -= 0.5
    low = np.floor(at)
    t = at - low
    t -= 0.5
    t /= table[:, 2]
    t += 0.5
    np.clip(t, 0.0, 1.0, out=t)
    first = low.astype(np.int64)
    mask = table[:, 1].astype(np.int64) - 1  # counts are powers of two
    return first & mask, (first + 1) & mask, t


def _mix(values: F32, a: I64, b: I64, t: F32) -> F32:
    """From ``values[a]`` to ``values[b]``."""
    first = np.take(values, a, 0)
    second = np.take(values, b, 0)
    second -= first
    second *= t[:, None]
    first += second
    return first
