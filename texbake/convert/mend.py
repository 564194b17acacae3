"""Mending stair-steps: the slope that a picture of few levels had before it was rounded.

A level is known to half a step, so a height is sought that rounds to the very same levels and
bends little. It is found in two ways at once:

* every texel takes a quarter of each of two opposite neighbours, near and far (12 texels to 1),
  if both are within one level of it. Steps of two levels and more are edges, and nothing passes
  them;
* what goes past half a step is drawn back, not at the spot, which would leave a kink, but over a
  few texels round it, several times over. At the end the half step holds for every texel.

All of it is sums over fixed neighbours, so a block with a margin gives what the whole picture
would. Radii and gains were chosen by the angle left on reliefs with edges, 24 to 256 levels
(`measure.mending`).
"""

from typing import Final

import numpy as np

from texbake.arrays import F32, Bool

_SPREAD: Final = (12, 6, 3, 2, 1, 1, 1)
_DRAWN: Final = ((6, 3, 2, 1),) * 3
_GAIN: Final = 4.0
_ONE: Final = 1.25  # a step of one level, with room for rounding
_WALL: Final = 1e9  # no level is within one of it
MEND_RADIUS: Final = sum(_SPREAD) + sum(map(sum, _DRAWN))


def mended(block: F32, covered: Bool | None, step: float) -> F32:
    """Mend a block's stair-steps.

    Parameters
    ----------
    block : (R + 2 m, C + 2 m) float32
        With a margin of m = ``MEND_RADIUS``.
    covered : (R + 2 m, C + 2 m) bool or None
        Only these count; None is all.
    step : float
        From one level to the next.

    Returns
    -------
    (R, C) float32
        Nowhere further than half a step from what it was.
    """
    levels = block / np.float32(step)
    if covered is not None:
        levels = np.where(covered, levels, np.float32(_WALL))
    height, seen = _spread(levels, levels, _SPREAD)
    for radii in _DRAWN:
        over = np.clip(height, seen - 0.5, seen + 0.5)
        over -= height
        drawn, inner = _spread(over, seen, radii)
        margin = (len(seen) - len(inner)) // 2
        height, seen = _inner(height, margin) + np.float32(_GAIN) * drawn, inner
    np.clip(height, seen - 0.5, seen + 0.5, out=height)
    height *= step
    return height


def _spread(values: F32, levels: F32, radii: tuple[int, ...]) -> tuple[F32, F32]:
    """Take a part of opposite neighbours, at each radius in turn; return with the levels inside."""
    for radius in radii:
        values = _pairs(values, levels, radius)
        levels = levels[radius:-radius]
        values = _pairs(values.T, levels.T, radius).T
        levels = levels[:, radius:-radius]
    return values, levels


def _pairs(values: F32, levels: F32, radius: int) -> F32:
    """Return half of each value and a quarter of those on both sides, along the first axis."""
    n = len(values) - 2 * radius
    here, before, after = (slice(k, k + n) for k in (radius, 0, 2 * radius))
    near = np.abs(levels[before] - levels[here]) <= _ONE
    near &= np.abs(levels[after] - levels[here]) <= _ONE
    change = values[before] + values[after]
    change *= 0.5
    change -= values[here]
    change *= 0.5
    change *= near
    change += values[here]
    return change


def _inner(block: F32, margin: int) -> F32:
    """Return a block without its margin."""
    return block[margin:-margin, margin:-margin]
