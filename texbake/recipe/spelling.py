"""``color`` may stand wherever ``colour`` does."""

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from types import MappingProxyType

from texbake.errors import UserError
from texbake.recipe.tree import Node

_SPELLINGS: Mapping[str, str] = MappingProxyType({"color": "colour", "colorways": "colourways"})


def british(tree: Node, path: Path) -> tuple[Node, list[UserError]]:
    """Return the tree with ``color`` spelt ``colour``, except where keys are names of things."""
    errors: list[UserError] = []
    return _spelt(tree, (), errors, path), errors


def _spelt(node: Node, at: tuple[int | str, ...], errors: list[UserError], path: Path) -> Node:
    if isinstance(node.value, list):
        items = [_spelt(v, (*at, k), errors, path) for k, v in enumerate(node.value)]
        return replace(node, value=items)
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
            spelt[ours] = _spelt(below, (*at, ours), errors, path)
    return replace(node, value=spelt)
