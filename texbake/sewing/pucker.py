"""Pucker: the waves that a tight thread draws into the cloth beside it.

A row of stitches is a little shorter than the cloth that it holds. The cloth has to go somewhere:
it rises between the needle holes and, more slowly, over a few stitches at a time, most at the row
and less with distance. So pucker is a product, an envelope across the chain times a wave along it,
and its box mean is the product of two box means on a line.
"""

import numpy as np

from texbake.arrays import F64
from texbake.cloth.hash import hash01
from texbake.sewing.fold import bump

HALF_MM = 5.0  # how far from a row the cloth still waves
CELLS = 16  # of the table, per stitch
_HOLES = 0.15  # share of the wave that follows the needle holes
_SLOW = ((3.6, 0.8), (1.7, 0.4))  # stitches per node and amplitude of the uneven part


def envelope(rows_mm: tuple[float, ...], half_mm: float, distance_mm: F64) -> F64:
    """How strongly the cloth waves at each distance, in [0, 1]; (...) float64."""
    calm = np.ones_like(distance_mm)
    for row in rows_mm:
        calm *= 1.0 - bump((distance_mm - row) / half_mm)
    return 1.0 - calm


def wave(stitch: F64, stitches: int, seed: int, *, closed: bool) -> F64:
    """Wave along a chain, about in [-1, 1].

    Parameters
    ----------
    stitch : (n,) float64
        Place along the chain, counted in stitches; needle holes at whole numbers.
    stitches : int
        How many the chain has.
    seed : int
    closed : bool
        Whether the wave must end as it starts.

    Returns
    -------
    (n,) float64
    """
    out: F64 = -_HOLES * np.cos(2.0 * np.pi * stitch)
    for octave, (spacing, amplitude) in enumerate(_SLOW):
        nodes = max(2, round(stitches / spacing))
        out += amplitude * _uneven(stitch * (nodes / stitches), nodes, seed + octave, closed)
    return out


def _uneven(at: F64, nodes: int, seed: int, closed: bool) -> F64:
    """Smooth curve through one hashed value in [-1, 1] per node."""
    number = np.arange(nodes + 1)
    if closed:
        number %= nodes
    value = 2.0 * hash01(number, 7, seed).astype(np.float64) - 1.0
    low = np.clip(np.floor(at).astype(np.int64), 0, nodes - 1)
    t = at - low
    t *= t * (3.0 - 2.0 * t)
    return value[low] + (value[low + 1] - value[low]) * t
