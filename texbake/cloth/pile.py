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

# Fleece: the inner yarn of a three-thread knit is bound at every second or third of 11 to 13 wales
# to the cm, by turns (knit_numbers.csv, from memory); brushing opens each float to a tuft, and the
# finer ones close over the others. All figures by eye, no source.
FINE_CELLS = 384  # fibres are finer than tufts
TUFTS = 17, 24  # across and along the sheet: 1.3 and 0.9 mm
TUFT_MM, TUFT_LONG_MM, TUFT_HIGH_MM = 0.55, 0.50, 0.05  # radii across and along, height
ASTRAY = 0.35  # of their distance: how far brushing leaves tufts from their even places
HAIRS, HAIR_MM, HAIR_LONG_MM, HAIR_ARCH_MM = 80, 0.10, 1.6, 0.05  # of each tuft
HAIR_HIGH_MM = 0.010  # relief of a hair: fibres lie into each other
FAN, SPREAD, CURL = 0.8, 0.25, 1.2  # rad: how far tufts, and hairs in each, turn; how hairs bend
HAIR_SHOWS, DEEP = 0.8, 0.8  # of the hairs' own shade; darker per mm deeper

# Corduroy: the pile floats are cut midway between bindings, so tufts fan out to both sides of a
# wale and leave a race as wide as the binding. Height and race by eye, no source.
RACE = 0.20  # share of a wale that is groove
PILE_HIGH = 0.30  # of a wale
TUFT_ROWS_PER_MM = 2.6  # rows of tufts along a wale: one to two pile picks

# Towelling: terry of 11 pile ends and 6 rows of loops per cm (common practice), each loop of two
# legs and leaning over the next, so that about twice as many heads are seen. By eye: the others.
LOOPS_PER_CM2, LOOP_MM, LOOP_YARN_MM = 110.0, 2.0, 0.44
UNDER, UNDER_LOWER_MM = 2.0, 0.18  # as many loops again lie lower and fill the gaps
LOOP_LIGHT = 0.85  # of the shade that a loop's round side has: light passes through cotton


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
    """Soft tufts in the order of the knit below, opened by the brush and combed one way."""
    sheet = Sheet(rows=FINE_CELLS, columns=FINE_CELLS, width_mm=SPAN_MM, length_mm=SPAN_MM)
    x, y, tall = _tuft_places()
    bed = _tuft_bed(sheet, x, y, tall)
    grid = (bed.copy(), np.full_like(bed, 0.8))
    lay(grid, sheet, _hairs(sheet, bed, x, y), 0.5 * HAIR_MM, HAIR_HIGH_MM)
    # Light passes through fibres, so a hair shades the next one little.
    shade = 1.0 + HAIR_SHOWS * (grid[1] - 0.9) + DEEP * bed
    return _relief(sheet, (grid[0], shade.astype(np.float32)), 4)


def _tuft_places() -> tuple[F32, F32, F32]:
    """Where tufts stand, mm, and how tall each is over the others; all (N,)."""
    across, along = TUFTS
    index = np.arange(across * along)
    jx, jy = ASTRAY * normals((2, index.size), 61).clip(-1.5, 1.5)
    row = index // across
    x = (index % across + 0.5 * (row % 2) + 0.5 + 0.6 * jx) * (SPAN_MM / across)
    y = (row + 0.5 + jy) * (SPAN_MM / along)
    tall = 1.0 + 0.3 * normals((index.size,), 67)
    return x.astype(np.float32), y.astype(np.float32), tall.astype(np.float32)


def _tuft_bed(sheet: Sheet, x: F32, y: F32, tall: F32) -> F32:
    """Body of the pile, mm: a soft hump at each tuft. The loop over 408 of them takes 60 ms."""
    px, py = (a * SPAN_MM for a in (sheet.axes()[0][0], sheet.axes()[1][:, 0]))
    out = np.zeros((sheet.rows, sheet.columns), np.float32)
    for tx, ty, high in zip(x, y, tall, strict=True):
        dx = (px - tx + 0.5 * SPAN_MM) % SPAN_MM - 0.5 * SPAN_MM
        dy = (py - ty + 0.5 * SPAN_MM) % SPAN_MM - 0.5 * SPAN_MM
        out += high * np.outer(np.exp(-((dy / TUFT_LONG_MM) ** 2)), np.exp(-((dx / TUFT_MM) ** 2)))
    out -= out.mean()
    out *= 0.5 * TUFT_HIGH_MM / float(out.std())
    return out


def _hairs(sheet: Sheet, bed: F32, x: F32, y: F32) -> Lines:
    """Hairs of all tufts: those of one lie side by side, and each tuft is brushed its own way."""
    count = HAIRS * len(x)
    bend, tone = draws(2 * count, 71).reshape(2, count, 1)
    strewn = 0.42 * normals((2, count, 1), 173)
    way = -0.5 * math.pi + FAN * normals((len(x), 1), 179)
    heading = np.repeat(way, HAIRS, 0) + SPREAD * normals((count, 1), 191)
    points = int(1.3 * HAIR_LONG_MM * sheet.columns / SPAN_MM)
    start = np.repeat(x, HAIRS)[:, None] + strewn[0], np.repeat(y, HAIRS)[:, None] + strewn[1]
    start = tuple(
        s - 0.5 * HAIR_LONG_MM * f(heading) for s, f in zip(start, (np.cos, np.sin), strict=True)
    )
    px, py = bent(start, heading.astype(np.float32), CURL * (bend - 0.5), HAIR_LONG_MM, points)
    arch = HAIR_ARCH_MM * np.sin(np.linspace(0.0, math.pi, points, dtype=np.float32))[None, :]
    top = at(bed, sheet, px, py) + arch + 0.02 * normals((count, 1), 181)
    return Lines(x_mm=px, y_mm=py, top_mm=top.astype(np.float32), tone=1.0 + 0.5 * (tone - 0.5))


def corduroy_mm(cord: Corduroy) -> tuple[float, float]:
    """Width and length of the sheet of a corduroy: whole wales, mm."""
    wale = 25.4 / cord.wales_per_inch
    return max(2, round(SPAN_MM / wale)) * wale, SPAN_MM


def _corduroy(cord: Corduroy) -> Relief:
    """Ridges of cut pile: tufts fan out from the middle of each wale."""
    wale = 25.4 / cord.wales_per_inch
    width, length = corduroy_mm(cord)
    wales = round(width / wale)
    sheet = Sheet(rows=CELLS, columns=CELLS, width_mm=width, length_mm=length)
    x, _ = sheet.axes()
    place = x * wales + 0.02 * unevenness(sheet, ((4, 1.0), (9, 1.0)), 17)
    q = np.abs(2.0 * (place - np.floor(place)) - 1.0) / (1.0 - RACE)
    ridge = np.sqrt(np.maximum(1.0 - q**2.4, 0.0)) * (PILE_HIGH * wale)
    ridge *= 1.0 + 0.09 * unevenness(sheet, ((19, 1.0), (41, 1.0)), 29)
    grid = (ridge.copy(), np.where(q < 1.0, 0.85, 0.62).astype(np.float32))
    lay(grid, sheet, _tufts(sheet, ridge, wale, wales), 0.05, 0.03)
    return _relief(sheet, grid, 1)


def _tufts(sheet: Sheet, ridge: F32, wale: float, wales: int) -> Lines:
    """Short strokes from the crest outwards, in rows along the wale, each row a little off."""
    rows = round(TUFT_ROWS_PER_MM * sheet.length_mm)
    each = max(8, round(wale / 0.04))
    count = wales * rows * each
    index = np.arange(count)
    row, column = (index // each) % rows, index // (each * rows)
    spot, jitter, tone = draws(3 * count, 83).reshape(3, count)
    side = (2.0 * spot - 1.0) * (1.0 - RACE)
    x = (column + 0.5 + 0.42 * side) * wale
    y = (row + 0.5 + 0.8 * (jitter - 0.5)) * (sheet.length_mm / rows)
    heading = np.where(side > 0.0, 0.0, math.pi) + 0.4 * normals((count,), 89)
    px, py = bent(
        (x[:, None].astype(np.float32), y[:, None].astype(np.float32)),
        heading[:, None].astype(np.float32),
        np.zeros((count, 1), np.float32),
        0.12 * wale,
        8,
    )
    row_tone = draws(wales * rows, 97)[column * rows + row]
    shade = 0.68 + 0.56 * tone + 0.12 * row_tone
    top = at(ridge, sheet, px, py) + 0.018 * normals((count, 1), 101)
    return Lines(x_mm=px, y_mm=py, top_mm=top.astype(np.float32), tone=shade[:, None])


def _towelling() -> Relief:
    """Loops in rough rows; each leans its own way and lies on others, which fill the gaps."""
    sheet = _square()
    ground = unevenness(sheet, ((6, 0.2), (12, 0.2)), 5)
    grid = (ground - 0.1, np.full_like(ground, 0.75))
    for per_cm2, lower, seed in (
        (UNDER * LOOPS_PER_CM2, UNDER_LOWER_MM, 109),
        (LOOPS_PER_CM2, 0.0, 107),
    ):
        lay(grid, sheet, _loops(per_cm2, lower, seed), 0.5 * LOOP_YARN_MM, 0.15)
    return _relief(sheet, (grid[0], 1.0 + LOOP_LIGHT * (grid[1] - 1.0)), 1)


def _loops(per_cm2: float, lower_mm: float, seed: int) -> Lines:
    """One layer of loops."""
    per_side = round(math.sqrt(per_cm2) * SPAN_MM / 10.0)
    count = per_side * per_side
    index = np.arange(count)
    jx, jy, angle, bend, tone, tall = draws(6 * count, seed).reshape(6, count, 1)
    pitch = SPAN_MM / per_side
    x = ((index % per_side)[:, None] + 0.5 + 0.7 * (jx - 0.5)) * pitch
    y = ((index // per_side)[:, None] + 0.5 + 0.7 * (jy - 0.5)) * pitch
    turn = np.sign(bend - 0.5) * (2.6 + 2.6 * np.abs(2.0 * bend - 1.0))  # none lies straight
    px, py = bent(
        (x.astype(np.float32), y.astype(np.float32)),
        2.0 * math.pi * angle,
        turn.astype(np.float32),
        LOOP_MM,
        40,
    )
    along = np.linspace(0.0, 1.0, 40, dtype=np.float32)[None, :]
    top = (0.3 + 0.22 * tall) * np.sqrt(np.maximum(np.sin(math.pi * along), 0.0)) - lower_mm
    plies = 1.0 + 0.10 * np.sin(2.0 * math.pi * (5.0 * along + tone))
    return Lines(x_mm=px, y_mm=py, top_mm=top.astype(np.float32), tone=(0.92 + 0.16 * tone) * plies)
