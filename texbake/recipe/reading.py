"""The doors of the package. Pydantic and the YAML parser load when one is first used.

Importing the package for its values alone then costs what numpy costs; the models are another
50 ms, which `texbake --help` need not wait for.
"""

import hashlib
from pathlib import Path
from typing import Any

from texbake.recipe.values import Project, Recipe


def load(path: Path) -> Project:
    """Read a recipe file.

    Raises
    ------
    UserError
        The file cannot be read, or is not YAML.
    UserErrors
        Its mistakes, in the order of their lines.
    """
    from texbake.recipe.interpret import interpret
    from texbake.recipe.tree import read_text

    return interpret(read_text(path), path)


def loads(text: str, path: Path) -> Project:
    """Read the text of a recipe; ``path`` is where it lies, for messages and for its mesh.

    Raises
    ------
    UserError
        The text is not YAML.
    UserErrors
        Its mistakes, in the order of their lines.
    """
    from texbake.recipe.interpret import interpret

    return interpret(text, path)


def fingerprint(recipe: Recipe) -> str:
    """Return the SHA-256 of a recipe's file and, if it includes others, of theirs with it."""
    data = [path.read_bytes() for path in (recipe.path, *recipe.included)]
    if len(data) > 1:
        data = [hashlib.sha256(one).digest() for one in data]
    return hashlib.sha256(b"".join(data)).hexdigest()


def json_schema() -> dict[str, Any]:
    """Return the JSON Schema (draft 2020-12) of a recipe file, for editors."""
    from texbake.recipe import document

    return document.json_schema()


def reference_markdown() -> str:
    """Return the text of ``recipes/REFERENCE.md``."""
    from texbake.recipe import document

    return document.reference_markdown()
