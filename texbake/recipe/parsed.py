"""A recipe that is read, and the same with a few values changed.

A recipe may have 10,000 colourways, and reading each from scratch takes 4 ms. So the fabrics and
entries that a colourway touches are checked and built again by themselves, and all else is shared
with the recipe that it changes: 0.3 ms. Only what is right goes this way. Whatever is not, or could
matter elsewhere (names of fabrics, whole sections), is read from scratch, which finds the words.
"""

from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from types import MappingProxyType
from typing import Any, Final

from pydantic import ValidationError

from texbake.errors import UserError
from texbake.recipe import models
from texbake.recipe.build import build, fabric_of, fabrics_of
from texbake.recipe.build_sewing import detail_of, hem_of, home_of, line_of, seam_of
from texbake.recipe.checks import check, yarns
from texbake.recipe.colourways import Changes, put_all
from texbake.recipe.keys import Keys
from texbake.recipe.messages import At, dotted, translate
from texbake.recipe.mistake import WrongValueError
from texbake.recipe.print_keys import PrintKeys, print_of
from texbake.recipe.sewing_keys import DetailKeys, HemKeys, SeamKeys
from texbake.recipe.tree import Node, find, plain, walk
from texbake.recipe.values import Recipe
from texbake.recipe.words import ColourText

_ENTRIES: Final[Mapping[str, type[Keys]]] = MappingProxyType(
    {"seams": SeamKeys, "hems": HemKeys, "details": DetailKeys, "prints": PrintKeys}
)
_NAMES: Final = frozenset({"fabric", "cloth", "side", "between", "on", "name"})


@dataclass(frozen=True, slots=True, eq=False)
class Parsed:
    """A recipe without mistakes: as it stands in the file, as keys, and as a value."""

    tree: Node
    keys: models.RecipeKeys
    recipe: Recipe


@dataclass(frozen=True, slots=True, eq=False)
class Laid(Mapping[str, int]):
    """Lines of a colourway: of its own below some places, elsewhere those of what it changes.

    Few lines of few colourways are ever asked for, so none is worked out before.
    """

    own: Mapping[str, Node]
    under: Mapping[str, int]

    def __getitem__(self, path: str) -> int:
        """Return the line of a path."""
        for place, node in self.own.items():
            if path == place or path.startswith(f"{place}."):
                found = dict(_below(place, node))
                return home_of(found[path])
        return self.under[path]

    def __iter__(self) -> Iterator[str]:
        """Give the paths."""
        own = tuple(f"{place}." for place in self.own)
        yield from (p for p in self.under if p not in self.own and not p.startswith(own))
        for place, node in self.own.items():
            yield from (path for path, _ in _below(place, node))

    def __len__(self) -> int:
        """Return how many paths there are."""
        return sum(1 for _ in self)


def _below(place: str, node: Node) -> Iterator[tuple[str, Node]]:
    yield from ((dotted((place, *at)), below) for at, below in walk(node))


def read(
    tree: Node, path: Path, included: tuple[Path, ...]
) -> tuple[Parsed | None, list[UserError]]:
    """Return the recipe of a tree, or what is wrong with it."""
    errors = check(tree, path)
    try:
        keys = models.RecipeKeys.model_validate(plain(tree))
    except ValidationError as found:
        return None, errors + translate(found, tree, path)
    if errors:
        return None, errors
    return Parsed(tree, keys, build(keys, tree, path, included)), []


def changed(base: Parsed, changes: Changes) -> tuple[Parsed | None, list[UserError]]:
    """Return a recipe with other values, or what is wrong with them."""
    tree = put_all(base.tree, changes)
    near = _shared(base, tree, changes)
    if near is not None:
        return near, []
    return read(tree, base.recipe.path, base.recipe.included)


def _shared(base: Parsed, tree: Node, changes: Changes) -> Parsed | None:
    """Return the changed recipe by the short way, or None where there is none."""
    if not all(_by_itself(at, node) for at, (_, node) in changes.items()):
        return None
    places = sorted({at[:2] for at in changes}, key=dotted)
    try:
        keys = _keys(base.keys, tree, places)
    except (ValidationError, WrongValueError):
        return None
    fabrics = {at[1]: plain(find(tree, at) or tree) for at in places if at[0] == "fabrics"}
    if next(yarns({"fabrics": fabrics}), None) is not None:
        return None
    return Parsed(tree, keys, _rebuilt(base.recipe, keys, tree, places))


def _by_itself(at: At, node: Node) -> bool:
    """Say whether a value can matter only to the fabric or entry that it stands in."""
    if at != ("colour",):
        fits = len(at) > 2 and (at[0] == "fabrics" or at[0] in _ENTRIES) and at[-1] not in _NAMES
        if not fits:
            return False
    return all(below.value is not None for _, below in walk(node))


def _keys(keys: models.RecipeKeys, tree: Node, places: Collection[At]) -> models.RecipeKeys:
    """Check the places by themselves."""
    new: dict[str, Any] = {}
    for at in places:
        data = plain(find(tree, at) or tree)
        kind = str(at[0])
        if at == ("colour",):
            new["colour"] = ColourText().parse(data)
        elif kind == "fabrics":
            fabrics = new.setdefault(kind, dict(keys.fabrics))
            fabrics[str(at[1])] = models.FABRICS[models.structure_of(data)].model_validate(data)
        else:
            entries = new.setdefault(kind, list(getattr(keys, kind)))
            entries[int(at[1])] = _ENTRIES[kind].model_validate(data)
    return keys.model_copy(update=new)


def _rebuilt(recipe: Recipe, keys: models.RecipeKeys, tree: Node, places: Collection[At]) -> Recipe:
    """Return a recipe where values at some places are others: the rest is shared."""
    below = {at[0] for at in places}
    new: dict[str, Any] = {}
    if "colour" in below:
        new["fabrics"] = MappingProxyType(fabrics_of(keys, tree))
    elif "fabrics" in below:
        names = [str(at[1]) for at in places if at[0] == "fabrics"]
        own = {
            name: fabric_of(name, keys.fabrics[name], keys.colour, line_of(tree, "fabrics", name))
            for name in names
        }
        new["fabrics"] = MappingProxyType({**recipe.fabrics, **own})
    for at in places:
        if at[0] in _ENTRIES:
            kind, number = str(at[0]), int(at[1])
            entries = new.setdefault(kind, list(getattr(recipe, kind)))
            entries[number] = _entry(keys, tree, kind, number, recipe.path)
    entries = {kind: tuple(new[kind]) for kind in _ENTRIES if kind in new}
    lines = Laid({dotted(at): find(tree, at) or tree for at in places}, recipe.lines)
    return replace(recipe, lines=lines, **{**new, **entries})


def _entry(keys: models.RecipeKeys, tree: Node, kind: str, number: int, path: Path) -> object:
    """Build one entry of a list."""
    line = line_of(tree, kind, number)
    match getattr(keys, kind)[number]:
        case SeamKeys() as seam:
            return seam_of(seam, line)
        case HemKeys() as hem:
            return hem_of(hem, line)
        case DetailKeys() as detail:
            return detail_of(detail, keys, line)
        case PrintKeys() as one:
            return print_of(one, path.parent, line)
        case other:
            raise TypeError(f"no entry: {other!r}")
