"""What each file of a set holds: codes or values of its maps, made a band of rows at a time."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import partial
from types import MappingProxyType
from typing import Any, Final, Literal

import numpy as np
from numpy.typing import NDArray

from texbake.arrays import F32, U8, U16
from texbake.deliver.exr import write_exr_rows
from texbake.deliver.naming import key_of_map
from texbake.deliver.png import Sink, write_png_rows
from texbake.deliver.tiff import write_tiff_rows
from texbake.maps import MapArrays, to_eight
from texbake.maps.halving import light_of, shares
from texbake.recipe.delivery_values import COLOURS, IN_THREE, Delivery, Format, Packed, Source

Holds = Literal["codes", "linear light", "vectors", "mm", "shares", "values"]
Convention = Literal["green-up", "green-down"]
_DOWN: Final = "normal-down"
_EVERYTHING: Final = Delivery()
_NO_SIZES: Final[Mapping[int, MapArrays]] = MappingProxyType({})


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Picture:
    """One file to deliver.

    Attributes
    ----------
    name : str
        Of a map, or of a packed map.
    maps : MapArrays
        Of the size of the file.
    format : 'png', 'tiff' or 'exr'
    bits : int
    sources : mapping of str to Source
        What each channel holds, for a packed map; empty for a map by itself.
    """

    name: str
    maps: MapArrays
    format: Format = "png"
    bits: int = 8
    sources: Mapping[str, Source] = field(default_factory=dict)
    is_colour: bool = False

    @property
    def shape(self) -> tuple[int, int, int]:
        """Height, width and channels."""
        height, width = self.maps.height.shape
        return height, width, len(self.sources) or (3 if self.name in IN_THREE else 1)

    @property
    def srgb(self) -> bool:
        """Whether its colours are sRGB codes."""
        return self.is_colour and self.format != "exr"

    @property
    def convention(self) -> Convention | None:
        """Which way green points, of normals in red, green and blue."""
        own = [self.sources.get(c, Source(map=self.name)).map for c in COLOURS]
        if own == ["normal-up"] * 3:
            return "green-up"
        return "green-down" if own == [_DOWN] * 3 else None

    @property
    def holds(self) -> Holds:
        """What its samples are."""
        if self.format != "exr":
            return "codes"
        if self.sources:
            return "values"
        own: dict[str, Holds] = {"albedo": "linear light", "height": "mm"}
        return own.get(self.name, "vectors" if self.name in IN_THREE else "shares")

    @property
    def packed(self) -> dict[str, str]:
        """What each channel holds, in words."""
        return {channel: source.words for channel, source in self.sources.items()}

    def write(self, out: Sink) -> None:
        """Write it in its format."""
        if self.format == "png":
            write_png_rows(out, self.codes, self.shape, bits=self.bits, srgb=self.srgb)
        elif self.format == "tiff":
            write_tiff_rows(out, self.codes, self.shape, bits=self.bits)
        else:
            light = light_of(self.maps.albedo.dtype)
            told = f"{self.name}: {self.holds}"
            rows = partial(self.values, light=light)
            write_exr_rows(out, rows, self.shape, bits=self.bits, comments=told)

    def codes(self, band: slice) -> U8 | U16:
        """Return a band of rows as codes, (R, W) or (R, W, C)."""
        if not self.sources:
            return _fitted(_whole(self.maps, self.name, band), self.bits)
        if len(self.sources) == 1:
            return _fitted(_channel(self.maps, next(iter(self.sources.values())), band), self.bits)
        planes = [
            _fitted(_channel(self.maps, source, band), self.bits)
            for source in self.sources.values()
        ]
        stacked: U8 | U16 = np.stack(planes, axis=-1)  # type: ignore[assignment]  # all of one type
        return stacked

    def values(self, band: slice, *, light: F32) -> F32:
        """Return a band of rows as values, (R, W, C) float32; ``light``: of albedo's codes."""
        sources = [*self.sources.values()] or [
            Source(map=self.name, channel=channel) for channel in range(self.shape[2])
        ]
        planes = [
            _valued(_channel(self.maps, source, band), source.map, self.maps, light)
            for source in sources
        ]
        return np.stack(planes, axis=-1)


def pictures(
    maps: MapArrays,
    delivery: Delivery = _EVERYTHING,
    *,
    smaller: Mapping[int, MapArrays] = _NO_SIZES,
    normal_bits: int = 8,
) -> Mapping[str, Picture]:
    """Return every file of a set by its key, the largest first: so threads end together.

    Parameters
    ----------
    maps : MapArrays
        As baked.
    delivery : Delivery
    smaller : mapping of int to MapArrays
        By size, px: every size to deliver that is not that of ``maps``.
    normal_bits : 8 or 16
        Of normal maps of which ``delivery`` says nothing.
    """
    full = len(maps.height)
    found: dict[str, Picture] = {}
    for size in delivery.sizes_px(full):
        own = maps if size == full else smaller[size]
        packed = {one.name: one for one in delivery.packed}
        for name in delivery.names(holes=maps.opacity is not None):
            found[key_of_map(name, size, full)] = _picture(
                name, own, delivery, packed.get(name), normal_bits
            )
    return dict(sorted(found.items(), key=lambda item: (-_bytes(item[1]), item[0])))


def _picture(
    name: str, maps: MapArrays, delivery: Delivery, packed: Packed | None, normal_bits: int
) -> Picture:
    """Return one file."""
    return Picture(
        name=name,
        maps=maps,
        format=delivery.format_of(name),
        bits=delivery.bits_of(name, normal_bits),
        sources={} if packed is None else packed.channels,
        is_colour=name == "albedo" if packed is None else packed.is_colour,
    )


def _bytes(picture: Picture) -> int:
    """Bytes before compression."""
    height, width, channels = picture.shape
    return height * width * channels * picture.bits // 8


def _whole(maps: MapArrays, name: str, band: slice) -> U8 | U16:
    """Return a band of one map, all its channels."""
    if name == _DOWN:
        rows = maps.normal_up[band].copy()
        np.invert(rows[..., 1], out=rows[..., 1])  # the maximum less the value, to the bit
        return rows
    return _image(maps, name)[band]


def _image(maps: MapArrays, name: str) -> U8 | U16:
    """Return the image of a map; opacity is white where there are no holes."""
    if name in {"normal-up", _DOWN}:
        return maps.normal_up
    if name == "opacity" and maps.opacity is None:
        return np.broadcast_to(np.uint8(255), maps.height.shape)
    image: U8 | U16 = getattr(maps, name)
    return image


def _channel(maps: MapArrays, source: Source, band: slice) -> U8 | U16:
    """Return a band of one channel, (R, W)."""
    if source.map in {"black", "white"}:
        height, width = maps.height[band].shape
        code = 0 if (source.map == "black") != source.inverted else 255
        return np.full((height, width), code, np.uint8)
    image = _image(maps, source.map)[band]
    rows = image if image.ndim == 2 else image[..., source.channel]
    turned = source.map == _DOWN and source.channel == 1
    return np.invert(rows) if turned != source.inverted else rows


def _fitted(rows: U8 | U16, bits: int) -> U8 | U16:
    """Return codes in another number of bits: times 257, or divided by it and rounded."""
    if bits == 8:
        return to_eight(rows)
    return rows.astype(np.uint16) * np.uint16(257) if rows.dtype == np.uint8 else rows


def _valued(rows: NDArray[Any], name: str, maps: MapArrays, light: F32) -> F32:
    """Turn the codes of a map into values."""
    if name == "albedo":
        return np.asarray(np.take(light, rows), np.float32)
    values = shares(rows)
    if name in IN_THREE:
        values *= 2.0
        values -= 1.0
    elif name == "height":
        values *= maps.height_hi_mm - maps.height_lo_mm
        values += maps.height_lo_mm
    return values
