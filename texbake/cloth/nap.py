"""Raised cloth: wire rollers pull fibres out of the yarns, and they lie over the weave as a nap.

The repeat is laid out till it is some millimetres wide, or every hair would come back with each
twill line. The yarns lose their sharp form where fibres have left them; fine hairs, combed along
the grain as the machine runs, bridge the hollows between them. Flannel and brushed jersey.
"""

import math

import numpy as np

from texbake.arrays import F32
from texbake.cloth.hash import draws, normals
from texbake.cloth.mat import Lines, Sheet, at, bent, lay
from texbake.cloth.tile import Relief, soften

SPAN_MM = 16.0  # of the sheet; the wander of the cloth and the lack of large forms hide its repeat
CELLS = 400  # along it
BLUR = 0.30  # of a pitch: how far the form of the yarns is lost at 1 (standard deviation; by eye)
BED = 0.40  # of a pitch: how evenly the nap bridges the yarns (standard deviation; by eye)
HAIR_MM, HAIR_THICK_MM, HAIR_LONG_MM = 0.06, 0.012, 1.4  # as a wisp is seen (by eye)
COVERED = 2.2  # layers of hair at 1: e^-2.2 = 11 % of the yarns are bare (by eye, no source)
COMBED = 0.75  # rad: how far hairs stray from the grain (by eye, no source)
LIFT = 0.5  # of the relief above its mean: where the nap lies (by eye, no source)
TONE = 0.16  # how far hairs differ in brightness (by eye, no source)
SHEER = 0.55  # how much of a hair is seen against what lies under it (by eye, no source)


def cells(pitch_mm: float) -> int:
    """Grid cells across a yarn or wale of this pitch that a sheet of many repeats may have."""
    return max(8, round(CELLS * pitch_mm / SPAN_MM))


def repeats(span_mm: float) -> int:
    """How many times a repeat of this width or length is laid out."""
    return max(1, round(SPAN_MM / span_mm))


def raised(relief: Relief, amount: float, pitch_mm: float) -> Relief:
    """Raise a cloth.

    Parameters
    ----------
    relief : Relief
        One repeat at life size, not softened yet.
    amount : float
        0 to 1: how much of the yarns the nap hides.
    pitch_mm : float
        From yarn to yarn, or wale to wale; the wider.

    Returns
    -------
    Relief
        As many repeats as fit a sheet of ``SPAN_MM``.
    """
    grid = repeats(relief.length_mm), repeats(relief.width_mm)
    sheet = Sheet(
        rows=relief.height_mm.shape[0] * grid[0],
        columns=relief.height_mm.shape[1] * grid[1],
        width_mm=relief.width_mm * grid[1],
        length_mm=relief.length_mm * grid[0],
    )
    step = sheet.width_mm / sheet.columns
    blur, spread = (_passes(s * pitch_mm / step) for s in (BLUR * amount, BED))
    yarns = soften(soften(relief.height_mm, relief.soften), blur)
    weights = np.stack([soften(w, blur) for w in relief.weights])
    over = LIFT * float(yarns.max() - yarns.mean())
    bed, height = np.tile(soften(yarns, spread) + over, grid), np.tile(yarns, grid)
    laid = (height.copy(), np.ones_like(height))
    lay(laid, sheet, _hairs(sheet, bed, amount), 0.5 * HAIR_MM, HAIR_THICK_MM)
    weights = np.tile(weights, (1, *grid))
    even = weights.sum(0, keepdims=True).mean() / weights.sum(0, keepdims=True)
    weights = weights * (1.0 + amount * (even - 1.0))  # hair lights up the hollows
    weights *= 1.0 + SHEER * (laid[1] - 1.0)
    return Relief(
        height_mm=laid[0],
        weights=weights.astype(np.float32),
        cover=1.0 - (1.0 - amount) * (1.0 - np.tile(relief.cover, grid)),
        width_mm=sheet.width_mm,
        length_mm=sheet.length_mm,
        soften=2,
    )


def _passes(sigma_cells: float) -> int:
    """How many passes of 1-2-1 blur by this: each adds half a cell squared."""
    return max(1, round(2.0 * sigma_cells * sigma_cells))


def _hairs(sheet: Sheet, bed: F32, amount: float) -> Lines:
    """Hairs combed up and down the grain, each a little off and a little bent."""
    area = sheet.width_mm * sheet.length_mm
    count = max(1, int(COVERED * amount * area / (HAIR_MM * HAIR_LONG_MM)))
    x, y, bend, tone = draws(4 * count, 211).reshape(4, count, 1)
    heading = 0.5 * math.pi + COMBED * normals((count, 1), 223)
    points = max(4, int(1.3 * HAIR_LONG_MM * sheet.columns / sheet.width_mm))
    start = (x * sheet.width_mm).astype(np.float32), (y * sheet.length_mm).astype(np.float32)
    px, py = bent(start, heading.astype(np.float32), 2.5 * (bend - 0.5), HAIR_LONG_MM, points)
    top = at(bed, sheet, px, py) + HAIR_THICK_MM * normals((count, 1), 227)
    return Lines(x_mm=px, y_mm=py, top_mm=top.astype(np.float32), tone=1.14 + TONE * (tone - 0.5))
