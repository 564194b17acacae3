"""What the sheet says of cloth, in a mill's words."""

import unicodedata
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import chain
from typing import Final

from texbake.recipe.values import (
    Colour,
    Fabric,
    Recipe,
    Rib,
    Satin,
    Structure,
    Twill,
    Yarn,
)

# The typeface that comes with Pillow has these, and no letters with accents.
_THERE: Final = frozenset(map(chr, range(32, 127))) | frozenset("·°")
_SPELT: Final = {"ß": "ss", "æ": "ae", "Æ": "AE", "ø": "o", "Ø": "O", "ł": "l", "Ł": "L"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Dye:
    """A colour on the sheet, and what bears it."""

    colour: Colour
    said: str


def plain_text(text: str) -> str:
    """Return text in letters that the typeface has; accents fall off, what it lacks is '?'.

    >>> plain_text("Rücken, weiß, 船")
    'Rucken, weiss, ?'
    """
    spelt = "".join(_SPELT.get(letter, letter) for letter in text)
    bare = (c for c in unicodedata.normalize("NFKD", spelt) if not unicodedata.combining(c))
    return "".join(c if c in _THERE else "?" for c in bare)


def structure_words(structure: Structure) -> str:
    """Name a structure as a recipe does.

    >>> structure_words(Twill(over=2, under=1))
    'twill 2/1 Z'
    """
    if (words := getattr(structure, "words", None)) is not None:
        return str(words)
    if (rows := getattr(structure, "rows", None)) is not None:
        return f"drawn, {len(rows[0])} x {len(rows)}"
    match structure:
        case Twill(over=over, under=under, direction=direction):
            return f"twill {over}/{under} {direction}"
        case Satin(ends=ends, move=move):
            return f"satin {ends}/{move}"
        case Rib(face=face, back=back):
            return f"rib {face}x{back}"
        case _:
            names = {"plain": "plain weave", "jersey": "single jersey"}
            return names.get(structure.kind, structure.kind)


def fabric_words(fabric: Fabric) -> tuple[str, str]:
    """Return two lines on a fabric: its structure and setting, and its yarns."""
    name = structure_words(fabric.structure)
    if fabric.warp is not None and fabric.weft is not None:
        setting = f"{fabric.warp.per_cm:.3g} x {fabric.weft.per_cm:.3g} per cm"
        yarns = f"{fabric.warp.count_tex:.3g} and {fabric.weft.count_tex:.3g} tex"
    elif fabric.wales_per_cm > 0.0:
        setting = f"{fabric.wales_per_cm:.3g} x {fabric.courses_per_cm:.3g} per cm"
        yarns = "" if fabric.yarn is None else f"{fabric.yarn.count_tex:.3g} tex"
    else:
        thick = fabric.thickness_mm
        setting, yarns = "" if thick is None else f"{thick:.3g} mm", ""
    times = "life size" if fabric.scale == 1.0 else f"{fabric.scale:.3g} times life size"
    return _listed([name, setting]), _listed([yarns, times])


def _listed(parts: Sequence[str]) -> str:
    return ", ".join(part for part in parts if part)


def dyes(fabric: Fabric) -> Iterator[Dye]:
    """Give the colours of a fabric's yarns, those of a melange with their shares."""
    for what, yarn in (("warp", fabric.warp), ("weft", fabric.weft), ("", fabric.yarn)):
        if yarn is not None:
            yield from _yarn_dyes(what, yarn)


def _yarn_dyes(what: str, yarn: Yarn) -> Iterator[Dye]:
    several = len(yarn.dyes) > 1
    for colour, share in sorted(yarn.dyes, key=lambda part: -part[1]):
        yield Dye(colour=colour, said=_spaced(what, colour.hex, f"{share:.0%}" if several else ""))


def _spaced(*words: str) -> str:
    return " ".join(word for word in words if word)


def thread_colours(recipe: Recipe) -> tuple[Colour, ...]:
    """Return the colours of sewing threads that a recipe names, each once."""
    sewn = (entry for entry in chain(recipe.seams, recipe.hems) if entry.stitch is not None)
    named = (entry.thread.colour for entry in sewn)
    return tuple(dict.fromkeys(colour for colour in named if colour is not None))
