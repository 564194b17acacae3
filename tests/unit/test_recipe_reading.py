"""What a recipe means: values, units, and the defaults of a tailor."""

import math
import pickle
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest

from texbake.errors import UserErrors
from texbake.recipe import (
    Colour,
    Draft,
    Felt,
    HemRecipe,
    Jersey,
    Plain,
    Recipe,
    Rib,
    Satin,
    SeamRecipe,
    Thread,
    Twill,
    check_panels,
    load,
    loads,
)
from texbake.recipe.values import (
    Cable,
    Chart,
    Coated,
    Corduroy,
    Eyelet,
    Fleece,
    Interlock,
    Knit,
    Leather,
    Terry,
    Towelling,
    Tulle,
)

PATH = Path("/ferry/vest.yaml")
HEAD = "garment: vest\nmesh: vest.obj\n"
FOUR_LINES = 'garment: tee\nmesh: tee.obj\nfabric: plain\ncolour: "#3d5a6c"\n'
SLATE = Colour((0x3D / 255, 0x5A / 255, 0x6C / 255))

VEST = """\
garment: ferry-vest
mesh: meshes/ferry-vest.obj
mesh_unit: cm
size: 2048
gutter: 16

fabrics:
  drill:
    weave: twill 2/1 Z
    warp: {count: 30 tex, per_cm: 24, colour: "#3d5a6c"}
    weft: {count: 34 tex, per_cm: 18, colour: "#c9c2b0"}
    scale: 4
  lining:
    knit: single jersey
    yarn: {count: 20 tex, melange: {"#e8e4dc": 60 %, "#8f8a86": 30 %, "#5b5651": 10 %}}
    wales: 14 /cm
    courses: 18 /cm

panels:
  front:  {at: [0, 120, 14], fabric: drill}
  back:   {at: [0, 120, -12], fabric: drill}
  inside: {material: lining, fabric: lining, grain: 90 deg}

seams:
  - {between: [front, back], stitch: 301, rows: 2, length: 2.5 mm, from_edge: 2 mm,
     spacing: 6 mm, thread: "#d8cfb8"}
hems:
  - {on: [front, back], width: 20 mm, stitch: 301, length: 3 mm}

colourways:
  slate: {}
  sand: {drill.warp.colour: "#b59b74"}
"""


def recipe(text: str) -> Recipe:
    return loads(text, PATH).recipe


def test_four_lines_are_a_recipe() -> None:
    project = loads(FOUR_LINES, PATH)
    tee = project.recipe
    assert list(project.colourways) == ["standard"]
    assert project.colourways["standard"] == tee
    assert (tee.garment, tee.mesh, tee.fabric) == ("tee", Path("/ferry/tee.obj"), "plain")
    cloth = tee.fabrics["plain"]
    assert cloth.structure == Plain()
    assert cloth.warp is not None
    assert cloth.weft is not None
    assert cloth.warp.colour == cloth.weft.colour == SLATE
    # woven_constructions.csv, row "plain cloth": Ne 32 x 32, 68 x 68 per inch, 26.8 per cm.
    assert cloth.warp.per_cm == pytest.approx(26.8, abs=0.05)
    assert cloth.warp.count_tex == pytest.approx(590.541 / 32, rel=1e-5)


def test_defaults_are_those_that_the_reference_names() -> None:
    tee = recipe(FOUR_LINES)
    assert (tee.size_px, tee.gutter_px, tee.seed, tee.normal_bits) == (1024, 16, 1, 8)
    assert (tee.up, tee.uv_set, tee.tile, tee.mesh_unit_mm) == ("y", 0, (0, 0), None)
    assert tee.file_name == "{garment}_{colourway}_{map}"
    assert tee.seams == (SeamRecipe(between=("all", "all"), stitch=None),)
    assert tee.hems == (HemRecipe(on=("all",), stitch="301", width_mm=12.0, fold_mm=None),)


def test_the_recipe_of_the_design_is_read() -> None:
    vest = recipe(VEST)
    drill, lining = vest.fabrics["drill"], vest.fabrics["lining"]
    assert drill.structure == Twill(over=2, under=1, direction="Z")
    assert drill.warp is not None
    assert (drill.warp.count_tex, drill.warp.per_cm, drill.warp.colour) == (30.0, 24.0, SLATE)
    assert (drill.scale, drill.line, lining.line) == (4.0, 8, 13)
    assert lining.structure == Jersey()
    assert (lining.warp, lining.wales_per_cm, lining.courses_per_cm) == (None, 14.0, 18.0)
    assert lining.yarn is not None
    assert lining.yarn.melange is not None
    assert {c.hex: round(s, 9) for c, s in lining.yarn.melange.parts} == {
        "#e8e4dc": 0.6,
        "#8f8a86": 0.3,
        "#5b5651": 0.1,
    }
    assert vest.mesh_unit_mm == 10.0
    assert vest.panels["front"].at == (0.0, 1200.0, 140.0)  # written in cm, as the mesh is
    assert vest.panels["inside"].grain_rad == pytest.approx(math.pi / 2)
    seam, hem = vest.seams[0], vest.hems[0]
    assert (seam.between, seam.stitch, seam.rows, seam.line) == (("front", "back"), "301", 2, 25)
    assert seam.thread == Thread(colour=Colour((0xD8 / 255, 0xCF / 255, 0xB8 / 255)))
    assert (hem.on, hem.width_mm, hem.length_mm, hem.line) == (("front", "back"), 20.0, 3.0, 28)
    assert (vest.lines["seams.0.spacing"], vest.lines["hems"]) == (26, 27)


def test_a_melange_has_the_mean_of_its_fibres_in_linear_light() -> None:
    cloth = recipe(
        HEAD + "fabrics: {f: {knit: rib 1x1, yarn: {melange: {black: 50 %, white: 0.5}}}}"
    ).fabrics["f"]
    assert cloth.yarn is not None
    # Half the light of white: srgb.md, encode(0.5) = 0.7353569830524495.
    assert cloth.yarn.colour.srgb == pytest.approx((0.7353569830524495,) * 3)


def test_shares_may_miss_the_whole_by_rounding() -> None:
    text = HEAD + "fabrics: {f: {knit: rib 1x1, yarn: {melange: {red: 33.3 %, blue: 66.7 %}}}}"
    yarn = recipe(text).fabrics["f"].yarn
    thirds = recipe(text.replace("66.7", "66.65")).fabrics["f"].yarn
    assert yarn is not None
    assert thirds is not None
    assert thirds.melange is not None
    assert math.fsum(share for _, share in thirds.melange.parts) == pytest.approx(1.0, abs=1e-12)


def test_yarns_take_their_colour_from_themselves_then_fabric_then_recipe() -> None:
    text = HEAD + "colour: red\nfabrics:\n"
    text += "  a: {weave: plain, colour: blue, warp: {colour: lime}}\n  b: {weave: plain}\n"
    fabrics = recipe(text).fabrics
    found = [y.colour.hex for f in fabrics.values() for y in (f.warp, f.weft) if y is not None]
    assert found == ["#00ff00", "#0000ff", "#ff0000", "#ff0000"]


def test_color_is_understood_wherever_colour_is() -> None:
    text = VEST.replace("colour", "color")
    assert text.count("color") == 4
    assert replace(recipe(text), lines={}) == replace(recipe(VEST), lines={})
    ours, theirs = loads(VEST, PATH).colourways["sand"], loads(text, PATH).colourways["sand"]
    assert replace(ours, lines={}) == replace(theirs, lines={})
    assert ours.fabrics["drill"].warp != recipe(VEST).fabrics["drill"].warp


def test_things_may_be_called_color() -> None:
    text = HEAD + "fabrics: {color: {weave: plain}}\npanels: {color: {island: 0, fabric: color}}\n"
    found = recipe(text)
    assert list(found.fabrics) == list(found.panels) == ["color"]


@pytest.mark.parametrize(
    ("phrase", "structure"),
    [
        ("plain", Plain()),
        ("twill 2/1 Z", Twill(over=2, under=1, direction="Z")),
        ("twill 2/2 S", Twill(over=2, under=2, direction="S")),
        ("twill 3/1", Twill(over=3, under=1, direction="Z")),
        ("satin 5/2", Satin(ends=5, move=2)),
        ("satin 8/3", Satin(ends=8, move=3)),
        ("single jersey", Jersey()),
        ("rib 2x2", Rib(face=2, back=2)),
        ("felt", Felt()),
        ("single jersey back", Jersey(side="back")),
        ("interlock", Interlock()),
        ("moss", Chart(rows=("kp", "pk"))),
        ("purl", Chart(rows=("k", "p"))),
        ("cable 3x3", Cable(strand=3, every=8)),
        ("french terry back", Terry()),
        ("fleece", Fleece()),
        ("corduroy 14", Corduroy(wales_per_inch=14)),
        ("corduroy", Corduroy(wales_per_inch=11)),
        ("towelling", Towelling()),
        ("leather", Leather()),
        ("coated", Coated()),
        ("tulle", Tulle()),
        ("eyelet", Eyelet()),
    ],
)
def test_a_structure_alone_is_a_fabric(phrase: str, structure: object) -> None:
    found = recipe(HEAD + f"fabric: {phrase}\n")
    assert found.fabric == phrase
    cloth = found.fabrics[phrase]
    assert cloth.structure == structure
    assert (cloth.thickness_mm is not None) == isinstance(structure, Felt)
    assert (cloth.yarn is None) == (cloth.warp is not None)
    assert (cloth.wales_per_cm > 0) == isinstance(structure, Knit | Eyelet)


def test_usual_cloths_agree_with_the_published_constructions() -> None:
    # woven_constructions.csv: drill Ne 20 x 16, 108 x 56 per inch = 42.5 x 22.0 per cm;
    # knit_numbers.csv: typical jersey 30/1 has 14-16 wales and 18-21 courses per cm.
    drill = recipe(HEAD + "fabric: twill 2/1\n").fabrics["twill 2/1"]
    assert drill.warp is not None
    assert drill.weft is not None
    assert (drill.warp.per_cm, drill.weft.per_cm) == pytest.approx((42.5, 22.0), abs=0.05)
    assert drill.warp.count_tex == pytest.approx(29.5271, rel=1e-5)  # yarn_count_diameter.csv
    assert drill.weft.count_tex == pytest.approx(36.9088, rel=1e-5)
    jersey = recipe(HEAD + "fabric: single jersey\n").fabrics["single jersey"]
    assert jersey.yarn is not None
    assert 14 <= jersey.wales_per_cm <= 16
    assert 18 <= jersey.courses_per_cm <= 21
    assert jersey.yarn.count_tex == pytest.approx(19.6847, rel=1e-5)


def test_panels_may_name_a_structure_as_their_fabric() -> None:
    found = recipe(HEAD + "fabric: plain\npanels: {cuff: {island: 2, fabric: rib 2x2}}\n")
    assert sorted(found.fabrics) == ["plain", "rib 2x2"]
    assert found.panels["cuff"].fabric == "rib 2x2"


def test_the_only_fabric_is_the_default() -> None:
    assert recipe(HEAD + "fabrics: {drill: {weave: twill 2/1}}\n").fabric == "drill"


def test_order_of_keys_changes_nothing() -> None:
    first, second = "  a: {weave: plain}\n", "  b: {felt: plain}\n"
    one = recipe(HEAD + "fabrics:\n" + first + second)
    other = recipe(HEAD + "fabrics:\n" + second + first)
    assert one.fabric == other.fabric == "a"
    assert list(one.fabrics) == list(other.fabrics)


def test_a_draft_is_drawn_top_row_first_and_kept_bottom_row_first() -> None:
    cloth = recipe(HEAD + "fabrics: {f: {draft: [xx., .xx, x.x]}}\n").fabrics["f"]
    assert cloth.structure == Draft(rows=("x.x", ".xx", "xx."))


def test_one_yarn_alone_leaves_the_other_as_usual() -> None:
    text = HEAD + "fabrics: {f: {weave: plain, weft: {count: 50 tex}}}\n"
    cloth = recipe(text).fabrics["f"]
    assert cloth.warp is not None
    assert cloth.weft is not None
    assert (cloth.weft.count_tex, round(cloth.warp.count_tex, 3)) == (50.0, 18.454)


@pytest.mark.parametrize(("word", "thick"), [("plain", 2.0), ("{thickness: 1/8 in}", 3.175)])
def test_felt_has_a_thickness(word: str, thick: float) -> None:
    cloth = recipe(HEAD + f"fabrics: {{f: {{felt: {word}, yarn: {{lustre: 30 %}}}}}}\n").fabrics[
        "f"
    ]
    assert cloth.thickness_mm == pytest.approx(thick)
    assert cloth.yarn is not None
    assert cloth.yarn.lustre == pytest.approx(0.3)


@pytest.mark.parametrize("nothing", ["none", "[]"])
def test_seams_and_hems_can_be_none(nothing: str) -> None:
    found = recipe(FOUR_LINES + f"seams: {nothing}\nhems: {nothing}\n")
    assert (found.seams, found.hems) == ((), ())


@pytest.mark.parametrize(
    ("word", "names"), [("all", ("all",)), ("cuff", ("cuff",)), ("[a, b]", ("a", "b"))]
)
def test_hems_are_on_one_panel_or_several_or_all(word: str, names: tuple[str, ...]) -> None:
    assert recipe(FOUR_LINES + f"hems: [{{on: {word}}}]\n").hems[0].on == names


@pytest.mark.parametrize(("word", "stitch"), [("301", "301"), ("'301'", "301"), ("none", None)])
def test_stitches_are_known_by_number_or_none(word: str, stitch: str | None) -> None:
    assert recipe(FOUR_LINES + f"hems: [{{stitch: {word}}}]\n").hems[0].stitch == stitch


def test_thread_is_a_colour_or_a_mapping() -> None:
    text = FOUR_LINES + "hems: [{thread: gold}, {thread: {count: Nm 20, metallic: true}}, {}]\n"
    threads = [hem.thread for hem in recipe(text).hems]
    assert threads == [
        Thread(colour=Colour((1.0, 215 / 255, 0.0))),
        Thread(count_tex=50.0, metallic=True),
        Thread(),
    ]


def test_island_and_islands_both_pick_islands() -> None:
    text = FOUR_LINES + "panels: {a: {island: 0}, b: {islands: [5, 2], object: vest}}\n"
    panels = recipe(text).panels
    assert (panels["a"].islands, panels["b"].islands) == ((0,), (5, 2))
    assert panels["b"].object == "vest"


def test_a_recipe_is_read_from_its_file_and_finds_the_mesh_beside_it(tmp_path: Path) -> None:
    path = tmp_path / "recipes" / "vest.yaml"
    path.parent.mkdir()
    path.write_text(FOUR_LINES.replace("tee.obj", "../meshes/tee.GLB"), encoding="utf-8")
    found = load(path).recipe
    assert found.mesh == (tmp_path / "meshes" / "tee.GLB").resolve()
    assert found.path == path


def test_anchors_spare_repetition() -> None:
    text = HEAD + "fabrics:\n  a: {weave: plain, warp: &y {count: 50 tex}, weft: *y}\n"
    cloth = recipe(text).fabrics["a"]
    assert cloth.weft is not None
    assert cloth.weft.count_tex == 50.0


def test_panel_names_are_checked_once_the_mesh_has_told_them() -> None:
    text = FOUR_LINES + "seams:\n  - between: [front, bakc]\n    side: front\n"
    text += "hems:\n  - on: [front,\n      slevee]\n  - {on: sleeve}\n"
    found = recipe(text)
    with pytest.raises(UserErrors) as caught:
        check_panels(found, ["front", "back", "sleeve-1", "sleeve-2"])
    told = [f"{e.line}: {e.what} | {e.fix}" for e in caught.value.errors]
    assert len(told) == 2
    assert told[0].startswith("6: seams.0.between: there is no panel 'bakc' | did you mean 'back'?")
    assert told[1].startswith("10: hems.0.on: there is no panel 'slevee' | did you mean 'sleeve")
    check_panels(found, ["front", "bakc", "slevee", "sleeve-1"])


def test_panels_of_default_sewing_need_no_names() -> None:
    check_panels(recipe(FOUR_LINES), [])


def test_values_refuse_what_cannot_be() -> None:
    with pytest.raises(ValueError, match="satin 6/2"):
        Satin(ends=6, move=2)
    with pytest.raises(ValueError, match="twill 0/1"):
        Twill(over=0, under=1)
    with pytest.raises(ValueError, match=r"numbers in 0\.\.1"):
        Colour((0.0, 1.5, 0.0))
    with pytest.raises(ValueError, match="equally long"):
        Draft(rows=("x.", "x"))


def test_colours_can_be_sent_to_another_process() -> None:
    assert pickle.loads(pickle.dumps(SLATE)) == SLATE  # noqa: S301  # our own bytes


def test_importing_the_package_does_not_load_pydantic_or_the_yaml_parser() -> None:
    code = "import sys, texbake.recipe; print({'pydantic', 'ruamel.yaml'} & set(sys.modules))"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "set()"


def test_a_chart_is_drawn_top_row_first_and_kept_bottom_row_first() -> None:
    found = recipe(HEAD + "fabrics:\n  f: {chart: [kkp, pkk], wales: 8 /cm}\nfabric: f\n")
    assert found.fabrics["f"].structure == Chart(rows=("pkk", "kkp"))
    assert found.fabrics["f"].wales_per_cm == 8.0


@pytest.mark.parametrize(
    ("fabric", "said"),
    [
        ("{chart: [kk, k]}", "row 'k' has 1 wales, the first row has 2"),
        ("{chart: [kx]}", "'kx' is no row of a chart"),
        ("{chart: k}", "'k' is no chart"),
        ("{knit: cable 3x2}", "'cable 3x2' cannot be knitted"),
        ("{knit: mosses}", "did you mean 'moss'"),
        ("{pile: corduroy 40}", "'corduroy 40' cannot be woven"),
        ("{pile: velvet}", "'velvet' is no pile cloth"),
        ("{skin: leathre}", "did you mean 'leather'"),
        ("{net: lace}", "'lace' is no net"),
    ],
)
def test_wrong_knits_piles_skins_and_nets_are_told(fabric: str, said: str) -> None:
    with pytest.raises(UserErrors) as caught:
        recipe(HEAD + f"fabrics:\n  f: {fabric}\nfabric: f\n")
    assert said in str(caught.value)
