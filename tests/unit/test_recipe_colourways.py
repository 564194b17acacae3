"""Colourways put other values at dotted paths, and are told off on their own lines."""

from pathlib import Path

import pytest

from texbake.errors import UserErrors
from texbake.recipe import Project, Recipe, loads

PATH = Path("vest.yaml")
BASE = """\
garment: vest
mesh: vest.obj
fabrics:
  drill: {weave: twill 2/1, warp: {colour: navy}}
  felt.2: {felt: plain}
panels:
  front: {island: 0, fabric: drill}
  drill: {island: 1}
seams:
  - {between: [front, drill], thread: {colour: white, count: 40 tex}}
hems:
  - {thread: white}
colourways:
"""  # the next line is 14


def project(ways: str) -> Project:
    return loads(BASE + ways, PATH)


def warp_hex(recipe: Recipe) -> str:
    warp = recipe.fabrics["drill"].warp
    assert warp is not None
    return warp.colour.hex


def told(ways: str) -> list[str]:
    with pytest.raises(UserErrors) as caught:
        project(ways)
    return [f"{e.line}: {e.what} | {e.fix}" for e in caught.value.errors]


def test_each_colourway_is_the_base_with_its_own_values() -> None:
    found = project("  slate: {}\n  night:\n  sand: {drill.warp.colour: tan}\n")
    assert list(found.colourways) == ["slate", "night", "sand"]
    assert [warp_hex(way) for way in found.colourways.values()] == ["#000080", "#000080", "#d2b48c"]
    assert warp_hex(found.recipe) == "#000080"
    assert found.colourways["sand"].lines["fabrics.drill.warp.colour"] == 16


@pytest.mark.parametrize(
    "path",
    ["drill.warp.colour", "drill.warp.color", "fabrics.drill.warp.colour", "drill.warp"],
)
def test_paths_are_short_or_full(path: str) -> None:
    value = "tan" if path.endswith("r") else "{colour: tan}"
    assert warp_hex(project(f"  sand: {{{path}: {value}}}\n").colourways["sand"]) == "#d2b48c"


def test_keys_that_the_base_leaves_out_can_be_set() -> None:
    ways = "  a: {colour: red, drill.weft.lustre: 90 %, felt.2.yarn.metallic: true,\n"
    ways += "      front.fabric: felt.2, fabric: plain, felt.2.felt.thickness: 4 mm}\n"
    found = project(ways).colourways["a"]
    weft, fibre = found.fabrics["drill"].weft, found.fabrics["felt.2"].yarn
    assert weft is not None
    assert fibre is not None
    assert (weft.lustre, weft.colour.hex, fibre.metallic) == (0.9, "#ff0000", True)
    assert found.fabrics["felt.2"].thickness_mm == pytest.approx(4.0)
    assert (found.panels["front"].fabric, found.fabric) == ("felt.2", "plain")


def test_one_part_of_a_thread_leaves_the_rest() -> None:
    found = project("  a: {seams.0.thread.colour: red, hems.0.thread.count: Nm 20}\n")
    seam, hem = found.colourways["a"].seams[0].thread, found.colourways["a"].hems[0].thread
    assert seam.colour is not None
    assert hem.colour is not None
    assert (seam.colour.hex, seam.count_tex) == ("#ff0000", 40.0)
    assert (hem.colour.hex, hem.count_tex) == ("#ffffff", 50.0)


def test_order_of_paths_changes_nothing() -> None:
    parts = ["drill.warp.colour: tan", "drill.warp: {colour: red, count: 50 tex}"]
    one = project(f"  a: {{{parts[0]}, {parts[1]}}}\n").colourways["a"]
    other = project(f"  a: {{{parts[1]}, {parts[0]}}}\n").colourways["a"]
    assert one.fabrics == other.fabrics
    assert warp_hex(one) == "#d2b48c"


@pytest.mark.parametrize(
    ("entry", "start", "part"),
    [
        ("drill.wrap.colour: red", "path 'drill.wrap.colour' names", "'drill.warp.colour'?"),
        ("dril.warp.colour: red", "path 'dril.warp.colour' names", "'drill.warp.colour'?"),
        ("drill.wales: 9 /cm", "path 'drill.wales' names", "did you mean 'drill.scale'?"),
        ("seams.1.thread: red", "path 'seams.1.thread' names", "did you mean 'seams.0.thread'?"),
        ("xyzzy: red", "path 'xyzzy' names nothing", "the keys on the way, with dots"),
        ("'': red", "path '' names nothing", "the keys on the way"),
        ("size: 512", "'size' is the garment's", "colour, fabric, fabrics, seams, hems"),
        ("front.grain: 3 deg", "'front.grain' is the garment's", "the fabric of panels"),
        ("panels: {}", "'panels' is the garment's", "a colourway changes"),
        ("drill: {felt: plain}", "'drill' can mean several", "fabrics.drill, panels.drill"),
        ("drill.warp.colour: bleu", "fabrics.drill.warp.colour: 'bleu' is no colour", "'blue'?"),
        ("drill.warp.colour: #fff }", "fabrics.drill.warp.colour: empty", '("#fff")'),
        ("drill.warp: {clour: red}", "fabrics.drill.warp.clour: a yarn of", "'colour'?"),
        ("front.fabric: dril", "panels.front.fabric: there is no fabric", "'drill'?"),
        ("drill.weave: 2/1", "fabrics.drill.weave: '2/1' is no weave", "twill 2/1"),
        ("fabrics.drill.colour: red\n    drill.colour: red", "'fabrics.drill.colour' and", "one"),
    ],
)
def test_mistakes_are_told_on_the_line_of_the_colourway(entry: str, start: str, part: str) -> None:
    messages = told(f"  a:\n    {entry}\n".replace("#fff }", "#fff"))
    line = 16 if "\n" in entry else 15
    assert len(messages) == 1, messages
    assert messages[0].startswith(f"{line}: {start}"), messages[0]
    assert part in messages[0]


def test_a_mistake_of_the_base_is_told_once() -> None:
    text = (BASE + "  a: {}\n  b: {}\n").replace("navy", "nvy")
    with pytest.raises(UserErrors) as caught:
        loads(text, PATH)
    assert [e.line for e in caught.value.errors] == [4]


def test_names_that_differ_in_capitals_only_are_refused() -> None:
    messages = told("  Sand: {}\n  sand: {}\n")
    assert messages[0].startswith("15: colourways.sand: the name differs from 'Sand' in capitals")


def test_colorways_are_colourways() -> None:
    text = (BASE + "  a: {}\n").replace("colourways", "colorways")
    assert list(loads(text, PATH).colourways) == ["a"]
