"""Maps at the size of a tile, filtered as what they stand for.

Light adds up linearly, so albedo is averaged in linear light. Normals are averaged as vectors and
brought back to unit length. Relief that this takes out becomes roughness, by the rule that the
maps themselves are made by (Olano and Baker 2010): the mean of alpha^2 + |slope|^2, less the
square of the mean slope. Averaging roughness alone would show beats that no light shows, where
yarns are near two texels wide. Heights, metal and occlusion are averaged as they are.

Sizes are powers of two: blocks are averaged down to twice a tile, and the last halving has softer
weights; what is smaller than a tile is enlarged, a texel becoming a block of pixels. At 2048 all
maps take 0.4 s on one core.
"""

from collections.abc import Callable

import numpy as np

from texbake.arrays import F32, U8, U16, bands
from texbake.colour import srgb_codes, srgb_decode
from texbake.maps.values import MapArrays

_LEAST_NZ = 0.2  # slopes are clamped at about 5: a steeper one is a wall


def light(image: U8, size_px: int) -> U8:
    """Return a picture in sRGB, (N, N, 3) uint8, as (size_px, size_px, 3) uint8."""
    table = srgb_decode(np.arange(256, dtype=np.float32) * np.float32(1.0 / 255.0))
    linear = _resized(len(image), lambda band: np.asarray(np.take(table, image[band])), size_px)
    return srgb_codes(np.ascontiguousarray(linear))


def vectors(image: U8 | U16, size_px: int) -> U8:
    """Return normals, (N, N, 3) codes, as (size_px, size_px, 3) uint8 codes of unit length."""
    mean = _resized(len(image), lambda band: _vectors(image[band]), size_px)
    length = np.sqrt((mean * mean).sum(axis=-1, keepdims=True))
    return _codes(mean / np.maximum(length, 1e-6) * 0.5 + 0.5)


def numbers(image: U8 | U16, size_px: int) -> F32:
    """Return a map of one channel, (N, N), as shares of its largest code: float32."""
    scale = 1.0 / np.iinfo(image.dtype).max

    def read(band: slice) -> F32:
        shares = image[band].astype(np.float32)
        shares *= scale
        return shares[..., None]

    return _resized(len(image), read, size_px)[..., 0]


def roughness(maps: MapArrays, size_px: int) -> F32:
    """Return roughness with the relief that is filtered out, (size_px, size_px) float32, 0 to 1."""

    def read(band: slice) -> F32:
        vector = _vectors(maps.normal_up[band])
        slope = vector[..., :2]
        slope /= np.maximum(vector[..., 2:], _LEAST_NZ)
        rough = maps.roughness[band].astype(np.float32)
        rough *= 1.0 / 255.0
        rough *= rough
        rough *= rough
        vector[..., 2] = rough + slope[..., 0] ** 2 + slope[..., 1] ** 2
        return vector

    mean = _resized(len(maps.roughness), read, size_px)
    left = mean[..., 2] - mean[..., 0] ** 2 - mean[..., 1] ** 2
    return np.sqrt(np.sqrt(np.clip(left, 0.0, 1.0)))


def grey(shares: F32) -> U8:
    """Return shares (H, W), clipped to [0, 1], as a picture of three equal channels."""
    return np.repeat(_codes(np.clip(shares, 0.0, 1.0))[..., None], 3, axis=2)


def _vectors(codes: U8 | U16) -> F32:
    """Return codes of normals as vectors: (..., 3) float32."""
    vector = codes.astype(np.float32)
    vector *= 2.0 / np.iinfo(codes.dtype).max
    vector -= 1.0
    return vector


def _codes(shares: F32) -> U8:
    return (shares * 255.0 + 0.5).astype(np.uint8)


def _resized(count: int, read: Callable[[slice], F32], size_px: int) -> F32:
    """Turn ``count`` rows and columns into ``size_px``: (size_px, size_px, C) float32.

    ``read`` gives a band of rows as (R, count, C) float32.
    """
    factor = max(1, count // (2 * size_px))
    rows = max(1, 64 // factor)
    parts = [
        _mean(read(slice(band.start * factor, band.stop * factor)), factor)
        for band in bands(count // factor, rows)
    ]
    values: F32 = np.concatenate(parts)
    if len(values) > size_px:
        return _halved(_halved(values).swapaxes(0, 1)).swapaxes(0, 1)
    times = size_px // len(values)
    return np.repeat(np.repeat(values, times, axis=0), times, axis=1)


def _mean(values: F32, factor: int) -> F32:
    """Average blocks of ``factor`` texels square: (R, W, C)."""
    total: F32 = values[::factor, ::factor].copy()
    for at in range(1, factor * factor):
        row, column = divmod(at, factor)
        total += values[row::factor, column::factor]
    total *= 1.0 / (factor * factor)
    return total


def _halved(values: F32) -> F32:
    """Halve the rows with weights 1 3 3 1, which leave nothing of two texels to a period."""
    framed = np.concatenate([values[:1], values, values[-1:]])
    inner: F32 = framed[1:-1:2] + framed[2:-1:2]
    inner *= 0.375
    outer = framed[:-2:2] + framed[3::2]
    outer *= 0.125
    inner += outer
    return inner
