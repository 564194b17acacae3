"""What one unit of a mesh file is, judged by how big the garment would then be."""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np

from texbake.arrays import F64

# In the order of preference where several are plausible: what files are mostly drawn in first.
UNITS_MM: Mapping[str, float] = MappingProxyType({"cm": 10.0, "m": 1000.0, "mm": 1.0, "in": 25.4})
# The greatest side of a garment for people, mm: a child's vest to a long coat or held out sleeves.
PLAUSIBLE_MM = (300.0, 2200.0)
# Outside these the usual unit is taken for a mistake; between, gloves and trains are real.
POSSIBLE_MM = (100.0, 3000.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Unit:
    """One unit of a mesh file.

    Attributes
    ----------
    word : str
        As a recipe writes it: ``m``, ``cm``, ``mm`` or ``in``.
    mm : float
    size_mm : (float, float, float)
        The garment's box in this unit.
    guessed : bool
        It is not the unit that was asked about, as that gave an absurd size.
    plausible : bool
        The garment would fit a person.
    """

    word: str
    mm: float
    size_mm: tuple[float, float, float]
    guessed: bool
    plausible: bool


def unit_guess(points: F64, *, usual_mm: float, sure: bool = False) -> Unit:
    """Keep the usual unit if the garment can be that big, else take one in which it can.

    Parameters
    ----------
    points : (N, 3) float64
        In the file's own unit; only those that cloth uses.
    usual_mm : float
        The usual unit: 10 for OBJ, 1000 for glTF; or what the user says it is. One of 1, 10,
        25.4 and 1000.
    sure : bool
        The user says so: no other is taken, whatever the size.

    Returns
    -------
    Unit
        If no unit makes the garment plausible, the usual one, not guessed and not plausible.

    Raises
    ------
    ValueError
        For a unit that recipes do not know.
    """
    words = {mm: word for word, mm in UNITS_MM.items()}
    if usual_mm not in words:
        raise ValueError(f"usual_mm is {usual_mm}; it must be one of {sorted(words)}")
    side = np.ptp(points, axis=0)
    greatest = float(side.max())
    low, high = POSSIBLE_MM
    if low <= greatest * usual_mm <= high:
        return _unit(words[usual_mm], side, guessed=False, plausible=True)
    for word, mm in () if sure else UNITS_MM.items():
        if PLAUSIBLE_MM[0] <= greatest * mm <= PLAUSIBLE_MM[1]:
            return _unit(word, side, guessed=True, plausible=True)
    return _unit(words[usual_mm], side, guessed=False, plausible=False)


def _unit(word: str, side: F64, *, guessed: bool, plausible: bool) -> Unit:
    x, y, z = (float(s) * UNITS_MM[word] for s in side)
    return Unit(
        word=word, mm=UNITS_MM[word], size_mm=(x, y, z), guessed=guessed, plausible=plausible
    )
