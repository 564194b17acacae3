"""One colourway as the range shows it."""

from dataclasses import dataclass

from texbake.arrays import F64, U8


@dataclass(frozen=True, slots=True, kw_only=True)
class Value:
    """A colour of a colourway.

    Attributes
    ----------
    of : str
        What has it: a fabric's name and its yarn system, or "thread".
    share : str
        How much of the yarn is of it, in percent; empty if all is.
    hex : str
        As the recipe means it, ``#rrggbb``.
    """

    of: str
    share: str
    hex: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Main:
    """A fabric that is worn, and the colour that shows most of it."""

    fabric: str
    hex: str


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Entry:
    """One colourway as the range shows it.

    Attributes
    ----------
    name : str
    mains : tuple of Main
        Fabrics that are worn, the one with the largest area first.
    values : tuple of Value
        All colours of cloth and thread, each of a kind once.
    lab : (3,) float64
        Mean colour of the first fabric, CIE Lab: what is sorted by.
    """

    name: str
    mains: tuple[Main, ...]
    values: tuple[Value, ...]
    lab: F64


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Card:
    """An entry with the garment dressed in it: (H, W, 3) uint8, sRGB."""

    entry: Entry
    view: U8
