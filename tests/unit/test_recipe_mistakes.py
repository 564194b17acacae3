"""Each mistake is told with its line, what was found, and what is allowed."""

from pathlib import Path

import pytest

from texbake.errors import UserError, UserErrors
from texbake.recipe import loads

PATH = Path("ferry.yaml")
HEAD = "garment: vest\nmesh: vest.obj\n"
CLOTH = HEAD + "fabric: plain\n"  # the next line is 4


def told(text: str) -> list[str]:
    with pytest.raises(UserErrors) as caught:
        loads(text, PATH)
    return [f"{e.line}: {e.what} | {e.fix}" for e in caught.value.errors]


def only(text: str) -> str:
    messages = told(text)
    assert len(messages) == 1, messages
    return messages[0]


def assert_told(text: str, start: str, *parts: str) -> None:
    message = only(text)
    assert message.startswith(start), message
    for part in parts:
        assert part in message, message


TOP = [
    ("sizze: 1024", "4: sizze: a recipe has no key 'sizze'", "did you mean 'size'?"),
    ("size: 17", "4: size: 17 is not a power of two", "nearest allowed is 16;"),
    ("size: 25", "4: size: 25 is not a power of two", "nearest allowed is 32;"),
    ("size: 24", "4: size: 24 is not a power of two", "nearest allowed is 16;"),
    ("size: 8", "4: size: 8 is out of range", "16 to 16384"),
    ("size: 32768", "4: size: 32768 is out of range", "16 to 16384"),
    ("size: 1024.0", "4: size: 1024.0 is no whole number", "power of two"),
    ("size: true", "4: size: true is no whole number", "power of two"),
    ("size: -4", "4: size: -4 is out of range", "16 to 16384"),
    ("gutter: 257", "4: gutter: 257 is out of range", "0 to 256"),
    ("seed: -1", "4: seed: -1 is out of range", "0 to 4294967295"),
    ("normal_bits: 12", "4: normal_bits: 12 is out of range", "8 or 16"),
    ("uv_set: 8", "4: uv_set: 8 is out of range", "0 to 7"),
    ("tile: [0]", "4: tile: found 1 number(s)", "[u, v]"),
    ("tile: [0, 0.5]", "4: tile.1: 0.5 is no whole number", "whole number"),
    ("tile: 1001", "4: tile: found 1001", "[u, v]"),
    ("mesh_unit: inch", "4: mesh_unit: 'inch' is not known here", "did you mean 'in'?"),
    ("up: w", "4: up: 'w' is not known here", "x, y, z, -x, -y, -z"),
    ("colour: steelblu", "4: colour: 'steelblu' is no colour", "did you mean 'steelblue'?"),
    ("colour: [1, 2]", "4: colour: a list is no colour", "#rrggbb"),
    ("colour: 336699", "4: colour: 336699 is no colour", '"#336699"'),
    ('colour: "#12345"', "4: colour: '#12345' is no colour", "6 or 3 digits"),
    ('colour: "#12345678"', "4: colour: '#12345678' is no colour", "no transparency"),
    ("colour: lab(1 2)", "4: colour: 'lab(1 2)' is no colour", "three numbers"),
    ("colour: lab(101 0 0)", "4: colour: 'lab(101 0 0)': L is 101", "0 (black) to 100"),
    ("colour: #3d5a6c", "4: colour: empty", 'put the colour in quotes ("#3d5a6c")'),
    ("color: #fff", "4: colour: empty", 'put the colour in quotes ("#fff")'),
    ("colour:", "4: colour: empty", "in quotes if it begins with #"),
    ("seed:", "4: seed: empty", "take the key out"),
    ("seams:", "4: seams: empty", "write none if you want no seams"),
    ("seams: {}", "4: seams: found a mapping", "write a list"),
    ("hems: 3", "4: hems: found 3", "write a list"),
    ("panels: []", "4: panels: found a list", "write a mapping"),
    ("fabrics: felt", "4: fabrics: found 'felt'", "write a mapping"),
    ("colourways: [a]", "4: colourways: found a list", "write a mapping"),
    ("colourways: {a/b: {}}", "4: colourways.a/b: 'a/b' cannot be part of a file name", "letters"),
    ("colourways: {LPT1: {}}", "4: colourways.LPT1: 'LPT1' is the name of a device", "LPT1-1"),
    ("colourways: {a: 3}", "4: colourways.a: found 3", "write a mapping"),
    ("file_name: '{garmet}_{map}'", "4: file_name: ", "did you mean 'garment'?"),
    ("file_name: '{garment}'", "4: file_name: '{garment}' has no {map}", "one name"),
    ("file_name: 'a/{map}'", "4: file_name: 'a/{map}' cannot be a file name", "- and _"),
    ("file_name: '{map}.png'", "4: file_name: ", "the ending comes by itself"),
    ("file_name: 3", "4: file_name: 3 is no text", "{map}"),
    ("seed: .inf", "4: seed: inf is no whole number", "whole number"),
    ("color: red\ncolour: red", "4: 'color' and 'colour' are the same key", "keep one"),
    ("seed: 1\nseed: 2", "5: key 'seed' stands twice, first in line 4", "keep one"),
    ("301: 1", "4: a key must be text, not 301", "in quotes"),
    ("<<: {seed: 1}", "4: <<: a recipe has no key '<<'", "a recipe has: garment"),
    ("creases: {fold: 1}", "4: creases.fold: a set of creases has no key 'fold'", "strength"),
]


@pytest.mark.parametrize(("line", "start", "part"), TOP)
def test_top_level_mistakes_are_told(line: str, start: str, part: str) -> None:
    assert_told(f"{CLOTH}{line}\n", start, part)


HEADS = [
    ("mesh: vest.obj\nfabric: plain\n", "1: a recipe needs 'garment'", "add garment: ferry-vest"),
    ("garment: vest\nfabric: plain\n", "1: a recipe needs 'mesh'", "add mesh: meshes/"),
    (HEAD, "1: the recipe has no fabric", "add fabric: plain"),
    (HEAD + "fabric: plane\n", "3: fabric: there is no fabric 'plane'", "did you mean 'plain'?"),
    (HEAD + "fabric: satin 5/4\n", "3: fabric: 'satin 5/4' does not bind evenly", "move of 2, 3"),
    (HEAD + "fabric: 3\n", "3: fabric: 3 is no text", '"3"'),
    ("garment: a b\nmesh: a.obj\nfabric: felt", "1: garment: 'a b' cannot be part", "letters"),
    ("garment: Con\nmesh: a.obj\nfabric: felt", "1: garment: 'Con' is the name of a device", "-1"),
    ("garment: 7\nmesh: a.obj\nfabric: felt", "1: garment: 7 is no text", '"7"'),
    ("garment: a\nmesh: a.fbx\nfabric: felt", "2: mesh: 'a.fbx' is no mesh file", ".glb"),
    ("garment: a\nmesh: b\\a.obj\nfabric: felt", "2: mesh: 'b\\\\a.obj' has \\", "b/a.obj"),
    ("garment: a\nmesh: true\nfabric: felt", "2: mesh: true is no text", "quotes"),
]


@pytest.mark.parametrize(("text", "start", "part"), HEADS)
def test_mistakes_in_what_every_recipe_needs_are_told(text: str, start: str, part: str) -> None:
    assert_told(text, start, part)


FABRICS = [
    ("{weave: twil 2/1}", "5: fabrics.f.weave: 'twil 2/1' is no weave", "did you mean 'twill 2/1"),
    ("{weave: twill 9/8}", "5: fabrics.f.weave: 'twill 9/8' cannot be woven", "at most 16"),
    ("{weave: twill 0/2}", "5: fabrics.f.weave: 'twill 0/2' cannot be woven", "at least 1"),
    ("{weave: satin 4/2}", "5: fabrics.f.weave: 'satin 4/2' has 4 ends", "5 to 32 ends (ISO 3572)"),
    ("{weave: satin 8/4}", "5: fabrics.f.weave: 'satin 8/4' does not", "3, 5 (ISO 3572"),
    ("{weave: satin 6/2}", "5: fabrics.f.weave: 'satin 6/2' does not", "take 5 or 8 (ISO 3572"),
    ("{weave: 21}", "5: fabrics.f.weave: 21 is no text", "twill 2/1"),
    ("{knit: jersey}", "5: fabrics.f.knit: 'jersey' is no knit", "did you mean 'single jersey'?"),
    ("{knit: rib 0x1}", "5: fabrics.f.knit: 'rib 0x1' cannot be knitted", "1 to 16"),
    ("{felt: thick}", "5: fabrics.f.felt: found 'thick'", "thickness"),
    ("{felt: {thickness: 2}}", "5: fabrics.f.felt.thickness: 2 has no unit", "2 mm"),
    ("{felt: {thicknes: 2 mm}}", "5: fabrics.f.felt.thicknes: ", "did you mean 'thickness'?"),
    ("{felt: plain, yarn: {count: 20 tex}}", "5: fabrics.f.yarn.count: ", "a fibre has: colour"),
    ("{}", "5: fabrics.f: the fabric has no structure", "exactly one of weave, draft, knit, chart"),
    ("{wales: 9 /cm}", "5: fabrics.f: the fabric has no structure", "exactly one of"),
    ("{weave: plain, knit: rib 1x1}", "5: fabrics.f.knit: a fabric has one structure", "keep one"),
    ("twill 2/1", "5: fabrics.f: found 'twill 2/1'", "a weave has: colour, scale, finish, raised"),
    (
        "{weave: twill 2/1, wales: 14 /cm}",
        "5: fabrics.f.wales: 'wales' belongs to a knit (columns of loops)",
        "this is a weave (twill 2/1)",
    ),
    (
        "{knit: rib 1x1, warp: {}}",
        "5: fabrics.f.warp: 'warp' belongs to a weave (yarn along the grain)",
        "this is a knit (rib 1x1)",
    ),
    (
        "{weave: plain, finish: {raised: 40 %}}",
        "5: fabrics.f.finish.raised: a finish has no key 'raised', but its fabric has",
        "write raised beside finish",
    ),
    ("{weave: plain, wrap: {}}", "5: fabrics.f.wrap: a weave has no key", "did you mean 'warp'?"),
    ("{weave: plain, scale: 0}", "5: fabrics.f.scale: 0 is out of range", "from 0.1 to 100"),
    ("{weave: plain, scale: 4x}", "5: fabrics.f.scale: '4x' is no number", "from 0.1 to 100"),
    ("{weave: plain, scale: .nan}", "5: fabrics.f.scale: nan is out of range", "from 0.1"),
    ("{draft: plain}", "5: fabrics.f.draft: 'plain' is no draft", '["x.", ".x"]'),
    ("{draft: []}", "5: fabrics.f.draft: a list is no draft", "1 to 64 rows"),
    ("{draft: [x., ox]}", "5: fabrics.f.draft.1: 'ox' is no row", "warp on top"),
    ("{draft: [x., .xx]}", "5: fabrics.f.draft.1: row '.xx' has 3 ends", "equally long"),
    ("{draft: [x., xx]}", "5: fabrics.f.draft.1: row 'xx': this pick floats", "in each row"),
    ("{draft: [x.x, .xx]}", "5: fabrics.f.draft: column 3 is all 'x'", "in each column"),
]


@pytest.mark.parametrize(("value", "start", "part"), FABRICS)
def test_mistakes_in_a_fabric_are_told(value: str, start: str, part: str) -> None:
    assert_told(f"{CLOTH}fabrics:\n  f: {value}\n", start, part)


YARNS = [
    ("count: 30", "30 has no unit", "say the unit, as in 30 tex; units: tex, dtex, den"),
    ("count: '30'", "30 has no unit", "as in 30 tex"),
    ("count: 20 mm", "'20 mm' is a length, not a yarn count", "tex, dtex, den, denier, Ne, Nm"),
    ("count: 20 text", "'20 text': no unit is called 'text'", "did you mean 'tex'?"),
    ("count: ne 30", "'ne 30' is no yarn count", "20 tex"),
    ("count: Ne 0", "'Ne 0' is not above 0", "Ne 30"),
    ("count: 0.5 tex", "'0.5 tex' is out of range", "1 tex to 2000 tex"),
    ("count: 40/2 tex", "'40/2 tex': no fraction here", "20 tex"),
    ("count: -20 tex", "'-20 tex' is out of range", "1 tex"),
    ("count: [20]", "a list is no yarn count", "20 tex"),
    ("count: true", "true is no yarn count", "20 tex"),
    ("count: '2,5 tex'", "'2,5 tex' is no yarn count", "write a point, not a comma: 2.5 tex"),
    ("per_cm: 200", "200 is out of range", "1 /cm to 100 /cm"),
    ("per_cm: .inf", "inf is not finite", "density"),
    ("per_cm: 24 mm", "'24 mm' is a length, not a density", "/cm, /in"),
    ("twist: z", "'z' is not known here", "allowed: S, Z"),
    ("irregularity: 60 %", "'60 %' is out of range", "0 % to 50 %"),
    ("lustre: shiny", "'shiny' is no share", "%"),
    ("metallic: yes", "'yes' is neither true nor false", "true or false"),
    ("metallic: 1", "1 is neither true nor false", "true or false"),
    ("melange: {red: 60 %, blue: 30 %}", "shares sum to 90 %", "+10 %"),
    ("melange: {red: 60 %, blue: 50 %}", "shares sum to 110 %", "-10 %"),
    ("melange: {red: 50 %, '#f00': 50 %}", "one colour stands twice", "add its shares up"),
    ("melange: red", "found 'red'", "write a mapping"),
]


@pytest.mark.parametrize(("value", "what", "fix"), YARNS)
def test_mistakes_in_a_yarn_are_told(value: str, what: str, fix: str) -> None:
    key = value.split(":", maxsplit=1)[0]
    text = f"{CLOTH}fabrics:\n  f:\n    weave: plain\n    warp: {{twist: S,\n      {value}}}\n"
    if key == "twist":
        text = text.replace("twist: S,", "")
    assert_told(text, f"8: fabrics.f.warp.{key}: {what}", fix)


def test_colours_and_shares_of_a_melange_are_told_one_by_one() -> None:
    text = CLOTH + "fabrics:\n  f:\n    knit: rib 1x1\n    yarn:\n      melange:\n"
    messages = told(text + "        redd: 60 %\n        blue: 40 g\n")
    assert [m.split(" | ")[0] for m in messages] == [
        "9: fabrics.f.yarn.melange.redd: 'redd' is no colour",
        "10: fabrics.f.yarn.melange.blue: '40 g': no unit is called 'g'",
    ]


def test_a_yarn_with_colour_and_melange_must_choose() -> None:
    text = CLOTH + "fabrics:\n  f: {knit: rib 1x1, yarn: {colour: red, melange: {red: 1}}}\n"
    assert_told(text, "5: fabrics.f.yarn: both colour and melange", "keep one")


PANELS = [
    ("{fabric: felt}", "5: panels.p: nothing says which faces", "by one of at, object, group"),
    ("{at: [1, 2]}", "5: panels.p.at: found 2 number(s)", "[x, y, z]"),
    ("{at: [1, 2, 3 mm]}", "5: panels.p.at.2: '3 mm' is no number", "a number from"),
    ("{at: [1, 2, .nan]}", "5: panels.p.at.2: nan is out of range", "a number from"),
    ("{island: 1, islands: [2]}", "5: panels.p: both island and islands", "keep islands"),
    ("{islands: [2, 2]}", "5: panels.p.islands.1: island 2 stands twice", "once"),
    ("{islands: 2}", "5: panels.p.islands: found 2", "[2, 5]"),
    ("{island: -1}", "5: panels.p.island: -1 is out of range", "0 to"),
    ("{object: 3}", "5: panels.p.object: 3 is no text", '"3"'),
    ("{object: ' '}", "5: panels.p.object: ' ' cannot be", "printable"),
    ("{at: [1, 2, 3], fabric: fellt}", "5: panels.p.fabric: there is no fabric", "'felt'?"),
    ("{at: [1, 2, 3], grain: 15}", "5: panels.p.grain: 15 has no unit", "15 deg"),
    ("{at: [1, 2, 3], grain: 361 deg}", "5: panels.p.grain: '361 deg' is out", "-360 deg to 360"),
    ("{at: [1, 2, 3], grain: 2 mm}", "5: panels.p.grain: '2 mm' is a length, not an", "deg, rad"),
    ("{at: [1, 2, 3], grian: 2 deg}", "5: panels.p.grian: a panel has no key", "'grain'?"),
    ("", "5: panels.p: empty", "write a value"),
    ("[1]", "5: panels.p: found a list", "write a mapping of keys; a panel has: at"),
]


@pytest.mark.parametrize(("value", "start", "part"), PANELS)
def test_mistakes_in_a_panel_are_told(value: str, start: str, part: str) -> None:
    assert_told(f"{CLOTH}panels:\n  p: {value}\n", start, part)


@pytest.mark.parametrize("name", ["all", "both", "none"])
def test_words_with_a_meaning_cannot_name_a_panel(name: str) -> None:
    text = f"{CLOTH}panels:\n  {name}: {{island: 1}}\n"
    assert_told(text, f"5: panels.{name}: '{name}' has a meaning of its own", "another name")


SEWING = [
    ("seams", "{between: [front]}", "5: seams.0.between: found 1 name(s)", "[front, back]"),
    ("seams", "{between: front}", "5: seams.0.between: found 'front'", "two panels"),
    ("seams", "{between: [front, 3]}", "5: seams.0.between.1: 3 is no text", '"3"'),
    ("seams", "{rows: 1}", "5: seams.0: a seam needs 'between'", "add between: [front, back]"),
    ("seams", "{between: [a, b], side: c}", "5: seams.0.side: 'c' is not one of", "both, a, b"),
    (
        "seams",
        "{between: [a, b], stitch: 302}",
        "5: seams.0.stitch: 302 is not",
        "allowed: 301, 304",
    ),
    ("seams", "{between: [a, b], width: 2 mm}", "5: seams.0.width: a seam has no", "a seam has:"),
    ("seams", "{between: [a, b], thread: {colr: red}}", "5: seams.0.thread.colr: ", "'colour'?"),
    ("seams", "front", "5: seams.0: found 'front'", "a seam has:"),
    ("hems", "{on: [a, 3]}", "5: hems.0.on.1: 3 is no text", '"3"'),
    ("hems", "{on: []}", "5: hems.0.on: found a list", "one panel, a list of panels, or all"),
    ("hems", "{widht: 2 mm}", "5: hems.0.widht: a hem has no key", "did you mean 'width'?"),
    ("hems", "{width: 2.5}", "5: hems.0.width: 2.5 has no unit", "2.5 mm; units: mm, cm, m, in"),
    ("hems", "{width: 1/0 in}", "5: hems.0.width: '1/0 in' divides by 0", "under the line"),
    ("hems", "{width: 12 deg}", "5: hems.0.width: '12 deg' is an angle, not a", "mm, cm, m, in"),
    ("hems", "{width: 12 mmm}", "5: hems.0.width: '12 mmm': no unit", "did you mean 'mm'?"),
    ("hems", "{length: 0.4 mm}", "5: hems.0.length: '0.4 mm' is out", "0.5 mm to 20 mm"),
    ("hems", "{rows: 5}", "5: hems.0.rows: 5 is out of range", "1 to 4"),
    ("hems", "{rows: 0}", "5: hems.0.rows: 0 is out of range", "1 to 4"),
    ("hems", "{thread: rde}", "5: hems.0.thread: 'rde' is no colour", "did you mean 'red'?"),
    ("hems", "{thread: }", "5: hems.0.thread: empty", "write a colour"),
    ("hems", "{thread: {count: 5000 tex}}", "5: hems.0.thread.count: '5000 tex'", "2000 tex"),
]


@pytest.mark.parametrize(("key", "value", "start", "part"), SEWING)
def test_mistakes_in_sewing_are_told(key: str, value: str, start: str, part: str) -> None:
    assert_told(f"{CLOTH}{key}:\n  - {value}\n", start, part)


def test_every_mistake_is_told_at_once_in_the_order_of_lines() -> None:
    text = (
        "garment: con\nmesh: a.fbx\nsize: 17\nfabric: drlil\nfabrics:\n  drill:\n"
        "    weave: satin 6/2\n    courses: 3 /cm\n    warp: {count: 30, colour: blu}\n"
        "panels:\n  p: {fabric: felt}\nhems:\n  - on: all\n    length: 90 mm\n"
    )
    lines = [int(message.split(":")[0]) for message in told(text)]
    assert lines == [1, 2, 3, 4, 7, 8, 9, 9, 11, 14]


def test_an_error_reads_as_file_line_what_and_fix() -> None:
    with pytest.raises(UserErrors) as caught:
        loads(CLOTH + "size: 17\n", PATH)
    assert str(caught.value) == (
        "ferry.yaml:4: size: 17 is not a power of two\n"
        "  fix: the nearest allowed is 16; allowed: power of two, 16 to 16384"
    )


def test_lab_outside_srgb_is_brought_inside_with_a_note() -> None:
    found = loads(CLOTH + "colour: lab(50 120 0)\n", PATH)
    near = found.recipe.fabrics["plain"].warp
    assert near is not None
    what = "ferry.yaml:4: colour: a screen cannot show lab(50 120 0)"
    assert found.notes == (f"{what}; it becomes {near.colour.hex}, dE00 7.8 off",)


def test_an_alias_is_told_where_it_stands() -> None:
    text = CLOTH + "fabrics:\n  f: {weave: plain, scale: &s 0}\n  g: {knit: rib 1x1, scale: *s}\n"
    assert [m.split(":")[0] for m in told(text)] == ["5", "6"]


@pytest.mark.parametrize(
    ("text", "start", "part"),
    [
        ("mesh_unit: meters", "5: mesh_unit: 'meters' is not known", "did you mean 'm'?"),
        ("hems: [{on: front, back}]", "5: hems.0.back: empty", "several names stand in [ ]"),
        ("hems: [{width: 2 inches}]", "5: hems.0.width: '2 inches'", "did you mean 'in'?"),
        ("fabrics: {a: {felt: plain, colour: 0x3d5a6c}}", "5: fabrics.a.colour", '"#3d5a6c"'),
        ("fabrics: {a: {felt: plain, colour: 112233}}", "5: fabrics.a.colour", '"#112233"'),
        (
            "fabrics: {a: {felt: plain, yarn: {lustre: 60}}}",
            "5: fabrics.a.yarn.lustre: 60 is out of range",
            "say the unit, as in 60 %",
        ),
    ],
)
def test_what_a_tired_hand_writes_is_understood(text: str, start: str, part: str) -> None:
    message = only(f"garment: a\nmesh: a.obj\nfabric: plain\ncolour: red\n{text}\n")
    assert message.startswith(start), message
    assert part in message, message


def test_of_words_equally_near_the_first_is_offered() -> None:
    assert "did you mean 'twill 2/1 Z'?" in only("garment: a\nmesh: a.obj\nfabric: twill\n")


@pytest.mark.parametrize(
    ("text", "line", "what", "fix"),
    [
        ("file_name: {garment}_{map}", 4, "this is not YAML", "put the text in quotes"),
        ("hems:\n  - on: all\n  width: 9 mm", 6, "this line does not follow", "exactly below"),
    ],
)
def test_what_yaml_cannot_read_is_told_in_plain_words(
    text: str, line: int, what: str, fix: str
) -> None:
    with pytest.raises(UserError) as caught:
        loads(f"{CLOTH}{text}\n", PATH)
    assert caught.value.line == line
    assert what in caught.value.what
    assert fix in caught.value.fix
