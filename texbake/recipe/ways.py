"""Which colourways a recipe has: those written out, and those of tables, lists and shades."""

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from types import MappingProxyType
from typing import Final

from pydantic import ValidationError

from texbake.errors import UserError
from texbake.recipe.colours import lab_of, lab_text, parse_colour
from texbake.recipe.colourway_keys import MOST, RULES, TABLE, WORDS, ColourwayKeys, ShadesKeys
from texbake.recipe.css_names import CSS_NAMES
from texbake.recipe.mistake import WrongValueError
from texbake.recipe.palette import place_of, read_palette
from texbake.recipe.tree import Node, plain
from texbake.recipe.values import Triple
from texbake.recipe.words import FileWord

_NO_NODES: Final[Mapping[str, Node]] = MappingProxyType({})


@dataclass(frozen=True, slots=True, kw_only=True)
class Way:
    """One colourway before its paths are looked up.

    Attributes
    ----------
    name : str
    said : Node
        Where its name stands.
    changes : mapping of str to Node
        Paths and their new values.
    like : Node or None
        The name of the colourway that it builds on.
    tones : mapping of str to Node
        Paths whose colour follows, each with its difference in Lab.
    of : Triple or Node or None
        The colour that tones follow, in Lab; or the path where it stands.
    """

    name: str
    said: Node
    changes: Mapping[str, Node]
    like: Node | None = None
    tones: Mapping[str, Node] = field(default_factory=lambda: _NO_NODES)
    of: Triple | Node | None = None


@dataclass(frozen=True, slots=True)
class _Dye:
    """One colour of a rule: what goes into names, and the value with its line."""

    word: str
    node: Node
    lab: Triple


def ways_of(tree: Node, path: Path) -> tuple[list[Way], list[UserError]]:
    """Return the colourways of a recipe, in their order, and what is wrong with their names.

    What is wrong with the form of an entry is told with the recipe's keys, and the entry left out.
    """
    node = tree.value.get("colourways")
    entries = node.value if node is not None and isinstance(node.value, dict) else {}
    found: list[Way] = []
    errors: list[UserError] = []
    for name, entry in entries.items():
        try:
            made, wrong = _entry(name, entry, path)
        except UserError as error:
            made, wrong = [], [error]
        found += made
        errors += wrong
        if len(found) > MOST:
            fix = f"a recipe has at most {MOST}: make several of it"
            what = f"{len(found)} colourways"
            errors.append(UserError(what, fix=fix, path=path, line=entry.key_line))
            return [], errors
    return _named(found, path, errors), errors


def _named(ways: list[Way], path: Path, errors: list[UserError]) -> list[Way]:
    """Leave out those whose names cannot be, or are there already."""
    seen: dict[str, Way] = {}
    for way in ways:
        first = seen.get(way.name.lower())
        what, fix = "", ""
        try:
            FileWord().parse(way.name)
        except WrongValueError as error:
            what, fix = error.what, error.fix
        if first is not None:
            where = _where(first.said, path)
            same = first.name == way.name
            what = f"the name {way.name!r} stands twice, first in {where}"
            made = way.said.source is None and way.said.line == first.said.line
            fix = "put {number} into name" if made else "give one of them another name"
            if not same:
                what = f"the name differs from {first.name!r} in capitals only"
                fix = "choose another: some systems do not tell capitals in file names"
        if what:
            place = "column 1" if way.said.source is not None else f"colourways.{way.name}"
            told, source = f"{place}: {what}", way.said.source or path
            errors.append(UserError(told, fix=fix, path=source, line=way.said.line))
        else:
            seen[way.name.lower()] = way
    return list(seen.values())


def _where(said: Node, path: Path) -> str:
    return f"{(said.source or path).name}:{said.line}"


def _entry(name: str, entry: Node, path: Path) -> tuple[list[Way], list[UserError]]:
    """Return the colourway or colourways of one entry."""
    if name == TABLE and isinstance(entry.value, str):
        entry = replace(entry, value={TABLE: entry})
    inside = entry.value if isinstance(entry.value, dict) else {}
    said = Node(name, entry.key_line, entry.key_line)
    words = [word for word in WORDS if word in inside]
    if not words:
        return [Way(name=name, said=said, changes=inside)], []
    if any(inside[word].value is None for word in words):
        return [], []
    try:
        keys = ColourwayKeys.model_validate(plain(entry))
    except ValidationError:
        return [], []
    own = {key: node for key, node in inside.items() if key not in WORDS}
    tones = dict(inside["tones"].value) if "tones" in inside else {}
    of = tones.pop("of", None)
    way = Way(name=name, said=said, changes=own, like=inside.get("like"), tones=tones, of=of)
    if keys.table is not None:
        return _table(way, inside[TABLE], path)
    if any(rule in inside for rule in RULES):
        return list(_dyed(way, keys, inside)), []
    return [way], []


def _table(way: Way, node: Node, path: Path) -> tuple[list[Way], list[UserError]]:
    """Return a colourway for each row; what the entry says itself holds for all."""
    file = place_of(str(node.value).strip(), path, node.line)
    rows, errors = read_palette(file, node.key_line)
    found = []
    for row in rows:
        cells = dict(row.cells)
        like = cells.pop("like", way.like)
        said = Node(row.name, row.line, row.line, source=file, home=node.key_line)
        found.append(
            replace(way, name=row.name, said=said, changes={**way.changes, **cells}, like=like)
        )
    return found, errors


def _dyed(way: Way, keys: ColourwayKeys, inside: Mapping[str, Node]) -> Iterator[Way]:
    """Give a colourway for each colour of a list or of a row of shades."""
    dyes = list(_shades(keys.shades, inside["shades"]) if keys.shades else _each(inside["each"]))
    pattern = keys.name or ("{name}-{number}" if keys.shades else "{colour}")
    width = len(str(len(dyes)))
    for number, dye in enumerate(dyes, start=1):
        words = {
            "{name}": way.name,
            "{number}": f"{number:0{width}d}",
            "{colour}": dye.word,
            "{lightness}": f"{dye.lab[0]:02.0f}",
        }
        name = "".join(words.get(part, part) for part in re.split("({[a-z]+})", pattern))
        set_to = dict.fromkeys(keys.set or (), dye.node)
        yield replace(
            way,
            name=name,
            said=Node(name, dye.node.line, dye.node.line),
            changes={**way.changes, **set_to},
            of=dye.lab if way.of is None else way.of,
        )


def _each(node: Node) -> Iterator[_Dye]:
    """Give the colours of a list or a mapping."""
    items = node.value.items() if isinstance(node.value, dict) else ((None, n) for n in node.value)
    for name, one in items:
        colour = parse_colour(one.value)
        word = one.value.strip().lower()
        word = word if word in CSS_NAMES else colour.hex[1:]
        yield _Dye(word if name is None else name, one, lab_of(colour))


def _shades(keys: ShadesKeys, node: Node) -> Iterator[_Dye]:
    """Give shades of one hue and chroma, at even steps of lightness."""
    _, a, b = lab_of(keys.of)
    first, last = keys.lightness
    for k in range(keys.count):
        lab = (first + (last - first) * k / (keys.count - 1), a, b)
        text = lab_text(lab)
        colour = parse_colour(text)
        yield _Dye(colour.hex[1:], Node(text, node.key_line, node.key_line), lab_of(colour))
