"""Threads as curves in space, and what is seen of them from above.

A thread is a curve through points, periodic along the row, swept by a round section. Seen from
above it is the highest of the balls along it: a grid of corners takes the highest ball over each.
Its plies wind Z: their phase turns once per ply and turn of the thread.
"""

import math
from dataclasses import dataclass

import numpy as np

from texbake.arrays import F64, I64, bands
from texbake.sewing.drawing import FINER, VARIANTS, Drawn
from texbake.sewing.thread import PLIES, PLY_ANGLE_RAD

CELLS = 10  # of the table, per diameter, along and across
_STEP = 1.0 / 5.0  # of a radius, between balls: dents between them are r/200 deep
_AT_ONCE = 512  # balls; each covers some 400 corners of the grid
_PLY_DEPTH = 0.12  # of a diameter: how deep the groove between plies is
_HOLE_DEPTH = 0.45  # of a diameter: how far the cloth dips at a needle hole
_HOLE_LONG, _HOLE_WIDE = 0.75, 0.65  # half length and half width of the dip, diameters


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Picture:
    """Threads and needle holes of ``VARIANTS`` stitches, in mm: along, across, above the cloth.

    Attributes
    ----------
    strands : tuple of (K, 3) float64
        Points of each thread, in order; the first comes again ``VARIANTS`` stitches on.
    holes : (H, 2) float64
        Needle holes: along and across.
    half_mm : float
        Nothing is further across than this.
    """

    strands: tuple[F64, ...]
    holes: F64
    half_mm: float


def curve(points: F64, period_mm: float, step_mm: float) -> F64:
    """Walk a smooth curve through points that comes again ``period_mm`` on (Catmull and Rom).

    Parameters
    ----------
    points : (K, 3) float64
        K > 1; the first coordinate is along the row.
    period_mm, step_mm : float
        Length of the period; about the distance of points on the curve; > 0.

    Returns
    -------
    (N, 3) float64
        From the first point to just before it comes again.
    """
    ahead = np.array([period_mm, 0.0, 0.0])
    around = np.concatenate([points[-1:] - ahead, points, points[:2] + ahead])
    pieces = []
    for before, start, end, after in zip(
        around[:-3], around[1:-2], around[2:-1], around[3:], strict=True
    ):
        count = max(2, math.ceil(float(np.linalg.norm(end - start)) * 1.1 / step_mm))
        t = (np.arange(count) / count)[:, None]
        pieces.append(
            0.5
            * (
                2.0 * start
                + (end - before) * t
                + (2.0 * before - 5.0 * start + 4.0 * end - after) * t**2
                + (3.0 * (start - end) + after - before) * t**3
            )
        )
    return np.concatenate(pieces)


def cells(diameter_mm: float, length_mm: float, most: int) -> int:
    """How many cells a length gets."""
    return min(most, max(8, math.ceil(length_mm / diameter_mm * CELLS)))


def draw(picture: Picture, diameter_mm: float, stitch_mm: float, along: int, across: int) -> Drawn:
    """See the threads from above, at the corners of a grid.

    Parameters
    ----------
    picture : Picture
    diameter_mm, stitch_mm : float
        Of the thread; from hole to hole.
    along, across : int
        Cells of the table: in a stitch, and from side to side.
    """
    grid = _Grid(
        steps=(stitch_mm / (along * FINER), 2.0 * picture.half_mm / (across * FINER)),
        half_mm=picture.half_mm,
        shape=(VARIANTS * along * FINER, across * FINER + 1),
    )
    top, cover, groove = (np.zeros(grid.shape) for _ in range(3))
    radius = 0.5 * diameter_mm
    for strand in picture.strands:
        walked = curve(strand, VARIANTS * stitch_mm, _STEP * radius)
        _lay(walked, radius, grid, (top.ravel(), cover.ravel(), groove.ravel()))
    dip = _dips(picture.holes, diameter_mm, grid)
    top -= _PLY_DEPTH * diameter_mm * groove * cover
    top -= _HOLE_DEPTH * diameter_mm * dip * dip * (1.0 - cover)
    fields = (np.concatenate([field, field[:1]]) for field in (cover, top, groove, dip))
    return Drawn(**dict(zip(("cover", "height_mm", "groove", "dip"), fields, strict=True)))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Grid:
    """Corners along and across, mm apart; those along come again at the end."""

    steps: tuple[float, float]
    half_mm: float
    shape: tuple[int, int]


def _lay(walked: F64, radius: float, grid: _Grid, into: tuple[F64, F64, F64]) -> None:
    """Lay one thread into the flat top, cover and ply groove, in place."""
    ahead = np.roll(walked, -1, axis=0) - walked
    ahead[-1] = ahead[-2]
    length = np.sqrt((ahead * ahead).sum(axis=1))
    tangent = ahead[:, :2] / np.maximum(np.hypot(ahead[:, 0], ahead[:, 1]), 1e-9)[:, None]
    balls = np.column_stack([walked, tangent, np.cumsum(length) - length])
    balls = balls[balls[:, 2] > -radius]
    for some in bands(len(balls), _AT_ONCE):
        _balls(balls[some], radius, grid, into)


def _balls(balls: F64, radius: float, grid: _Grid, into: tuple[F64, F64, F64]) -> None:
    """Lay some balls: (B, 6) of along, across, height, direction along and across, and run."""
    top, cover, groove = into
    at, along, across = _corners(balls, radius, grid)
    squared = along * along + across * across
    edge = max(grid.steps)  # one step, so that the outline is not a staircase
    ball, row, column = np.nonzero(squared < (radius + 0.5 * edge) ** 2)
    squared = squared[ball, row, column]
    along, across = along[ball, row, 0], across[ball, 0, column]
    at = at[ball, row, column]
    high = balls[ball, 2] + np.sqrt(np.maximum(radius * radius - squared, 0.0))
    up = high > 0.0
    at, high, ball = at[up], high[up], ball[up]
    np.maximum.at(top, at, high)
    soft = np.clip((radius - np.sqrt(squared[up])) / edge + 0.5, 0.0, 1.0)
    np.maximum.at(cover, at, soft)
    won = np.flatnonzero(high == top[at])
    at, ball = at[won], ball[won]
    along, across = along[up][won], across[up][won]
    groove[at] = _groove(balls[ball, 3:], along, across, radius)


def _corners(balls: F64, radius: float, grid: _Grid) -> tuple[I64, F64, F64]:
    """Corners around each ball: flat index (B, R, C), mm along (B, R, 1), across (B, 1, C)."""
    reach = [math.ceil(radius / step) + 1 for step in grid.steps]
    row = np.rint(balls[:, 0] / grid.steps[0]).astype(np.int64)
    column = np.rint((balls[:, 1] + grid.half_mm) / grid.steps[1]).astype(np.int64)
    rows = row[:, None] + np.arange(-reach[0], reach[0] + 1)
    columns = column[:, None] + np.arange(-reach[1], reach[1] + 1)
    along = rows * grid.steps[0] - balls[:, :1]
    across = columns * grid.steps[1] - grid.half_mm - balls[:, 1:2]
    off = (columns < 0) | (columns >= grid.shape[1])
    across[off] = 1e6  # under no ball
    at = (rows % grid.shape[0])[:, :, None] * grid.shape[1]
    return at + np.where(off, 0, columns)[:, None, :], along[:, :, None], across[:, None, :]


def _groove(way: F64, along: F64, across: F64, radius: float) -> F64:
    """Groove between plies at places on the thread; ``way`` is direction and run of its balls."""
    ahead = way[:, 0] * along + way[:, 1] * across
    aside = way[:, 0] * across - way[:, 1] * along
    pitch = 2.0 * math.pi * radius / (PLIES * math.tan(PLY_ANGLE_RAD))
    phase = (way[:, 2] + ahead) / pitch
    phase -= PLIES * np.arcsin(np.clip(aside / radius, -1.0, 1.0)) / (2.0 * math.pi)
    out: F64 = 1.0 - np.abs(np.cos(math.pi * phase))
    return out


def _dips(holes: F64, diameter_mm: float, grid: _Grid) -> F64:
    """Dips of the cloth at needle holes: 1 in the middle of a hole, 0 outside it."""
    dip = np.zeros(grid.shape)
    period = grid.shape[0] * grid.steps[0]
    s = (np.arange(grid.shape[0]) * grid.steps[0])[:, None]
    x = np.arange(grid.shape[1]) * grid.steps[1] - grid.half_mm
    for along, across in holes.tolist():
        off = np.mod(s - along + 0.5 * period, period) - 0.5 * period
        squared = np.square(off / (_HOLE_LONG * diameter_mm))
        squared = squared + np.square((x - across) / (_HOLE_WIDE * diameter_mm))
        np.maximum(dip, 1.0 - squared, out=dip)
    return dip
