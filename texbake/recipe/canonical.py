"""Values of a recipe as text that is equal where they are: what a digest is taken of.

Without lines and comments, and without paths: a file that a value names counts by what is in it,
so that a folder may be moved and a picture renamed. Keys are sorted; numbers are written out to the
last digit. The text is for digests only; nothing reads it back.
"""

import hashlib
import json
from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from pathlib import Path
from typing import Any

from texbake.recipe.yarn_values import Colour

_WHERE = ("included", "line", "lines", "path")  # where a value stands, not what it is


def digest(value: object, *, dyed: bool = True) -> str:
    """Return the SHA-256 of a value, in hex.

    Parameters
    ----------
    value : object
        A value of a recipe, or tuples, lists and mappings of such.
    dyed : bool
        Whether colours count. That there is one counts always.
    """
    text = json.dumps(_plain(value, dyed), sort_keys=True, ensure_ascii=True, allow_nan=False)
    return hashlib.sha256(text.encode()).hexdigest()


def file_digest(path: Path) -> str:
    """Return the SHA-256 of what is in a file, in hex.

    Raises
    ------
    OSError
        If it cannot be read.
    """
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def words_in(value: object) -> set[str]:
    """Return every text in a value of a recipe, at any depth.

    >>> sorted(words_in({"on": ("front", "back"), "rows": 2}))
    ['back', 'front']
    """
    if isinstance(value, str):
        return {value}
    if is_dataclass(value) and not isinstance(value, type):
        value = [getattr(value, field.name) for field in fields(value)]
    if isinstance(value, Mapping):
        value = list(value.values())
    below = value if isinstance(value, (tuple, list)) else ()
    return {word for one in below for word in words_in(one)}


def _plain(value: object, dyed: bool) -> Any:  # noqa: ANN401 - what JSON knows
    """Return a value as what JSON knows."""
    if isinstance(value, Colour) and not dyed:
        return "a colour"
    if is_dataclass(value) and not isinstance(value, type):
        told = {f.name: getattr(value, f.name) for f in fields(value) if f.name not in _WHERE}
        inside = {name: _plain(below, dyed) for name, below in told.items()}
        return {"is": type(value).__name__, **inside}
    if isinstance(value, Mapping):
        return {str(key): _plain(below, dyed) for key, below in value.items()}
    if isinstance(value, (tuple, list)):
        return [_plain(below, dyed) for below in value]
    if isinstance(value, Path):
        return {"file": file_digest(value) if value.is_file() else None}
    if value is None or isinstance(value, (str, int, float)):
        return value
    raise TypeError(f"a {type(value).__name__} is no value of a recipe")
