"""Felt: fibres at random, matted until no yarn is left.

Thousands of short, bent fibres are laid on a periodic sheet, each a little above what it crosses,
as carding and milling leave them; between them the mat undulates.
"""

import math

import numpy as np

from texbake.arrays import F32
from texbake.cloth.hash import draws, normals
from texbake.cloth.noise import noise2
from texbake.cloth.tile import Relief

SPAN_MM = 24.0  # the sheet repeats after this; `streak` hides it
FIBRE_MM = 0.035  # matted wool shows bundles, not single fibres of 0.02 mm (by eye, no source)
LENGTH_MM = 3.0
FIBRES_PER_MM2 = 9.0


def felted(*, thickness_mm: float, cells: int = 256) -> Relief:
    """Render a sheet of felt at life size, ``cells`` by ``cells``."""
    step = SPAN_MM / cells
    height, shade = _mat(cells)
    _lay_fibres(height, shade, step, cells)
    height *= min(0.12, 0.1 * thickness_mm)
    return Relief(
        height_mm=height,
        weights=shade[None],
        cover=np.ones_like(height),
        width_mm=SPAN_MM,
        length_mm=SPAN_MM,
    )


def _mat(cells: int) -> tuple[F32, F32]:
    """Undulating ground, height about 0 to 1, and even shade."""
    axis = np.arange(cells, dtype=np.float32) / cells
    x, y = np.meshgrid(axis, axis)
    ground = np.zeros((cells, cells), np.float32)
    for octave, amplitude in ((8, 0.5), (16, 0.3), (32, 0.25)):
        ground += amplitude * noise2(x * octave, y * octave, repeat=(octave, octave), base=octave)
    return ground, np.full((cells, cells), 0.92, np.float32)


def _lay_fibres(height: F32, shade: F32, step: float, cells: int) -> None:
    """Draw each fibre as a bent row of points, all fibres at once, later ones on top."""
    count = int(FIBRES_PER_MM2 * SPAN_MM * SPAN_MM)
    points = int(LENGTH_MM / step * 1.5)
    x, y, angle, bend, tone = draws(5 * count, 41).reshape(5, count, 1)
    along = np.linspace(-0.5, 0.5, points, dtype=np.float32)[None, :] * LENGTH_MM
    heading = 2.0 * math.pi * angle + (bend - 0.5) * 1.6 * along
    px = x * SPAN_MM + np.cumsum(np.cos(heading), 1) * (LENGTH_MM / points)
    py = y * SPAN_MM + np.cumsum(np.sin(heading), 1) * (LENGTH_MM / points)
    at = (np.floor(py / step).astype(np.int64) % cells) * cells
    at += np.floor(px / step).astype(np.int64) % cells
    lift = 0.35 + 0.4 * np.abs(normals((count, 1), 43)) * np.ones_like(along)
    np.maximum.at(height.ravel(), at.ravel(), (lift + height.ravel()[at] * 0.5).ravel())
    shade.ravel()[at.ravel()] = np.broadcast_to(0.86 + 0.28 * tone, at.shape).ravel()
