"""Felt: fibres at random, matted until no yarn is left.

Thousands of bent fibres are laid on a periodic sheet, each a little above what it crosses, as
carding and milling leave them; between them the mat undulates a little. What the eye knows felt by
is the fibres' own shade in every direction, hardly any relief.
"""

import math

import numpy as np

from texbake.arrays import F32
from texbake.cloth.hash import draws, normals
from texbake.cloth.mat import Lines, Sheet, at, bent, lay, unevenness
from texbake.cloth.tile import Relief

SPAN_MM = 20.0  # the sheet repeats after this; the wander of the cloth hides it
# Bundles of fibres that mat together, coarse to fine (by eye, no source): width and length, mm,
# how many to a mm2, and how far their shades differ.
BUNDLES = ((0.25, 5.0, 2.0, 0.6), (0.16, 4.0, 7.0, 0.9), (0.09, 3.0, 20.0, 1.1))
CURL_RAD = 2.6  # turn of a fibre on its way: wool is crimped (by eye, no source)
RELIEF_MM = 0.022  # of the fibres (by eye, no source)
CLOUDS = 0.2  # mottling of the mat (by eye, no source)


def felted(*, thickness_mm: float, cells: int = 256) -> Relief:
    """Render a sheet of felt at life size, ``cells`` by ``cells``."""
    sheet = Sheet(rows=cells, columns=cells, width_mm=SPAN_MM, length_mm=SPAN_MM)
    ground = unevenness(sheet, ((20, 0.6), (36, 0.6)), 8)
    clouds = 1.0 + CLOUDS * unevenness(sheet, ((17, 1.0), (29, 1.0)), 19)
    ground *= min(0.06, 0.03 * thickness_mm)
    relief = (ground.copy(), np.full_like(ground, 0.75))
    for n in range(len(BUNDLES)):
        lay(relief, sheet, _fibres(n, ground, sheet), 0.5 * BUNDLES[n][0], 0.5 * RELIEF_MM)
    return Relief(
        height_mm=relief[0],
        weights=(relief[1] * clouds)[None],
        cover=np.ones_like(ground),
        width_mm=SPAN_MM,
        length_mm=SPAN_MM,
    )


def _fibres(n: int, ground: F32, sheet: Sheet) -> Lines:
    """One kind of bundle in every direction, deep and shallow ones."""
    _, length, per_mm2, contrast = BUNDLES[n]
    count = int(per_mm2 * SPAN_MM * SPAN_MM)
    x, y, angle, bend, tone = draws(5 * count, 41 + n).reshape(5, count, 1)
    px, py = bent(
        (x * SPAN_MM, y * SPAN_MM),
        2.0 * math.pi * angle,
        (bend - 0.5) * 2.0 * CURL_RAD,
        length,
        int(1.3 * length * sheet.columns / SPAN_MM),
    )
    depth = RELIEF_MM * normals((count, 1), 143 + n)
    top = at(ground, sheet, px, py) + depth
    return Lines(x_mm=px, y_mm=py, top_mm=top, tone=1.0 + contrast * (tone - 0.5))
