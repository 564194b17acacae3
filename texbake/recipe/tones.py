"""Tone on tone: colours that follow another by fixed differences in CIE Lab.

A melange and a marl follow as a whole: their fibres keep their differences from one another, and
their mean colour, as it is seen from afar, keeps its difference from the colour that it follows.
"""

import math
from pathlib import Path
from typing import Final

from texbake.errors import UserError
from texbake.recipe.colours import lab_of, lab_text, lab_to_linear, linear_to_lab, parse_colour
from texbake.recipe.colourways import Changes, Paths, changes_of
from texbake.recipe.keys import SHARE
from texbake.recipe.messages import At, dotted
from texbake.recipe.mistake import WrongValueError
from texbake.recipe.models import RecipeKeys
from texbake.recipe.tree import Node, find
from texbake.recipe.values import Colour, Triple, mixed
from texbake.recipe.ways import Way

_ROUNDS: Final = 8  # Lab is bent: the mean of moved fibres lands on its place to 0.001 after 4
_Part = tuple[Colour, float]


def toned(way: Way, tree: Node, paths: Paths, path: Path) -> tuple[Changes, list[UserError]]:
    """Return the changes that tones make of a colourway.

    Parameters
    ----------
    way : Way
    tree : Node
        The recipe with all else that the colourway changes.
    paths : Paths
        Of the recipe that it changes.
    path : Path
        The recipe, for messages.
    """
    if not way.tones:
        return {}, []
    try:
        base = _followed(way, tree, paths)
    except WrongValueError as error:
        node = way.of if isinstance(way.of, Node) else way.said
        what = f"tones.of: {error.what}"
        return {}, [UserError(what, fix=error.fix, path=path, line=node.line)]
    new: dict[str, Node] = {}
    for text, step in way.tones.items():
        ats, _, _ = paths.read(text)
        dl, da, db = (float(one.value) for one in step.value)
        target = base[0] + dl, base[1] + da, base[2] + db
        old = find(tree, ats[0]) if ats else None
        new[text] = Node(_moved(ats[0] if ats else (), old, target, step), step.line, step.key_line)
    return changes_of(new, paths, path)


def _followed(way: Way, tree: Node, paths: Paths) -> Triple:
    """Return the colour that tones follow, in Lab."""
    if isinstance(way.of, tuple):
        return way.of
    text = str(way.of.value) if way.of is not None else ""
    ats, what, fix = paths.read(text)
    if what:
        raise WrongValueError(what, fix=fix)
    return lab_of(_colour_at(tree, ats[0]))


def _colour_at(tree: Node, at: At) -> Colour:
    """Return the colour at a path; where none is written, the one that holds there."""
    node = find(tree, at)
    if at[-1] == "thread" and node is not None and isinstance(node.value, dict):
        node = node.value.get("colour")
    if node is None and at[-2:] == ("thread", "colour"):
        short = find(tree, at[:-1])  # a colour in place of a thread
        node = short if short is not None and isinstance(short.value, str) else None
    fix = "name the path of a colour, as in drill.warp.colour"
    if node is not None and at[-1] in {"melange", "marl"}:
        return mixed(_parts(at, node))
    if node is not None and isinstance(node.value, str):
        return parse_colour(node.value)
    if node is not None or at[-1] != "colour":
        raise WrongValueError(f"at {dotted(at)} stands no colour", fix=fix)
    return _inherited(tree, at)


def _inherited(tree: Node, at: At) -> Colour:
    """Return the colour that a yarn or fabric has from the fabric or recipe around it."""
    yarn = find(tree, at[:-1])
    own = set(yarn.value) if yarn is not None and isinstance(yarn.value, dict) else set()
    dyes = own & {"melange", "marl", "order"}
    if dyes and at[0] == "fabrics" and len(at) > 3:
        kind = min(dyes)
        fix = f"follow {dotted((*at[:-1], kind))}" if kind != "order" else "follow another path"
        raise WrongValueError(f"at {dotted(at)} stands no colour but its {kind}", fix=fix)
    if at[0] != "fabrics" and len(at) > 1:
        what = f"{dotted(at)} is the cloth's own, which differs from panel to panel"
        raise WrongValueError(what, fix="follow the colour of a fabric")
    for above in (at[:2], ()):
        node = find(tree, (*above, "colour"))
        if node is not None and isinstance(node.value, str):
            return parse_colour(node.value)
    return parse_colour(str(RecipeKeys.model_fields["colour"].default))


def _parts(at: At, node: Node) -> list[_Part]:
    """Return the colours of a melange or marl, each with its share; shares sum to 1."""
    if isinstance(node.value, list):
        return [(parse_colour(str(one.value)), 1.0 / len(node.value)) for one in node.value]
    if not isinstance(node.value, dict):
        raise WrongValueError(f"at {dotted(at)} stands no {at[-1]}", fix="write one")
    shares = {text: SHARE.parse(one.value) for text, one in node.value.items()}
    total = sum(shares.values()) or 1.0
    return [(parse_colour(text), share / total) for text, share in shares.items()]


def _moved(at: At, old: Node | None, target: Triple, step: Node) -> object:
    """Return the value at a path whose colour, or mean colour, is to be the target."""
    if at[-1:] not in {("melange",), ("marl",)} or old is None:
        return lab_text(target)
    try:
        parts = _parts(at, old)
    except WrongValueError:
        return lab_text(target)  # what is wrong with it is told where it stands
    texts = _land(parts, target)
    if at[-1] == "marl":
        return [Node(text, step.line, step.key_line) for text in texts]
    shares: dict[Colour, tuple[str, float]] = {}
    for text, (_, share) in zip(texts, parts, strict=True):
        colour = parse_colour(text)  # two fibres may be one at the border of sRGB
        first, sum_ = shares.get(colour, (text, 0.0))
        shares[colour] = first, sum_ + share
    return {text: Node(share, step.line, step.key_line) for text, share in shares.values()}


def _land(parts: list[_Part], target: Triple) -> list[str]:
    """Move all colours alike in Lab until their mean is the target, in sRGB or not."""
    labs = [lab_of(colour) for colour, _ in parts]
    by: Triple = (0.0, 0.0, 0.0)
    for _ in range(_ROUNDS):
        lights = [lab_to_linear(_sum(lab, by)) for lab in labs]
        r, g, b = (
            math.fsum(light[k] * part[1] for light, part in zip(lights, parts, strict=True))
            for k in range(3)
        )
        by = _sum(by, _sum(target, linear_to_lab((r, g, b)), -1.0))
    return [lab_text(_sum(lab, by)) for lab in labs]


def _sum(one: Triple, other: Triple, times: float = 1.0) -> Triple:
    return one[0] + times * other[0], one[1] + times * other[1], one[2] + times * other[2]
