"""A colourway by the short way is the same recipe as one that is read from scratch."""

from dataclasses import replace
from pathlib import Path

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from texbake.recipe.colourways import Paths, changes_of, put_all
from texbake.recipe.parsed import Laid, Parsed, changed, read
from texbake.recipe.tree import parse

PATH = Path("vest.yaml")
TEXT = """\
garment: vest
mesh: vest.obj
colour: gray
fabrics:
  drill: {weave: twill 2/1, warp: {colour: navy}, colours: {a: red, b: tan}}
  check: {weave: plain, sett: a 4 b 2, colours: {a: red, b: tan}}
  jersey: {knit: single jersey, yarn: {melange: {"#aeb4b5": 60 %, "#8d9496": 40 %}}}
  felt.2: {felt: plain}
fabric: drill
panels:
  front: {island: 0, fabric: plain}
seams:
  - {between: [all, all], stitch: none}
  - {name: sides, between: [front, back], thread: {colour: white, count: 40 tex}}
  - {name: sides, between: [front, all], thread: red}
hems:
  - {construction: bound, trim: gray, cloth: rib 1x1}
details:
  - {kind: bar tack, at: [0, 1, 2]}
prints:
  - {mask: star.png, colour: red}
"""
PATHS = [
    *("colour", "drill.colour", "drill.warp.colour", "drill.warp", "drill.weft.lustre"),
    *("drill.scale", "check.colours.a", "check.colours", "check.sett", "check.warp.order"),
    *("jersey.yarn.colour", "jersey.yarn.melange", "jersey.yarn", "felt.2.yarn.colour"),
    *("felt.2.felt.thickness", "jersey.finish.faded", "front.fabric", "fabric", "drill"),
    *("seams.sides.thread", "seams.0.thread.count", "seams.2.thread.count", "seams.sides.pucker"),
    *("hems.0.trim", "hems.0.cloth", "hems.0.stitch", "details.0.thread", "prints.0.colour"),
    *("seams", "hems.0", "seams.1.side", "prints.0.lustre"),
]
VALUES = [
    *("red", '"#123456"', "lab(40 10 10)", "lab(50 120 0)", "bleu", "3", "60 %", "40 tex", "2 mm"),
    *("{colour: tan, lustre: 90 %}", "{red: 50 %, tan: 50 %}", "{a: navy, b: red}", "b 2 a 2"),
    *("jersey", "none", "301", "front", "", "{felt: plain}", "[red, tan]", "{clour: red}"),
]


def base() -> Parsed:
    tree, _ = parse(TEXT, PATH)
    parsed, errors = read(tree, PATH, ())
    assert parsed is not None, errors
    return parsed


BASE = base()
KNOWN = Paths(BASE.tree)


def told(errors: object) -> set[tuple[object, ...]]:
    assert isinstance(errors, list)
    return {(e.line, e.what, e.fix) for e in errors}


@given(st.dictionaries(st.sampled_from(PATHS), st.sampled_from(VALUES), min_size=1, max_size=3))
@settings(max_examples=250, deadline=None, suppress_health_check=[HealthCheck.too_slow])
def test_the_short_way_leads_to_the_same_recipe_and_the_same_words(said: dict[str, str]) -> None:
    text = "".join(f"{path}: {value}\n" for path, value in said.items())
    changes, _ = changes_of(parse(text, PATH)[0].value, KNOWN, PATH)
    short, found = changed(BASE, changes)
    whole, wrong = read(put_all(BASE.tree, changes), PATH, ())
    assert told(found) == told(wrong)
    assert (short is None) == (whole is None)
    if short is None or whole is None:
        return
    assert dict(short.recipe.lines) == dict(whole.recipe.lines)
    assert list(short.recipe.fabrics) == list(whole.recipe.fabrics)
    assert replace(short.recipe, lines={}) == replace(whole.recipe, lines={})


def test_most_colours_go_the_short_way() -> None:
    for text in ("colour: red", "drill.warp.colour: red", "seams.sides.thread: tan"):
        changes, _ = changes_of(parse(text, PATH)[0].value, KNOWN, PATH)
        short, _ = changed(BASE, changes)
        assert short is not None
        assert isinstance(short.recipe.lines, Laid)
