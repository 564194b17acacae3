"""What differs from yarn to yarn and along each: thick and thin places, fibres of several colours.

A sheet of hashed values stands for all yarns of a system side by side: rows are strips across the
yarns, columns are cells along them. It is large (hundreds of yarns, a metre along), so no repeat
shows. A texel wants the mean over its own box of strips and cells, whatever its size: the running
sum (F. Crow, "Summed-area tables for texture mapping", SIGGRAPH 1984) gives it exactly from the
box's ends. Rows and columns of the sheet sum to zero, so the running sum is periodic like the
sheet, and small enough for float32. Where a sheet of fine fibres is smaller than a panel, each copy
of it is moved along and across by draws of its own, so that none looks like another. Along an axis
on which no box is larger than a cell it lies on two cells at most, and their own values give the
same mean at half the cost.
"""

from dataclasses import dataclass

import numpy as np

from texbake.arrays import F32, F64, I32
from texbake.cloth.hash import draws, hash01, normals
from texbake.cloth.lattice import between, channels, lattice, wrapped

STRIPS = 6  # strips to a melange yarn: about as many fibre bundles lie side by side on its face
BUNDLES = 0.4, 0.25, 0.2, 0.15  # weights of the bundles that a strip shows (by eye, no source)
COPIES = 64  # of a sheet until their moves come back, a power of two
NEXT = 11  # moves from one copy along to the next, so that copies across are not moved alike
LEAST = 0.25  # of a strip or cell: the smallest box of running sums: they round to 1e-3 then


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Streaks:
    """One yarn system's sheet and how large the texels of every face are on it.

    Attributes
    ----------
    table : ((strips + 1) * (cells + 1), lanes) float32
        A `lattice`. Per cell, along each axis that is ``small`` its own values, along the others
        the running sum of those before it. Value 0 is tone (zero mean, unit variance at full size),
        the rest are how far the shares of a melange depart from the recipe's.
    values : int
        K, how many of the lanes hold some.
    counts : (int, int)
        Strips and cells; powers of two are read fastest.
    size_mm : (float, float)
        Of a strip and a cell, at the recipe's scale.
    half : (F, 2) float32
        Half of a texel's extent on each face, in strips and cells.
    shift : (F, 2) float32
        Where on the sheet each face's panel begins, in whole strips, so that strips are yarns: no
        two panels show the same streaks.
    small : (bool, bool)
        Whether no texel is larger than a strip; than a cell.
    moves : (2, COPIES) float32 or None
        How many strips each copy along the yarns is moved across, and how many cells each copy
        across them is moved along; None: all lie alike.
    """

    table: F32
    values: int
    counts: tuple[int, int]
    size_mm: tuple[float, float]
    half: F32
    shift: F32
    small: tuple[bool, bool]
    moves: F32 | None = None


def sheet(
    strips: int,
    cells: int,
    *,
    shares: tuple[float, ...],
    keep: float,
    seed: int,
    bundles: int = STRIPS,
) -> F32:
    """Make the sheet.

    Parameters
    ----------
    strips, cells : int
    shares : tuple of float
        Of each fibre colour, sum 1; empty for a yarn of one colour.
    keep : float
        Chance that a fibre bundle goes on into the next cell along.
    bundles : int
        Strips to a yarn that has shares: of fibres side by side; 1 for a space-dyed yarn.

    Returns
    -------
    (strips, cells, 1 + len(shares)) float32
        Every row and every column sums to 0.
    """
    out = np.empty((strips, cells, 1 + len(shares)), np.float32)
    each = bundles if shares else 1
    tone = _smooth(normals((-(-strips // each), cells), seed))
    owner = np.arange(strips) // each
    out[:, :, 0] = tone[owner]
    if shares:
        out[:, :, 1:] = _fibres(
            tone[owner] * (bundles > 1),
            shares,
            keep,
            seed,
            weights=BUNDLES if bundles > 1 else (1.0,),  # a space-dyed yarn changes as a whole
        )
    return centred(out)


Pair = tuple[float, float]


def fitted(
    counts: tuple[int, int], size_mm: Pair, period_mm: Pair | None
) -> tuple[tuple[int, int], Pair]:
    """Make a sheet repeat with a swatch.

    Parameters
    ----------
    counts : (int, int)
        Strips and cells of a sheet that repeats as late as it likes.
    size_mm : (float, float)
        Of each.
    period_mm : (float, float) or None
        What the sheet is to span, across and along the yarns; None: as it is.

    Returns
    -------
    counts, size_mm
        Whole strips and cells in the period, as near to their sizes as can be.
    """
    if period_mm is None:
        return counts, size_mm
    whole = [max(1, round(p / size)) for p, size in zip(period_mm, size_mm, strict=True)]
    return (whole[0], whole[1]), (period_mm[0] / whole[0], period_mm[1] / whole[1])


def centred(values: F32) -> F32:
    """Take off row and column means; float64, since their rest adds up in the running sum."""
    wide = values.astype(np.float64)
    wide -= wide.mean(0, keepdims=True)
    wide -= wide.mean(1, keepdims=True)
    return wide.astype(np.float32)


def _smooth(values: F32) -> F32:
    """Neighbours along a yarn resemble each other; unit variance, zero mean."""
    blended = values + 0.8 * (np.roll(values, 1, 1) + np.roll(values, -1, 1))
    blended -= blended.mean()
    out: F32 = (blended / blended.std()).astype(np.float32)
    return out


def _fibres(
    tone: F32, shares: tuple[float, ...], keep: float, seed: int, *, weights: tuple[float, ...]
) -> F32:
    """Share of each colour in every cell: the sum of bundles of unequal weight, drawn by share.

    A strip is several fibre bundles wide and deep, so it is hardly ever of one pure colour. A
    bundle goes on along the yarn and gives way to another. Carding never mixes perfectly: places
    along a yarn are richer in the first colour or the last by a tenth or two, which is what the
    eye reads as melange from afar (by eye, no source).
    """
    out = np.zeros((*tone.shape, len(shares)), np.float32)
    for number, weight in enumerate(weights):
        out += np.float32(weight) * _bundle(tone, shares, keep, seed + 1009 * number)
    beside = np.roll(out, 1, 1) + np.roll(out, -1, 1)  # bundles taper into each other
    return 0.6 * out + 0.2 * beside


def _bundle(tone: F32, shares: tuple[float, ...], keep: float, seed: int) -> F32:
    """One bundle of fibres of one colour: 1 for its colour in each cell, 0 for the others."""
    strips, cells = tone.shape
    row = np.arange(strips, dtype=np.int64)[:, None] + np.zeros(cells, np.int64)
    column = np.arange(cells, dtype=np.int64)[None, :] + np.zeros((strips, 1), np.int64)
    draw = hash01(row, column, seed + 101)
    again = hash01(row, column, seed + 202) >= keep
    since = np.maximum.accumulate(np.where(again, column, -1), axis=1)
    last = np.maximum(since[:, -1:], 0)  # a bundle goes on over the sheet's border too
    draw = np.take_along_axis(draw, np.where(since < 0, last, since), 1)
    skewed = np.clip(draw + 0.06 * tone * (4.0 * draw * (1.0 - draw)), 0.0, 1.0)
    edges = np.cumsum(shares)[:-1].astype(np.float32)
    chosen = (skewed[:, :, None] >= edges).sum(2)
    hot: F32 = (chosen[:, :, None] == np.arange(len(shares))).astype(np.float32)
    return hot


def streaks(
    full: F32,
    size_mm: tuple[float, float],
    extent_mm: F32,
    shift: F32,
    *,
    moved_by: int = 0,
    seed: int = 0,
) -> Streaks:
    """Prepare a sheet for the faces that wear it.

    Parameters
    ----------
    full : (strips, cells, K) float32
        As `sheet` makes it.
    size_mm : (float, float)
        Size of a strip and a cell at the recipe's scale.
    extent_mm : (F, 2) float32
        How far a texel of each face reaches across and along the yarns.
    shift : (F, 2) float32
        In [0, 1): where on the sheet each face begins.
    moved_by : int
        Copies of the sheet lie apart by multiples of so many strips; 0: copies lie alike.
    seed : int
    """
    counts = full.shape[:2]
    reach = extent_mm / np.array(size_mm, np.float32)
    small = bool(reach[:, 0].max() <= 1.0), bool(reach[:, 1].max() <= 1.0)
    least = np.array([1e-3 if is_small else LEAST for is_small in small], np.float32)
    return Streaks(
        table=lattice(_summed(full, small)),
        values=full.shape[2],
        counts=(counts[0], counts[1]),
        size_mm=size_mm,
        half=(0.5 * np.maximum(reach, least)).astype(np.float32),
        shift=np.floor(shift * np.array(counts, np.float32)).astype(np.float32),
        small=small,
        moves=_moves(counts, moved_by, seed) if moved_by else None,
    )


def _moves(counts: tuple[int, ...], each: int, seed: int) -> F32:
    """Draw how far copies are moved: whole yarns across, whole cells along."""
    across, along = draws(2 * COPIES, seed + 303).reshape(2, COPIES)
    yarns, cells = np.floor(across * (counts[0] // each)) * each, np.floor(along * counts[1])
    return np.stack([yarns, cells]).astype(np.float32)


def _summed(full: F32, small: tuple[bool, bool]) -> F32:
    """Sum of the cells before each one, along the axes that are not small."""
    total: F64 = full.astype(np.float64)
    for axis in (0, 1):
        if not small[axis]:
            total = np.roll(np.cumsum(total, axis), 1, axis)  # sums to 0: the last wraps to first
    return total.astype(np.float32)


def read(streak: Streaks, face: I32, across_mm: F32, along_mm: F32) -> F32:
    """Means over texels.

    Returns
    -------
    (K, N) float32
    """
    half, shift = np.take(streak.half, face, 0), np.take(streak.shift, face, 0)
    middles = []
    for axis, mm in enumerate((across_mm, along_mm)):
        middle = mm * (1.0 / streak.size_mm[axis])
        middle += shift[:, axis]
        middles.append(middle)
    if streak.moves is not None:
        # All of a box is moved as its middle: sums over a whole copy are 0 wherever it lies.
        along = _copy(middles[1], streak.counts[1])
        middles[0] += np.take(streak.moves[0], along)
        along *= NEXT
        along += _copy(middles[0], streak.counts[0])
        along &= COPIES - 1
        middles[1] += np.take(streak.moves[1], along)
    strips, cells = (
        (_small_box if streak.small[axis] else _ends)(middle, half[:, axis], streak.counts[axis])
        for axis, middle in enumerate(middles)
    )
    out = _mixed(streak, strips[-1], cells[-1])
    if len(strips) == 2:
        out -= _mixed(streak, strips[0], cells[-1])
    if len(cells) == 2:
        out -= _mixed(streak, strips[-1], cells[0])
    if len(strips) == len(cells) == 2:
        out += _mixed(streak, strips[0], cells[0])
    means = channels(out, streak.values)
    for axis in (0, 1):
        if not streak.small[axis]:
            means /= 2.0 * half[:, axis]
    return means


def _copy(middle: F32, count: int) -> I32:
    """Number of the sheet's copy that each place lies on, in [0, COPIES)."""
    return wrapped(np.floor(middle * (1.0 / count)), COPIES)


Place = tuple[I32, F32]  # a cell, and how much of the one after it counts


def _small_box(middle: F32, half: F32, count: int) -> list[Place]:
    """The two cells that a small box lies on, and the second's share of it."""
    middle -= half
    low = np.floor(middle)
    middle -= low
    share = (middle - 1.0) / half
    share *= 0.5
    share += 1.0
    np.maximum(share, 0.0, out=share)
    return [(wrapped(low, count), share)]


def _ends(middle: F32, half: F32, count: int) -> list[Place]:
    """Both ends of a box, between two nodes of the running sum."""
    places = []
    for sign in (-1.0, 1.0):
        at = middle + sign * half
        low = np.floor(at)
        at -= low
        places.append((wrapped(low, count), at))
    return places


def _mixed(streak: Streaks, strip: Place, cell: Place) -> F32:
    """Mix of four cells, (N, lanes); between nodes of a running sum that is exact."""
    at = strip[0] * (streak.counts[1] + 1)
    at += cell[0]
    return between(streak.table, streak.counts[1], at, cell[1], strip[1])
