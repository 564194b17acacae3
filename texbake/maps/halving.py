"""The maps of a set at a smaller size, each filtered as what it stands for.

A texel of the smaller size takes the mean of the covered texels of its block, so nothing of the
gutter or the background gets in; where a block holds several islands it is of the one that has most
of it, so no island colours another. Light is averaged as light. Normals are averaged as slopes,
which is the mean of normals weighted by the area of the surface that they stand on; what slopes
differ from their mean becomes roughness, by the rule that the maps themselves are made by
(Olano and Baker 2010, in the one-moment form):

    alpha'^2 = mean(alpha^2 + |slope|^2) - |mean slope|^2 = mean(alpha^2) + 2 variance per axis

Gutter and background are then made anew at that size. Sums are of pairs of rows and columns, always
in one order: neither bands nor threads can change a code.
"""

from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from texbake.arrays import F32, I32, I64, U8, U16, Bool, bands
from texbake.colour import srgb_decode
from texbake.layout.gutter import gutter
from texbake.layout.values import Layout
from texbake.maps.fill import fill_images
from texbake.maps.values import MapArrays, bits_of, blank
from texbake.maps.write import albedo_codes, normal_codes, roughness_codes, steps

_LEAST_NZ: Final = 0.2  # slopes are clamped to about 5: a steeper one is a wall, which no slope is
_BAND_TEXELS: Final = 1 << 17  # of the larger size: a few planes of them stay in the cache


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Shrink:
    """How the texels of a smaller size are made of those of a larger one.

    Attributes
    ----------
    factor : int
        Texels of the larger size along one of the smaller; a power of two, >= 2.
    counts : (H, W) bool
        Which of the larger texels count: those that are of their block's island.
    island : (h, w) int32
        Of each smaller texel; -1 for background.
    share : (h, w) float32
        One over the number of texels that count in a block; 0 where there is none.
    gutter : (to, source), (G,) int64 each
        As of a layout, at the smaller size.
    """

    factor: int
    counts: Bool
    island: I32
    share: F32
    gutter: tuple[I64, I64]


def shrink(layout: Layout, island_of: I32, size_px: int, gutter_px: int) -> Shrink:
    """Work out what the texels of a smaller size are made of, once for all maps and colourways.

    Parameters
    ----------
    layout : Layout
        Of the larger size.
    island_of : (F,) int32
        Island of each face.
    size_px : int
        The smaller size; the larger divided by a power of two.
    gutter_px : int
        At the smaller size.

    Raises
    ------
    ValueError
        If the size is no such.
    """
    factor, left = divmod(layout.size_px, size_px)
    if left or factor < 2 or factor.bit_count() != 1:
        raise ValueError(f"{layout.size_px} px cannot be made {size_px} px by halving")
    names = np.append(island_of, np.int32(-1)).astype(np.int32)  # face -1 reads the last
    counts = np.empty(layout.face.shape, bool)
    island = np.empty((size_px, size_px), np.int32)
    for band in bands(size_px, _rows(layout.size_px, factor)):
        large = slice(band.start * factor, band.stop * factor)
        found = names[layout.face[large]]
        island[band] = owner = _owners(found, factor)
        wide = np.repeat(np.repeat(owner, factor, axis=0), factor, axis=1)
        np.equal(found, wide, out=counts[large])
        counts[large] &= found >= 0
    share = np.concatenate(
        [
            sums(counts[band.start * factor : band.stop * factor].astype(np.float32), factor)
            for band in bands(size_px, _rows(layout.size_px, factor))
        ]
    )
    np.divide(1.0, share, out=share, where=share > 0.0)
    return Shrink(
        factor=factor,
        counts=counts,
        island=island,
        share=share,
        gutter=gutter(island, gutter_px),
    )


def smaller(
    maps: MapArrays, how: Shrink, *, threads: int = 1, more: Sequence[U8 | U16] = ()
) -> tuple[MapArrays, tuple[U8 | U16, ...]]:
    """Return the maps of a set at a smaller size.

    About 60 ns for each texel of the larger size on one core.

    Parameters
    ----------
    maps : MapArrays
    how : Shrink
    threads : int
        Speed only.
    more : sequence of (H, W, 3) uint8 or uint16
        Further albedos.

    Returns
    -------
    maps : MapArrays
        Of the same bits and the same range of heights.
    more : tuple of (h, w, 3) uint8 or uint16
    """
    size = len(how.island)
    out = blank(
        size,
        height_lo_mm=maps.height_lo_mm,
        height_hi_mm=maps.height_hi_mm,
        bits=bits_of(maps),
        holes=maps.opacity is not None,
    )
    albedos = [np.full((size, size, 3), 128, image.dtype) for image in more]
    cuts = list(bands(size, _rows(len(maps.height), how.factor)))
    with ThreadPoolExecutor(threads) as pool:
        for job in [pool.submit(_band, maps, how, cut, out, more, albedos) for cut in cuts]:
            job.result()
    images = (*out.images, *albedos)
    unit = [image is out.normal_up for image in images]
    fill_images(images, how.island, how.gutter, unit=unit, threads=threads)
    return out, tuple(albedos)


def eight_bits(maps: MapArrays) -> MapArrays:
    """Return maps whose images, but height, have 8 bits: codes times 255 / 65535, rounded."""
    names = ("albedo", "roughness", "metal", "occlusion", "opacity")
    deep = {name: getattr(maps, name) for name in names}
    made: dict[str, Any] = {
        name: to_eight(image)
        for name, image in deep.items()
        if image is not None and image.dtype != np.uint8
    }
    return replace(maps, **made) if made else maps


def to_eight(image: U8 | U16) -> U8:
    """Return codes of 8 bits: of 16, those times 255 / 65535, rounded (PNG, 13.12)."""
    if image.dtype == np.uint8:
        return np.asarray(image, np.uint8)
    return ((image.astype(np.uint32) + 128) // 257).astype(np.uint8)


def sums(plane: F32, factor: int) -> F32:
    """Sum blocks of ``factor`` texels square, a power of two: (H, W) to (h, w)."""
    while factor > 1:
        plane = plane[0::2] + plane[1::2]
        plane = plane[:, 0::2] + plane[:, 1::2]
        factor //= 2
    return plane


def _rows(size_px: int, factor: int) -> int:
    """Rows of the smaller size to a band."""
    return max(1, _BAND_TEXELS // (size_px * factor))


def _owners(island: I32, factor: int) -> I32:
    """Find the island that has most texels of each block; of equals the first; -1 if none."""
    height, width = (side // factor for side in island.shape)
    block = island.reshape(height, factor, width, factor)
    high = block.max(axis=(1, 3))
    none = np.iinfo(np.int32).max
    low = np.where(block < 0, none, block).min(axis=(1, 3))
    row, column = np.nonzero((high >= 0) & (low != high))
    if row.size:
        texels = block[row, :, column, :].reshape(row.size, -1)
        first, count = int(texels.max()) + 2, row.size
        votes = np.bincount(
            (texels + 1 + np.arange(count)[:, None] * first).ravel(), minlength=count * first
        ).reshape(count, first)
        high[row, column] = votes[:, 1:].argmax(axis=1)
    return np.asarray(high, np.int32)


class _Blocks:
    """One band's blocks: gives the mean of any plane over the texels that count."""

    def __init__(self, how: Shrink, band: slice) -> None:
        self.band, self.factor = band, how.factor
        self.large = slice(band.start * how.factor, band.stop * how.factor)
        self.counts = how.counts[self.large].astype(np.float32)
        self.share = how.share[band]
        self.covered = np.nonzero(self.share > 0.0)

    def mean(self, plane: F32) -> F32:
        """Return the mean of a plane (R * factor, W), which is written over, at covered texels."""
        plane *= self.counts
        found = sums(plane, self.factor)
        found *= self.share
        return found[self.covered]

    def put(self, image: U8 | U16, codes: NDArray[Any]) -> None:
        """Write the codes of the covered texels."""
        image[self.band][self.covered] = codes


def _band(
    maps: MapArrays,
    how: Shrink,
    band: slice,
    out: MapArrays,
    more: Sequence[U8 | U16],
    albedos: Sequence[U8 | U16],
) -> None:
    """Make one band of all maps."""
    blocks = _Blocks(how, band)
    opacity = None
    if maps.opacity is not None and out.opacity is not None:
        opacity = shares(maps.opacity[blocks.large])
        mean = blocks.mean(opacity.copy())
        blocks.put(out.opacity, steps(mean, out.opacity.dtype))
    for image, small in zip((maps.albedo, *more), (out.albedo, *albedos), strict=True):
        blocks.put(small, _albedo(image[blocks.large], blocks, opacity, small))
    for image, small in ((maps.metal, out.metal), (maps.occlusion, out.occlusion)):
        blocks.put(small, steps(blocks.mean(shares(image[blocks.large])), small.dtype))
    blocks.put(out.height, steps(blocks.mean(shares(maps.height[blocks.large])), np.uint16))
    across, up, square = slopes(maps.normal_up[blocks.large])
    rough = shares(maps.roughness[blocks.large])
    rough *= rough
    rough *= rough
    square += rough
    across, up, alpha2 = blocks.mean(across), blocks.mean(up), blocks.mean(square)
    alpha2 -= across * across
    alpha2 -= up * up
    np.clip(alpha2, 0.0, 1.0, out=alpha2)
    blocks.put(out.roughness, roughness_codes(alpha2, bits=out.roughness.itemsize * 8))
    bits = out.normal_up.itemsize * 8
    blocks.put(out.normal_up, normal_codes(-across, -up, bits=bits))


def _albedo(rows: U8 | U16, blocks: _Blocks, opacity: F32 | None, small: U8 | U16) -> NDArray[Any]:
    """Codes of mean light; where cloth has holes, of the light of what is there."""
    channels = []
    total = None if opacity is None else blocks.mean(opacity.copy())
    table = light_of(rows.dtype)
    for channel in range(3):
        light: F32 = np.take(table, rows[..., channel])
        if opacity is None or total is None:
            channels.append(blocks.mean(light))
            continue
        there = blocks.mean(light * opacity)
        np.divide(there, total, out=there, where=total > 0.0)
        channels.append(np.where(total > 0.0, there, blocks.mean(light)))
    return albedo_codes(channels, small.dtype)


def light_of(kind: np.dtype[Any]) -> F32:
    """Linear light of every sRGB code of a type: (256,) or (65536,) float32."""
    top = np.iinfo(kind).max
    return srgb_decode(np.arange(top + 1, dtype=np.float64) / top).astype(np.float32)


def shares(codes: U8 | U16) -> F32:
    """Return codes as shares of the largest: float32."""
    out: F32 = codes.astype(np.float32)
    out *= 1.0 / np.iinfo(codes.dtype).max
    return out


def slopes(codes: U8 | U16) -> tuple[F32, F32, F32]:
    """Slopes of normals along +U and +V, so that (across, up, 1) is the normal; and their square.

    glTF 2.0: a code c of a maximum m stands for 2 c / m - 1; green is up.
    """
    half = float(np.iinfo(codes.dtype).max) / 2.0
    across, up, out = (codes[..., k].astype(np.float32) - np.float32(half) for k in range(3))
    np.maximum(out, _LEAST_NZ * half, out=out)
    across /= out
    up /= out
    return across, up, across * across + up * up
