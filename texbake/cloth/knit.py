"""Knits: rows of loops, each the true path of one yarn, seen from above.

The chart says which loops show their legs and which their heads, where they lie and how deep;
every kind of loop is drawn once and laid wherever the chart has it, the highest yarn wins.
"""

import math
from collections.abc import Iterator

import numpy as np

from texbake.arrays import F32
from texbake.cloth.chart import Loops, loops_of
from texbake.cloth.loop import Gauge, Path, Shape, gauge_of, loop_path, stamp
from texbake.cloth.tile import Relief
from texbake.recipe.values import Knit, Terry, Yarn

SOFT = 0.003  # as in woven, on a wale, which holds two legs
LEAN = 0.22  # how far a loop turns towards a deeper neighbour (by eye, no source)
GROUND = -3.0  # half yarns below the mean: what closes gaps behind a cable (by eye)
USUAL_HAIR, HAIR_SOFT, HAIR_SHADE = 0.2, 3.5, 0.40  # more hair: softer, lighter gaps (by eye)
GAP_SHADE = 0.50  # what shows through between loops (by eye, no source)

Grid = tuple[F32, F32]


def knitted(
    structure: Knit, yarn: Yarn, wales: float, courses: float, *, cells: int = 32
) -> Relief:
    """Render one repeat at life size.

    Parameters
    ----------
    structure : Knit
    yarn : Yarn
    wales, courses : float
        Per cm, face and back wales counted alike.
    cells : int
        Grid cells across one wale.

    Returns
    -------
    Relief
        One weight.
    """
    loops = loops_of(structure)
    wale, course = 10.0 / wales, 10.0 / courses
    count = loops.face.shape[1]
    per_wale = _fewer(cells, loops.face.size)
    per_course = max(8, round(per_wale * course / wale))
    gauge = gauge_of(yarn, wale, course)
    relief = empty_grid(per_course * len(loops.face), per_wale * count)
    _lay_ground(relief, loops, gauge, (per_wale, per_course), yarn)
    _lay_all(relief, loops, gauge, (per_wale, per_course), yarn)
    if isinstance(structure, Terry):
        _float_all(relief, structure, gauge, (per_wale, per_course), yarn)
    fuzz = yarn.hair - USUAL_HAIR
    return _finish(
        relief,
        (wale * count, course * len(loops.face)),
        soften=max(1, round(SOFT * (1.0 + HAIR_SOFT * fuzz) * per_wale * per_wale)),
        gap_shade=GAP_SHADE + HAIR_SHADE * fuzz,
    )


def _fewer(cells: int, loops: int) -> int:
    """Cells across a wale: a large chart is drawn more coarsely, its tile stays in bounds."""
    most = int(math.sqrt(200_000 / loops))
    return max(12, min(cells, most))


def empty_grid(rows: int, columns: int) -> Grid:
    """Height and shade before any yarn is laid."""
    return (
        np.full((rows, columns), -np.inf, np.float32),
        np.zeros((rows, columns), np.float32),
    )


def _lay_all(relief: Grid, loops: Loops, gauge: Gauge, cells: tuple[int, int], yarn: Yarn) -> None:
    """Draw each kind of loop once, and lay it at all its places."""
    kinds: dict[tuple[int, Shape], tuple[Grid, tuple[int, int]]] = {}
    edges = np.concatenate([[0.0], np.cumsum(loops.width)]) * cells[0]
    for j, k in np.ndindex(loops.face.shape):
        width = max(4, round(float(loops.width[k]) * cells[0]))
        key = width, _shape(loops, j, k)
        if key not in kinds:
            kinds[key] = _drawn(gauge, cells, width, yarn, key[1])
        drawn, origin = kinds[key]
        column = round(float(edges[k]) + float(loops.sideways[j, k]) * cells[0]) - origin[1]
        row = round((j + float(loops.lift[k])) * cells[1]) - origin[0]
        depth = _leaning(loops.forward[j], k, drawn[0].shape[1], origin[1], width)
        paste(relief, drawn, (row, column), depth * gauge.half_thick_mm)


def _lay_ground(
    relief: Grid, loops: Loops, gauge: Gauge, cells: tuple[int, int], yarn: Yarn
) -> None:
    """Back loops behind what moves away from its place: stretched, they close the gap."""
    shape = Shape(face=False)
    drawn, origin = _drawn(gauge, cells, cells[0], yarn, shape)
    low = np.full(drawn[0].shape[1], GROUND * gauge.half_thick_mm, np.float32)
    for j, k in np.argwhere(loops.sideways.any(0) & np.ones_like(loops.face)):
        at = int(j) * cells[1] - origin[0], int(k) * cells[0] - origin[1]
        paste(relief, drawn, at, low)


def _shape(loops: Loops, j: int, k: int) -> Shape:
    """What one loop looks like."""
    row, own = loops.face[j], loops.face[j, k]
    left, right = bool(row[k - 1] == own), bool(row[(k + 1) % len(row)] == own)
    over = bool(loops.face[j - 1, k] == own or loops.face[(j + 1) % len(loops.face), k] == own)
    return Shape(
        face=bool(own),
        left=left,
        right=right,
        lone=not (left or right or over),
        slant=round(float(loops.slant[j, k]), 1),
    )


def _leaning(forward: F32, k: int, columns: int, left: int, width: int) -> F32:
    """Depth across a drawn loop: on its way to its neighbours it comes a part towards theirs."""
    own, before, after = forward[k], forward[k - 1], forward[(k + 1) % len(forward)]
    place = (np.arange(columns, dtype=np.float32) + 0.5 - left) / width
    levels = (own + LEAN * (before - own), own, own + LEAN * (after - own))
    out: F32 = np.interp(place, (0.0, 0.5, 1.0), levels).astype(np.float32)
    return out


def _drawn(
    gauge: Gauge, cells: tuple[int, int], width: int, yarn: Yarn, shape: Shape
) -> tuple[Grid, tuple[int, int]]:
    """One loop on its own small grid, and the cell on it where its course and wale begin."""
    step_x, step_y = gauge.wale_mm / cells[0], gauge.course_mm / cells[1]
    own = Gauge(
        wale_mm=width * step_x,
        course_mm=gauge.course_mm,
        half_width_mm=gauge.half_width_mm,
        half_thick_mm=gauge.half_thick_mm,
    )
    path = loop_path(own, shape)
    return on_grid(path, own, (step_x, step_y), yarn)


def on_grid(
    path: Path, gauge: Gauge, step: tuple[float, float], yarn: Yarn
) -> tuple[Grid, tuple[int, int]]:
    """Stamp a path on the cells that it reaches."""
    r = gauge.half_width_mm
    left = math.ceil((r - float(path.x.min())) / step[0]) + 1
    right = math.ceil((float(path.x.max()) + r) / step[0]) + 1
    middle = 0.5 * gauge.course_mm
    down = math.ceil((r - float(path.y.min()) - middle) / step[1]) + 1
    up = math.ceil((float(path.y.max()) + middle + r) / step[1]) + 1
    x = (np.arange(-left, right, dtype=np.float32) + 0.5) * step[0]
    y = (np.arange(-down, up, dtype=np.float32) + 0.5) * step[1] - middle
    return stamp(x.astype(np.float32), y.astype(np.float32), path, gauge, yarn), (down, left)


def paste(relief: Grid, drawn: Grid, at: tuple[int, int], depth: F32) -> None:
    """Lay a drawn loop on the periodic relief: the highest wins."""
    height, shade = relief
    for own, there in _tiles(drawn[0].shape, at, height.shape):
        top = drawn[0][own] + depth[own[1]]
        wins = top > height[there]
        height[there][wins] = top[wins]
        shade[there][wins] = drawn[1][own][wins]


Window = tuple[slice, slice]


def _tiles(
    size: tuple[int, ...], at: tuple[int, int], whole: tuple[int, ...]
) -> Iterator[tuple[Window, Window]]:
    """Cut a rectangle that lies at ``at`` where it crosses the border of a periodic grid."""
    for rows in _cuts(size[0], at[0], whole[0]):
        for columns in _cuts(size[1], at[1], whole[1]):
            yield (rows[0], columns[0]), (rows[1], columns[1])


def _cuts(size: int, at: int, whole: int) -> Iterator[tuple[slice, slice]]:
    """Pieces of a row of ``size`` cells that begins at ``at``, each within one period."""
    done = 0
    while done < size:
        start = (at + done) % whole
        piece = min(size - done, whole - start)
        yield slice(done, done + piece), slice(start, start + piece)
        done += piece


def _float_all(
    relief: Grid, terry: Terry, gauge: Gauge, cells: tuple[int, int], yarn: Yarn
) -> None:
    """Lay the loops of a terry back: yarn that hangs out between the wales that bind it."""
    step = gauge.wale_mm / cells[0], gauge.course_mm / cells[1]
    span = terry.every * gauge.wale_mm
    path = _float_path(span, gauge)
    fat = Gauge(
        wale_mm=span,
        course_mm=gauge.course_mm,
        half_width_mm=1.25 * gauge.half_width_mm,
        half_thick_mm=1.25 * gauge.half_thick_mm,
    )
    drawn, origin = on_grid(path, fat, step, yarn)
    for j in (0, 2):
        for k in (0, 1):
            column = round((k + 0.25 * j) * terry.every * cells[0]) - origin[1]
            paste(
                relief,
                drawn,
                (j * cells[1] - origin[0], column),
                np.zeros(drawn[0].shape[1], np.float32),
            )


def _float_path(span: float, gauge: Gauge) -> Path:
    """A slack float, hanging down and out between two wales that bind it."""
    t = np.linspace(0.0, 1.0, 96, dtype=np.float32)
    hang = np.sqrt(np.maximum(np.sin(math.pi * t), 0.0))
    x = span * (t + 0.06 * np.sin(2.0 * math.pi * t))
    y = 0.5 * gauge.course_mm - 0.95 * gauge.course_mm * hang
    z = gauge.half_thick_mm * (0.2 + 3.0 * hang)
    dx, dy = np.gradient(x), np.gradient(y)
    run = np.hypot(dx, dy)
    return Path(
        x=x.astype(np.float32),
        y=y.astype(np.float32),
        z=z.astype(np.float32),
        length=np.cumsum(run).astype(np.float32),
        side_x=(dy / run).astype(np.float32),
        side_y=(-dx / run).astype(np.float32),
    )


def _finish(relief: Grid, size_mm: tuple[float, float], *, soften: int, gap_shade: float) -> Relief:
    """Fill the gaps between loops with shadow, a little below the lowest yarn."""
    height, shade = relief
    gap = ~np.isfinite(height)
    low = float(height[~gap].min())
    return Relief(
        height_mm=np.where(gap, low, height),
        weights=np.where(gap, gap_shade, shade)[None],
        cover=(~gap).astype(np.float32),
        width_mm=size_mm[0],
        length_mm=size_mm[1],
        soften=soften,
    )
