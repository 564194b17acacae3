"""Slubs: short thick places of a yarn, which stand up and push their neighbours under.

A slub changes form, not only tone. So the cloth is rendered once more with the yarns of one system
thick, and what that changes in each channel is added wherever a slub lies on the texel, by its
share: both are means over the texel, and linear.
"""

from dataclasses import dataclass

import numpy as np

from texbake.arrays import F32, I32
from texbake.cloth.hash import draws
from texbake.cloth.streak import Streaks, centred, fitted, read, streaks
from texbake.cloth.tile import MOMENT, SLOPE_X, SLOPE_Y, STEEPEST, Tile

YARNS, CELLS = 1024, 512  # of the sheet; a cell is CELL_MM of a yarn at life size
CELL_MM = 3.0
OFTEN = 0.02  # chance that a slub begins in a cell: one in 15 cm of yarn (by eye, no source)
LONG = (4, 14)  # cells: slubs of 12 to 42 mm (by eye, no source)


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Slubs:
    """Where the slubs of one system lie; ``along_x``: its yarns run along +x.

    ``mean`` is their share of the cloth, which the sheet lacks.
    """

    sheet: Streaks
    along_x: bool
    mean: float


def slubs(
    pitch_mm: float,
    scale: float,
    extent_mm: F32,
    shift: F32,
    *,
    along_x: bool,
    seed: int,
    period_mm: tuple[float, float] | None = None,
) -> Slubs:
    """Strew slubs over the yarns of one system.

    Parameters
    ----------
    pitch_mm, scale : float
        From yarn to yarn at the recipe's scale; that scale.
    extent_mm : (F, 2) float32
        How far a texel of each face reaches in x and y.
    shift : (F, 2) float32
    period_mm : (float, float) or None
        What the sheet is to span across and along the yarns, for cloth that repeats.
    """
    counts, size = fitted((YARNS, CELLS), (pitch_mm, CELL_MM * scale), period_mm)
    extent = extent_mm[:, ::-1] if along_x else extent_mm
    strewn = _strewn(counts, seed)
    return Slubs(
        sheet=streaks(centred(strewn), size, extent, shift),
        along_x=along_x,
        mean=float(strewn.mean(dtype=np.float64)),
    )


def _strewn(counts: tuple[int, int], seed: int) -> F32:
    """0 to 1, thick where a slub is; (yarns, cells, 1) float32."""
    begin, long = draws(2 * counts[0] * counts[1], seed + 77).reshape(2, *counts)
    out = np.zeros(counts, np.float32)
    length = LONG[0] + (LONG[1] - LONG[0]) * long
    for k in range(LONG[1]):
        hump = np.sin(np.pi * np.minimum((k + 0.5) / length, 1.0))
        np.maximum(out, np.roll(np.where(begin < OFTEN, hump, 0.0), k, 1), out=out)
    return out[:, :, None]


def swelling(thin: Tile, thick: Tile) -> Tile:
    """What thick yarns change in every channel, and last, half the square of what they do to slope.

    Slope grows evenly with the amount a of a slub, its second moment does not: from M0 to M1 by
    a (M1 - M0) + (a^2 - a) times that square.
    """
    change = thick.channels - thin.channels
    bent = 0.5 * (change[SLOPE_X] ** 2 + change[SLOPE_Y] ** 2)
    bent = np.minimum(bent, STEEPEST)[None]
    channels = np.concatenate([change, bent])
    return Tile(channels=channels, width_mm=thin.width_mm, length_mm=thin.length_mm)


def swell(seen: F32, change: F32, amount: F32, last: int) -> None:
    """Add a slub of an amount to what a texel sees, in place; ``last``: number of that square."""
    seen += amount * change[: len(seen)]
    seen[MOMENT] += (amount * amount - amount) * change[last]
    np.maximum(seen[MOMENT:], 0.0, out=seen[MOMENT:])


def amount(slub: Slubs, face: I32, x_mm: F32, y_mm: F32) -> F32:
    """How much of a slub lies on each texel, about 0 to 1; (N,) float32."""
    across, along = (y_mm, x_mm) if slub.along_x else (x_mm, y_mm)
    out: F32 = read(slub.sheet, face, across, along)[0]
    out += slub.mean
    return out
