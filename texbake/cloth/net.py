"""Nets: cloth with holes. In a hole cover is 0 and the colour goes on, so that no edge darkens."""

import math

import numpy as np

from texbake.arrays import F32, Bool
from texbake.cloth.knit import empty_grid, on_grid, paste
from texbake.cloth.loop import Gauge, Path, Shape, gauge_of, loop_path, path_through
from texbake.cloth.tile import Relief
from texbake.cloth.yarn import diameter_mm
from texbake.recipe.values import Yarn

MESH_MM = 1.6  # width of a six-sided mesh: bobbin net is 1 to 3 mm (common practice)
BARS = 1.5  # a bar is two or three yarns twisted: this many times a yarn's width (by eye)
EYE_WALES, EYE_COURSES = 4, 6  # an eyelet in so many wales and courses, and one between
EYE, EYE_REACH = 0.75, 3.0  # radius of an eyelet in wales; how many radii feel it (by eye)


def tulle(yarn: Yarn, *, cells: int = 48) -> Relief:
    """Render one repeat of six-sided meshes, two meshes to a repeat."""
    width, length = MESH_MM, MESH_MM * math.sqrt(3.0)
    columns, rows = cells, round(cells * math.sqrt(3.0))
    x = (np.arange(columns, dtype=np.float32) + 0.5) / columns * width
    y = (np.arange(rows, dtype=np.float32) + 0.5) / rows * length
    half = 0.5 * BARS * diameter_mm(yarn.count_tex)
    away, along = _to_bar(*np.meshgrid(x, y))
    crown = np.maximum(1.0 - (away / half) ** 2, 0.0)
    hole = away >= half
    strands = np.cos(2.0 * math.pi * (along / (3.0 * half) + 0.25 * away / half))
    shade = (0.75 + 0.25 * crown) * (1.0 + 0.12 * strands)
    return _with_holes(half * np.sqrt(crown), shade, hole, width, length)


def _to_bar(x: F32, y: F32) -> tuple[F32, F32]:
    """Distance to the border between the two nearest middles of meshes, and place along it."""
    found = []
    for j in range(-2, 5):
        for k in range(-2, 4):
            cx, cy = (k + 0.5 * (j % 2)) * MESH_MM, 0.5 * j * MESH_MM * math.sqrt(3.0)
            found.append(np.stack([x - cx, y - cy]))
    offsets = np.stack(found)  # (seeds, 2, R, C)
    squares = (offsets * offsets).sum(1)
    order = np.argsort(squares, axis=0, kind="stable")[:2]
    first, second = (np.take_along_axis(offsets, order[k][None, None], 0)[0] for k in (0, 1))
    between = first - second
    gap = np.sqrt((between * between).sum(0))
    nearest = np.take_along_axis(squares, order, 0)
    away = (nearest[1] - nearest[0]) / (2.0 * gap)
    along = (first[0] * between[1] - first[1] * between[0]) / gap
    return away.astype(np.float32), along.astype(np.float32)


def eyelets(yarn: Yarn, wales: float, courses: float, *, cells: int = 24) -> Relief:
    """Render one repeat of a knit whose loops are drawn aside round small holes."""
    gauge = gauge_of(yarn, 10.0 / wales, 10.0 / courses)
    per_course = max(8, round(cells * gauge.course_mm / gauge.wale_mm))
    step = gauge.wale_mm / cells, gauge.course_mm / per_course
    grid = empty_grid(per_course * EYE_COURSES, cells * EYE_WALES)
    for j in range(EYE_COURSES):
        for k in range(EYE_WALES):
            path = _drawn_aside(loop_path(gauge, Shape(face=True)), gauge, j, k)
            drawn, origin = on_grid(path, gauge, step, yarn)
            at = j * per_course - origin[0], k * cells - origin[1]
            paste(grid, drawn, at, np.zeros(drawn[0].shape[1], np.float32))
    size = gauge.wale_mm * EYE_WALES, gauge.course_mm * EYE_COURSES
    return _with_holes(grid[0], grid[1], ~np.isfinite(grid[0]), *size)


def _drawn_aside(path: Path, gauge: Gauge, course: int, wale: int) -> Path:
    """The path of a loop, pushed away from the middles of the eyelets near it."""
    radius = EYE * gauge.wale_mm
    size = gauge.wale_mm * EYE_WALES, gauge.course_mm * EYE_COURSES
    move_x, move_y = np.zeros_like(path.x), np.zeros_like(path.y)
    for cx, cy in ((0.25, 0.25), (0.75, 0.75)):
        dx = _nearest(path.x + wale * gauge.wale_mm - cx * size[0], size[0])
        dy = _nearest(path.y + (course + 0.5) * gauge.course_mm - cy * size[1], size[1])
        away = np.maximum(np.hypot(dx, dy), 1e-6)
        push = radius * np.maximum(1.0 - away / (EYE_REACH * radius), 0.0) ** 2 / away
        move_x += dx * push
        move_y += dy * push
    return path_through(path.x + move_x, path.y + move_y, path.z, over_mm=gauge.wale_mm)


def _nearest(offset: F32, period: float) -> F32:
    """Offset to the nearest copy."""
    out: F32 = (offset + 0.5 * period) % period - 0.5 * period
    return out


def _with_holes(height: F32, shade: F32, hole: Bool, width: float, length: float) -> Relief:
    """Holes lie at the lowest height and have the yarn's mean shade."""
    low, mean = float(height[~hole].min()), float(shade[~hole].mean())
    return Relief(
        height_mm=np.where(hole, low, height).astype(np.float32),
        weights=np.where(hole, mean, shade).astype(np.float32)[None],
        cover=(~hole).astype(np.float32),
        width_mm=width,
        length_mm=length,
        soften=2,
    )
