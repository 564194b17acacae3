"""Colours and yarns as frozen values: lengths in mm, shares 0 to 1."""

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Literal

Triple = tuple[float, float, float]


def to_linear(encoded: float) -> float:
    """Decode one sRGB channel, 0 to 1, to linear light (IEC 61966-2-1)."""
    return encoded / 12.92 if encoded <= 0.04045 else math.pow((encoded + 0.055) / 1.055, 2.4)


def to_srgb(linear: float) -> float:
    """Encode one channel of linear light, 0 to 1, as sRGB (IEC 61966-2-1)."""
    return linear * 12.92 if linear <= 0.0031308 else 1.055 * math.pow(linear, 1 / 2.4) - 0.055


@dataclass(frozen=True, slots=True)
class Colour:
    """An sRGB colour, each channel encoded, 0 to 1."""

    srgb: Triple

    def __post_init__(self) -> None:
        """Refuse what cannot be."""
        if not all(0.0 <= c <= 1.0 for c in self.srgb):
            raise ValueError(f"a colour is three numbers in 0..1, not {self.srgb}")

    @property
    def linear(self) -> Triple:
        """The three channels in linear light, 0 to 1."""
        r, g, b = self.srgb
        return to_linear(r), to_linear(g), to_linear(b)

    @property
    def hex(self) -> str:
        """As ``#rrggbb``, rounded to 8 bits a channel."""
        return "#" + "".join(f"{round(c * 255):02x}" for c in self.srgb)


BLACK = Colour((0.0, 0.0, 0.0))


def mixed(parts: Iterable[tuple[Colour, float]]) -> Colour:
    """Mean of colours by share, in linear light."""
    known = list(parts)
    r, g, b = (min(to_srgb(math.fsum(s * c.linear[k] for c, s in known)), 1.0) for k in range(3))
    return Colour((r, g, b))


@dataclass(frozen=True, slots=True)
class Melange:
    """A yarn spun of fibres of several colours, with the share of each; shares sum to 1."""

    parts: tuple[tuple[Colour, float], ...]

    def __post_init__(self) -> None:
        """Refuse what cannot be."""
        total = math.fsum(share for _, share in self.parts)
        if not math.isclose(total, 1.0, abs_tol=1e-9):
            raise ValueError(f"shares of a melange sum to 1, not {total}")

    @property
    def mean(self) -> Colour:
        """The colour from far away: fibres mix in linear light."""
        return mixed(self.parts)


@dataclass(frozen=True, slots=True)
class Order:
    """The order of colours side by side in a warp or weft, repeated over the cloth.

    Attributes
    ----------
    slots : tuple of int
        Which of ``colours`` each yarn has, for one repeat.
    colours : tuple of Colour
    """

    slots: tuple[int, ...]
    colours: tuple[Colour, ...]

    def __post_init__(self) -> None:
        """Refuse what cannot be."""
        if not self.slots or set(self.slots) != set(range(len(self.colours))):
            raise ValueError(f"slots {self.slots} do not use {len(self.colours)} colours")

    @property
    def shares(self) -> tuple[float, ...]:
        """Of each colour among the yarns; sum 1."""
        return tuple(self.slots.count(k) / len(self.slots) for k in range(len(self.colours)))

    @property
    def mean(self) -> Colour:
        """The colour from far away."""
        return mixed(zip(self.colours, self.shares, strict=True))


@dataclass(frozen=True, slots=True, kw_only=True)
class Yarn:
    """One yarn system.

    Attributes
    ----------
    count_tex : float
        Grams per 1000 m (ISO 1144).
    per_cm : float
        Ends or picks per cm; 0 for the yarn of a knit or a felt.
    colour : Colour
        Of a melange, its mean.
    irregularity : float
        Coefficient of variation of the thickness along the yarn.
    lustre : float
        0 = dull staple, 1 = smooth filament.
    order : Order or None
        Colours of the yarns side by side; ``colour`` is then their mean.
    plies : int
        Single yarns twisted together; 1 to 4. ``count_tex`` is that of the whole.
    marl : tuple of Colour
        One colour per ply; empty: all alike. ``colour`` is their mean.
    spaced_mm : float
        With a melange: its parts follow one another along the yarn, each this long; 0 = fibres.
    slub : float
        Thickness of slubs over that of the yarn, less 1; 0 = none.
    hair : float
        0 = smooth, 1 = fuzzy.
    """

    count_tex: float
    per_cm: float
    colour: Colour
    melange: Melange | None = None
    twist: Literal["S", "Z"] = "Z"
    irregularity: float = 0.10
    metallic: bool = False
    lustre: float = 0.2
    order: Order | None = None
    plies: int = 1
    marl: tuple[Colour, ...] = ()
    spaced_mm: float = 0.0
    slub: float = 0.0
    hair: float = 0.2

    def __post_init__(self) -> None:
        """Refuse what cannot be."""
        if not self.count_tex > 0.0:
            raise ValueError(f"count_tex is {self.count_tex}, not above 0")
        if not self.per_cm >= 0.0:
            raise ValueError(f"per_cm is {self.per_cm}, below 0")

    @property
    def undyed(self) -> "Yarn":
        """The yarn in black; how its colours are shared out stays."""
        melange = self.melange and Melange(tuple((BLACK, share) for _, share in self.melange.parts))
        order = self.order and replace(self.order, colours=(BLACK,) * len(self.order.colours))
        marl = (BLACK,) * len(self.marl)
        return replace(self, colour=BLACK, melange=melange, order=order, marl=marl)

    @property
    def dyes(self) -> tuple[tuple[Colour, float], ...]:
        """Its colours with their shares, sum 1; one for a yarn of one colour."""
        if self.melange is not None:
            return self.melange.parts
        if self.order is not None:
            return tuple(zip(self.order.colours, self.order.shares, strict=True))
        if self.marl:
            return tuple((colour, 1.0 / len(self.marl)) for colour in self.marl)
        return ((self.colour, 1.0),)
