"""Pile: fleece, corduroy, towelling. Fibres and loops that stand off the ground cloth."""

import math

import numpy as np

from texbake.arrays import F32
from texbake.cloth.hash import draws, normals
from texbake.cloth.mat import Grid, Lines, Sheet, at, bent, lay, unevenness
from texbake.cloth.tile import Relief
from texbake.recipe.values import Corduroy, Fleece, Pile

SPAN_MM = 22.0  # the sheet repeats after about this; the wander of the cloth hides it
CELLS = 256

# Fleece (all by eye, no source): pile brushed up and laid down in tufts.
TUFT_MM, TUFTS = 0.10, ((14, 1.0), (26, 0.7))
HAIRS = ((0.22, 3.0, 6.0, 0.6), (0.10, 2.2, 26.0, 1.0))  # width, length, mm; per mm2; contrast

# Corduroy: the pile floats are cut midway between bindings, so tufts fan out to both sides of a
# wale and leave a race as wide as the binding. Height and race by eye, no source.
RACE = 0.20  # share of a wale that is groove
PILE_HIGH = 0.30  # of a wale
TUFT_ROWS_PER_MM = 2.6  # rows of tufts along a wale: one to two pile picks

# Towelling: terry of 11 pile ends and 6 rows of loops per cm (common practice), loops 3 mm long.
LOOPS_PER_CM2, LOOP_MM, LOOP_YARN_MM = 120.0, 1.7, 0.62


def piled(pile: Pile) -> Relief:
    """Render a sheet of pile cloth at life size."""
    if isinstance(pile, Corduroy):
        return _corduroy(pile)
    return _fleece() if isinstance(pile, Fleece) else _towelling()


def _square() -> Sheet:
    return Sheet(rows=CELLS, columns=CELLS, width_mm=SPAN_MM, length_mm=SPAN_MM)


def _relief(sheet: Sheet, grid: Grid, soften: int = 1) -> Relief:
    """All covered, one weight."""
    return Relief(
        height_mm=grid[0],
        weights=grid[1][None],
        cover=np.ones_like(grid[0]),
        width_mm=sheet.width_mm,
        length_mm=sheet.length_mm,
        soften=soften,
    )


def _fleece() -> Relief:
    """Soft tufts; hairs follow a slow swirl, with every hair a little off."""
    sheet = _square()
    tufts = unevenness(sheet, TUFTS, 3) * TUFT_MM / 0.35
    swirl = unevenness(sheet, ((5, 1.0), (11, 0.6)), 61) * 9.0
    grid = (tufts.copy(), np.full_like(tufts, 0.7))
    for n in range(len(HAIRS)):
        lay(grid, sheet, _hairs(n, sheet, tufts, swirl), 0.5 * HAIRS[n][0], 0.02)
    shade = grid[1] * (1.0 + 0.9 * tufts)  # the eye sees deeper between tufts
    return _relief(sheet, (grid[0], shade), 2)


def _hairs(n: int, sheet: Sheet, tufts: F32, swirl: F32) -> Lines:
    """One kind of hair, laid along the swirl."""
    _, length, per_mm2, contrast = HAIRS[n]
    count = int(per_mm2 * SPAN_MM * SPAN_MM)
    x, y, bend, tone = draws(4 * count, 71 + n).reshape(4, count, 1)
    x, y = x * SPAN_MM, y * SPAN_MM
    heading = at(swirl, sheet, x, y) + 0.7 * normals((count, 1), 173 + n)
    points = int(1.3 * length * CELLS / SPAN_MM)
    px, py = bent((x, y), heading, 4.0 * (bend - 0.5), length, points)
    top = at(tufts, sheet, px, py) + 0.04 * normals((count, 1), 179 + n)
    return Lines(x_mm=px, y_mm=py, top_mm=top, tone=1.0 + contrast * (tone - 0.5))


def _corduroy(cord: Corduroy) -> Relief:
    """Ridges of cut pile: tufts fan out from the middle of each wale."""
    wale = 25.4 / cord.wales_per_inch
    wales = max(2, round(SPAN_MM / wale))
    sheet = Sheet(rows=CELLS, columns=CELLS, width_mm=wales * wale, length_mm=SPAN_MM)
    x, _ = sheet.axes()
    place = x * wales + 0.02 * unevenness(sheet, ((4, 1.0), (9, 1.0)), 17)
    q = np.abs(2.0 * (place - np.floor(place)) - 1.0) / (1.0 - RACE)
    ridge = np.sqrt(np.maximum(1.0 - q**2.4, 0.0)) * (PILE_HIGH * wale)
    ridge *= 1.0 + 0.25 * unevenness(sheet, ((19, 1.0), (34, 1.0)), 29)
    grid = (ridge.copy(), np.where(q < 1.0, 0.85, 0.62).astype(np.float32))
    lay(grid, sheet, _tufts(sheet, ridge, wale, wales), 0.06, 0.03)
    return _relief(sheet, grid, 1)


def _tufts(sheet: Sheet, ridge: F32, wale: float, wales: int) -> Lines:
    """Short strokes from the crest outwards, in rows along the wale, each row a little off."""
    rows = round(TUFT_ROWS_PER_MM * sheet.length_mm)
    each = max(8, round(wale / 0.06))
    count = wales * rows * each
    index = np.arange(count)
    row, column = (index // each) % rows, index // (each * rows)
    spot, jitter, tone = draws(3 * count, 83).reshape(3, count)
    side = (2.0 * spot - 1.0) * (1.0 - RACE)
    x = (column + 0.5 + 0.42 * side) * wale
    y = (row + 0.5 + 0.55 * (jitter - 0.5)) * (sheet.length_mm / rows)
    heading = np.where(side > 0.0, 0.0, math.pi) + 0.5 * normals((count,), 89)
    px, py = bent(
        (x[:, None].astype(np.float32), y[:, None].astype(np.float32)),
        heading[:, None].astype(np.float32),
        np.zeros((count, 1), np.float32),
        0.12 * wale,
        8,
    )
    row_tone = draws(wales * rows, 97)[column * rows + row]
    shade = 0.72 + 0.40 * tone + 0.16 * row_tone
    top = at(ridge, sheet, px, py) + 0.03 * normals((count, 1), 101)
    return Lines(x_mm=px, y_mm=py, top_mm=top.astype(np.float32), tone=shade[:, None])


def _towelling() -> Relief:
    """Loops in rough rows; each leans its own way, twists and lies on its neighbours."""
    sheet = _square()
    ground = unevenness(sheet, ((6, 0.3), (12, 0.3)), 5)
    grid = (ground - 0.15, np.full_like(ground, 0.5))
    per_side = round(math.sqrt(LOOPS_PER_CM2) * SPAN_MM / 10.0)
    count = per_side * per_side
    index = np.arange(count)
    jx, jy, angle, bend, tone, tall = draws(6 * count, 107).reshape(6, count, 1)
    pitch = SPAN_MM / per_side
    x = ((index % per_side)[:, None] + 0.5 + 0.7 * (jx - 0.5)) * pitch
    y = ((index // per_side)[:, None] + 0.5 + 0.7 * (jy - 0.5)) * pitch
    px, py = bent(
        (x.astype(np.float32), y.astype(np.float32)),
        2.0 * math.pi * angle,
        (bend - 0.5) * 7.0,
        LOOP_MM,
        40,
    )
    along = np.linspace(0.0, 1.0, 40, dtype=np.float32)[None, :]
    top = (0.25 + 0.35 * tall) * np.sqrt(np.maximum(np.sin(math.pi * along), 0.0))
    plies = 1.0 + 0.10 * np.sin(2.0 * math.pi * (6.0 * along + tone))
    lines = Lines(x_mm=px, y_mm=py, top_mm=top.astype(np.float32), tone=(0.9 + 0.2 * tone) * plies)
    lay(grid, sheet, lines, 0.5 * LOOP_YARN_MM, 0.19)
    return _relief(sheet, grid, 2)
