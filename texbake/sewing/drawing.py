"""What a drawn row of stitches holds, and how a drawing becomes a table of running sums.

A drawing tells four fields at the corners of a grid, ``VARIANTS`` stitches long: cover, height,
groove between plies, and dip of the cloth at needle holes. The table holds means over cells of
what texels need of them. Coordinates: ``u`` counts stitches, needle holes at whole numbers; x is
mm across the row, to the right of someone who looks along it with the cloth's face towards them.
"""

from dataclasses import dataclass

import numpy as np

from texbake.arrays import F64
from texbake.sewing.sky import sky_share
from texbake.sewing.sums import Plane, plane

VARIANTS = 4  # stitches that are drawn, which differ as sewn ones do
FIELDS = 8
COVER, HEIGHT, ACROSS, ALONG, SQUARES, SHADE, TILT, DARK = range(FIELDS)
FINER = 2  # the drawing is this much finer than the table
MAX_CELLS = 512  # of the table, per stitch

_PLY_DARK = 0.35  # how much darker the groove between plies is
_HOLE_DARK = 0.6  # a needle hole goes deeper than any height field: this much less light
_SKY_CELLS = 60  # a horizon further off is too low to matter


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Drawn:
    """A drawing at the corners of its grid, each (n + 1, m + 1) float64.

    Attributes
    ----------
    cover : share that thread hides, in [0, 1]
    height_mm : of thread and dips, above the cloth
    groove : 0 on a ply, 1 between two
    dip : 1 in the middle of a needle hole, 0 outside
    """

    cover: F64
    height_mm: F64
    groove: F64
    dip: F64


def table(drawn: Drawn, half_mm: float, stitch_mm: float) -> Plane:
    """Sum a drawing into a table.

    Parameters
    ----------
    drawn : Drawn
        ``VARIANTS`` stitches along, from ``-half_mm`` to ``half_mm`` across.
    half_mm, stitch_mm : float
        Half width, and length of one stitch; > 0.

    Returns
    -------
    Plane
        One unit along is one stitch. Fields: cover, height mm, slope across, slope along, sum of
        the squared slopes, cover times shade (as bright on average as it covers), x times slope
        across, darkness.
    """
    along, across = drawn.cover.shape[0] - 1, drawn.cover.shape[1] - 1
    x = np.linspace(-half_mm, half_mm, across + 1)
    steps = VARIANTS * stitch_mm / along, 2.0 * half_mm / across
    return plane(half_mm, VARIANTS, _fields(x, drawn, steps))


def _fields(x: F64, drawn: Drawn, steps: tuple[float, float]) -> F64:
    """Means over cells, (8, n, m) float64, from what is drawn at the corners of their quarters.

    Slopes are differences of corners, so their means are exact, and their squares miss little at
    the thread's outline, where the slope jumps: 2 to 3 % (a whole cell a step would miss 5 %).
    """
    along_mm, across_mm = steps
    cover, groove, dip = (_middle(field) for field in (drawn.cover, drawn.groove, drawn.dip))
    height = drawn.height_mm
    slope_s = np.diff(height, axis=0) / along_mm
    slope_s = 0.5 * (slope_s[:, 1:] + slope_s[:, :-1])
    slope_x = np.diff(height, axis=1) / across_mm
    slope_x = 0.5 * (slope_x[1:] + slope_x[:-1])
    bright = cover * (1.0 - _PLY_DARK * groove)
    bright *= cover.sum() / bright.sum()
    squares, tilt = slope_x**2 + slope_s**2, 0.5 * (x[1:] + x[:-1]) * slope_x
    pieces = cover, _middle(height), slope_x, slope_s, squares, bright, tilt
    means = [_cells(piece) for piece in pieces]
    high = means[HEIGHT]
    cell_x, cell_s = FINER * across_mm, FINER * along_mm
    reach = min(high.shape[1] // 2, _SKY_CELLS)
    light = sky_share(high, cell_x, reach, axis=1, periodic=False)
    light *= sky_share(high, cell_s, max(1, round(reach * cell_x / cell_s)), axis=0, periodic=True)
    light *= 1.0 - _HOLE_DARK * _cells(dip * (1.0 - cover))
    return np.stack([*means, 1.0 - light])


def _middle(field: F64) -> F64:
    """Mean of the four corners of each piece of a grid."""
    rows = field[1:] + field[:-1]
    middle: F64 = 0.25 * (rows[:, 1:] + rows[:, :-1])
    return middle


def _cells(field: F64) -> F64:
    """Mean over the ``FINER`` x ``FINER`` pieces of each cell."""
    rows = sum((field[k::FINER] for k in range(1, FINER)), start=field[::FINER])
    total = sum((rows[:, k::FINER] for k in range(1, FINER)), start=rows[:, ::FINER])
    return total / FINER**2
