"""What a texel averages: box filters of a periodic tile, exact, one per kind of footprint.

A texel covers a parallelogram of the pattern plane, spanned by its steps ``a`` (one column) and
``b`` (one row); on one face it is the same everywhere. The mean of a periodic function over a
parallelogram is a product in the frequency domain: each Fourier coefficient at frequency f is
multiplied by sinc(f.a) sinc(f.b). So one inverse transform gives the tile as texels of that shape
see it, whatever its size, turn or shear: many yarns to a texel or many texels to a yarn. Nothing
aliases that a perfect box-filtered bake would not show too, and mean slope and mean squared slope,
averaged alike, leave the lost relief to the roughness (LEAN: Olano and Baker 2010).

Faces whose footprints differ by less than a few per cent share one filtered tile.
"""

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from texbake.arrays import F32, I32, I64
from texbake.cloth.lattice import lattice
from texbake.cloth.tile import Tile

C64 = NDArray[np.complexfloating[Any]]

SIZE_STEP = 1.09  # footprints alike within +-4.5 % in length ...
TURN_STEP = math.radians(7.5)  # ... and +-3.75 degrees in direction are one class
MOST_CLASSES = 64
MOST_BYTES = 256 << 20  # of one fabric's filtered tiles: large tiles have fewer classes
LANES = 8  # channels of a texel lie together, padded to 32 bytes or 64: one gather fetches all


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Filtered:
    """A tile as each class of footprint sees it.

    Attributes
    ----------
    values : (K * (R + 1) * (C + 1), 8 or 16) float32
        A `lattice` for each class.
    start : (F,) int32
        First row of ``values`` for each face of the garment.
    rows, columns : int
    width_mm, length_mm : float
        The repeat, at the recipe's scale.
    offset_mm : (float, float)
        Place of the first grid cell's centre.
    """

    values: F32
    start: I32
    rows: int
    columns: int
    width_mm: float
    length_mm: float
    offset_mm: tuple[float, float]


def classes(footprint_mm: F32, most: int = MOST_CLASSES) -> tuple[I64, F32]:
    """Sort footprints into kinds.

    Parameters
    ----------
    footprint_mm : (F, 2, 2) float32
        Columns a and b; sign does not matter to a box.
    most : int
        Kinds there may be: the more, the closer each is to its members.

    Returns
    -------
    kind : (F,) int64
    typical : (K, 2, 2) float32
        One footprint per kind, the mean of its members.
    """
    step, turn = SIZE_STEP, TURN_STEP
    while True:
        keys = _keys(footprint_mm, step, turn)
        _, kind = np.unique(keys, axis=0, return_inverse=True)
        kind = kind.reshape(-1)
        if kind.max(initial=0) < most:
            return kind.astype(np.int64), _typical(_upright(footprint_mm), kind)
        step, turn = step**1.4, turn * 1.4


def _upright(footprint_mm: F32) -> F32:
    """The same boxes, with both steps in the right half-plane."""
    flip = footprint_mm[:, :1, :] < 0.0
    out: F32 = np.where(flip, -footprint_mm, footprint_mm)
    return out


def _keys(footprint_mm: F32, step: float, turn: float) -> I64:
    """Integer size and direction of both steps; directions are modulo a half turn."""
    size = np.hypot(footprint_mm[:, 0], footprint_mm[:, 1])
    size_key = np.round(np.log(np.maximum(size, 1e-6)) / math.log(step))
    half_turn = max(1, round(math.pi / turn))
    angle = np.arctan2(footprint_mm[:, 1], footprint_mm[:, 0])
    turn_key = np.round(angle / math.pi * half_turn) % half_turn
    return np.concatenate([size_key, turn_key], axis=1).astype(np.int64)


def _typical(boxes: F32, kind: I64) -> F32:
    """Mean of the members of each kind, steps first turned to agree with the first member."""
    count = int(kind.max(initial=0)) + 1
    first = np.zeros(count, np.int64)
    first[kind[::-1]] = np.arange(len(kind))[::-1]
    dot = (boxes * boxes[first[kind]]).sum(1, keepdims=True)
    aligned = np.where(dot < 0.0, -boxes, boxes)
    total = np.zeros((count, 2, 2))
    np.add.at(total, kind, aligned)
    out: F32 = (total / np.bincount(kind, minlength=count)[:, None, None]).astype(np.float32)
    return out


def filter_tile(tile: Tile, footprint_mm: F32, scale: float) -> Filtered:
    """Box-filter a tile for every kind of footprint among the faces.

    Parameters
    ----------
    tile : Tile
        At life size; at most 16 channels.
    footprint_mm : (F, 2, 2) float32
    scale : float
        How many times life size the cloth is; heights grow alike, slopes stay.
    """
    lanes = max(LANES, 1 << (len(tile.channels) - 1).bit_length())
    boxes = footprint_mm / np.float32(scale)
    rows, columns = _grid(tile, boxes)
    room = MOST_BYTES // (4 * rows * columns * lanes)
    kind, typical = classes(boxes, max(8, min(MOST_CLASSES, room)))
    spectrum = np.fft.rfft2(tile.channels)
    values = []
    for box in typical:
        seen = _resample(spectrum * _box(tile, box), tile.channels.shape[1:], (rows, columns))
        seen[0] *= scale
        values.append(lattice(np.moveaxis(seen, 0, 2), lanes))
    cell = (tile.width_mm / tile.channels.shape[2], tile.length_mm / tile.channels.shape[1])
    return Filtered(
        values=np.concatenate(values),
        start=(kind * len(values[0])).astype(np.int32),
        rows=rows,
        columns=columns,
        width_mm=tile.width_mm * scale,
        length_mm=tile.length_mm * scale,
        offset_mm=(0.5 * cell[0] * scale, 0.5 * cell[1] * scale),
    )


def _grid(tile: Tile, boxes: F32) -> tuple[int, int]:
    """Rows and columns: at least eight cells to the smallest footprint, if the tile has them."""
    fine = tile.channels.shape[1:]
    reach = np.abs(boxes).sum(2)  # (F, 2): extent in x and y
    cells = []
    for count, span, smallest in zip(
        fine, (tile.length_mm, tile.width_mm), reach.min(0)[::-1], strict=True
    ):
        wanted = math.ceil(8.0 * span / max(float(smallest), 1e-6))
        cells.append(int(min(count, max(wanted + wanted % 2, 8))))
    return cells[0], cells[1]


def _box(tile: Tile, box: F32) -> F32:
    """Transfer function of the mean over a parallelogram, on the grid of ``rfft2``."""
    rows, columns = tile.channels.shape[1:]
    fx = np.fft.rfftfreq(columns, tile.width_mm / columns)[None, :]
    fy = np.fft.fftfreq(rows, tile.length_mm / rows)[:, None]
    out = np.ones((rows, columns // 2 + 1))
    for step in (0, 1):
        out = out * np.sinc(fx * float(box[0, step]) + fy * float(box[1, step]))
    return out.astype(np.float32)


def _resample(spectrum: C64, fine: tuple[int, ...], grid: tuple[int, int]) -> F32:
    """Inverse transform on a coarser grid: high frequencies left out."""
    rows, columns = grid
    kept = spectrum[:, :, : columns // 2 + 1]
    if rows < fine[0]:
        half = rows // 2
        kept = np.concatenate([kept[:, :half], kept[:, fine[0] - (rows - half) :]], axis=1)
    out: F32 = np.fft.irfft2(kept, s=grid) * ((rows * columns) / (fine[0] * fine[1]))
    return out.astype(np.float32)
