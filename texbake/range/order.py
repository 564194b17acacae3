"""The order of a range: by hue, by lightness, or as the recipe lists it.

Hue alone would set pale and deep at random side by side, so hues are taken in families of 30
degrees, and within a family colours run from light to dark. What has next to no chroma has no hue
to speak of: greys stand apart, after the colours.
"""

from collections.abc import Sequence
from typing import Final

import numpy as np

from texbake.range.values import Entry

SORTS: Final = ("hue", "lightness", "listed")
FAMILY_DEG: Final = 30.0  # twelve families, as many as colour wheels have
FIRST_DEG: Final = 0.0  # CIE Lab: pinkish red, then orange, yellow, green, blue, purple
GREY: Final = 5.0  # C*ab under which a cloth counts as grey (by eye, no source)


def ordered(entries: Sequence[Entry], sort: str) -> list[Entry]:
    """Sort a range.

    Parameters
    ----------
    entries : sequence of Entry
        As the recipe lists them.
    sort : 'hue', 'lightness' or 'listed'
        Lightness runs from light to dark. What ties stays as listed.
    """
    if sort == "listed":
        return list(entries)
    return sorted(entries, key=_by_hue if sort == "hue" else _by_lightness)


def is_grey(entry: Entry) -> bool:
    """Say whether a colour counts as grey."""
    return bool(np.hypot(entry.lab[1], entry.lab[2]) < GREY)


def _by_lightness(entry: Entry) -> float:
    return -round(float(entry.lab[0]), 6)


def _by_hue(entry: Entry) -> tuple[int, float]:
    hue = np.degrees(np.arctan2(entry.lab[2], entry.lab[1])) - FIRST_DEG
    family = int(round(float(hue), 6) % 360.0 // FAMILY_DEG)
    return (99 if is_grey(entry) else family), _by_lightness(entry)
