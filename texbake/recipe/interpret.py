"""A recipe file, read: all mistakes at once, each with its line."""

from collections.abc import Mapping
from pathlib import Path
from types import MappingProxyType

from pydantic import ValidationError

from texbake.errors import UserError, UserErrors
from texbake.recipe import tree as trees
from texbake.recipe.build import build
from texbake.recipe.checks import check
from texbake.recipe.colourways import base_of, override
from texbake.recipe.messages import translate
from texbake.recipe.models import RecipeKeys
from texbake.recipe.tree import Node
from texbake.recipe.values import Project, Recipe

STANDARD = "standard"
_SPELLINGS: Mapping[str, str] = MappingProxyType({"color": "colour", "colorways": "colourways"})


def interpret(text: str, path: Path) -> Project:
    """Read the text of a recipe, its colourways included.

    Raises
    ------
    UserError
        The text is not YAML.
    UserErrors
        Its mistakes, in the order of their lines.
    """
    tree, errors = trees.parse(text, path)
    tree = _british(tree, (), errors, path)
    base, found = _read(tree, path)
    errors += found
    ways: dict[str, Recipe] = {}
    for name, overrides in _ways(tree).items():
        changed, wrong = override(base_of(tree), overrides, path)
        recipe, found = _read(changed, path)
        errors += [*wrong, *found]
        if recipe is not None:
            ways[name] = recipe
    if errors or base is None:
        raise UserErrors(_in_order(errors))
    return Project(recipe=base, colourways=MappingProxyType(ways or {STANDARD: base}))


def _ways(tree: Node) -> dict[str, Node]:
    ways = tree.value.get("colourways")
    return ways.value if ways is not None and isinstance(ways.value, dict) else {}


def _read(tree: Node, path: Path) -> tuple[Recipe | None, list[UserError]]:
    """Return the recipe of a tree, or what is wrong with it."""
    errors = check(tree, path)
    try:
        keys = RecipeKeys.model_validate(trees.plain(tree))
    except ValidationError as found:
        return None, errors + translate(found, tree, path)
    return (None, errors) if errors else (build(keys, tree, path), [])


def _in_order(errors: list[UserError]) -> list[UserError]:
    """Sort by line; what base and colourways have in common is told once."""
    once = {(e.line or 0, e.what): e for e in errors}
    return [once[key] for key in sorted(once)]


def _british(node: Node, at: tuple[int | str, ...], errors: list[UserError], path: Path) -> Node:
    """Return the tree with ``color`` spelt ``colour``, except where keys are names of things."""
    if isinstance(node.value, list):
        items = [_british(v, (*at, k), errors, path) for k, v in enumerate(node.value)]
        return Node(items, node.line, node.key_line)
    if not isinstance(node.value, dict):
        return node
    names = at in {("fabrics",), ("panels",), ("colourways",)} or at[:1] == ("colourways",)
    spelt: dict[str, Node] = {}
    for key, below in node.value.items():
        ours = key if names else _SPELLINGS.get(key, key)
        if ours != key and ours in node.value:
            what = f"{key!r} and {ours!r} are the same key"
            errors.append(UserError(what, fix="keep one", path=path, line=below.key_line))
        else:
            spelt[ours] = _british(below, (*at, ours), errors, path)
    return Node(spelt, node.line, node.key_line)
