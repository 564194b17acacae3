"""Mistakes that no single key shows: they are looked for whatever else is wrong."""

from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

from texbake.errors import UserError
from texbake.recipe.axes import UNIT_MM
from texbake.recipe.colourway_keys import WORDS
from texbake.recipe.keys import Keys
from texbake.recipe.messages import At, told
from texbake.recipe.mistake import WrongValueError, advice
from texbake.recipe.shape import known
from texbake.recipe.shipped import fabric_names
from texbake.recipe.structures import parse_structure
from texbake.recipe.tree import COMMA, QUOTES, Node, find, plain, walk
from texbake.recipe.weaves import FIRST_WORDS

Finding = tuple[At, str, str]
_PICKS = ("at", "object", "group", "material", "island", "islands")


def check(tree: Node, path: Path) -> list[UserError]:
    """Return what is wrong between keys, as errors with lines."""
    data = plain(tree)
    found = [*_empty(tree), *_mesh(data), *_names(data), *yarns(data), *_panels(data)]
    found += [*_sides(data)]
    errors = []
    for at, what, fix in found:
        node = find(tree, at)
        errors.append(told(what, fix, tree if node is None else node, at, path))
    return errors


def _mapping(value: object) -> Mapping[str, Any]:
    """Return a mapping, or an empty one: what is none is told elsewhere."""
    return value if isinstance(value, dict) else {}


def _may_be_empty(at: At) -> bool:
    """Say whether nothing may stand here: a colourway, and its values, which it tells itself."""
    return at[:1] == ("colourways",) and (len(at) == 2 or (len(at) > 2 and at[2] not in WORDS))


def _empty(tree: Node) -> Iterator[Finding]:
    """Find keys with nothing behind them; a colour without quotes is the usual cause."""
    models: dict[At, type[Keys] | None] = {}
    for at, node in walk(tree):
        if node.value is None and not _may_be_empty(at):
            fix = "write a value, or take the key out"
            models = models or dict(known(plain(tree)))
            within = models.get(at[:-1])
            if within is not None and at[-1] not in within.model_fields:
                fix = f"{fix}; {COMMA}"
            if node.swallowed:
                fix = QUOTES.format(f'"{node.swallowed}"')
            elif at[-1] in {"colour", "thread"}:
                fix = 'write a colour, in quotes if it begins with #: "#3d5a6c"'
            elif at[-1] in {"seams", "hems"}:
                fix = f"write none if you want no {at[-1]}, or take the key out"
            yield at, "empty", fix


def _mesh(data: Mapping[str, Any]) -> Iterator[Finding]:
    mesh = data.get("mesh")
    if not isinstance(mesh, str):
        return
    if "\\" in mesh:
        yield ("mesh",), f"{mesh!r} has \\ in it", f"write {mesh.replace(chr(92), '/')}"
    elif Path(mesh.strip()).suffix.lower() not in UNIT_MM:
        yield (
            ("mesh",),
            f"{mesh!r} is no mesh file",
            f"its name ends in one of {', '.join(UNIT_MM)}",
        )


def _names(data: Mapping[str, Any]) -> Iterator[Finding]:
    """Find names of fabrics that are none, and a recipe that has no cloth at all."""
    fabrics = _mapping(data.get("fabrics"))
    if "fabric" not in data and not fabrics:
        fix = "add fabric: plain, or describe the cloth under fabrics"
        yield (), "the recipe has no fabric", fix
    uses: list[tuple[At, object]] = [(("fabric",), data.get("fabric"))]
    for name, panel in _mapping(data.get("panels")).items():
        uses.append((("panels", name, "fabric"), _mapping(panel).get("fabric")))
    for kind in ("seams", "hems"):
        entries = data.get(kind)
        for k, entry in enumerate(entries if isinstance(entries, list) else []):
            uses.append(((kind, k, "cloth"), _mapping(entry).get("cloth")))
    for at, used in uses:
        if isinstance(used, str) and used.strip() not in fabrics:
            yield from _phrase(at, used.strip(), fabrics)


def _phrase(at: At, name: str, fabrics: Mapping[str, Any]) -> Iterator[Finding]:
    """Accept a structure's phrase; else offer the nearest fabric, else say what is wrong."""
    try:
        parse_structure(name)
    except WrongValueError as error:
        known = f"fabrics: {', '.join(fabrics)}; or a structure: plain, twill 2/1, felt, ..."
        if name.split()[:1] in [[w] for w in (*FIRST_WORDS, "rib")]:
            yield at, error.what, error.fix
            return
        words = [*fabrics, "plain", "twill 2/1", "satin 5/2", "single jersey", "rib 2x2", "felt"]
        fix = advice(name, words, known if fabrics else known.split("; or a ")[1])
        if name in fabric_names():
            fix = f"add include: {name}"
        yield at, f"there is no fabric {name!r}", fix


def yarns(data: Mapping[str, Any]) -> Iterator[Finding]:
    """Find yarns with two kinds of colours, or with lengths of colours that they have not."""
    for name, fabric in _mapping(data.get("fabrics")).items():
        for part in ("warp", "weft", "yarn"):
            yarn = _mapping(_mapping(fabric).get(part))
            at: At = ("fabrics", name, part)
            dyes = [key for key in ("colour", "melange", "marl", "order") if key in yarn]
            if len(dyes) > 1:
                one = {"order": "an order"}.get(dyes[1], f"a {dyes[1]}")
                yield at, f"both {dyes[0]} and {dyes[1]}", f"keep one: {one} brings its own colours"
            if "spaced" in yarn and "melange" not in yarn:
                fix = "add melange: the colours that follow one another, each with its share"
                yield at, "spaced without a melange", fix


def _panels(data: Mapping[str, Any]) -> Iterator[Finding]:
    for name, panel in _mapping(data.get("panels")).items():
        at: At = ("panels", name)
        if not isinstance(panel, dict):
            continue
        picks = [key for key in _PICKS if key in panel]
        if not picks:
            fix = f"say where it is, by one of {', '.join(_PICKS)}, as in at: [0, 120, 14]"
            yield at, "nothing says which faces the panel has", fix
        if {"island", "islands"} <= panel.keys():
            fix = "keep islands, with all numbers in it, as in islands: [2, 5]"
            yield at, "both island and islands", fix


def _sides(data: Mapping[str, Any]) -> Iterator[Finding]:
    """Find a seam stitched on a panel that it does not touch."""
    seams = data.get("seams")
    for k, seam in enumerate(seams if isinstance(seams, list) else []):
        side, pair = _mapping(seam).get("side"), _mapping(seam).get("between")
        if not isinstance(side, str) or not isinstance(pair, list) or side == "both":
            continue
        names = [name for name in pair if isinstance(name, str)]
        if side not in names and "all" not in names:
            fix = advice(side, ["both", *names], f"allowed: both, {', '.join(names)}")
            yield ("seams", k, "side"), f"{side!r} is not one of the seam's panels", fix
