"""The order of colours in warp and weft: stripes, checks, setts, colour-and-weave.

A short order is woven into the tile: every colour has a weight of its own, over the common repeat
of draft and orders, so that what the two make together (a houndstooth of a twill and of stripes)
is filtered as one. A long one, as of a tartan, would need too large a tile; there the weight of a
system is shared out by the mean of each colour over the texel, along the one axis that an order
has. Both are box-filtered exactly; only their product within a texel is then taken as if colour
and draft knew nothing of each other, which holds for stripes wider than the draft's repeat.
"""

import math
from dataclasses import dataclass

import numpy as np

from texbake.arrays import F32, I32, I64, Bool
from texbake.cloth.draft import draft_of
from texbake.cloth.footprint import classes
from texbake.recipe.values import Order, Weave, Yarn

MOST_YARNS = 16  # of a common repeat that is woven into the tile
MOST_WEIGHTS = 10  # that a texel's 16 lanes hold beside its six other channels
LEAST_YARNS, LEAST_MARLED = 8, 24  # of the tile of plied yarns, lest all of them turn in step
FINE = 8  # cells to a yarn along an order


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Stripes:
    """A long order as each class of footprint sees it.

    Attributes
    ----------
    values : (K * cells, colours) float32
        Share of each colour, class by class.
    start : (F,) int64
        First row of ``values`` for each face.
    cells : int
    period_mm : float
    """

    values: F32
    start: I64
    cells: int
    period_mm: float


def common_repeat(weave: Weave, warp: Yarn, weft: Yarn) -> tuple[Bool, bool]:
    """The draft over the repeat that a tile needs.

    Returns
    -------
    draft : (picks, ends) bool
    ordered : bool
        It holds whole repeats of the orders too: their colours can be woven in.
    """
    draft = draft_of(weave)
    sides = [
        math.lcm(count, len(yarn.order.slots)) if yarn.order is not None else count
        for count, yarn in zip(draft.shape, (weft, warp), strict=True)
    ]
    weights = sum(max(1, len(yarn.dyes)) for yarn in (warp, weft) if yarn.melange is None)
    ordered = (warp.order is not None or weft.order is not None) and (
        max(sides) <= MOST_YARNS and weights <= MOST_WEIGHTS
    )
    wanted = sides if ordered else list(draft.shape)
    if max(warp.plies, weft.plies) > 1:
        least = LEAST_MARLED if warp.marl or weft.marl else LEAST_YARNS
        wanted = [side * -(-least // side) for side in wanted]
    times = [side // count for side, count in zip(wanted, draft.shape, strict=True)]
    return np.tile(draft, times), ordered


def stripes(order: Order, pitch_mm: float, footprint_mm: F32, axis: int) -> Stripes:
    """Filter an order for every kind of footprint among the faces.

    Parameters
    ----------
    order : Order
    pitch_mm : float
        From yarn to yarn, at the recipe's scale.
    footprint_mm : (F, 2, 2) float32
    axis : int
        0: the yarns lie side by side along x (warp); 1: along y (weft).
    """
    kind, typical = classes(footprint_mm)
    slots = np.repeat(np.array(order.slots), FINE)
    hot = (slots[:, None] == np.arange(len(order.colours))).astype(np.float32)
    spectrum = np.fft.rfft(hot, axis=0)
    wave = np.fft.rfftfreq(len(slots), pitch_mm / FINE)[:, None]
    seen = [
        np.fft.irfft(
            spectrum * np.sinc(wave * box[axis, 0]) * np.sinc(wave * box[axis, 1]),
            n=len(slots),
            axis=0,
        )
        for box in typical.astype(np.float64)
    ]
    return Stripes(
        values=np.concatenate(seen).astype(np.float32),
        start=kind * len(slots),
        cells=len(slots),
        period_mm=pitch_mm * len(order.slots),
    )


def shares(stripe: Stripes, face: I32, across_mm: F32) -> F32:
    """Share of each colour at texels, (colours, N) float32; they sum to 1."""
    at = across_mm * (stripe.cells / stripe.period_mm)
    at -= 0.5
    low = np.floor(at)
    at -= low
    first = low.astype(np.int64) % stripe.cells
    start = np.take(stripe.start, face)
    near = np.take(stripe.values, start + first, 0)
    far = np.take(stripe.values, start + (first + 1) % stripe.cells, 0)
    far -= near
    far *= at[:, None]
    near += far
    return np.ascontiguousarray(near.T)
