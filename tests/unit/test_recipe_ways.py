"""Colourways that build on one another, come from lists and shades, and follow tone on tone."""

from pathlib import Path

import pytest

from texbake.errors import UserErrors
from texbake.recipe import Colour, Project, Recipe, loads
from texbake.recipe.colours import lab_of, parse_colour

PATH = Path("vest.yaml")
BASE = """\
garment: vest
mesh: vest.obj
fabrics:
  drill: {weave: twill 2/1, warp: {colour: navy}}
  jersey: {knit: single jersey, yarn: {melange: {"#aeb4b5": 60 %, "#8d9496": 40 %}}}
  heather: {knit: single jersey, yarn: {marl: [gray, silver]}}
seams:
  - {between: [all, all], stitch: none}
  - {name: sides, between: [front, back], thread: {colour: white, count: 40 tex}}
  - {name: sides, between: [front, all], thread: red}
hems:
  - {name: edge, construction: bound, trim: gray}
colourways:
"""  # the next line is 14


def project(ways: str) -> Project:
    return loads(BASE + ways, PATH)


def told(ways: str) -> list[str]:
    with pytest.raises(UserErrors) as caught:
        project(ways)
    return [f"{e.line}: {e.what} | {e.fix}" for e in caught.value.errors]


def dyes(recipe: Recipe) -> tuple[str, str]:
    drill = recipe.fabrics["drill"]
    assert drill.warp is not None
    assert drill.weft is not None
    return drill.warp.colour.hex, drill.weft.colour.hex


def threads(recipe: Recipe) -> list[str]:
    return [s.thread.colour.hex for s in recipe.seams if s.thread.colour is not None]


def apart(one: Colour | None, other: Colour | None) -> list[float]:
    assert one is not None
    assert other is not None
    return [a - b for a, b in zip(lab_of(one), lab_of(other), strict=True)]


def test_a_colourway_builds_on_another_wherever_that_stands() -> None:
    found = project(
        "  c: {like: b}\n  b: {like: a, drill.weft.colour: red}\n  a: {drill.colour: tan}\n"
    )
    assert list(found.colourways) == ["c", "b", "a"]
    assert [dyes(way)[1] for way in found.colourways.values()] == ["#ff0000", "#ff0000", "#d2b48c"]


def test_what_a_colourway_says_itself_counts_more_than_what_it_builds_on() -> None:
    found = project("""\
  a: {drill.warp.colour: red, drill.weft.colour: red}
  b: {like: a, drill.warp: {lustre: 90 %}}
  c: {like: b, drill.warp.colour: tan}
""")
    assert dyes(found.colourways["b"]) == ("#e8e4dc", "#ff0000")
    assert dyes(found.colourways["c"]) == ("#d2b48c", "#ff0000")
    warp = found.colourways["c"].fabrics["drill"].warp
    assert warp is not None
    assert warp.lustre == 0.9


def test_a_colourway_that_builds_on_a_changed_cloth_knows_its_paths() -> None:
    found = project("""\
  a: {drill: {knit: rib 1x1, yarn: {colour: red}}}
  b: {like: a, drill.wales: 9 /cm}
""")
    assert found.colourways["b"].fabrics["drill"].wales_per_cm == 9.0


def test_a_name_that_entries_share_changes_them_together_and_leaves_counts() -> None:
    way = project("  a: {seams.sides.thread: tan, hems.edge.trim: navy}\n").colourways["a"]
    assert threads(way) == ["#d2b48c", "#d2b48c"]
    assert [seam.thread.count_tex for seam in way.seams] == [60.0, 40.0, 60.0]
    assert way.hems[0].trim is not None
    assert way.hems[0].trim.hex == "#000080"


def test_a_yarn_that_gets_another_dye_loses_the_one_it_had() -> None:
    way = project("  a: {jersey.yarn.colour: tan, heather.yarn.melange: {red: 1.0}}\n").colourways
    jersey, heather = (way["a"].fabrics[name].yarn for name in ("jersey", "heather"))
    assert jersey is not None
    assert heather is not None
    assert (jersey.melange, jersey.colour.hex) == (None, "#d2b48c")
    assert (heather.marl, heather.melange is None) == ((), False)
    both = told("  a: {jersey.yarn.colour: tan, jersey.yarn.melange: {red: 1.0}}\n")
    assert "both colour and melange" in both[0]


def test_each_colour_of_a_list_is_a_colourway() -> None:
    found = project("""\
  x: {each: [tan, "#B3352B", lab(50 0 0)], set: [drill.warp.colour, drill.weft.colour], colour: red}
  y:
    each: {sand: "#b59b74", clay: "#a06a50"}
    set: seams.sides.thread
    name: "{name}-{number}-{colour}"
""")
    assert list(found.colourways) == ["tan", "b3352b", "777777", "y-1-sand", "y-2-clay"]
    ways = list(found.colourways.values())
    assert [dyes(way) for way in ways[:2]] == [("#d2b48c",) * 2, ("#b3352b",) * 2]
    assert threads(ways[3]) == ["#b59b74", "#b59b74"]
    assert found.recipe.lines["colourways.y-2-clay"] == 16


def test_shades_are_of_one_hue_at_even_steps_of_lightness() -> None:
    found = project(
        "  sea: {shades: {of: teal, count: 12, lightness: [60, 30]}, set: drill.colour}\n"
    )
    assert list(found.colourways) == [f"sea-{k:02d}" for k in range(1, 13)]
    wefts = [way.fabrics["drill"].weft for way in found.colourways.values()]
    labs = [lab_of(weft.colour) for weft in wefts if weft is not None]
    assert [lab[0] for lab in labs] == pytest.approx([60 - 30 * k / 11 for k in range(12)], abs=0.3)
    assert min(lab[1] / lab[2] for lab in labs) == pytest.approx(
        max(lab[1] / lab[2] for lab in labs), rel=0.05
    )


def test_names_of_shades_may_tell_lightness() -> None:
    ways = "  sea: {shades: {of: teal, count: 3, lightness: [5, 45]}, set: colour,\n"
    found = project(ways + '      name: "sea{lightness}"}\n')
    assert list(found.colourways) == ["sea05", "sea25", "sea45"]


def test_thread_trim_and_melange_follow_the_base() -> None:
    found = project("""\
  x:
    each: ["#4a7a8c", "#a06a50"]
    set: drill.warp.colour
    tones:
      seams.sides.thread: [-12, 0, 0]
      hems.edge.trim: [10, 2, -3]
      jersey.yarn.melange: [5, 0, 0]
      heather.yarn.marl: [0, 0, 0]
""")
    assert not found.notes
    wool = apart(parse_colour("#aeb4b5"), parse_colour("#8d9496"))
    for way in found.colourways.values():
        warp, jersey = way.fabrics["drill"].warp, way.fabrics["jersey"].yarn
        heather = way.fabrics["heather"].yarn
        assert warp is not None
        assert jersey is not None
        assert heather is not None
        assert apart(way.seams[1].thread.colour, warp.colour) == pytest.approx(
            [-12, 0, 0], abs=1e-3
        )
        assert apart(way.hems[0].trim, warp.colour) == pytest.approx([10, 2, -3], abs=1e-3)
        assert apart(jersey.colour, warp.colour) == pytest.approx([5, 0, 0], abs=1e-2)
        assert apart(heather.colour, warp.colour) == pytest.approx([0, 0, 0], abs=1e-2)
        assert jersey.melange is not None
        (one, first), (two, second) = jersey.melange.parts
        assert [first, second] == pytest.approx([0.4, 0.6])
        assert apart(two, one) == pytest.approx(wool, abs=1e-3)


@pytest.mark.parametrize(
    ("of", "colour"),
    [
        ("drill.warp.colour", "#000080"),
        ("drill.weft.colour", "#e8e4dc"),
        ("colour", "#e8e4dc"),
        ("seams.sides.thread", "#ffffff"),
        ("seams.2.thread.colour", "#ff0000"),
        ("hems.edge.trim", "#808080"),
    ],
)
def test_tones_follow_any_path_also_where_it_is_left_out(of: str, colour: str) -> None:
    found = project(f"  a: {{tones: {{of: {of}, heather.yarn.colour: [0, 0, 0]}}}}\n")
    yarn = found.colourways["a"].fabrics["heather"].yarn
    assert yarn is not None
    assert yarn.colour.hex == colour


def test_tones_follow_what_the_colourway_changes_and_what_it_builds_on() -> None:
    found = project("""\
  a: {drill.warp.colour: teal}
  b: {like: a, tones: {of: drill.warp.colour, hems.edge.trim: [0, 0, 0]}}
  c: {like: b, drill.warp.colour: tan}
  d: {like: c, tones: {of: drill.warp.colour, hems.edge.trim: [0, 0, 0]}}
""")
    trims = [way.hems[0].trim for way in found.colourways.values()]
    assert [trim and trim.hex for trim in trims] == ["#808080", "#008080", "#008080", "#d2b48c"]


def test_colours_that_no_screen_shows_are_noted_with_their_difference() -> None:
    found = project(
        "  a: {drill.colour: lab(50 120 0), jersey.yarn.melange: {lab(60 0 -99): 1.0}}\n"
    )
    assert [note.split("; ")[0] for note in found.notes] == [
        "vest.yaml:14: a: drill.colour: a screen cannot show lab(50 120 0)",
        "vest.yaml:14: a: jersey.yarn.melange: a screen cannot show lab(60 0 -99)",
    ]
    assert all("dE00" in note for note in found.notes)


def test_a_difference_that_rounds_to_nothing_is_not_noted() -> None:
    """Both lie outside sRGB: by dE00 0.03 and 0.57."""
    found = project(
        "  a: {drill.colour: lab(30 -17.14132 -15.39786)}\n  b: {drill.colour: lab(30 -18 -16)}\n"
    )
    (note,) = found.notes
    assert note.startswith("vest.yaml:15: b: drill.colour: a screen cannot show lab(30 -18 -16)")
    assert note.endswith("dE00 0.6 off")


def test_many_notes_are_summed_up() -> None:
    found = project(
        "  a: {shades: {of: blue, count: 40, lightness: [50, 90]}, set: drill.colour}\n"
    )
    assert len(found.notes) == 13
    assert found.notes[-1].startswith("28 more colours that a screen cannot show, dE00 ")


@pytest.mark.parametrize(
    ("entry", "start", "part"),
    [
        ("a: {like: b}", "colourways.a.like: there is no colourway 'b'", "there are: a"),
        ("a: {like: a}", "colourways.a.like: 'a' is like 'a'", "take one like out"),
        ("a: {like: b}\n  b: {like: a}", "colourways.a.like: 'a' is like 'b' is like 'a'", "one"),
        ("x: {each: [bleu], set: colour}", "colourways.x.each.0: 'bleu' is no colour", "'blue'?"),
        ("x: {each: {a: bleu}, set: colour}", "colourways.x.each.a: 'bleu' is no", "'blue'?"),
        ("x: {each: [], set: colour}", "colourways.x.each: found a list", "a list of colours"),
        ("x: {each: [red]}", "colourways.x: nothing says what gets the colours of", "add set"),
        (
            "x: {each: [red], set: drill.clour}",
            "path 'drill.clour' names nothing",
            "'drill.colour'?",
        ),
        ("x: {each: [red, red], set: colour}", "colourways.red: the name 'red' stands", "{number}"),
        ("x: {each: {a/b: red}, set: colour}", "colourways.a/b: 'a/b' cannot be part", "'a-b'?"),
        ("x: {set: colour}", "colourways.x.set: set without each or shades", "add each"),
        ("x: {name: a}", "colourways.x.name: 'a' gives all one name", "put {number}"),
        ("each: [red]", "colourways.each: each stands by itself", "put it into an entry"),
        (
            "x: {shades: {of: red, count: 1}, set: colour}",
            "colourways.x.shades.count: 1 is",
            "2 to",
        ),
        ("x: {shades: {of: red}, set: colour}", "colourways.x.shades: a row of shades needs", "6"),
        ("x: {shades: 3, set: colour}", "colourways.x.shades: found 3", "of, count, lightness"),
        (
            "x: {shades: {of: red, count: 2, lightness: [5, 120]}, set: colour}",
            "colourways.x.shades.lightness.1: 120 is out of range",
            "0 (black) to 100",
        ),
        (
            "x: {shades: {of: red, count: 2, lightness: [5, 5]}, set: colour}",
            "colourways.x.shades.lightness: there are no steps",
            "as in [25, 85]",
        ),
        (
            "x: {each: [red], shades: {of: red, count: 2}, set: colour}",
            "colourways.x: both each and shades",
            "keep one",
        ),
        (
            "x: {each: [red], set: colour, name: '{nr}'}",
            "colourways.x.name: '{nr}': there is no {nr}",
            "number",
        ),
        ("x: {tones: {hems.edge.trim: [1, 2, 3]}}", "colourways.x.tones: nothing says", "add of"),
        (
            "x: {tones: {of: colour, hems.edge.trim: [1, 2]}}",
            "colourways.x.tones.hems.edge.trim: found 2",
            "[-12, 0, 0]",
        ),
        (
            "x: {tones: {of: clour, hems.edge.trim: [1, 2, 3]}}",
            "tones.of: path 'clour'",
            "'colour'?",
        ),
        (
            "x: {tones: {of: colour, hems.egde.trim: [1, 2, 3]}}",
            "path 'hems.egde.trim' names nothing",
            "'hems.edge.trim'?",
        ),
        (
            "x: {tones: {of: jersey.yarn.colour, hems.edge.trim: [1, 2, 3]}}",
            "tones.of: at fabrics.jersey.yarn.colour stands no colour but its melange",
            "follow fabrics.jersey.yarn.melange",
        ),
        (
            "x: {tones: {of: seams.0.thread, hems.edge.trim: [1, 2, 3]}}",
            "tones.of: at seams.0.thread stands no colour",
            "the path of a colour",
        ),
        (
            "x: {tones: {of: colour, hems.edge.trim: [1, 2, 3]}, hems.0.trim: red}",
            "'hems.0.trim' and 'hems.edge.trim' are the same path",
            "keep one",
        ),
        (
            "x: {seams.sides.thread: red, seams.1.thread.colour: tan}",
            "'seams.sides.thread' and 'seams.1.thread.colour' are the same path",
            "keep one",
        ),
        ("x: {seams.sides.name: b}", "'seams.sides.name' is the garment's", "changes colour"),
        ("x: {seams.side.thread: red}", "path 'seams.side.thread' names", "'seams.sides.thread'?"),
    ],
)
def test_mistakes_are_told(entry: str, start: str, part: str) -> None:
    messages = told(f"  {entry}\n")
    assert messages[0].startswith(f"14: {start}"), messages
    assert part in messages[0], messages
    assert len(messages) == 1, messages


@pytest.mark.parametrize("word", ["shades", "each", "like", "set", "tones", "name", "from"])
def test_a_rule_with_nothing_behind_it_is_told(word: str) -> None:
    assert told(f"  x:\n    {word}:\n")[0].startswith(f"15: colourways.x.{word}: empty")


def test_colourways_stand_on_one_another_twenty_deep_at_most() -> None:
    ways = "  a0: {}\n" + "".join(f"  a{k}: {{like: a{k - 1}}}\n" for k in range(1, 20))
    assert len(project(ways).colourways) == 20
    messages = told(ways + "  a20: {like: a19}\n  a21: {like: a20}\n")
    assert len(messages) == 1
    assert messages[0].startswith("34: colourways.a20.like: 'a20' builds on 20 colourways")


def test_names_of_entries_are_words() -> None:
    for name in ("a.b", "3", '"3"'):
        text = BASE.replace("name: edge", f"name: {name}").replace("colourways:\n", "")
        with pytest.raises(UserErrors) as caught:
            loads(text, PATH)
        assert caught.value.errors[0].line == 12
