"""One repeat of a fabric, rendered finely, with everything that a texel may need to average.

A structure renders height, which yarn system shows, and shade on a periodic grid. From the height
this module derives, once: slope, second moment of slope (Olano and Baker, LEAN mapping, I3D 2010)
and occlusion. All are then linear under averaging, so that `footprint` can box-filter them exactly.
"""

import math
from dataclasses import dataclass

import numpy as np

from texbake.arrays import F32

# A half-round yarn's slope is unbounded at its edge, so its second moment would be too
# (tables/normal_filter_worked.csv, "cylinder"): slopes count up to this in the variance.
STEEPEST = 1.0

SHADOW = 0.6  # colour darkens with occlusion to this power: light dies between yarns (by eye)
HEIGHT, SLOPE_X, SLOPE_Y, MOMENT, OCCLUSION, COVER, WEIGHT = range(7)


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Relief:
    """What a structure renders. Rows run along the grain (+y), columns across it (+x).

    Attributes
    ----------
    height_mm : (R, C) float32
        Above the bare panel.
    weights : (K, R, C) float32
        Share of each yarn system times its shade; any scale.
    cover : (R, C) float32
        1 on yarn, 0 in a hole.
    width_mm, length_mm : float
        What the grid spans.
    soften : int
        How often the relief is smoothed by 1-2-1.
    """

    height_mm: F32
    weights: F32
    cover: F32
    width_mm: float
    length_mm: float
    soften: int = 1


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Tile:
    """One repeat as channels that average linearly.

    Attributes
    ----------
    channels : (6 + K, R, C) float32
        Height (mm), slope x, slope y, second moment of slope (mean of both axes), occlusion,
        cover, then the weight of each yarn system, which sum to 1 on average.
    width_mm, length_mm : float
    """

    channels: F32
    width_mm: float
    length_mm: float


def tile_of(relief: Relief) -> Tile:
    """Derive a tile's channels from its relief."""
    rows, columns = relief.height_mm.shape
    step = relief.width_mm / columns, relief.length_mm / rows
    height = soften(relief.height_mm, relief.soften)
    slope_x = _central(height, 1, step[0])
    slope_y = _central(height, 0, step[1])
    bounded = [np.clip(s, -STEEPEST, STEEPEST) ** 2 for s in (slope_x, slope_y)]
    channels = np.empty((WEIGHT + len(relief.weights), rows, columns), np.float32)
    channels[HEIGHT] = height - height.min()
    channels[SLOPE_X], channels[SLOPE_Y] = slope_x, slope_y
    channels[MOMENT] = 0.5 * (bounded[0] + bounded[1])
    channels[OCCLUSION] = sky_visibility(height, step)
    channels[COVER] = relief.cover
    weights = relief.weights * channels[OCCLUSION] ** SHADOW
    channels[WEIGHT:] = weights / weights.sum(0).mean()
    return Tile(channels=channels, width_mm=relief.width_mm, length_mm=relief.length_mm)


def soften(height: F32, times: int) -> F32:
    """Smooth by 1-2-1 both ways: hair bridges the step between yarns, and slopes stay finite."""
    for axis in (0, 1) * times:
        around = np.roll(height, 1, axis) + np.roll(height, -1, axis)
        height = 0.5 * height + 0.25 * around
    return height


def _central(height: F32, axis: int, step_mm: float) -> F32:
    """Central difference on a periodic grid, mm per mm."""
    out: F32 = (np.roll(height, -1, axis) - np.roll(height, 1, axis)) / (2.0 * step_mm)
    return out


def sky_visibility(height: F32, step_mm: tuple[float, float], *, directions: int = 16) -> F32:
    """Share of the sky that each point of a periodic relief sees, cosine-weighted.

    In each direction the horizon is the steepest rise to any point within half the shorter side;
    above a horizon of elevation h the cosine-weighted share of that slice of sky is cos(h)^2, and
    directions average. This is the sky visibility of a horizontal receiver.

    Parameters
    ----------
    height : (R, C) float32
        mm; periodic.
    step_mm : (float, float)
        Size of a grid cell in x and y, mm.

    Returns
    -------
    (R, C) float32
        In [0, 1]; 1 is open.
    """
    rows, columns = height.shape
    reach = 0.5 * min(columns * step_mm[0], rows * step_mm[1])
    seen = np.zeros_like(height)
    for k in range(directions):
        seen += _open_share(height, step_mm, reach, 2.0 * math.pi * k / directions)
    return seen / directions


def _open_share(height: F32, step_mm: tuple[float, float], reach: float, angle: float) -> F32:
    """cos^2 of the horizon's elevation in one direction."""
    steepest = np.zeros_like(height)
    distance = max(step_mm)
    while distance <= reach:
        columns = distance * math.cos(angle) / step_mm[0]
        rows = distance * math.sin(angle) / step_mm[1]
        rise = _moved(_moved(height, columns, 1), rows, 0)
        rise -= height
        rise /= distance
        np.maximum(steepest, rise, out=steepest)
        distance *= 1.3
    return 1.0 / (1.0 + steepest * steepest)


def _moved(height: F32, cells: float, axis: int) -> F32:
    """The relief read ``cells`` further on, linear between cells: to round the offset would turn
    the direction, and a groove's bottom would see its steepest side everywhere.
    """
    whole = math.floor(cells)
    near = np.roll(height, -whole, axis)
    near *= 1.0 - (cells - whole)
    near += np.roll(height, -whole - 1, axis) * (cells - whole)
    return near
