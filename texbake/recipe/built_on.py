"""Colourways made one from another: each is the recipe, or another colourway, with its values."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from texbake.errors import UserError
from texbake.recipe.colourways import Changes, Paths, changes_of, put_all
from texbake.recipe.mistake import advice
from texbake.recipe.parsed import Parsed, changed, read
from texbake.recipe.tones import toned
from texbake.recipe.tree import Node
from texbake.recipe.values import Recipe
from texbake.recipe.ways import Way

MOST_ERRORS: Final = 50  # a wrong table of 10,000 rows need not be read to its end
MOST_DEEP: Final = 20  # colourways that build on one another


@dataclass(frozen=True, slots=True, eq=False)
class Root:
    """What colourways build on: the recipe without them, read or, where it is wrong, not."""

    tree: Node
    parsed: Parsed | None
    path: Path
    included: tuple[Path, ...]


@dataclass(frozen=True, slots=True, eq=False)
class _Under:
    """A recipe or colourway that others build on."""

    tree: Node
    parsed: Parsed | None
    paths: Paths


@dataclass(frozen=True, slots=True, eq=False)
class Made:
    """The colourways of a recipe.

    Attributes
    ----------
    recipes : dict of str to Recipe
        Those that are right, in their order.
    values : list of (str, Node)
        What they change, with the words for where.
    errors : list of UserError
        What is wrong with the others; after many the rest is not looked at.
    """

    recipes: dict[str, Recipe]
    values: list[tuple[str, Node]]
    errors: list[UserError]


def make_all(ways: Sequence[Way], root: Root) -> Made:
    """Make all colourways, in their order."""
    by_name = {way.name: way for way in ways}
    ordered, errors = _ordered(by_name, root.path)
    needed = {str(way.like.value) for way in ways if way.like is not None}
    unders: dict[str | None, _Under] = {None: _Under(root.tree, root.parsed, Paths(root.tree))}
    made: dict[str, Recipe] = {}
    values: list[tuple[str, Node]] = []
    for way in ordered:
        under = unders.get(None if way.like is None else str(way.like.value))
        if under is None:
            continue  # what it builds on is wrong, and told
        changes, wrong = _changes(way, under, root)
        errors += wrong
        values += [(f"{way.name}: {text}", node) for text, node in changes.values()]
        parsed, found = _read(under, changes, root)
        errors += found
        parsed = None if wrong else parsed
        if parsed is not None:
            made[way.name] = parsed.recipe
            if way.name in needed:
                unders[way.name] = _Under(parsed.tree, parsed, Paths(parsed.tree))
        if len({(e.path, e.line, e.what) for e in errors}) > MOST_ERRORS:
            what = f"more than {MOST_ERRORS} mistakes in colourways: the rest is not looked at"
            errors.append(UserError(what, fix="mend these first", path=root.path, line=None))
            break
    return Made({name: made[name] for name in by_name if name in made}, values, errors)


def _changes(way: Way, under: _Under, root: Root) -> tuple[Changes, list[UserError]]:
    """Return what a colourway changes, tones after what they follow."""
    changes, errors = changes_of(way.changes, under.paths, root.path)
    if not way.tones:
        return changes, errors
    follow, wrong = toned(way, put_all(under.tree, changes), under.paths, root.path)
    errors += wrong
    for at in set(follow) & set(changes):
        text, node = follow[at]
        what = f"{changes[at][0]!r} and {text!r} are the same path"
        errors.append(UserError(what, fix="keep one", path=root.path, line=node.key_line))
    return {**changes, **follow}, errors


def _read(under: _Under, changes: Changes, root: Root) -> tuple[Parsed | None, list[UserError]]:
    if under.parsed is not None:
        return changed(under.parsed, changes)
    return read(put_all(under.tree, changes), root.path, root.included)


def _ordered(ways: Mapping[str, Way], path: Path) -> tuple[list[Way], list[UserError]]:
    """Return the colourways, each after the one that it builds on, and what stands in the way."""
    deep: dict[str, int | None] = {}  # None: it cannot be made
    order: list[Way] = []
    errors: list[UserError] = []
    for way in ways.values():
        chain, wrong = _chain(way, ways, deep, path)
        errors += wrong
        last = chain[-1].like if chain else None
        under = -1 if last is None else deep.get(str(last.value))
        for one in reversed(chain):
            under = None if wrong or under is None else under + 1
            if under == MOST_DEEP:
                what = f"{one.name!r} builds on {MOST_DEEP} colourways, each on the one before"
                errors.append(_told(one, what, "build it on an earlier one", path))
                under = None
            deep[one.name] = under
            order += [one] if under is not None else []
    return order, errors


def _chain(
    way: Way, ways: Mapping[str, Way], deep: Mapping[str, object], path: Path
) -> tuple[list[Way], list[UserError]]:
    """Return a colourway and all not yet ordered that it builds on, the nearest first."""
    chain: dict[str, Way] = {}
    one = way
    while one.name not in deep:
        if one.name in chain:
            names = [*chain][[*chain].index(one.name) :]
            what = f"{' is like '.join(map(repr, [*names, one.name]))}: they build on one another"
            return [*chain.values()], [_told(one, what, "take one like out", path)]
        chain[one.name] = one
        if one.like is None:
            break
        name = str(one.like.value)
        if name not in ways:
            fix = advice(name, ways, f"there are: {', '.join([*ways][:12])}")
            return [*chain.values()], [_told(one, f"there is no colourway {name!r}", fix, path)]
        one = ways[name]
    return [*chain.values()], []


def _told(way: Way, what: str, fix: str, path: Path) -> UserError:
    """Return an error about what a colourway builds on."""
    node = way.said if way.like is None else way.like
    place = f"{node.place}: " if node.place else f"colourways.{way.name}.like: "
    return UserError(f"{place}{what}", fix=fix, path=node.source or path, line=node.line)
