"""A recipe file, read: all mistakes at once, each with its line."""

from pathlib import Path
from types import MappingProxyType

from pydantic import ValidationError

from texbake.errors import UserError, UserErrors
from texbake.recipe import tree as trees
from texbake.recipe.build import build
from texbake.recipe.checks import check
from texbake.recipe.colourways import base_of, override
from texbake.recipe.include import with_included
from texbake.recipe.messages import translate
from texbake.recipe.models import RecipeKeys
from texbake.recipe.spelling import british
from texbake.recipe.tree import Node
from texbake.recipe.values import Project, Recipe

STANDARD = "standard"


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
    tree, doubled = british(tree, path)
    tree, included, wrong = with_included(tree, path)
    errors += [*doubled, *wrong]
    if wrong:  # fabrics are missing: what else would be told of them is not to the point
        raise UserErrors(_in_order(errors))
    base, found = _read(tree, path, included)
    errors += found
    ways: dict[str, Recipe] = {}
    for name, overrides in _ways(tree).items():
        changed, wrong = override(base_of(tree), overrides, path)
        recipe, found = _read(changed, path, included)
        errors += [*wrong, *found]
        if recipe is not None:
            ways[name] = recipe
    if errors or base is None:
        raise UserErrors(_in_order(errors))
    return Project(recipe=base, colourways=MappingProxyType(ways or {STANDARD: base}))


def _ways(tree: Node) -> dict[str, Node]:
    ways = tree.value.get("colourways")
    return ways.value if ways is not None and isinstance(ways.value, dict) else {}


def _read(
    tree: Node, path: Path, included: tuple[Path, ...]
) -> tuple[Recipe | None, list[UserError]]:
    """Return the recipe of a tree, or what is wrong with it."""
    errors = check(tree, path)
    try:
        keys = RecipeKeys.model_validate(trees.plain(tree))
    except ValidationError as found:
        return None, errors + translate(found, tree, path)
    return (None, errors) if errors else (build(keys, tree, path, included), [])


def _in_order(errors: list[UserError]) -> list[UserError]:
    """Sort by line; what base and colourways have in common is told once."""
    once = {(str(e.path), e.line or 0, e.what): e for e in errors}
    return [once[key] for key in sorted(once)]
