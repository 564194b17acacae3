"""Fabrics from other files, laid under the recipe's own before it is read.

A fragment is YAML with nothing but ``fabrics``. So it cannot include another, and no circle can
arise. Each of its values keeps its file and line: what is wrong with it is told there.
"""

from dataclasses import dataclass, replace
from pathlib import Path

from texbake.errors import UserError
from texbake.recipe import tree as trees
from texbake.recipe.mistake import WrongValueError, nearest, shown
from texbake.recipe.shipped import fabric_names, fabrics_folder
from texbake.recipe.spelling import british
from texbake.recipe.tree import Node
from texbake.recipe.words import Includes

DYES = ("colour", "melange", "marl", "order")  # a yarn has one of them
_WHOLE = ("melange",)  # its keys are colours: two melanges do not mix
_FORM = "it has fabrics: and below it fabrics by name, nothing else"
_FRAGMENT = trees.Form("file of fabrics", _FORM, _FORM)


@dataclass(frozen=True, slots=True)
class _Wanted:
    """One file that the recipe includes, and where it says so."""

    text: str
    path: Path
    line: int


def with_included(tree: Node, path: Path) -> tuple[Node, tuple[Path, ...], list[UserError]]:
    """Lay the recipe's own fabrics over those that it includes.

    Parameters
    ----------
    tree : Node
        The recipe; it stays as it is.
    path : Path
        Where it lies.

    Returns
    -------
    Node
        Where a fabric is in both, the recipe's keys hold and the fragment's fill in.
    tuple of Path
        The files, in the order of ``include``.
    list of UserError
        What is wrong with ``include`` and the form of the files, each with file and line.
    """
    wanted, errors = _wanted(tree, path)
    found: dict[str, Node] = {}
    for one in wanted:
        try:
            fabrics, wrong = _fragment(one, path)
        except UserError as error:
            fabrics, wrong = {}, [error]
        errors += wrong
        for name, node in fabrics.items():
            if name in found:
                what = f"fabric {name!r} stands in {one.text} and in {found[name].source} too"
                fix = "include one of the two, or give the fabric another name in one of them"
                errors.append(UserError(what, fix=fix, path=path, line=one.line))
            found.setdefault(name, node)
    if not found:
        return tree, tuple(one.path for one in wanted), errors
    theirs = Node(found, wanted[0].line, wanted[0].line)
    own = tree.value.get("fabrics")
    laid = theirs if own is None else merged(theirs, own)
    whole = replace(tree, value={**tree.value, "fabrics": laid})
    return whole, tuple(one.path for one in wanted), errors


def merged(theirs: Node, own: Node) -> Node:
    """Return ``theirs`` with every key that ``own`` has in its place, mappings key by key.

    A yarn that gets another dye loses the one it had: who writes a colour over a melange means
    the colour.
    """
    if not isinstance(theirs.value, dict) or not isinstance(own.value, dict):
        return own
    dyed = any(key in own.value for key in DYES)
    both = {k: v for k, v in theirs.value.items() if k in own.value or not (dyed and k in DYES)}
    for key, node in own.value.items():
        under = both.get(key)
        both[key] = node if under is None or key in _WHOLE else merged(under, node)
    return replace(own, value=both)


def _wanted(tree: Node, path: Path) -> tuple[list[_Wanted], list[UserError]]:
    """Return the files to read; what ``include`` cannot be is told with the recipe's keys."""
    node = tree.value.get("include")
    if node is None:
        return [], []
    try:
        texts = Includes().parse(trees.plain(node))
    except WrongValueError:
        return [], []
    lines = [item.line for item in node.value] if isinstance(node.value, list) else [node.line]
    found: dict[Path, _Wanted] = {}
    errors = []
    for text, line in zip(texts, lines, strict=False):
        try:
            one = _Wanted(text, _place(text, path, set(found)), line)
        except WrongValueError as error:
            what = f"include: {error.what}"
            errors.append(UserError(what, fix=error.fix, path=path, line=line))
        else:
            found[one.path] = one
    return list(found.values()), errors


def _place(text: str, path: Path, taken: set[Path]) -> Path:
    """Return the file that an entry of ``include`` means."""
    if "\\" in text:
        raise WrongValueError(f"{text!r} has \\ in it", fix=f"write {text.replace(chr(92), '/')}")
    shipped = "/" not in text and Path(text).suffix.lower() not in {".yaml", ".yml"}
    where = _shipped(text, path) if shipped else path.parent / text
    if where in taken:
        raise WrongValueError(f"{text!r} is included twice", fix="take one out")
    if where.resolve() == path.resolve():
        fix = "take it out; a recipe's own fabrics are there without it"
        raise WrongValueError("the recipe includes itself", fix=fix)
    if where.is_dir():
        raise WrongValueError(f"{text} is a folder", fix=f"name a file in it{_near(where / '_')}")
    if not where.is_file():
        fix = f"paths begin at the recipe's folder{_near(where)}"
        raise WrongValueError(f"there is no file {text}", fix=fix)
    return where


def _shipped(name: str, path: Path) -> Path:
    names = fabric_names()
    if name in names:
        return fabrics_folder() / f"{name}.yaml"
    near = nearest(name, names)
    guess = "" if near is None else f"did you mean {near!r}? "
    if (path.parent / f"{name}.yaml").is_file():
        guess = f"for the file beside the recipe write {name}.yaml; "
    fix = f"{guess}Texbake brings: {', '.join(names)}; a file of yours is named with its .yaml"
    raise WrongValueError(f"there is no fabric {name!r} to include", fix=fix)


def _near(where: Path) -> str:
    """Name the file there that looks most alike, else all of them."""
    folder = where.parent
    files = sorted(p.name for p in folder.glob("*.y*ml")) if folder.is_dir() else []
    near = nearest(where.name, files)
    if near is not None:
        return f"; did you mean {near!r}?"
    return f"; there: {', '.join(files[:12])}" if files else ""


def _fragment(wanted: _Wanted, recipe: Path) -> tuple[dict[str, Node], list[UserError]]:
    """Return the fabrics of a file, every value marked as its own, and what is wrong with it."""
    tree, errors = trees.parse(trees.read_text(wanted.path), wanted.path, form=_FRAGMENT)
    tree, doubled = british(tree, wanted.path)
    errors += doubled
    fabrics = tree.value.get("fabrics")
    for key, node in tree.value.items():
        if key != "fabrics":
            what = f"{key!r} does not belong in a file that {recipe.name} includes"
            fix = f"take it out: {_FORM}"
            errors.append(UserError(what, fix=fix, path=wanted.path, line=node.key_line))
    if fabrics is None and not errors:
        errors.append(UserError("no fabrics", fix=_FORM, path=wanted.path, line=tree.line))
    if fabrics is None or errors:
        return {}, errors
    if not isinstance(fabrics.value, dict) or not fabrics.value:
        what = f"fabrics: found {shown(trees.plain(fabrics))}"
        return {}, [UserError(what, fix=_FORM, path=wanted.path, line=fabrics.line)]
    return {
        name: marked(node, wanted.path, wanted.line) for name, node in fabrics.value.items()
    }, []


def marked(node: Node, source: Path, home: int) -> Node:
    """Return a node that knows its file, and the line of the recipe that names the file."""
    value = node.value
    if isinstance(value, dict):
        value = {key: marked(below, source, home) for key, below in value.items()}
    elif isinstance(value, list):
        value = [marked(below, source, home) for below in value]
    return replace(node, value=value, source=source, home=home)
