"""Stair-steps: what a slope becomes when a picture has too few levels for it.

A slope of less than a level a texel is stored as plateaus with steps of one level between them.
Such a lone step (level on both sides) is a false ridge in the normal map. Real edges are steps of
many levels, noise goes up and down again at once, and steep reliefs have no plateaus: few of
their steps stand alone.
"""

import math
from dataclasses import dataclass
from typing import Final

import numpy as np

from texbake.arrays import F32, Bool, bands
from texbake.convert.values import Relief, Samples

_ROWS: Final = 64
_PIXELS: Final = 1 << 22  # looked at, at most
_LEVELS: Final = 4096  # a picture of floats with more is not one of few levels
_SAME: Final = 1e-6  # of the range: floats nearer than this are the same level
_LONE: Final = 0.25  # of the steps that stand alone, from which on a picture has stair-steps
_DEG: Final = 0.22  # false ridges under half a step of 8 bits are not seen


@dataclass(frozen=True, slots=True, kw_only=True)
class Stairs:
    """What was found of levels and of steps between them.

    Attributes
    ----------
    levels : int
        Different samples; 0 if they are too many to be levels.
    step : float
        The least distance of two levels, in samples.
    lone_share : float
        Of all steps between neighbours, those of one level with level ground on both sides.
    """

    levels: int
    step: float
    lone_share: float

    def ridge_deg(self, slope_per_sample: float) -> float:
        """Return the angle of the false ridge that a lone step makes: half of it is in a texel."""
        return ridge_deg(self.step, slope_per_sample)

    def seen(self, slope_per_sample: float) -> bool:
        """Say whether they would be seen in the normal map."""
        return self.lone_share >= _LONE and self.ridge_deg(slope_per_sample) >= _DEG


def ridge_deg(step: float, slope_per_sample: float) -> float:
    """Return the angle of the ridge that a step makes, shared by the two texels beside it."""
    return math.degrees(math.atan(0.5 * step * abs(slope_per_sample)))


def stairs(relief: Relief) -> Stairs:
    """Look for levels and lone steps; in parts of it if the picture is large.

    Parameters
    ----------
    relief : Relief

    Returns
    -------
    Stairs
    """
    parts = [relief.samples[band] for band in _looked_at(relief)]
    masks = [
        None if relief.covered is None else relief.covered[band] for band in _looked_at(relief)
    ]
    levels = _levels(parts, masks)
    many = levels.size > _LEVELS and relief.samples.dtype == np.float32
    if levels.size < 2 or many:
        return Stairs(levels=0 if many else int(levels.size), step=0.0, lone_share=0.0)
    gaps = np.diff(levels.astype(np.float64))
    step = float(gaps[gaps > _SAME * gaps.sum()].min())
    lone = steps = 0
    for part, mask in zip(parts, masks, strict=True):
        for turn in (False, True):
            found = _count(part.T if turn else part, _turned(mask, turn), step)
            lone, steps = lone + found[0], steps + found[1]
    return Stairs(levels=int(levels.size), step=step, lone_share=lone / max(steps, 1))


def _looked_at(relief: Relief) -> list[slice]:
    """Return bands of rows, evenly spread."""
    every = max(1, math.ceil(relief.samples.size / _PIXELS))
    return list(bands(relief.shape[0], _ROWS))[::every]


def _turned(mask: Bool | None, turn: bool) -> Bool | None:
    """Return a mask, columns as rows if ``turn``."""
    return mask.T if mask is not None and turn else mask


def _levels(parts: list[Samples], masks: list[Bool | None]) -> Samples:
    """Return the samples that occur, ascending."""
    found = [part if mask is None else part[mask] for part, mask in zip(parts, masks, strict=True)]
    if parts[0].dtype == np.float32:
        return np.unique(np.concatenate([np.unique(some) for some in found]))
    there: Bool = np.zeros(2 ** (8 * parts[0].itemsize), np.bool_)
    for some in found:
        there[some] = True
    return np.flatnonzero(there)


def _count(part: Samples, mask: Bool | None, step: float) -> tuple[int, int]:
    """Return the lone steps of one level along the first axis, and all steps."""
    rise: F32 = np.diff(part.astype(np.float32), axis=0)
    there = np.abs(rise) > 0.5 * step
    if mask is not None:
        there &= mask[1:] & mask[:-1]
    one = there & (np.abs(rise) < 1.5 * step)
    lone = one[1:-1] & ~there[:-2] & ~there[2:]
    return int(np.count_nonzero(lone)), int(np.count_nonzero(there))


def ridges(before: F32, after: F32, step: float) -> tuple[float, int]:
    """Return what mending has left of the false ridges at lone steps.

    Parameters
    ----------
    before, after : (H, W) float32
        The same heights, before and after mending.
    step : float
        Between two levels.

    Returns
    -------
    squares : float
        Over the lone steps, the summed squares of how far the step is from those beside it.
    count : int
        How many there are.
    """
    squares, count = 0.0, 0
    for old, new in ((before, after), (before.T, after.T)):
        rise, now = np.diff(old, axis=0), np.diff(new, axis=0)
        there = np.abs(rise) > 0.5 * step
        lone = there[1:-1] & (np.abs(rise[1:-1]) < 1.5 * step) & ~there[:-2] & ~there[2:]
        ridge = now[1:-1] - 0.5 * (now[:-2] + now[2:])
        squares += float(np.square(ridge[lone], dtype=np.float64).sum())
        count += int(np.count_nonzero(lone))
    return squares, count
