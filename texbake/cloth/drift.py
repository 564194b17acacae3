"""Yarns are never quite straight: a slow, small wander of the pattern plane.

Gradient noise on a periodic sheet, some hundred yarns wide, moves the place where the cloth is read
by a fraction of the distance between yarns. It breaks the machine-made look of a perfect repeat and
leaves the number of yarns per cm as it is, since its mean is zero.
"""

from dataclasses import dataclass

import numpy as np

from texbake.arrays import F32, I32
from texbake.cloth.lattice import between, lattice, wrapped
from texbake.cloth.noise import noise2
from texbake.cloth.streak import fitted
from texbake.layout.values import Texels

SIDE = 256  # cells of the sheet, if nothing says how far it spans
WAVES = (256.0 / 48.0, 256.0 / 20.0)  # cells to a wave of noise: about 5 and 13


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Drift:
    """A periodic sheet of displacements.

    Attributes
    ----------
    moves_mm : ((rows + 1) * (columns + 1), 2) float32
        A `lattice`.
    counts : (int, int)
        Columns and rows.
    cell_mm : (float, float)
    shift : (F, 2) float32
        Where each face's panel begins on the sheet, in cells.
    """

    moves_mm: F32
    counts: tuple[int, int]
    cell_mm: tuple[float, float]
    shift: F32


def drift_sheet(
    pitch_mm: tuple[float, float],
    amount: float,
    shift: F32,
    seed: int,
    period_mm: tuple[float, float] | None = None,
) -> Drift:
    """Make the sheet: displacements of about ``amount`` of the pitch, a cell for two yarns.

    ``period_mm``: what it is to span in x and y, for cloth that repeats.
    """
    counts, cell_mm = fitted((SIDE, SIDE), (2.0 * pitch_mm[0], 2.0 * pitch_mm[1]), period_mm)
    x, y = np.meshgrid(*(np.arange(count, dtype=np.float32) / count for count in counts))
    moves = np.zeros((2, counts[1], counts[0]), np.float32)
    for k in (0, 1):
        for n, long in enumerate(WAVES):
            base = (seed + 57 * k + 19 * n) % 200
            across, up = (max(1, round(count / long)) for count in counts)
            moves[k] += noise2(x * across, y * up, repeat=(across, up), base=base)
        moves[k] *= amount * pitch_mm[k] / max(float(moves[k].std()), 1e-6)
    return Drift(
        moves_mm=lattice(np.moveaxis(moves, 0, 2)),
        counts=counts,
        cell_mm=cell_mm,
        shift=(shift * np.array(counts, np.float32)).astype(np.float32),
    )


def drift(sheet: Drift, texels: Texels) -> tuple[F32, F32]:
    """Pattern-plane place of texels, moved.

    Returns
    -------
    x_mm, y_mm : (N,) float32
    """
    shift = np.take(sheet.shift, texels.face, 0)
    columns, s = _cell(texels.x_mm, sheet.cell_mm[0], shift[:, 0], sheet.counts[0])
    rows, t = _cell(texels.y_mm, sheet.cell_mm[1], shift[:, 1], sheet.counts[1])
    rows *= sheet.counts[0] + 1
    rows += columns
    moves = between(sheet.moves_mm, sheet.counts[0], rows, s, t)
    return texels.x_mm + moves[:, 0], texels.y_mm + moves[:, 1]


def _cell(mm: F32, size: float, shift: F32, count: int) -> tuple[I32, F32]:
    """Cell and place in it."""
    at = mm * (1.0 / size)
    at += shift
    low = np.floor(at)
    at -= low
    return wrapped(low, count), at
