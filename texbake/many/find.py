"""Which recipes files and folders name."""

import os
import re
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Final

from texbake.deliver import told
from texbake.errors import UserError

_KINDS: Final = (".yaml", ".yml")
# What every recipe says at its left edge. Files of fabrics and budgets have neither.
_RECIPE: Final = re.compile(rb"""^["']?(garment|mesh)["']?\s*:""", re.MULTILINE)


def find_recipes(paths: Sequence[Path]) -> tuple[tuple[Path, ...], tuple[UserError, ...]]:
    """Find recipes: each file as it is named, and all that lie in each folder.

    Parameters
    ----------
    paths : sequence of Path
        Files and folders. Folders in folders are not looked into.

    Returns
    -------
    recipes : tuple of Path
        In the order named, those of a folder by name; what is named twice, once.
    errors : tuple of UserError
        What names nothing.
    """
    found: dict[str, Path] = {}
    errors = []
    for path in paths:
        try:
            for recipe in _in_folder(path) if path.is_dir() else [path]:
                found.setdefault(os.path.realpath(recipe), recipe)
        except UserError as error:
            errors.append(error)
    return tuple(found.values()), tuple(errors)


def _in_folder(folder: Path) -> Iterator[Path]:
    """Give the recipes of a folder."""
    with told(folder):
        files = sorted(path for path in folder.iterdir() if path.suffix.lower() in _KINDS)
    recipes = [path for path in files if path.is_file() and _is_recipe(path)]
    if not recipes:
        what = f"there is no recipe in this folder, of {len(files)} YAML files"
        fix = "name a recipe, or a folder that recipes lie in: files with garment: and mesh:"
        raise UserError(what, fix=fix, path=folder)
    yield from recipes


def _is_recipe(path: Path) -> bool:
    """Say whether a file means to be a recipe, right or wrong."""
    with told(path):
        return _RECIPE.search(path.read_bytes()) is not None
