"""From a composed surface to codes in the maps, a band at a time.

Everything is float32, in place, on the band's texels; what is written are the codes, into the
whole images. Bands hold different texels, so they may be written by different threads at once.

Codes are rounded half up: add a half, then cut off the fraction. A value that is not a number is
a bug upstream, and numpy warns of it (``invalid value encountered in cast``).
"""

from collections.abc import Sequence
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import DTypeLike, NDArray

from texbake.arrays import F32, I64, U8, U16, Bool
from texbake.cloth.lattice import channels
from texbake.colour import srgb_codes, srgb_encode
from texbake.compose.values import Surface
from texbake.layout.values import Layout, Texels
from texbake.maps.values import HEIGHT_STEPS, MapArrays, texel_items


def write_band(surface: Surface, texels: Texels, layout: Layout, maps: MapArrays) -> None:
    """Write the codes of one band's texels into the maps.

    About 31 ns a texel on one core for all maps. Thread safe for bands that
    share no texel.

    Parameters
    ----------
    surface : Surface
        N texels.
    texels : Texels
        Where those N texels lie.
    layout : Layout
        For the tangent frame of each face.
    maps : MapArrays
        Written at ``texels.index``, nowhere else.
    """
    at = _where(texels.index)
    _put(maps.albedo, at, albedo_codes(list(surface.albedo[:3]), maps.albedo.dtype))
    _put(maps.roughness, at, roughness_codes(surface.alpha2, bits=maps.roughness.itemsize * 8))
    _put(maps.metal, at, steps(surface.metal, maps.metal.dtype))
    _put(maps.occlusion, at, steps(surface.occlusion, maps.occlusion.dtype))
    _put(maps.height, at, height_codes(surface.height_mm, maps.height_lo_mm, maps.height_hi_mm))
    if maps.opacity is not None:
        cover = np.ones_like(surface.metal) if surface.opacity is None else surface.opacity
        _put(maps.opacity, at, steps(cover, maps.opacity.dtype))
    frame = channels(np.take(layout.frame.reshape(-1, 4), texels.face, axis=0), 4)
    across = frame[0] * surface.slope[0]
    across += frame[1] * surface.slope[1]
    up = frame[2] * surface.slope[0]
    up += frame[3] * surface.slope[1]
    _put(maps.normal_up, at, normal_codes(across, up, bits=maps.normal_up.itemsize * 8))


def write_albedo(albedo: F32, texels: Texels, image: U8 | U16) -> None:
    """Write the codes of one band's albedo into an image; see ``write_band``.

    Parameters
    ----------
    albedo : (3, N) float32
        Linear light.
    texels : Texels
    image : (H, W, 3) uint8 or uint16
        Written at ``texels.index``, nowhere else.
    """
    _put(image, _where(texels.index), albedo_codes(list(albedo), image.dtype))


def albedo_codes(light: Sequence[F32], kind: DTypeLike) -> U8 | U16:
    """Return sRGB codes (N, 3) of three channels of linear light, (N,) each, of 8 or 16 bits."""
    if np.dtype(kind) == np.uint8:
        return _interleaved([srgb_codes(channel) for channel in light])
    codes = np.empty((light[0].size, 3), np.uint16)
    for number, channel in enumerate(light):
        codes[:, number] = steps(srgb_encode(np.clip(channel, 0.0, 1.0)), np.uint16)
    return codes


def roughness_codes(alpha2: F32, *, bits: int = 8) -> U8 | U16:
    """Return codes of roughness = sqrt(alpha), from the square of the GGX width.

    Parameters
    ----------
    alpha2 : (N,) float32
        Clipped to [0, 1].
    bits : 8 or 16

    Returns
    -------
    (N,) uint8 or uint16

    Notes
    -----
    glTF 2.0, appendix B: alpha = roughness^2.
    """
    root = np.maximum(alpha2, 0.0)
    np.sqrt(root, out=root)
    np.sqrt(root, out=root)
    return steps(root, np.uint8 if bits == 8 else np.uint16)


def steps(values: F32, kind: DTypeLike) -> NDArray[Any]:
    """Return shares as codes of 8 or 16 bits, rounded half up, clipped to those there are."""
    top = float(np.iinfo(np.dtype(kind)).max)
    return _steps(values, top, top=top).astype(kind)


def height_codes(height_mm: F32, lo_mm: float, hi_mm: float) -> U16:
    """Return 16-bit codes of height.

    Parameters
    ----------
    height_mm : (N,) float32
        Clipped to [lo_mm, hi_mm].
    lo_mm, hi_mm : float
        What 0 and 65535 stand for.

    Returns
    -------
    (N,) uint16
    """
    above = height_mm - lo_mm
    return _steps(above, HEIGHT_STEPS / (hi_mm - lo_mm), top=HEIGHT_STEPS).astype(np.uint16)


def normal_codes(across: F32, up: F32, *, bits: int) -> U8 | U16:
    """Return green-up normals as codes, from the height's gradient in the tangent frame.

    Parameters
    ----------
    across, up : (N,) float32
        Gradient along +U and at right angles to it on the +V side, mm per mm.
    bits : 8 or 16

    Returns
    -------
    (N, 3) uint8 or uint16
        Flat is (128, 128, 255) or (32768, 32768, 65535).

    Notes
    -----
    glTF 2.0, section 3.9.3: a code c of a maximum m stands for 2 c / m - 1, +X right, +Y up.
    """
    half = 127.5 if bits == 8 else 32767.5
    kind = np.uint8 if bits == 8 else np.uint16
    scale = across * across
    scale += up * up
    scale += 1.0
    np.sqrt(scale, out=scale)
    np.divide(half, scale, out=scale)  # nz * half; the half code is in the offset below
    codes = np.empty((len(across), 3), kind)
    part: F32 = np.empty_like(scale)
    for channel, slope in enumerate((across, up)):
        np.multiply(slope, scale, out=part)
        np.subtract(half + 0.5, part, out=part)
        codes[:, channel] = part.astype(kind)
    scale += half + 0.5
    codes[:, 2] = scale.astype(kind)
    return codes


def _steps(values: F32, scale: float, *, top: float = 255.0) -> F32:
    """Scale values and add a half, clipped so that cutting off the fraction gives 0 to ``top``."""
    steps = values * scale
    steps += 0.5
    return np.clip(steps, 0.0, top + 0.5, out=steps)


class _Place(NamedTuple):
    """Part of a flat image, and which of its texels are meant; None: all."""

    part: slice
    inside: Bool | None


def _where(index: I64) -> _Place:
    """Where ascending indices lie: writing through a mask takes a fifth of a scatter's time."""
    if not index.size:
        return _Place(slice(0, 0), None)
    part = slice(int(index[0]), int(index[-1]) + 1)
    if part.stop - part.start == index.size:
        return _Place(part, None)
    inside = np.zeros(part.stop - part.start, bool)
    inside[index - part.start] = True
    return _Place(part, inside)


def _put(image: U8 | U16, at: _Place, codes: U8 | U16) -> None:
    """Write the codes of texels, (N,) or (N, 3), into their place in an image."""
    items = texel_items(image)[at.part]
    items[... if at.inside is None else at.inside] = (
        codes if codes.ndim == 1 else texel_items(codes[None])
    )


def _interleaved(channels: list[U8]) -> U8:
    """Return three (N,) channels as (N, 3)."""
    codes = np.empty((channels[0].size, 3), np.uint8)
    for number, channel in enumerate(channels):
        codes[:, number] = channel
    return codes
