"""The keys of a recipe that say which colourways there are.

An entry of ``colourways`` is one colourway, or a rule that makes many. All its other keys are
dotted paths, so the models here let any key pass: what a path may be is known only where the
recipe's fabrics and seams are.
"""

import re
from dataclasses import dataclass
from typing import Annotated, Any, ClassVar

from pydantic import BeforeValidator, ConfigDict, Field, model_validator

from texbake.recipe.keys import ColourValue, Keys, key, need
from texbake.recipe.kinds import Json, Kind, Number, Vector, Whole
from texbake.recipe.mistake import WrongValueError, advice, shown
from texbake.recipe.words import ColourText, FileWord, Text

MOST = 20_000  # colourways of a recipe
TABLE = "from"  # the key; Python has the word for itself
RULES = (TABLE, "each", "shades")  # an entry with one of them is many colourways
WORDS = ("like", *RULES, "set", "name", "tones")  # keys of an entry that are no paths
_PATH = Text(what="a path, as in drill.warp.colour")
_LAB = Vector(length=3, whole=False, limit=200.0)
_LIGHTNESS = Number(low=0.0, high=100.0)
_PARTS = ("name", "number", "colour", "lightness")


@dataclass(frozen=True, slots=True, eq=False)
class Range(Kind):
    """Lightness from and to."""

    def parse(self, value: object) -> tuple[float, float]:
        """Return both."""
        if not isinstance(value, list) or len(value) != 2:
            raise WrongValueError(f"found {shown(value)}", fix=f"write {self.words}")
        first, last = (self._one(number, k) for k, number in enumerate(value))
        if first == last:
            fix = f"write {self.words}"
            raise WrongValueError("there are no steps between two equal L", fix=fix)
        return first, last

    @staticmethod
    def _one(value: object, k: int) -> float:
        try:
            return _LIGHTNESS.parse(value)
        except WrongValueError as error:
            fix = "L goes from 0 (black) to 100 (white)"
            raise WrongValueError(error.what, fix=fix, at=(k,)) from None

    def json(self) -> Json:
        """Return an array of two."""
        return {"type": "array", "items": _LIGHTNESS.json(), "minItems": 2, "maxItems": 2}

    @property
    def words(self) -> str:
        """The form."""
        return "two L*, 0 to 100, as in [25, 85]"


@dataclass(frozen=True, slots=True, eq=False)
class Paths(Kind):
    """One path or several."""

    def parse(self, value: object) -> tuple[str, ...]:
        """Return them as a tuple."""
        if isinstance(value, str):
            return (_PATH.parse(value),)
        if not isinstance(value, list) or not value:
            raise WrongValueError(f"found {shown(value)}", fix=f"write {self.words}")
        return tuple(_PATH.checked(text, (k,)) for k, text in enumerate(value))

    def json(self) -> Json:
        """Return a text, or a list of them."""
        listed = {"type": "array", "items": {"type": "string"}, "minItems": 1}
        return {"anyOf": [{"type": "string"}, listed]}

    @property
    def words(self) -> str:
        """The form."""
        return "a path or a list of paths, as in [drill.warp.colour, drill.weft.colour]"


@dataclass(frozen=True, slots=True, eq=False)
class Each(Kind):
    """Colours, with names or without."""

    def parse(self, value: object) -> object:
        """Return them; each is checked."""
        items: list[tuple[int | str, object]]
        items = list(value.items()) if isinstance(value, dict) else []
        items = list(enumerate(value)) if isinstance(value, list) else items
        if not items:
            raise WrongValueError(f"found {shown(value)}", fix=f"write {self.words}")
        for at, colour in items:
            try:
                ColourText().parse(colour)
            except WrongValueError as error:
                raise WrongValueError(error.what, fix=error.fix, at=(at,)) from None
        return value

    def json(self) -> Json:
        """Return a list of colours, or a mapping."""
        colour = ColourText().json()
        listed = {"type": "array", "items": colour, "minItems": 1}
        return {"anyOf": [listed, {"type": "object", "additionalProperties": colour}]}

    @property
    def words(self) -> str:
        """The form."""
        return 'a list of colours, or a mapping of names to colours, as in {sand: "#b59b74"}'


@dataclass(frozen=True, slots=True, eq=False)
class Tones(Kind):
    """Paths, each with its difference in Lab; and ``of``."""

    def parse(self, value: object) -> dict[str, Any]:
        """Return them; each is checked."""
        if not isinstance(value, dict) or not set(value) - {"of"}:
            raise WrongValueError(f"found {shown(value)}", fix=f"write {self.words}")
        return {key: self._one(key, item) for key, item in value.items()}

    @staticmethod
    def _one(key: str, item: object) -> object:
        try:
            return _PATH.parse(item) if key == "of" else _LAB.parse(item)
        except WrongValueError as error:
            fix = error.fix if key == "of" else "write differences of L, a, b, as in [-12, 0, 0]"
            raise WrongValueError(error.what, fix=fix, at=(key, *error.at)) from None

    def json(self) -> Json:
        """Return a mapping of differences."""
        of = {"type": "string"}
        return {"type": "object", "properties": {"of": of}, "additionalProperties": _LAB.json()}

    @property
    def words(self) -> str:
        """The form."""
        return "paths to differences, as in {of: drill.warp.colour, hems.0.thread: [-12, 0, 0]}"


@dataclass(frozen=True, slots=True, eq=False)
class NamePattern(Kind):
    """The names of the colourways that a rule makes."""

    def parse(self, value: object) -> str:
        """Return it."""
        if not isinstance(value, str):
            raise WrongValueError(f"{shown(value)} is no text", fix=f"write {self.words}")
        parts = re.findall(r"{([^{}]*)}", value)
        for part in parts:
            if part not in _PARTS:
                fix = advice(part, _PARTS, f"allowed: {', '.join(_PARTS)}, each in {{ }}")
                raise WrongValueError(f"{shown(value)}: there is no {{{part}}}", fix=fix)
        if not re.fullmatch(r"[A-Za-z0-9_-]{0,64}", re.sub(r"{[a-z]+}", "", value)):
            fix = f"use {FileWord().words}"
            raise WrongValueError(f"{shown(value)} cannot be part of a file name", fix=fix)
        if not {"number", "colour", "lightness"} & set(parts):
            fix = "put {number} or {colour} in"
            raise WrongValueError(f"{shown(value)} gives all one name", fix=fix)
        return value

    def json(self) -> Json:
        """Return text with a pattern."""
        parts = "|".join(f"\\{{{p}\\}}" for p in _PARTS)
        return {"type": "string", "pattern": f"^([A-Za-z0-9_-]|{parts})+$"}

    @property
    def words(self) -> str:
        """The form."""
        return "text with {number}, {colour} or {lightness}, also {name}, that of the entry"


class ShadesKeys(Keys):
    """Shades of one hue, at even steps of lightness in CIE Lab."""

    noun: ClassVar[str] = "row of shades"
    of: ColourValue = need("Its hue and chroma; where sRGB has less, the chroma is less.", "navy")
    count: Annotated[int, Whole(low=2, high=1000)] = need("How many.", 6)
    lightness: Annotated[tuple[float, float], Range()] = Field(
        default=(25.0, 85.0), description="L* of the first and of the last.", examples=[[25, 85]]
    )


class ColourwayKeys(Keys):
    """A colourway, or a rule that makes many; all other keys are paths with their values."""

    noun: ClassVar[str] = "colourway"
    model_config = ConfigDict(extra="allow")
    like: Annotated[str | None, FileWord()] = key(
        None, "The colourway that it builds on; left out: the recipe itself.", "navy"
    )
    table: Annotated[str | None, Text(what="the path of a table")] = Field(
        default=None,
        alias="from",
        description="Many: a CSV table, from the recipe's folder; a row a colourway.",
        examples=["palette.csv"],
    )
    each: Annotated[Any, Each()] = Field(
        default=None,
        description="Many: one for each colour, which goes to all paths of set.",
        examples=[["navy", "#b3352b"], {"sand": "#b59b74", "buoy": "#b3352b"}],
    )
    shades: ShadesKeys | None = Field(
        default=None,
        description="Many: shades of one colour, each of which goes to all paths of set.",
        examples=[{"of": "navy", "count": 6}],
    )
    set: Annotated[tuple[str, ...] | None, Paths()] = key(
        None, "Paths that get the colour of each or shades.", "drill.colour"
    )
    name: Annotated[str | None, NamePattern()] = key(
        None,
        "Names of those of each or shades; left out: {colour} of each, {name}-{number} of shades.",
        "{name}-{lightness}",
    )
    tones: Annotated[dict[str, Any] | None, Tones()] = Field(
        default=None,
        description="Tone on tone: paths whose colour differs by so much in L, a, b from that at "
        "the path of; left out: from that of each or shades.",
        examples=[{"of": "drill.warp.colour", "seams.sides.thread": [-12, 0, 0]}],
    )

    @model_validator(mode="after")
    def _whole(self) -> "ColourwayKeys":
        """Refuse rules that are two, or half."""
        given = [word for word in RULES if self.given(word)]
        if len(given) > 1:
            fix = "keep one: an entry is one rule, and there may be several entries"
            raise WrongValueError(f"both {given[0]} and {given[1]}", fix=fix)
        dyes = given[0] if given and given[0] != TABLE else None
        if dyes is not None and self.set is None and self.tones is None:
            fix = "add set: the path or paths, as in set: drill.warp.colour"
            raise WrongValueError(f"nothing says what gets the colours of {dyes}", fix=fix)
        for word in ("set", "name"):
            if dyes is None and self.given(word):
                fix = "take it out, or add each: a list of colours, or shades"
                raise WrongValueError(f"{word} without each or shades", fix=fix, at=(word,))
        if dyes is None and self.tones is not None and "of" not in self.tones:
            fix = "add of: the path of the colour that they follow"
            raise WrongValueError("nothing says what tones follow", fix=fix, at=("tones",))
        return self

    def given(self, word: str) -> bool:
        """Say whether a key is there."""
        return getattr(self, "table" if word == TABLE else word) is not None


def _entries(value: Any) -> Any:  # noqa: ANN401  # as pydantic passes it
    """Read an entry with nothing behind it as the base, and ``from: FILE`` as an entry."""
    if not isinstance(value, dict):
        return value
    found: dict[str, Any] = {}
    for name, entry in value.items():
        bare = isinstance(entry, (str, list)) or (isinstance(entry, dict) and "of" in entry)
        if name in {"each", "shades"} and bare:
            fix = f"put it into an entry: dyed: {{{name}: ..., set: drill.warp.colour}}"
            raise WrongValueError(f"{name} stands by itself", fix=fix, at=(name,))
        table = name == TABLE and isinstance(entry, str)
        found[name] = {TABLE: entry} if table else {} if entry is None else entry
    return found


Entries = Annotated[
    dict[Annotated[str, FileWord()], ColourwayKeys],
    BeforeValidator(_entries, json_schema_input_type=dict[str, ColourwayKeys | str | None]),
]
