"""Slopes beside what is empty: taken from covered texels only, so that borders have none."""

import numpy as np

from texbake.arrays import F32, Bool
from texbake.convert.bench import Bench
from texbake.convert.kernels import RADIUS, slopes
from texbake.convert.values import Kernel


def masked_slopes(block: F32, covered: Bool, kernel: Kernel, bench: Bench) -> F32:
    """Return doubled slopes as `kernels.slopes` does, without steps into what is empty.

    Where a kernel would reach past a border of what is covered, the mean of the steps to the
    covered neighbours stands for it: the one step where there is one, 0 where there is none.

    Parameters
    ----------
    block : (R + 2 p, C + 2 p) float32
    covered : (R + 2 p, C + 2 p) bool
    kernel : 'true', 'even' or 'short'
    bench : Bench

    Returns
    -------
    (3, R * (C + 2 p)) float32, on the bench
    """
    radius = RADIUS[kernel]
    filled = np.where(covered, block, np.float32(0.0))
    width = block.shape[1]
    vector = slopes(filled.reshape(-1), width, kernel, bench)
    if covered.all():
        return vector
    rows, columns = slice(radius, len(block) - radius), slice(radius, width - radius)
    for flat, turn in ((vector[0], True), (vector[1], False)):
        seen, there = (filled.T, covered.T) if turn else (filled, covered)
        lines, cross = (columns, rows) if turn else (rows, columns)
        whole = _whole(there, lines, cross, kernel)
        near = _near_slopes(seen[:, cross], there[:, cross], lines)
        target = flat.reshape(-1, width)[:, columns]
        np.copyto(target, near.T if turn else near, where=~(whole.T if turn else whole))
    return vector


def _whole(covered: Bool, lines: slice, cross: slice, kernel: Kernel) -> Bool:
    """Say which texels have all covered that their kernel reaches, along the first axis."""
    radius = RADIUS[kernel]
    # The even kernel reaches across as well.
    side = _all_near(covered.T, cross, radius).T if kernel == "even" else covered[:, cross]
    return _all_near(side, lines, radius)


def _all_near(covered: Bool, lines: slice, radius: int) -> Bool:
    """Say where all within a radius along the first axis are covered."""
    near = covered[lines].copy()
    for k in range(1, radius + 1):
        near &= covered[lines.start - k : lines.stop - k]
        near &= covered[lines.start + k : lines.stop + k]
    return near


def _near_slopes(heights: F32, covered: Bool, lines: slice) -> F32:
    """Return twice the mean of the steps to the covered neighbours along the first axis."""
    both = covered[1:] & covered[:-1]
    step = heights[1:] - heights[:-1]
    step *= both
    before, after = slice(lines.start - 1, lines.stop - 1), lines
    total = step[before] + step[after]
    alone = both[before] ^ both[after]
    total += total * alone
    return total
