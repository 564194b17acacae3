"""Kinds of text: colours, phrases, drafts, names of panels and of files."""

import re
import unicodedata
from collections.abc import Callable
from dataclasses import dataclass

from texbake.recipe import colours, values
from texbake.recipe.css_names import CSS_NAMES
from texbake.recipe.kinds import Json, Kind
from texbake.recipe.mistake import WrongValueError, advice, shown

MOST_FILES = 50  # that a recipe includes


@dataclass(frozen=True, slots=True, eq=False)
class ColourText(Kind):
    """A colour."""

    def parse(self, value: object) -> values.Colour:
        """Return a ``Colour``."""
        if isinstance(value, str):
            return colours.parse_colour(value)
        if isinstance(value, int) and not isinstance(value, bool):
            # Six digits, or what 0x stood before: YAML has read it as a number.
            digits = f"{value:06d}" if value < 1_000_000 else f"{value:06x}"
            fix = f'write {colours.FORMS}; # goes in front: "#{digits}"'
            raise WrongValueError(f"{value} is no colour", fix=fix)
        raise WrongValueError(f"{shown(value)} is no colour", fix=f"write {colours.FORMS}")

    def json(self) -> Json:
        """Hex, Lab, or a name; CSS names do not mind capitals, which no enumeration can say."""
        forms = [
            {"pattern": colours.HEX},
            {"pattern": r"^\s*[lL][aA][bB]\("},
            {"enum": list(CSS_NAMES)},
            {"pattern": "^[a-zA-Z]*[A-Z][a-zA-Z]*$"},
        ]
        return {"type": "string", "anyOf": forms}

    @property
    def words(self) -> str:
        """The forms."""
        return f"colour: {colours.FORMS}"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Phrase(Kind):
    """Text of a form that a function reads."""

    read: Callable[[str], object]
    form: str
    examples: str

    def parse(self, value: object) -> object:
        """Return what the function makes of it."""
        if isinstance(value, str):
            return self.read(value)
        raise WrongValueError(f"{shown(value)} is no text", fix=f"write one like: {self.examples}")

    def json(self) -> Json:
        """Return text with a pattern."""
        return {"type": "string", "pattern": self.form}

    @property
    def words(self) -> str:
        """Examples."""
        return f"text like: {self.examples}"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Colours(Kind):
    """A list of colours."""

    low: int
    high: int

    def parse(self, value: object) -> tuple[values.Colour, ...]:
        """Return them in their order."""
        if not isinstance(value, list) or not self.low <= len(value) <= self.high:
            raise WrongValueError(
                f"{shown(value)} is no list of colours", fix=f"write {self.words}"
            )
        return tuple(ColourText().parse(item) for item in value)

    def json(self) -> Json:
        """Return a list of the forms of a colour."""
        items = ColourText().json()
        return {"type": "array", "items": items, "minItems": self.low, "maxItems": self.high}

    @property
    def words(self) -> str:
        """The form."""
        return f"a list of {self.low} to {self.high} colours"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Rows(Kind):
    """A drawn weave."""

    read: Callable[[object], object]

    def parse(self, value: object) -> object:
        """Return what the function makes of it."""
        return self.read(value)

    def json(self) -> Json:
        """Return rows of x and dots."""
        return {
            "type": "array",
            "items": {"type": "string", "pattern": "^[x.]{1,64}$"},
            "minItems": 1,
            "maxItems": 64,
        }

    @property
    def words(self) -> str:
        """The form."""
        return 'rows of x (warp on top) and . (weft on top), top row first, as in ["x.", ".x"]'


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Loops(Kind):
    """A drawn knit."""

    read: Callable[[object], object]

    def parse(self, value: object) -> object:
        """Return what the function makes of it."""
        return self.read(value)

    def json(self) -> Json:
        """Return rows of k and p."""
        return {
            "type": "array",
            "items": {"type": "string", "pattern": "^[kp]{1,32}$"},
            "minItems": 1,
            "maxItems": 32,
        }

    @property
    def words(self) -> str:
        """The form."""
        return 'rows of k (face loop) and p (back loop), top row first, as in ["kp", "pk"]'


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Text(Kind):
    """Any text on one line; ``taken`` are words that mean something else."""

    what: str
    taken: tuple[str, ...] = ()

    def parse(self, value: object) -> str:
        """Return it without blanks around."""
        return self.checked(value, ())

    def checked(self, value: object, at: tuple[int, ...]) -> str:
        """Return it without blanks around; ``at`` is its place in a list."""
        if not isinstance(value, str):
            known = isinstance(value, (bool, int, float))
            fix = f'put it in quotes: "{value}"' if known else f"write {self.words}"
            raise WrongValueError(f"{shown(value)} is no text", fix=fix, at=at)
        word = value.strip()
        if not word or len(word) > 200 or not word.isprintable():
            fix = "write 1 to 200 printable characters"
            raise WrongValueError(f"{shown(value)} cannot be {self.words}", fix=fix, at=at)
        if word in self.taken:
            fix = "choose another name"
            raise WrongValueError(f"{word!r} has a meaning of its own in recipes", fix=fix, at=at)
        return word

    def json(self) -> Json:
        """Return text."""
        return {"type": "string", "minLength": 1, "maxLength": 200}

    @property
    def words(self) -> str:
        """What it is."""
        return self.what


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Names(Kind):
    """Names of panels: exactly ``count``, or one or several."""

    count: int | None = None

    def parse(self, value: object) -> tuple[str, ...]:
        """Return them as a tuple."""
        kind = Text(what="the name of a panel")
        if isinstance(value, str) and self.count is None:
            return (kind.parse(value),)
        if not isinstance(value, list) or not value:
            raise WrongValueError(f"found {shown(value)}", fix=f"write {self.words}")
        names = tuple(kind.checked(name, (k,)) for k, name in enumerate(value))
        if self.count is not None and len(names) != self.count:
            raise WrongValueError(f"found {len(names)} name(s)", fix=f"write {self.words}")
        return ("all",) if self.count is None and "all" in names else names

    def json(self) -> Json:
        """Return a list of text, or one."""
        listed: Json = {"type": "array", "items": {"type": "string"}, "minItems": self.count or 1}
        if self.count is None:
            return {"anyOf": [{"type": "string"}, listed]}
        return {**listed, "maxItems": self.count}

    @property
    def words(self) -> str:
        """The form."""
        if self.count is None:
            return "one panel, a list of panels, or all"
        return "two panels, as in [front, back]; all stands for any panel"


@dataclass(frozen=True, slots=True, eq=False)
class Includes(Kind):
    """Files with fabrics: one or several, each a path or the name of a shipped fabric."""

    def parse(self, value: object) -> tuple[str, ...]:
        """Return them as a tuple."""
        kind = Text(what="a file with fabrics, or the name of a shipped fabric")
        if isinstance(value, str):
            return (kind.parse(value),)
        if not isinstance(value, list) or not 1 <= len(value) <= MOST_FILES:
            raise WrongValueError(f"found {shown(value)}", fix=f"write {self.words}")
        return tuple(kind.checked(text, (k,)) for k, text in enumerate(value))

    def json(self) -> Json:
        """Return a text, or a list of them."""
        listed: Json = {"type": "array", "items": {"type": "string"}, "minItems": 1}
        return {"anyOf": [{"type": "string"}, {**listed, "maxItems": MOST_FILES}]}

    @property
    def words(self) -> str:
        """The form."""
        return f"one file or name, or a list of 1 to {MOST_FILES}, as in [denim, awning.yaml]"


_DEVICES = re.compile(r"(con|prn|aux|nul|com[0-9]|lpt[0-9])", re.IGNORECASE)
_FILE_SAFE = "^[A-Za-z0-9_][A-Za-z0-9_-]{0,63}$"


def _foreign(text: str) -> tuple[str, str]:
    """Name the first letter of another alphabet, and the word without accents and blanks.

    A Cyrillic a looks like a Latin one, so the message has to say which it is.
    """
    letter = next((c for c in text if ord(c) > 127), None)
    what = ""
    if letter is not None:
        name = unicodedata.name(letter, f"U+{ord(letter):04X}")
        what = f": character {text.index(letter) + 1} is {name}"
    bare = "".join(c for c in unicodedata.normalize("NFKD", text) if not unicodedata.combining(c))
    near = re.sub(r"[\s/.\\]+", "-", bare.strip(" /.\\"))
    return what, near if re.fullmatch(_FILE_SAFE, near) else ""


@dataclass(frozen=True, slots=True, eq=False)
class FileWord(Kind):
    """A name that is part of file names on every system."""

    def parse(self, value: object) -> str:
        """Return it."""
        if isinstance(value, (int, float)) and not isinstance(value, bool):
            raise WrongValueError(f"{value} is no text", fix=f'put it in quotes: "{value}"')
        if not isinstance(value, str) or not re.fullmatch(_FILE_SAFE, value):
            what, near = _foreign(value) if isinstance(value, str) else ("", "")
            fix = f"did you mean {near!r}? use {self.words}" if near else f"use {self.words}"
            raise WrongValueError(f"{shown(value)} cannot be part of a file name{what}", fix=fix)
        if _DEVICES.fullmatch(value):
            fix = f"choose another, as in {value}-1"
            raise WrongValueError(f"{value!r} is the name of a device on some systems", fix=fix)
        return value

    def json(self) -> Json:
        """Return text with a pattern."""
        return {"type": "string", "pattern": _FILE_SAFE}

    @property
    def words(self) -> str:
        """The form."""
        return "letters a to z, digits, - and _, at most 64, not - first"


@dataclass(frozen=True, slots=True, eq=False)
class EntryName(Kind):
    """A name of an entry in a list, for paths; several entries may share it."""

    def parse(self, value: object) -> str:
        """Return it."""
        word = Text(what="the name of an entry").parse(value)
        if "." in word or word.isdigit():
            fix = "choose a word without dots that is no number, as in sides"
            raise WrongValueError(f"{shown(word)} cannot be part of a path", fix=fix)
        return word

    def json(self) -> Json:
        """Return text with a pattern."""
        return {"type": "string", "pattern": r"^[^.]*[^.0-9][^.]*$", "maxLength": 200}

    @property
    def words(self) -> str:
        """The form."""
        return "a word without dots, as in sides"


_PARTS = ("garment", "colourway", "map", "size")


@dataclass(frozen=True, slots=True, eq=False)
class FilePattern(Kind):
    """The pattern of the maps' file names."""

    def parse(self, value: object) -> str:
        """Return it."""
        if not isinstance(value, str):
            raise WrongValueError(f"{shown(value)} is no text", fix=f"write {self.words}")
        for part in re.findall(r"{([^{}]*)}", value):
            if part not in _PARTS:
                fix = advice(part, _PARTS, "allowed: {garment}, {colourway}, {map}, {size}")
                raise WrongValueError(f"{shown(value)}: there is no {{{part}}}", fix=fix)
        rest = re.sub(r"{[a-z]+}", "", value)
        if not re.fullmatch(r"[A-Za-z0-9_-]{0,64}", rest) or value.startswith("-"):
            fix = "use letters a to z, digits, - and _; the ending comes by itself"
            raise WrongValueError(f"{shown(value)} cannot be a file name", fix=fix)
        if "{map}" not in value:
            fix = "put {map} in: without it the maps of a set would have one name"
            raise WrongValueError(f"{shown(value)} has no {{map}}", fix=fix)
        return value

    def json(self) -> Json:
        """Return text with a pattern."""
        parts = "|".join(f"\\{{{p}\\}}" for p in _PARTS)
        return {"type": "string", "pattern": f"^([A-Za-z0-9_-]|{parts})*\\{{map\\}}"}

    @property
    def words(self) -> str:
        """The form."""
        return "text with {map}, also {garment}, {colourway} and {size}"
