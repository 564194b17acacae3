"""Kinds of value: each reads what a recipe may write, and tells the JSON Schema its form.

A kind stands in the annotation of a model's field (``Annotated[float, Amount(...)]``), and
pydantic calls it. So there is one place for reading, for the schema and for the reference.
"""

import math
from abc import ABC, abstractmethod
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from pydantic import GetCoreSchemaHandler, GetJsonSchemaHandler
from pydantic_core import CoreSchema, core_schema

from texbake.recipe import units
from texbake.recipe.mistake import WrongValueError, nearest, shown

Json = dict[str, Any]


class Kind(ABC):
    """How one kind of value is read and described."""

    @abstractmethod
    def parse(self, value: object) -> object:
        """Return the value as the program uses it, or raise ``WrongValueError``."""

    @abstractmethod
    def json(self) -> Json:
        """Return the JSON Schema of what a recipe may write."""

    @property
    @abstractmethod
    def words(self) -> str:
        """What may be written, for the reference."""

    def __get_pydantic_core_schema__(
        self, source: object, handler: GetCoreSchemaHandler
    ) -> CoreSchema:
        """Have pydantic read values through ``parse``."""
        del source, handler
        return core_schema.no_info_plain_validator_function(self.parse)

    def __get_pydantic_json_schema__(
        self, schema: CoreSchema, handler: GetJsonSchemaHandler
    ) -> Json:
        """Have pydantic describe values through ``json``."""
        del schema, handler
        return self.json()


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Amount(Kind):
    """A quantity with its unit; ``low`` and ``high`` in the unit used inside."""

    of: units.Quantity
    low: float
    high: float
    example: str

    def parse(self, value: object) -> float:
        """Return the quantity in the unit used inside."""
        return _texts(self, value) if isinstance(value, str) else self.read(value)

    def read(self, value: object) -> float:
        """Return the quantity, read anew."""
        number = units.parse(self.of, value, self.example)
        # Limits are in decimal units, values in their product with a factor: allow the last bit.
        slack = 1e-9 * max(abs(self.low), abs(self.high))
        if not self.low - slack <= number <= self.high + slack:
            found = shown(value) if isinstance(value, str) else f"{value}"
            fix = f"allowed: {self.limits}"
            if self.of is units.SHARE and not isinstance(value, str):
                fix = f"say the unit, as in {number:g} %; {fix}"
            raise WrongValueError(f"{found} is out of range", fix=fix)
        return number

    @property
    def limits(self) -> str:
        """The range, in the unit of messages."""
        return f"{self.of.text(self.low)} to {self.of.text(self.high)}"

    def json(self) -> Json:
        """Text with a unit; a number too where the unit may be left out."""
        text = {"type": "string", "pattern": units.pattern(self.of)}
        if not self.of.bare:
            return text
        return {"anyOf": [{"type": "number", "minimum": self.low, "maximum": self.high}, text]}

    @property
    def words(self) -> str:
        """Kind, units and range."""
        return f"{self.of.name} ({', '.join(self.of.all_units)}), {self.limits}"


@lru_cache(maxsize=1024)  # defaults are read with every fabric, of 10,000 colourways too
def _texts(amount: Amount, text: str) -> float:
    """Read a quantity once."""
    return amount.read(text)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Amounts(Kind):
    """One quantity or a list of some."""

    each: Amount

    def parse(self, value: object) -> tuple[float, ...]:
        """Return them in the order given."""
        if not isinstance(value, list):
            return (self.each.parse(value),)
        if not value:
            raise WrongValueError("found an empty list", fix=f"write {self.words}")
        return tuple(self.each.parse(item) for item in value)

    def json(self) -> Json:
        """One, or an array."""
        one = self.each.json()
        return {"anyOf": [one, {"type": "array", "items": one, "minItems": 1}]}

    @property
    def words(self) -> str:
        """The form of one."""
        return f"{self.each.words}; or a list of some"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Number(Kind):
    """A number without a unit."""

    low: float
    high: float

    def parse(self, value: object) -> float:
        """Return it as a float."""
        allowed = f"a number from {self.low:g} to {self.high:g}"
        return _number(value, self.low, self.high, allowed)

    def json(self) -> Json:
        """Return a number with limits."""
        return {"type": "number", "minimum": self.low, "maximum": self.high}

    @property
    def words(self) -> str:
        """The range."""
        return f"number, {self.low:g} to {self.high:g}"


def _number(
    value: object, low: float, high: float, allowed: str, at: tuple[int, ...] = ()
) -> float:
    if not isinstance(value, (int, float)) or isinstance(value, bool):
        raise WrongValueError(f"{shown(value)} is no number", fix=f"write {allowed}", at=at)
    if not math.isfinite(value) or not low <= value <= high:
        raise WrongValueError(f"{value:g} is out of range", fix=f"allowed: {allowed}", at=at)
    return float(value)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Whole(Kind):
    """A whole number; ``powers`` of two only; or out of ``only``."""

    low: int
    high: int
    powers: bool = False
    only: tuple[int, ...] = ()

    def parse(self, value: object) -> int:
        """Return it as an int."""
        return self.checked(value, ())

    def checked(self, value: object, at: tuple[int, ...]) -> int:
        """Return it as an int; ``at`` is its place in a list."""
        if not isinstance(value, int) or isinstance(value, bool):
            raise WrongValueError(
                f"{shown(value)} is no whole number", fix=f"write {self.words}", at=at
            )
        if not self.low <= value <= self.high or (self.only and value not in self.only):
            raise WrongValueError(f"{value} is out of range", fix=f"allowed: {self.words}", at=at)
        if self.powers and value.bit_count() != 1:
            fix = f"the nearest allowed is {_nearest_power(value)}; allowed: {self.words}"
            raise WrongValueError(f"{value} is not a power of two", fix=fix, at=at)
        return value

    def json(self) -> Json:
        """Return an integer with limits."""
        if self.powers:
            steps = range(self.low.bit_length() - 1, self.high.bit_length())
            return {"type": "integer", "enum": [1 << k for k in steps]}
        if self.only:
            return {"type": "integer", "enum": list(self.only)}
        return {"type": "integer", "minimum": self.low, "maximum": self.high}

    @property
    def words(self) -> str:
        """The range."""
        if self.only:
            return " or ".join(map(str, self.only))
        kind = "power of two" if self.powers else "whole number"
        return f"{kind}, {self.low} to {self.high}"


def _nearest_power(value: int) -> int:
    below = 1 << (value.bit_length() - 1)
    return below if value - below <= 2 * below - value else 2 * below


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Vector(Kind):
    """A fixed number of numbers in a list."""

    length: int
    whole: bool
    limit: float

    def parse(self, value: object) -> tuple[float, ...]:
        """Return them as a tuple."""
        if not isinstance(value, list) or len(value) != self.length:
            found = f"{len(value)} number(s)" if isinstance(value, list) else shown(value)
            raise WrongValueError(f"found {found}", fix=f"write {self.words}")
        if self.whole:
            kind = Whole(low=-int(self.limit), high=int(self.limit))
            return tuple(kind.checked(v, (k,)) for k, v in enumerate(value))
        allowed = f"a number from {-self.limit:g} to {self.limit:g}"
        pairs = enumerate(value)
        return tuple(_number(v, -self.limit, self.limit, allowed, (k,)) for k, v in pairs)

    def json(self) -> Json:
        """Return an array of fixed length."""
        item = {"type": "integer" if self.whole else "number"}
        return {"type": "array", "items": item, "minItems": self.length, "maxItems": self.length}

    @property
    def words(self) -> str:
        """How many."""
        inner = ", ".join("xyz"[: self.length] if self.length == 3 else "uv")
        return f"[{inner}], {self.length} {'whole ' if self.whole else ''}numbers"


@dataclass(frozen=True, slots=True, eq=False)
class Islands(Kind):
    """Numbers of islands."""

    def parse(self, value: object) -> tuple[int, ...]:
        """Return them as a tuple, in the order given."""
        if not isinstance(value, list) or not value:
            raise WrongValueError(f"found {shown(value)}", fix=f"write {self.words}")
        kind = Whole(low=0, high=1_000_000)
        for k, number in enumerate(value):
            kind.checked(number, (k,))
            if number in value[:k]:
                raise WrongValueError(f"island {number} stands twice", fix="name it once", at=(k,))
        return tuple(value)

    def json(self) -> Json:
        """Return an array of integers."""
        item = {"type": "integer", "minimum": 0}
        return {"type": "array", "items": item, "minItems": 1, "uniqueItems": True}

    @property
    def words(self) -> str:
        """The form."""
        return "a list of whole numbers, as in [2, 5]"


@dataclass(frozen=True, slots=True, eq=False)
class Flag(Kind):
    """True or false."""

    def parse(self, value: object) -> bool:
        """Return it."""
        if isinstance(value, bool):
            return value
        raise WrongValueError(
            f"{shown(value)} is neither true nor false", fix="write true or false"
        )

    def json(self) -> Json:
        """Return a boolean."""
        return {"type": "boolean"}

    @property
    def words(self) -> str:
        """Both values."""
        return "true or false"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Choice(Kind):
    """One word out of a few, each with what it means."""

    of: Mapping[str, object]

    def parse(self, value: object) -> object:
        """Return the meaning of the word; a number counts as its digits (``stitch: 301``)."""
        plain_number = isinstance(value, int) and not isinstance(value, bool)
        word = str(value) if plain_number else value
        if isinstance(word, str) and word in self.of:
            return self.of[word]
        near = nearest(str(word), self.of)
        fix = f"allowed: {self.words}"
        fix = fix if near is None else f"did you mean {near!r}? {fix}"
        raise WrongValueError(f"{shown(value)} is not known here", fix=fix)

    def json(self) -> Json:
        """Return an enumeration; digits as numbers too."""
        return {"enum": [*self.of, *(int(word) for word in self.of if word.isdigit())]}

    @property
    def words(self) -> str:
        """Every word."""
        return ", ".join(self.of)
