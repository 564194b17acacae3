"""What lies beside the islands: gutters, and the background between them.

A renderer reads maps at reduced sizes too, where one texel is the mean of a block that reaches
beyond an island's border. Gutter texels repeat the covered texel nearest to them, as far as the
recipe's gutter promises. Beyond, the background goes on in the same way, coarsely: the image is
cut into blocks of 8 x 8, and each background texel takes the mean of its block's covered and
gutter texels, or that of the nearest block that has any. Thus still smaller images continue each
island outwards with its own values, half the way to the next.

The means are of codes, albedo's too: decoding first would be truer and change nothing that shows,
as it is beyond the gutter. Normals are averaged as vectors.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from texbake.arrays import F32, F64, I32, I64, U8, U16, Bool, bands
from texbake.hands import divide
from texbake.layout.values import Layout
from texbake.maps.values import Empty, MapArrays, lay_bare, texel_items

_NEAR: Final = 3  # blocks to each side that a background colour is the mean of
_BLOCK: Final = 8

# The length of the mean of normals that are one direction differs from 1 by rounding to codes
# only: at most half a code in each channel, sqrt(3) * 0.5 / 127.5 = 0.0068.
_ROUNDING: Final = 0.007


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Ground:
    """Where the background of all maps of a layout comes from.

    Attributes
    ----------
    bare : (H, W) bool
        Neither covered nor gutter.
    count : (h, w) uint32
        How many texels of each block of 8 x 8 are not bare.
    nearest : (h, w) int64
        Flat index of the nearest block that has such texels.
    """

    bare: Bool
    count: NDArray[np.uint32]
    nearest: I64


def blank_ground(height: int, width: int, *, empty: Empty = np.empty) -> Ground:
    """Make room for what `survey` finds."""
    blocks = (-(-height // _BLOCK), -(-width // _BLOCK))
    return Ground(
        bare=empty((height, width), np.bool_),
        count=empty(blocks, np.uint32),
        nearest=empty(blocks, np.int64),
    )


def survey(face: I32, gutter_to: I64, ground: Ground) -> None:
    """Find which texels are bare and what each takes after, in place.

    Parameters
    ----------
    face : (H, W) int32
        -1 for background.
    gutter_to : (G,) int64
        Flat indices of the gutter's texels.
    ground : Ground
    """
    np.less(face, 0, out=ground.bare)
    ground.bare.reshape(-1)[gutter_to] = False
    high, wide = (np.diff([*range(0, side, _BLOCK), side]) for side in face.shape)
    ground.count[...] = np.outer(high, wide) - _block_sums(ground.bare.view(np.uint8), None)[..., 0]
    ground.nearest[...] = _nearest(ground.count)


def fill(
    maps: MapArrays,
    layout: Layout,
    *,
    threads: int = 1,
    more: Sequence[U8 | U16] = (),
    ground: Ground | None = None,
    sheets: bool = False,
) -> None:
    """Copy gutters and fill the background of all maps, in place.

    Temporaries are one byte a texel, and bands. The result does not depend on ``threads``.
    All maps of the vest at 2048 take 0.10 s on one core.

    Parameters
    ----------
    maps : MapArrays
        With every covered texel written.
    layout : Layout
        Which texels those are, and what the gutters repeat.
    threads : int
        Maps that are filled at a time, >= 1.
    more : sequence of (H, W, 3) uint8 or uint16
        Further albedos.
    ground : Ground, optional
        Of the layout, if it is known.
    sheets : bool
        Whether all images are sheets (`hands.sheet`) in which bare texels are still 0: processes
        may fill them then, and sums need not leave them out.
    """
    pairs = layout.gutter_to, layout.gutter_from
    images = (*maps.images, *more)
    if ground is None:
        ground = blank_ground(*layout.face.shape)
        survey(layout.face, pairs[0], ground)
    if ground.bare.all():
        lay_bare(maps)
        for image in more:
            image[...] = maps.albedo[0, 0]
        return
    unit = [image is maps.normal_up for image in images]
    _fill(images, pairs, ground, unit, threads=threads, sheets=sheets)


def fill_images(
    images: Sequence[U8 | U16],
    face: I32,
    pairs: tuple[I64, I64],
    *,
    unit: Sequence[bool],
    threads: int = 1,
) -> None:
    """Copy gutters and fill the background of some images, in place; see `fill`.

    Parameters
    ----------
    images : sequence of (H, W) or (H, W, C) uint8 or uint16
    face : (H, W) int32
        -1 for background.
    pairs : (to, source), (G,) int64 each
        Flat indices: what each texel of the gutter repeats; from `layout.gutter.gutter`.
    unit : sequence of bool
        Which images hold normals.
    threads : int
    """
    ground = blank_ground(*face.shape)
    survey(face, pairs[0], ground)
    if not ground.bare.all():
        _fill(images, pairs, ground, unit, threads=threads, sheets=False)


def _fill(
    images: Sequence[U8 | U16],
    pairs: tuple[I64, I64],
    ground: Ground,
    unit: Sequence[bool],
    *,
    threads: int,
    sheets: bool,
) -> None:
    """Do one image at a turn."""

    def turn(number: int) -> None:
        image = images[number]
        if image.ndim == 2 and image.min() == image.max():
            return  # as metal and opacity mostly are: there is nothing to carry on
        items = texel_items(image)
        items[pairs[0]] = items[pairs[1]]
        _fill_bare(image, ground, unit=unit[number], zero=sheets)

    divide(len(images), turn, workers=threads, fork=sheets)


def _block_sums(image: U8 | U16, bare: Bool | None) -> NDArray[np.uint32]:
    """Sum the codes of every block, bare texels left out; None: they are 0. (h, w, C)."""
    size = image.shape[1]
    wide = np.uint16 if image.itemsize == 1 else np.uint32  # for eight rows; the rest fits 32 bits
    starts = np.arange(0, size, _BLOCK)
    sums = []
    for band in bands(len(image), _BLOCK):
        kept = image[band]
        if bare is not None:
            kept = kept.copy()
            items = _items(kept)
            np.copyto(items, np.zeros((), items.dtype), where=bare[band])
        codes = kept.reshape(len(kept), -1)
        columns = codes.sum(axis=0, dtype=wide).reshape(size, -1)
        sums.append(np.add.reduceat(columns, starts, axis=0, dtype=np.uint32))
    return np.stack(sums)


def _nearest(count: NDArray[np.uint32]) -> I64:
    """Find for every block the flat index of the nearest block that is not all bare.

    Exact along columns; across them jumps of halving length (G. Rong and T.-S. Tan, "Jump flooding
    in GPU", I3D 2006) miss the nearest in about one block of a thousand, by a little. scipy's exact
    transform takes 0.2 s to load, more than all maps at 2048 take to fill.
    """
    height, width = count.shape
    row = np.arange(height, dtype=np.int32)[:, None]
    column = np.arange(width, dtype=np.int32)
    far = np.int32(-4 * (height + width))
    above = np.maximum.accumulate(np.where(count > 0, row, far), 0)
    below = -np.maximum.accumulate(np.where(count > 0, -row, far)[::-1], 0)[::-1]
    source = np.where(row - above <= below - row, above, below)
    best, at = (source - row) ** 2, np.broadcast_to(column, count.shape).copy()
    for step in _jumps(width):
        for here, there in ((slice(step, None), slice(-step)), (slice(-step), slice(step, None))):
            other = at[:, there]
            away = (other - column[here]) ** 2
            away += (np.take_along_axis(source, other, 1) - row) ** 2
            nearer = away < best[:, here]
            np.copyto(best[:, here], away, where=nearer)
            np.copyto(at[:, here], other, where=nearer)
    flat: I64 = np.take_along_axis(source, at, 1).astype(np.int64) * width + at
    return flat


def _jumps(width: int) -> list[int]:
    """Lengths of jumps: 1, then halving, and the last two once more."""
    halving = [1 << k for k in range((width - 1).bit_length() - 1, -1, -1)]
    return [step for step in (1, *halving, 2, 1) if step < width]


def _fill_bare(image: U8 | U16, ground: Ground, *, unit: bool, zero: bool) -> None:
    """Write into each bare texel the mean round its block, or round the nearest that has one.

    ``zero``: bare texels are 0 before.
    """
    sums = _around(_block_sums(image, None if zero else ground.bare).astype(np.float64))
    sums /= np.maximum(_around(ground.count.astype(np.float64)[..., None]), 1.0)
    means = sums.astype(np.float32)
    if unit:
        _renormalise(means, float(np.iinfo(image.dtype).max))
    means += 0.5
    codes = means.astype(image.dtype).reshape(-1, means.shape[2])[ground.nearest]
    items = _items(image)
    for number, band in enumerate(bands(len(items), _BLOCK)):
        row = np.repeat(codes[number], _BLOCK, axis=0)[: image.shape[1]]
        np.copyto(items[band], row.view(items.dtype).reshape(-1), where=ground.bare[band])


def _items(image: U8 | U16) -> NDArray[Any]:
    """View an image with one item per texel, (H, W)."""
    return texel_items(image).reshape(image.shape[:2])


def _around(sums: F64) -> F64:
    """Sum blocks over a square of ``2 _NEAR + 1`` a side, (h, w, C): a border's single yarns must
    not run on as stripes. The values are whole numbers, so float64 is exact.
    """
    for axis in (0, 1):
        padded = np.moveaxis(sums, axis, 0)
        pad = [(_NEAR + 1, _NEAR)] + [(0, 0)] * (padded.ndim - 1)
        running = np.cumsum(np.pad(padded, pad), axis=0)
        width = 2 * _NEAR + 1
        sums = np.moveaxis(running[width:] - running[:-width], 0, axis)
    return np.ascontiguousarray(sums)


def _renormalise(means: F32, top: float) -> None:
    """Bring mean normals, as codes of a maximum ``top``, back to unit length, in place.

    One direction stays as it is, to the code.
    """
    means *= 2.0 / top
    means -= 1.0
    length = np.sqrt(np.einsum("...c,...c->...", means, means))[..., None]
    np.divide(means, length, out=means, where=np.abs(length - 1.0) > _ROUNDING)
    means += 1.0
    means *= top / 2.0
