"""How much of the sky a point of a profile sees.

A line of points in a profile that goes on unchanged to both sides sees the sky between two
horizons. With elevations a and b of the horizons, the cosine-weighted share of the sky that a
level receiver sees is exactly (cos a + cos b) / 2: the view factor of a strip by the rule of
crossed strings (H. C. Hottel, in McAdams, "Heat Transmission", 3rd edition 1954, chapter 4). In a
round pit of horizon a the share is cos^2 a, which is the product of two such factors at right
angles. So a height field is given the product of the factors across and along: exact for walls and
for pits, and near enough between.
"""

import numpy as np

from texbake.arrays import F64


def sky_share(height_mm: F64, step_mm: float, reach: int, *, axis: int, periodic: bool) -> F64:
    """Share of the sky seen across one axis of a height field.

    Parameters
    ----------
    height_mm : (...) float64
    step_mm : float
        Distance of neighbours along ``axis``.
    reach : int
        How many steps away a horizon may stand.
    axis : int
    periodic : bool
        Whether the field starts again past its ends; otherwise the end values go on.

    Returns
    -------
    (...) float64
        In (0, 1].
    """
    field: F64 = np.moveaxis(height_mm, axis, -1)
    count = field.shape[-1]
    place = np.arange(-reach, count + reach)
    padded = field[..., place % count if periodic else place.clip(0, count - 1)]
    share = np.zeros_like(field)
    for sign in (-1, 1):
        slope = np.zeros_like(field)
        for shift in _shifts(reach):
            start = reach + sign * shift
            seen = padded[..., start : start + count]
            np.maximum(slope, (seen - field) / (shift * step_mm), out=slope)
        share += 0.5 / np.sqrt(1.0 + slope * slope)
    return np.moveaxis(share, -1, axis)


def _shifts(reach: int) -> list[int]:
    """Distances at which a horizon is looked for: all up to 20, then a tenth further each time."""
    shifts = [1]
    while shifts[-1] < reach:
        shifts.append(min(reach, max(shifts[-1] + 1, shifts[-1] * 11 // 10)))
    return shifts
