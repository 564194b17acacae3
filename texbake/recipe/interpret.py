"""A recipe file, read: all mistakes at once, each with its line."""

from dataclasses import replace
from pathlib import Path
from types import MappingProxyType

from texbake.errors import UserError, UserErrors
from texbake.recipe import tree as trees
from texbake.recipe.built_on import Root, make_all
from texbake.recipe.colourways import base_of
from texbake.recipe.include import with_included
from texbake.recipe.parsed import read
from texbake.recipe.shown_as import notes_on
from texbake.recipe.spelling import british
from texbake.recipe.values import Project
from texbake.recipe.ways import ways_of

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
    base, found = read(tree, path, included)
    errors += found
    ways, wrong = ways_of(tree, path)
    root = base_of(tree)
    under, found = read(root, path, included) if ways else (base, [])
    made = make_all(ways, Root(root, under, path, included))
    errors += [*wrong, *found, *made.errors]
    if errors or base is None:
        raise UserErrors(_in_order(errors))
    lines = {f"colourways.{way.name}": way.said.home or way.said.line for way in ways}
    recipe = replace(base.recipe, lines=MappingProxyType({**lines, **base.recipe.lines}))
    return Project(
        recipe=recipe,
        colourways=MappingProxyType(made.recipes or {STANDARD: recipe}),
        notes=notes_on([("", root), *made.values], path),
    )


def _in_order(errors: list[UserError]) -> list[UserError]:
    """Sort by line; what base and colourways have in common is told once."""
    once = {(str(e.path), e.line or 0, e.what): e for e in errors}
    return [once[key] for key in sorted(once)]
