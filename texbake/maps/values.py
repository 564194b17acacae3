"""The maps of one set, as whole images."""

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any, Final, Literal

import numpy as np
from numpy.typing import DTypeLike, NDArray

from texbake.arrays import U8, U16

HEIGHT_STEPS = 65535
# Maps of 8 or 16 bits, and what a texel without cloth has, as a share of the largest code.
_BARE: Final = (
    ("albedo", None),
    ("roughness", 1.0),
    ("metal", 0.0),
    ("occlusion", 1.0),
    ("opacity", 1.0),
)
Empty = Callable[[tuple[int, ...], DTypeLike], NDArray[Any]]
_EIGHT: Final[Mapping[str, int]] = MappingProxyType({})


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class MapArrays:
    """The maps of one set. Row 0 is at the top. Codes are rounded half up.

    The green-down normals are not stored: they are ``normal_up`` with G' = 255 - G (65535 - G),
    derived where they are written, so the two cannot differ.

    Attributes
    ----------
    albedo : (H, W, 3) uint8 or uint16
        sRGB.
    roughness : (H, W) uint8 or uint16
        The square root of the GGX width alpha.
    metal : (H, W) uint8 or uint16
    occlusion : (H, W) uint8 or uint16
        255 (65535) = open.
    height : (H, W) uint16
        0 is ``height_lo_mm``, 65535 is ``height_hi_mm``.
    normal_up : (H, W, 3) uint8 or uint16
        Green-up (glTF 2.0); blue is never under the middle, 128 (32768).
    height_lo_mm, height_hi_mm : float
    opacity : (H, W) uint8 or uint16, or None
        0 = hole, 255 (65535) = cloth; None where no cloth of the set has holes.
    """

    albedo: U8 | U16
    roughness: U8 | U16
    metal: U8 | U16
    occlusion: U8 | U16
    height: U16
    normal_up: U8 | U16
    height_lo_mm: float
    height_hi_mm: float
    opacity: U8 | U16 | None = None

    @property
    def height_step_mm(self) -> float:
        """The height of one code, mm."""
        return (self.height_hi_mm - self.height_lo_mm) / HEIGHT_STEPS

    @property
    def images(self) -> tuple[U8 | U16, ...]:
        """All images, in a fixed order."""
        return (
            self.albedo,
            self.normal_up,
            self.height,
            self.roughness,
            self.occlusion,
            self.metal,
            *(() if self.opacity is None else (self.opacity,)),
        )


def blank(
    size_px: int,
    *,
    height_lo_mm: float,
    height_hi_mm: float,
    normal_bits: Literal[8, 16] = 8,
    bits: Mapping[str, int] = _EIGHT,
    holes: bool = False,
    empty: Empty = np.empty,
    bare: bool = True,
) -> MapArrays:
    """Make the maps of a set, all bare background: flat, rough, open, not metal, mid grey.

    Parameters
    ----------
    size_px : int
        Width and height, >= 1.
    height_lo_mm, height_hi_mm : float
        The heights that codes 0 and 65535 stand for. What lies outside will be clipped.
    normal_bits : 8 or 16
    bits : mapping of str to int
        8 or 16 of other maps, by name; 8 for those that it does not name. "normal-up" stands for
        ``normal_bits``.
    holes : bool
        With an opacity map.
    empty : callable
        Makes an array of a shape and a kind: where the maps are to lie.
    bare : bool
        Whether to write the background; False: what ``empty`` gave stays.

    Raises
    ------
    ValueError
        If the size is under 1, or the range is empty or not finite.
    """
    if size_px < 1:
        raise ValueError(f"size_px is {size_px}; it is at least 1")
    span_mm = height_hi_mm - height_lo_mm
    if not (math.isfinite(span_mm) and span_mm > 0):
        raise ValueError(f"height range {height_lo_mm} to {height_hi_mm} mm is empty or not finite")
    maps = MapArrays(
        height=empty((size_px, size_px), np.uint16),
        normal_up=_image(size_px, bits.get("normal-up", normal_bits), empty, channels=3),
        height_lo_mm=height_lo_mm,
        height_hi_mm=height_hi_mm,
        **{
            name: _image(size_px, bits.get(name, 8), empty, channels=3 if share is None else 1)
            for name, share in _BARE
            if name != "opacity" or holes
        },
    )
    if bare:
        lay_bare(maps)
    return maps


def lay_bare(maps: MapArrays) -> None:
    """Write background into all of each map, in place."""
    span_mm = maps.height_hi_mm - maps.height_lo_mm
    level = min(max(-maps.height_lo_mm / span_mm, 0.0), 1.0)
    _fill(maps.height, math.floor(level * HEIGHT_STEPS + 0.5))
    flat = (128, 128, 255) if maps.normal_up.itemsize == 1 else (32768, 32768, 65535)
    _fill(maps.normal_up, flat)
    for name, share in _BARE:
        image = getattr(maps, name)
        if image is not None:
            top = 255 if image.itemsize == 1 else 65535
            _fill(image, 128 * top // 255 if share is None else int(share * top))


def bits_of(maps: MapArrays) -> dict[str, int]:
    """Bits of each image of a set but height, as `blank` takes them."""
    images: dict[str, U8 | U16 | None] = {
        "albedo": maps.albedo,
        "roughness": maps.roughness,
        "metal": maps.metal,
        "occlusion": maps.occlusion,
        "opacity": maps.opacity,
        "normal-up": maps.normal_up,
    }
    return {name: image.itemsize * 8 for name, image in images.items() if image is not None}


def _image(size_px: int, bits: int, empty: Empty, *, channels: int) -> U8 | U16:
    shape = (size_px, size_px) if channels == 1 else (size_px, size_px, channels)
    return empty(shape, np.uint8 if bits == 8 else np.uint16)


def _fill(image: U8 | U16, value: int | tuple[int, ...]) -> None:
    """Write one value into a whole image, by rows: by texels it takes 8 times as long."""
    row = np.empty(image.shape[1:], image.dtype)
    row[...] = value
    image[...] = row


def texel_items(image: U8 | U16) -> NDArray[Any]:
    """View an image, (H, W) or (H, W, C), as flat, with one item per texel.

    Several channels become one opaque item: scattering items takes 4.5 ns a texel, scattering rows
    of three 11 ns.
    """
    if image.ndim == 2:
        return image.reshape(-1)
    channels = image.shape[2]
    return image.reshape(-1, channels).view(f"V{channels * image.itemsize}").reshape(-1)
