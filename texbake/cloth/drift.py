"""Yarns are never quite straight: a slow, small wander of the pattern plane.

Gradient noise on a periodic sheet, some hundred yarns wide, moves the place where the cloth is read
by a fraction of the distance between yarns. It breaks the machine-made look of a perfect repeat and
leaves the number of yarns per cm as it is, since its mean is zero.
"""

from dataclasses import dataclass

import numpy as np

from texbake.arrays import F32, I64
from texbake.cloth.noise import noise2
from texbake.cloth.streak import spread
from texbake.layout.values import Texels

SIDE = 256  # cells of the sheet
WAVES = (48, 20)  # waves of noise across the sheet: about 5 and 13 cells long


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Drift:
    """A periodic sheet of displacements.

    Attributes
    ----------
    moves_mm : (SIDE * SIDE, 2) float32
    cell_mm : (float, float)
    shift : (F, 2) float32
        Where each face's panel begins on the sheet, in cells.
    """

    moves_mm: F32
    cell_mm: tuple[float, float]
    shift: F32


def drift_sheet(pitch_mm: tuple[float, float], amount: float, shift: F32, seed: int) -> Drift:
    """Make the sheet: displacements of about ``amount`` of the pitch, a cell for two yarns."""
    axis = np.arange(SIDE, dtype=np.float32) / SIDE
    x, y = np.meshgrid(axis, axis)
    moves = np.zeros((2, SIDE, SIDE), np.float32)
    for k in (0, 1):
        for n, waves in enumerate(WAVES):
            base = (seed + 57 * k + 19 * n) % 200
            moves[k] += noise2(x * waves, y * waves, repeat=(waves, waves), base=base)
        moves[k] *= amount * pitch_mm[k] / max(float(moves[k].std()), 1e-6)
    return Drift(
        moves_mm=np.ascontiguousarray(moves.reshape(2, -1).T),
        cell_mm=(2.0 * pitch_mm[0], 2.0 * pitch_mm[1]),
        shift=(shift * SIDE).astype(np.float32),
    )


def drift(sheet: Drift, texels: Texels) -> tuple[F32, F32]:
    """Pattern-plane place of texels, moved.

    Returns
    -------
    x_mm, y_mm : (N,) float32
    """
    shift = np.take(sheet.shift, texels.face, 0)
    columns, s = _cell(texels.x_mm, sheet.cell_mm[0], shift[:, 0])
    rows, t = _cell(texels.y_mm, sheet.cell_mm[1], shift[:, 1])
    beside, above = (columns + 1) & (SIDE - 1), ((rows + 1) & (SIDE - 1)) * SIDE
    rows *= SIDE
    s, t = spread(s, 2), spread(t, 2)
    low = _lerp(sheet.moves_mm, rows + columns, rows + beside, s)
    high = _lerp(sheet.moves_mm, above + columns, above + beside, s)
    high -= low
    high *= t
    low += high
    return texels.x_mm + low[:, 0], texels.y_mm + low[:, 1]


def _cell(mm: F32, size: float, shift: F32) -> tuple[I64, F32]:
    """Cell and place in it."""
    at = mm * (1.0 / size)
    at += shift
    low = np.floor(at)
    at -= low
    return low.astype(np.int64) & (SIDE - 1), at


def _lerp(values: F32, a: I64, b: I64, t: F32) -> F32:
    """From one row of values to the next."""
    first: F32 = np.take(values, a, 0)
    second = np.take(values, b, 0)
    second -= first
    second *= t
    first += second
    return first
