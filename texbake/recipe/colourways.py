"""Colourways: other values at dotted paths, put into the tree before it is read.

Each new value keeps its own line, so whatever is wrong with it is told where the colourway says
it. A path is given in full (``fabrics.drill.warp.colour``) or from the name of a fabric or panel
on (``drill.warp.colour``). Seams and others of a list go by number or by name; entries that share
a name are meant together.
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from pathlib import Path

from texbake.errors import UserError
from texbake.recipe.colourway_keys import WORDS
from texbake.recipe.include import DYES
from texbake.recipe.messages import At, dotted
from texbake.recipe.mistake import nearest
from texbake.recipe.shape import known
from texbake.recipe.tree import Node, find, plain, with_value

Changes = dict[At, tuple[str, Node]]
_CHANGEABLE = ("colour", "fabric", "fabrics", "seams", "hems", "details", "prints")
_LISTS = ("seams", "hems", "details", "prints")
_YARNS = ("warp", "weft", "yarn")


def base_of(tree: Node) -> Node:
    """Return the tree without its colourways."""
    rest = {key: node for key, node in tree.value.items() if key != "colourways"}
    return with_value(tree, rest)


def changes_of(
    overrides: Mapping[str, Node], paths: "Paths", path: Path
) -> tuple[Changes, list[UserError]]:
    """Return what one colourway changes, and the paths that name nothing."""
    changes: Changes = {}
    errors = []
    for text, node in overrides.items():
        ats, what, fix = paths.read(text)
        for at in ats if not what else ():
            place = (*at, "colour") if at[-1] == "thread" and _bare(node) else at
            if place in changes:
                what, fix = f"{changes[place][0]!r} and {text!r} are the same path", "keep one"
            changes.setdefault(place, (text, node))
        if what:
            told = f"{node.place}: {what}" if node.place else what
            errors.append(UserError(told, fix=fix, path=node.source or path, line=node.key_line))
    return changes, errors


def _bare(node: Node) -> bool:
    """Say whether this is a colour alone, which leaves the rest of a thread as it is."""
    return isinstance(node.value, str)


def put_all(base: Node, changes: Changes) -> Node:
    """Return the base with all changes; it stays as it is itself.

    A yarn that gets another dye loses the one it had, as where fabrics are included.
    """
    tree = base
    for at in sorted(changes, key=_outer_first):
        tree = _put(_undyed(tree, at, changes), at, changes[at][1])
    return tree


def _outer_first(at: At) -> tuple[int, str]:
    """Sort whole fabrics before parts of them."""
    return len(at), dotted(at)


def _undyed(tree: Node, at: At, changes: Changes) -> Node:
    """Take out dyes of a yarn that another takes the place of, except those changed as well."""
    if at[-1] not in DYES or len(at) < 2 or at[-2] not in _YARNS:
        return tree
    yarn = find(tree, at[:-1])
    if yarn is None or not isinstance(yarn.value, dict):
        return tree
    old = [dye for dye in DYES if dye in yarn.value and (*at[:-1], dye) not in changes]
    if not old or old == [at[-1]]:
        return tree
    rest = {key: node for key, node in yarn.value.items() if key not in old}
    return _put(tree, at[:-1], with_value(yarn, rest))


def _put(tree: Node, at: At, new: Node) -> Node:
    """Return a tree with another value at a path; the old tree stays as it is."""
    if not at:
        return new
    part, rest = at[0], at[1:]
    if isinstance(tree.value, list) and isinstance(part, int):
        items = list(tree.value)
        items[part] = _put(items[part], rest, new)
        return with_value(tree, items)
    inside = dict(tree.value) if isinstance(tree.value, dict) else {}
    below = inside.get(str(part), Node({}, new.line, new.key_line, home=new.home))
    if rest and not isinstance(below.value, (dict, list)):
        below = with_value(below, _opened(str(part), below))
    inside[str(part)] = _put(below, rest, new)
    return with_value(tree, inside)


def _opened(key: str, short: Node) -> dict[str, Node]:
    """Write a short form out, so that keys can be put beside what it says."""
    return {"colour": short} if key == "thread" and short.value is not None else {}


class Paths:
    """The paths that one recipe has."""

    def __init__(self, base: Node) -> None:
        self._full: defaultdict[str, list[At]] = defaultdict(list)
        self._short: defaultdict[str, list[At]] = defaultdict(list)
        data = plain(base)
        for at, _ in known(data):
            if at:
                self._full[dotted(at)].append(at)
            if len(at) > 1 and at[0] in {"fabrics", "panels"}:
                self._short[dotted(at[1:])].append(at)
            name = _name_of(data, at)
            if name is not None:
                self._full[dotted((at[0], name, *at[2:]))].append(at)
        self._read: dict[str, tuple[tuple[At, ...], str, str]] = {}

    def read(self, text: str) -> tuple[tuple[At, ...], str, str]:
        """Return what a path means, or what is wrong with it and the cure; it is kept."""
        if text not in self._read:
            self._read[text] = self._look(text)
        return self._read[text]

    def _look(self, text: str) -> tuple[tuple[At, ...], str, str]:
        word = ".".join("colour" if part == "color" else part for part in text.split("."))
        short = self._short.get(word, [])
        found = self._full.get(word, short)
        if found is short and len(short) > 1:
            fix = f"write one of {', '.join(map(dotted, short))}"
            return (), f"{text!r} can mean several things", fix
        if not found:
            return (), f"path {text!r} names nothing in this recipe", self._fix(word)
        if not _changeable(found[0]):
            fix = f"a colourway changes {', '.join(_CHANGEABLE)}, and the fabric of panels"
            return (), f"{text!r} is the garment's, not the colourway's", fix
        return tuple(found), "", ""

    def _fix(self, word: str) -> str:
        """Offer the nearest path."""
        paths = [path for path, ats in self._full.items() if _changeable(ats[0])]
        short = [path for path, ats in self._short.items() if _changeable(ats[0])]
        near = nearest(word, _alike([*short, *paths, *WORDS], word))
        hint = "a path is the keys on the way, with dots: drill.warp.colour"
        return hint if near is None else f"did you mean {near!r}? {hint}"


def _alike(paths: Iterable[str], word: str) -> list[str]:
    """Prefer paths of as many parts, and entries by name: they are what was meant, most likely."""
    dots = word.count(".")
    return sorted(paths, key=lambda path: path.count(".") != dots)


def _name_of(data: Mapping[str, object], at: At) -> str | None:
    """Return the name of the list's entry that a path leads through, if it has one."""
    if len(at) < 2 or at[0] not in _LISTS:
        return None
    entries = data.get(str(at[0]))
    entry = entries[at[1]] if isinstance(entries, list) and isinstance(at[1], int) else None
    name = entry.get("name") if isinstance(entry, dict) else None
    return name if isinstance(name, str) else None


def _changeable(at: At) -> bool:
    """Say whether a colourway may change this: cloth, colour and sewing, not the garment."""
    if at[:1] == ("panels",):
        return len(at) == 3 and at[2] == "fabric"
    return bool(at) and at[0] in _CHANGEABLE and not (at[0] in _LISTS and at[2:] == ("name",))
