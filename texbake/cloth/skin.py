"""Surfaces without yarns: pebbled leather, and cloth under a film."""

import math

import numpy as np

from texbake.arrays import F32
from texbake.cloth.hash import hash01
from texbake.cloth.mat import Sheet, unevenness
from texbake.cloth.tile import Relief
from texbake.recipe.values import Leather, Skin

SPAN_MM = 22.0
CELLS = 256
PEBBLES = 16  # cells of the grain along a side: about 1.4 mm each, as on calf (by eye, no source)
ROUND = 8.0  # how sharply seeds part (by eye, no source)
SHARED, CREASE = 0.40, 0.22  # share of a place in the middle of a crease, and how far it reaches
GRAIN_MM = 0.13  # depth of the creases (by eye, no source)
YARNS = 44  # yarns along a side that show through a film: 20 per cm, as in plain cloth
FILM_MM = 0.045  # relief that a film leaves of them (by eye, no source)


def skinned(skin: Skin) -> Relief:
    """Render a sheet at life size."""
    sheet = Sheet(rows=CELLS, columns=CELLS, width_mm=SPAN_MM, length_mm=SPAN_MM)
    height, shade = _leather(sheet) if isinstance(skin, Leather) else _coated(sheet)
    return Relief(
        height_mm=height,
        weights=shade[None],
        cover=np.ones_like(height),
        width_mm=SPAN_MM,
        length_mm=SPAN_MM,
    )


def _leather(sheet: Sheet) -> tuple[F32, F32]:
    """Domes between creases; some creases run deep, some domes have merged."""
    x, y = sheet.axes()
    bend = 0.35 * unevenness(sheet, ((9, 1.0), (20, 0.6)), 31)
    first, own = _pebbles(x * PEBBLES + bend, y * PEBBLES + np.roll(bend, 57, (0, 1)))
    depth = np.clip(0.8 + 1.2 * unevenness(sheet, ((7, 1.0), (15, 0.8)), 37), 0.25, 1.4)
    crease = np.exp(-(((own - SHARED) / CREASE) ** 2)) * depth
    dome = 0.7 * (1.0 - np.minimum(first, 1.0) ** 2)
    pores = 0.10 * unevenness(sheet, ((60, 1.0), (100, 0.8)), 43)
    height = GRAIN_MM * (dome - crease + pores)
    shade = 1.0 - 0.34 * crease
    return height.astype(np.float32), shade.astype(np.float32)


def _pebbles(x: F32, y: F32) -> tuple[F32, F32]:
    """Distance to the nearest seed and its share of a place, one seed in each unit cell, periodic.

    Seeds share each place by e^(-ROUND d). Between two both have half, where three meet a third: so
    lines of equal share go round the corners, and pebbles are round, not polygons.
    """
    column, row = np.floor(x).astype(np.int64), np.floor(y).astype(np.int64)
    first, total = np.full_like(x, 9.0), np.zeros_like(x)
    for dy in (-2, -1, 0, 1, 2):
        for dx in (-2, -1, 0, 1, 2):
            cx, cy = (column + dx) % PEBBLES, (row + dy) % PEBBLES
            sx = column + dx + 0.1 + 0.8 * hash01(cx, cy, 47)
            sy = row + dy + 0.1 + 0.8 * hash01(cx, cy, 53)
            away = np.hypot(x - sx, y - sy).astype(np.float32)
            first = np.minimum(first, away)
            total += np.exp(-ROUND * away)
    return first, np.exp(-ROUND * first) / total


def _coated(sheet: Sheet) -> tuple[F32, F32]:
    """Plain weave, drowned: only its checkerboard of crowns is left, and the film's own ripple."""
    x, y = sheet.axes()
    drift = 0.25 * unevenness(sheet, ((6, 1.0), (14, 0.7)), 59)
    across = np.cos(2.0 * math.pi * (x * YARNS + drift))
    along = np.cos(2.0 * math.pi * (y * YARNS - drift))
    weave = 0.5 * (across + along) + 0.5 * np.cos(math.pi * (x * YARNS + 0.5)) * np.cos(
        math.pi * (y * YARNS + 0.5)
    )
    ripple = unevenness(sheet, ((17, 1.0), (31, 0.5)), 67)
    height = FILM_MM * (0.5 * weave + 1.2 * ripple)
    return height.astype(np.float32), np.ones_like(x)
