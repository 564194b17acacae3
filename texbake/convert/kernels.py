"""Slopes from heights, by one of three kernels.

A sample of a height map is the mean height over its texel, and what a normal map should hold is
the mean slope over the texel. Along an axis that is the difference of the heights at the texel's
two borders, so no smoothing comes in: the ideal kernel has the response i w, and all that a
kernel does is guess the height at a border from the means on both sides.

true
    The guess is the mean of the two neighbours plus a share of the second differences of three
    on either side: nine taps, exact for polynomials of the fourth degree, within 0.13 % of the
    slope for waves of four texels and longer. Beside a jump such a guess would swing over and
    leave false ridges. So it is kept between the two neighbours, as in P. Colella and
    P. R. Woodward, "The piecewise parabolic method", J. Comput. Phys. 54, 1984; and so that round
    tops stay round (P. Colella and M. D. Sekora, J. Comput. Phys. 227, 2008), it may pass them by
    half the lesser of the steps down on both sides, if both go down. The bound does not touch
    waves of three texels and longer, a row that rises never gets a slope that falls, and a jump
    from one plateau to another shows in the two texels that touch it and nowhere else.
even
    The pair of five taps of H. Farid and E. P. Simoncelli, "Differentiation of discrete
    multidimensional signals", IEEE Trans. Image Processing 13(4), 2004, scaled to be exact on
    planes. All directions get the same share of their slope, fine waves less of it: for noise.
short
    Half the difference of the two neighbours, as `numpy.gradient`.

All work on flat arrays: a block is one long row in which the texel below lies a width further.
Numpy does that in one loop without gaps, 0.13 ns a texel and operation. Where a row ends, texels
of two rows meet; those results lie in the block's margin and are not used.
"""

from collections.abc import Callable, Mapping
from types import MappingProxyType
from typing import Final

import numpy as np

from texbake.arrays import F32
from texbake.convert.bench import Bench
from texbake.convert.values import Kernel

# Twice the shares of the second differences: least greatest error of the response relative to w
# for w up to pi / 2, with their sum -1/6 (exact for the fourth degree). A test finds
# them again.
TRUE: Final = (-0.225512, 0.076252, -0.0174066667)

# Farid and Simoncelli 2004, table of first- and second-order kernels, five taps.
FARID: Final = (0.426374573253687, 0.249153396177344, 0.0376593171958126)
FARID_SLOPE: Final = (0.276690988455557, 0.109603762960254)

RADIUS: Final[Mapping[Kernel, int]] = MappingProxyType({"true": 4, "even": 2, "short": 1})

# Doubled slopes of n texels along an axis: (block, step, n, bench, out), where texel i of the
# result lies at i + radius * step of the block.
Along = Callable[[F32, int, int, Bench, F32], None]


def slopes(block: F32, width: int, kernel: Kernel, bench: Bench) -> F32:
    """Return the doubled slopes of a block, per texel.

    Parameters
    ----------
    block : ((R + 2 p) * width,) float32
        Heights, row by row, with a margin of p = ``RADIUS[kernel]`` on every side.
    width : int
        C + 2 p.
    kernel : 'true', 'even' or 'short'
    bench : Bench

    Returns
    -------
    (3, R * width) float32, on the bench
        Twice the slope along columns and along rows, and room for a third component. Columns p
        to p + C count, the others are left over.
    """
    radius = RADIUS[kernel]
    count = block.size - 2 * radius * width
    vector = bench.three("vector", count)
    across, down = vector[0], vector[1]
    across[:radius] = across[count - radius :] = 0.0
    inner = slice(radius, count - radius)
    if kernel == "even":
        _even(block, width, bench, (across, down))
        return vector
    along = _true if kernel == "true" else _short
    middle = block[radius * width : radius * width + count]
    along(middle, 1, count - 2 * radius, bench, across[inner])
    along(block, width, count, bench, down)
    return vector


def _true(f: F32, k: int, n: int, bench: Bench, out: F32) -> None:
    """Write the doubled slopes of texels f[i + 4 k]."""
    step = np.subtract(f[k : n + 8 * k], f[: n + 7 * k], out=bench.flat("a", n + 7 * k))
    bend = np.subtract(step[k:], step[:-k], out=bench.flat("b", n + 6 * k))
    m = n + k  # borders: number i is between f[i + 3 k] and f[i + 4 k]
    guess, more = bench.flat("c", m), bench.flat("d", m)
    np.add(bend[2 * k : 2 * k + m], bend[3 * k : 3 * k + m], out=guess)
    guess *= TRUE[0]
    np.add(bend[k : k + m], bend[4 * k : 4 * k + m], out=more)
    more *= TRUE[1]
    guess += more
    np.add(bend[:m], bend[5 * k : 5 * k + m], out=more)
    more *= TRUE[2]
    guess += more
    _bound(guess, step[2 * k :], k, more, bend[:m])
    np.add(step[3 * k : 3 * k + n], step[4 * k : 4 * k + n], out=out)
    out += guess[k:]
    out -= guess[:n]


def _bound(guess: F32, step: F32, k: int, limit: F32, room: F32) -> None:
    """Keep twice the guesses, less the two neighbours' sum, within the step or the lesser drop.

    The steps before, at and after border i are step[i], step[i + k], step[i + 2 k]. There is a
    top (or a bottom) between the neighbours if the first and the third have other signs.
    """
    m = guess.size
    before, here, after = step[:m], step[k : k + m], step[2 * k : 2 * k + m]
    np.negative(after, out=room)
    np.minimum(before, room, out=limit)  # the lesser drop, at a top
    np.maximum(before, room, out=room)
    np.negative(room, out=room)  # the lesser rise, at a bottom
    np.maximum(limit, room, out=limit)
    np.abs(here, out=room)
    np.maximum(limit, room, out=limit)
    np.minimum(guess, limit, out=guess)
    np.negative(limit, out=limit)
    np.maximum(guess, limit, out=guess)


def _short(f: F32, k: int, n: int, _bench: Bench, out: F32) -> None:
    """Write the doubled slopes of texels f[i + k]."""
    np.subtract(f[2 * k : 2 * k + n], f[:n], out=out)


def _even(block: F32, width: int, bench: Bench, out: tuple[F32, F32]) -> None:
    """Write the doubled slopes along both axes: smoothed along one, differentiated along other."""
    across, down = out
    n = across.size
    smooth = _smoothed(block, width, n, bench)
    _farid_slope(smooth, 1, n - 4, bench, across[2:-2])
    smooth = _smoothed(block, 1, block.size - 4, bench)
    down[:2] = down[n - 2 :] = 0.0
    _farid_slope(smooth, width, n - 4, bench, down[2:-2])


def _smoothed(f: F32, k: int, n: int, bench: Bench) -> F32:
    """Return the five-tap means of f[i + 2 k]."""
    total, pair = bench.flat("a", n), bench.flat("b", n)
    np.multiply(f[2 * k : 2 * k + n], FARID[0], out=total)
    for reach in (1, 2):
        np.add(f[(2 - reach) * k :][:n], f[(2 + reach) * k :][:n], out=pair)
        pair *= FARID[reach]
        total += pair
    return total


def _farid_slope(f: F32, k: int, n: int, bench: Bench, out: F32) -> None:
    """Write the doubled slopes of f[i + 2 k]."""
    # A plane of slope 1 has to give 1: the taps as published give 0.9918 of it.
    scale = 1.0 / (FARID_SLOPE[0] + 2.0 * FARID_SLOPE[1])
    pair = bench.flat("b", n)
    np.subtract(f[3 * k :][:n], f[k:][:n], out=out)
    out *= FARID_SLOPE[0] * scale
    np.subtract(f[4 * k :][:n], f[:n], out=pair)
    pair *= FARID_SLOPE[1] * scale
    out += pair
