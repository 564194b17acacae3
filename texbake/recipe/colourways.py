"""Colourways: other values at dotted paths, put into the tree before it is read.

Each new value keeps its own line, so whatever is wrong with it is told where the colourway says
it. A path is given in full (``fabrics.drill.warp.colour``) or from the name of a fabric or panel
on (``drill.warp.colour``).
"""

from collections import defaultdict
from dataclasses import replace
from pathlib import Path

from texbake.errors import UserError
from texbake.recipe.messages import At, dotted
from texbake.recipe.mistake import nearest
from texbake.recipe.shape import known
from texbake.recipe.tree import Node, plain

_CHANGEABLE = ("colour", "fabric", "fabrics", "seams", "hems", "details", "prints")


def base_of(tree: Node) -> Node:
    """Return the tree without its colourways."""
    rest = {key: node for key, node in tree.value.items() if key != "colourways"}
    return replace(tree, value=rest)


def override(base: Node, overrides: Node, path: Path) -> tuple[Node, list[UserError]]:
    """Return the base with the values of one colourway, and the paths that name nothing."""
    if not isinstance(overrides.value, dict):
        return base, []
    paths = _Paths(base)
    changes: dict[At, tuple[str, Node]] = {}
    errors = []
    for text, node in overrides.value.items():
        at, what, fix = paths.read(text)
        if at in changes:
            what, fix = f"{changes[at][0]!r} and {text!r} are the same path", "keep one"
        if what:
            errors.append(UserError(what, fix=fix, path=path, line=node.key_line))
        else:
            changes[at] = text, node
    tree = base
    for at in sorted(changes, key=lambda a: (len(a), dotted(a))):  # whole fabrics before parts
        tree = _put(tree, at, changes[at][1])
    return tree, errors


def _put(tree: Node, at: At, new: Node) -> Node:
    """Return a tree with another value at a path; the old tree stays as it is."""
    if not at:
        return new
    part, rest = at[0], at[1:]
    if isinstance(tree.value, list) and isinstance(part, int):
        items = list(tree.value)
        items[part] = _put(items[part], rest, new)
        return replace(tree, value=items)
    inside = dict(tree.value) if isinstance(tree.value, dict) else {}
    below = inside.get(str(part), Node({}, new.line, new.key_line))
    if rest and not isinstance(below.value, (dict, list)):
        below = replace(below, value=_opened(str(part), below))
    inside[str(part)] = _put(below, rest, new)
    return replace(tree, value=inside)


def _opened(key: str, short: Node) -> dict[str, Node]:
    """Write a short form out, so that keys can be put beside what it says."""
    return {"colour": short} if key == "thread" else {}


class _Paths:
    """The paths that one recipe has."""

    def __init__(self, base: Node) -> None:
        self.full: dict[str, At] = {}
        self.short: defaultdict[str, list[At]] = defaultdict(list)
        for at, _ in known(plain(base)):
            self.full.setdefault(dotted(at), at)
            if len(at) > 1 and at[0] in {"fabrics", "panels"}:
                self.short[dotted(at[1:])].append(at)

    def read(self, text: str) -> tuple[At, str, str]:
        """Return a path, or what is wrong with it and the cure."""
        word = ".".join("colour" if part == "color" else part for part in text.split("."))
        found = [self.full[word]] if word in self.full else self.short.get(word, [])
        if len(found) > 1:
            fix = f"write one of {', '.join(map(dotted, found))}"
            return (), f"{text!r} can mean several things", fix
        if not found or not found[0]:
            return (), f"path {text!r} names nothing in this recipe", self.fix(word)
        if not _changeable(found[0]):
            fix = f"a colourway changes {', '.join(_CHANGEABLE)}, and the fabric of panels"
            return (), f"{text!r} is the garment's, not the colourway's", fix
        return found[0], "", ""

    def fix(self, word: str) -> str:
        """Offer the nearest path."""
        paths = [dotted(at) for at in self.full.values() if _changeable(at)]
        short = [path for path, ats in self.short.items() if _changeable(ats[0])]
        near = nearest(word, [*short, *paths])
        hint = "a path is the keys on the way, with dots: drill.warp.colour"
        return hint if near is None else f"did you mean {near!r}? {hint}"


def _changeable(at: At) -> bool:
    """Say whether a colourway may change this: cloth, colour and sewing, not the garment."""
    if at[:1] == ("panels",):
        return len(at) == 3 and at[2] == "fabric"
    return bool(at) and at[0] in _CHANGEABLE
