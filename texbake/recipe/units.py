"""Quantities with their unit as text: ``20 tex``, ``1/4 in``, ``15 deg``, ``12 /cm``, ``60 %``.

Each ``Quantity`` lists its units, each with the factor that leads to the unit used inside
(tex, mm, radians, per cm, shares). Indirect yarn counts (Ne, Nm) are lengths per mass, so they
divide; in them ``40/2`` is a yarn of two plies.
"""

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

from texbake.recipe.mistake import WrongValueError, advice, shown

NUMBER = r"(?:\d+\.?\d*|\.\d+)"


@dataclass(frozen=True, slots=True, kw_only=True)
class Quantity:
    """One kind of quantity.

    Attributes
    ----------
    units : mapping of str to float
        Unit to factor: inside value = number * factor.
    inverse : mapping of str to float
        Unit to numerator: inside value = numerator / number.
    shown : str
        The unit in which messages give limits.
    bare : bool
        A number without a unit is allowed, and is in the unit used inside.
    fractions : bool
        ``1/4`` and ``1 1/4`` are numbers too.
    """

    name: str
    units: Mapping[str, float]
    shown: str
    inverse: Mapping[str, float] = field(default_factory=lambda: MappingProxyType({}))
    bare: bool = False
    fractions: bool = False

    @property
    def all_units(self) -> tuple[str, ...]:
        """Every unit, as written."""
        return (*self.units, *self.inverse)

    @property
    def one(self) -> str:
        """Its name with the article."""
        return f"{'an' if self.name[0] in 'aeiou' else 'a'} {self.name}"

    def text(self, value: float) -> str:
        """Write an inside value in the unit of messages."""
        return f"{value / self.units[self.shown]:.6g} {self.shown}"


# ISO 1144: tex is g per 1000 m; the denier is g per 9000 m. Ne counts hanks of 840 yards per
# pound: 453.59237 g / (840 * 0.9144 m) * 1000 = 590.541 tex. Nm is km per kg.
TEX_NE = 453.59237 / (840 * 0.9144) * 1000
COUNT = Quantity(
    name="yarn count",
    units=MappingProxyType({"tex": 1.0, "dtex": 0.1, "den": 1 / 9, "denier": 1 / 9}),
    inverse=MappingProxyType({"Ne": TEX_NE, "Nm": 1000.0}),
    shown="tex",
)
LENGTH = Quantity(
    name="length",
    units=MappingProxyType({"mm": 1.0, "cm": 10.0, "m": 1000.0, "in": 25.4}),
    shown="mm",
    fractions=True,
)
ANGLE = Quantity(
    name="angle", units=MappingProxyType({"deg": math.pi / 180, "rad": 1.0}), shown="deg"
)
DENSITY = Quantity(
    name="density", units=MappingProxyType({"/cm": 1.0, "/in": 1 / 2.54}), shown="/cm"
)
ENDS = Quantity(name="density", units=DENSITY.units, shown="/cm", bare=True)
SHARE = Quantity(name="share", units=MappingProxyType({"%": 0.01}), shown="%", bare=True)
PER_AREA = Quantity(
    name="number per area",
    units=MappingProxyType({"/dm2": 1.0, "/cm2": 100.0, "/m2": 0.01}),
    shown="/dm2",
)
QUANTITIES = (COUNT, LENGTH, ANGLE, DENSITY, SHARE, PER_AREA)

_FORM = re.compile(
    rf"^\s*(?P<before>Ne|Nm)?\s*(?P<sign>[+-]?)(?P<number>{NUMBER})"
    rf"(?:\s+(?P<over>\d+)\s*/\s*(?P<under>\d+)|/(?P<parts>\d+))?\s*(?P<unit>[^\d\s.,].*?)?\s*$"
)


def parse(quantity: Quantity, value: object, example: str) -> float:
    """Return a quantity in the unit used inside.

    Raises
    ------
    WrongValueError
        No number, no unit, a unit of another kind, or not finite.

    >>> parse(LENGTH, "1 1/4 in", "2.5 mm"), parse(COUNT, "Nm 40/2", "20 tex")
    (31.75, 50.0)
    """
    if isinstance(value, (int, float)) and not isinstance(value, bool):
        return _bare(quantity, float(value), example)
    found = _FORM.match(value) if isinstance(value, str) else None
    if found is None or (found["before"] and found["unit"]):
        raise WrongValueError(
            f"{shown(value)} is no {quantity.name}", fix=_fix(quantity, value, example)
        )
    unit = found["before"] or found["unit"]
    if unit is None:
        return _bare(quantity, _number(found, value), example)
    if unit not in quantity.all_units:
        raise WrongValueError(
            _wrong_unit(quantity, value, unit), fix=_unit_fix(quantity, unit, example)
        )
    if (found["parts"] or found["over"]) and not (quantity.fractions or unit in quantity.inverse):
        raise WrongValueError(
            f"{shown(value)}: no fraction here", fix=_fix(quantity, value, example)
        )
    return _convert(quantity, unit, _number(found, value), value)


def _number(found: re.Match[str], value: object) -> float:
    """Return the number of a match, fractions included."""
    whole = float(found["number"])
    below = float(found["parts"] or found["under"] or 1.0)
    if below == 0.0:
        raise WrongValueError(f"{shown(value)} divides by 0", fix="write a number under the line")
    total = whole + float(found["over"]) / below if found["over"] else whole / below
    return -total if found["sign"] == "-" else total


def _convert(quantity: Quantity, unit: str, number: float, value: object) -> float:
    if unit in quantity.units:
        return number * quantity.units[unit]
    if number <= 0.0:
        raise WrongValueError(
            f"{shown(value)} is not above 0", fix="write a count above 0, as in Ne 30"
        )
    return quantity.inverse[unit] / number


def _bare(quantity: Quantity, number: float, example: str) -> float:
    if not math.isfinite(number):
        raise WrongValueError(
            f"{number:g} is not finite", fix=f"write {quantity.one}, as in {example}"
        )
    if not quantity.bare:
        unit = example.rsplit(maxsplit=1)[-1]
        proposal = f"Ne {number:g}" if unit in quantity.inverse else f"{number:g} {unit}"
        fix = f"say the unit, as in {proposal}; units: {', '.join(quantity.all_units)}"
        raise WrongValueError(f"{number:g} has no unit", fix=fix)
    return number


def _wrong_unit(quantity: Quantity, value: object, unit: str) -> str:
    other = next((q for q in QUANTITIES if unit in q.all_units), None)
    if other is None:
        return f"{shown(value)}: no unit is called {unit!r}"
    return f"{shown(value)} is {other.one}, not {quantity.one}"


def _unit_fix(quantity: Quantity, unit: str, example: str) -> str:
    allowed = f"units of {quantity.one}: {', '.join(quantity.all_units)}; as in {example}"
    known = any(unit in q.all_units for q in QUANTITIES)
    return allowed if known else advice(unit, quantity.all_units, allowed)


def _fix(quantity: Quantity, value: object, example: str) -> str:
    if isinstance(value, str) and re.search(r"\d,\d", value):
        return f"write a point, not a comma: {value.strip().replace(',', '.')}"
    return f"write {quantity.one}, as in {example}; units: {', '.join(quantity.all_units)}"


def pattern(quantity: Quantity) -> str:
    """Return the regular expression (ECMA 262) of the text forms, for the JSON Schema."""
    fraction = r"(\s+\d+\s*/\s*\d+|/\d+)?" if quantity.fractions or quantity.inverse else ""
    units = "|".join(quantity.all_units)
    forms = [rf"[+-]?{NUMBER}{fraction}\s*({units}){'?' if quantity.bare else ''}"]
    if quantity.inverse:
        forms.append(rf"({'|'.join(quantity.inverse)})\s*{NUMBER}(/\d+)?")
    return rf"^\s*({'|'.join(forms)})\s*$"
