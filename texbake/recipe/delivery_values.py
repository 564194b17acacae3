"""What a recipe says of the files of a set: frozen values."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Final, Literal

MAPS: Final = (
    "albedo",
    "roughness",
    "metal",
    "normal-up",
    "normal-down",
    "height",
    "occlusion",
    "opacity",
)
IN_THREE: Final = ("albedo", "normal-up", "normal-down")  # channels; all others have one
CONSTANTS: Final = ("black", "white")
COLOURS: Final = ("red", "green", "blue")
CHANNELS: Final = ("grey", *COLOURS, "alpha")
ALL: Final = "all"
PARTS: Final[Mapping[str, int]] = MappingProxyType(
    {"full": 1, "half": 2, "quarter": 4, "eighth": 8}
)
LEAST_PX: Final = 16
# Bits that a format holds, those that a map usually gets first; EXR has halves and floats.
FORMATS: Final[Mapping[str, tuple[int, ...]]] = MappingProxyType(
    {"png": (8, 16), "tiff": (8, 16), "exr": (16, 32)}
)
Format = Literal["png", "tiff", "exr"]
ENDINGS: Final[Mapping[str, str]] = MappingProxyType({"png": ".png", "tiff": ".tif", "exr": ".exr"})


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """What goes into a channel of a packed map.

    Attributes
    ----------
    map : str
        A map, or "black" or "white".
    channel : int
        Which of a map that has three; 0 of others.
    inverted : bool
        White less its value.
    """

    map: str
    channel: int = 0
    inverted: bool = False

    @property
    def words(self) -> str:
        """As a recipe writes it."""
        part = f" {COLOURS[self.channel]}" if self.map in IN_THREE else ""
        return f"{'inverted ' if self.inverted else ''}{self.map}{part}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Packed:
    """Several maps as the channels of one file.

    Attributes
    ----------
    name : str
        Stands for the map in the file's name.
    channels : mapping of str to Source
        One, three (red, green and blue), or these and alpha; of `CHANNELS`, in that order.
    """

    name: str
    channels: Mapping[str, Source]

    @property
    def is_colour(self) -> bool:
        """Whether it is an albedo, as it is, with or without something in alpha."""
        own = [self.channels.get(name) for name in COLOURS]
        return own == [Source(map="albedo", channel=k) for k in range(3)]

    @property
    def maps(self) -> tuple[str, ...]:
        """The maps that it is made of."""
        return tuple(dict.fromkeys(s.map for s in self.channels.values() if s.map in MAPS))


@dataclass(frozen=True, slots=True, kw_only=True)
class Delivery:
    """The files of a set.

    Attributes
    ----------
    maps : tuple of str
        Those that have a file of their own; "opacity" counts where cloth has holes.
    sizes : tuple of int or str
        Width and height, px, or a word of `PARTS`.
    format, bits : mapping of str to str, and to int
        By map or packed map; "all" stands for those that are not named.
    packed : tuple of Packed
    """

    maps: tuple[str, ...] = MAPS
    sizes: tuple[int | str, ...] = ("full",)
    format: Mapping[str, Format] = field(default_factory=lambda: MappingProxyType({}))
    bits: Mapping[str, int] = field(default_factory=lambda: MappingProxyType({}))
    packed: tuple[Packed, ...] = ()

    def sizes_px(self, size_px: int) -> tuple[int, ...]:
        """Return the sizes to deliver, the largest first, of maps baked at ``size_px``.

        >>> Delivery(sizes=("full", "half", 512)).sizes_px(2048)
        (2048, 1024, 512)
        >>> Delivery(sizes=(1024,)).sizes_px(256)
        (256,)
        """
        found = {size_px // PARTS[s] if isinstance(s, str) else s for s in self.sizes}
        fit = {min(max(size, LEAST_PX), size_px) for size in found}
        return tuple(sorted(fit, reverse=True))

    def names(self, *, holes: bool) -> tuple[str, ...]:
        """Return the names of all maps that get a file, packed ones last."""
        own = (name for name in self.maps if holes or name != "opacity")
        return (*own, *(packed.name for packed in self.packed))

    def format_of(self, name: str) -> Format:
        """Return the format of a map's file."""
        return self.format.get(name, self.format.get(ALL, "png"))

    def bits_of(self, name: str, normal_bits: int) -> int:
        """Return the bits of each channel of a map's file.

        Parameters
        ----------
        name : str
            Of a map or a packed map.
        normal_bits : 8 or 16
            Of normal maps that nothing is said of.
        """
        held = FORMATS[self.format_of(name)]
        asked = self.bits.get(name, self.bits.get(ALL))
        if asked in held:
            return asked
        usual = {"height": held[-1], "normal-up": normal_bits, "normal-down": normal_bits}
        wanted = usual.get(name, held[0])
        return wanted if wanted in held else held[0]

    def depths(self, normal_bits: int) -> dict[str, int]:
        """Return the bits that each map must be baked in, so that every file gets its own."""
        found = dict.fromkeys(MAPS, 8)
        wanted = [(name, name) for name in self.maps]
        wanted += [(one.name, part) for one in self.packed for part in one.maps]
        for file, name in wanted:
            found[name] = max(found[name], min(self.bits_of(file, normal_bits), 16))
        up, down = found.pop("normal-up"), found.pop("normal-down")
        return {**found, "normal-up": max(up, down, normal_bits)}
