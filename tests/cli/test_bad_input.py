"""What is wrong with a recipe is told with what, where and what to do, and nothing is written."""

import re
from pathlib import Path

import pytest

from tests.cli_run import SHORTEST, bake_refused, refused, texbake, tube_recipe


def test_no_such_recipe_offers_the_nearest(tmp_path: Path) -> None:
    tube_recipe(tmp_path)
    ((what, fix),) = refused(tmp_path, "bake", tmp_path / "tub.yaml")
    assert what == f"{tmp_path}/tub.yaml: there is no such file"
    assert fix == "did you mean 'tube.yaml'? `texbake new MESH` writes a first recipe"


def test_a_folder_is_no_recipe_and_its_recipes_are_named(tmp_path: Path) -> None:
    tube_recipe(tmp_path)
    ((what, fix),) = refused(tmp_path, "check", tmp_path)
    assert what == f"{tmp_path}: this is a folder"
    assert fix == "name a recipe; in that folder: tube.yaml"


def test_a_mesh_is_no_recipe_and_new_writes_one(tmp_path: Path) -> None:
    tube_recipe(tmp_path)
    ((what, fix),) = refused(tmp_path, "bake", tmp_path / "tube.obj")
    assert what == f"{tmp_path}/tube.obj: this is a mesh, not a recipe"
    assert fix == f"`texbake new {tmp_path}/tube.obj` writes a recipe for it"


def test_no_recipe_at_all_is_told_in_brief() -> None:
    run = texbake("bake")
    assert run.code == 2
    assert "Missing argument 'RECIPE'" in run.err


def test_an_empty_recipe_says_what_it_needs(tmp_path: Path) -> None:
    what, fix = bake_refused(tmp_path, "")
    assert (what, fix) == (
        "tube.yaml:1: the recipe is empty",
        "write at least garment, mesh, fabric and colour",
    )


def test_broken_yaml_is_told_with_its_line(tmp_path: Path) -> None:
    what, fix = bake_refused(tmp_path, SHORTEST + "seams: [{between: [front, back]}\n")
    assert re.match(r"tube\.yaml:[56]: this is not YAML: ", what)
    assert "brackets" in fix


def test_a_colour_without_quotes_is_known_for_what_it_is(tmp_path: Path) -> None:
    what, fix = bake_refused(
        tmp_path, "garment: tube\nmesh: tube.obj\nfabric: plain\ncolour: #3d5a6c\n"
    )
    assert what == "tube.yaml:4: colour: empty"
    assert fix.startswith('put the colour in quotes ("#3d5a6c")')


def test_a_yaml_bomb_is_refused_at_once(tmp_path: Path) -> None:
    bomb = 'a: &a ["lol", "lol"]\n'
    for before, after in zip("abcdefghijklmnopqrstuvwxy", "bcdefghijklmnopqrstuvwxyz", strict=True):
        bomb += f"{after}: &{after} [{', '.join([f'*{before}'] * 9)}]\n"
    what, fix = bake_refused(tmp_path, SHORTEST + bomb)
    assert re.fullmatch(r"tube\.yaml:\d+: too many values", what)
    assert "20000 values" in fix


MISTAKES = {
    "a misspelt key": (
        "hemms: none",
        "tube.yaml:5: hemms: a recipe has no key 'hemms'",
        "did you mean 'hems'? ",
    ),
    "an unknown fabric of a panel": (
        "fabrics: {drill: {weave: twill 2/1}}\npanels:\n  front: {group: front, fabric: dril}",
        "tube.yaml:7: panels.front.fabric: there is no fabric 'dril'",
        "did you mean 'drill'? ",
    ),
    "a unit missing": (
        "hems: [{width: 12}]",
        "tube.yaml:5: hems.0.width: 12 has no unit",
        "say the unit, as in 12 mm",
    ),
    "a unit that is none": (
        "hems: [{width: 12 mmm}]",
        "tube.yaml:5: hems.0.width: '12 mmm': no unit is called 'mmm'",
        "did you mean 'mm'? ",
    ),
    "a unit of something else": (
        "fabrics: {it: {weave: plain, warp: {count: 20 mm}}}",
        "tube.yaml:5: fabrics.it.warp.count: '20 mm'",
        "tex",
    ),
    "a unit of the mesh that is none": (
        "mesh_unit: centimetre",
        "tube.yaml:5: mesh_unit: ",
        "cm",
    ),
    "percentages that do not add up": (
        "fabrics:\n  it:\n    knit: rib 2x2\n    yarn:\n      melange: {red: 60 %, tan: 30 %}",
        "tube.yaml:9: fabrics.it.yarn.melange: shares sum to 90 %",
        "change the shares by +10 % in all",
    ),
    "a size of 0": ("size: 0", "tube.yaml:5: size: 0 is out of range", "power of two, 16 to 16384"),
    "a size of 17": (
        "size: 17",
        "tube.yaml:5: size: 17 is not a power",
        "the nearest allowed is 16",
    ),
    "a size of 1e9": ("size: 1e9", "tube.yaml:5: size: 1000000000", "power of two, 16 to 16384"),
    "a size far too large": ("size: 1000000000", "tube.yaml:5: size: 1000000000", "16384"),
    "a size of nothing": ("size: -1", "tube.yaml:5: size: -1 is out of range", "16384"),
    "a size in words": ("size: 2k", "tube.yaml:5: size: '2k' is no whole number", "power of two"),
    "a gutter too wide": ("gutter: 9999", "tube.yaml:5: gutter: 9999", "256"),
    "a panel that nothing finds": ("panels: {sleeve: {}}", "tube.yaml:5: panels.sleeve: ", "at: ["),
    "a name of no panel in seams": (
        "panels: {front: {group: front}}\nseams: [{between: [frnt, all]}]",
        "tube.yaml:6: seams.0.between: there is no panel 'frnt'",
        "did you mean 'front'? ",
    ),
    "a name of no panel in hems": (
        "hems: [{on: hood}]",
        "tube.yaml:5: hems.0.on: there is no panel 'hood'",
        "panels: front, back",
    ),
    "a name of no panel in details": (
        "details: [{kind: bar tack, between: [front, bakc], share: 50 %}]",
        "tube.yaml:5: details.0.between: there is no panel 'bakc'",
        "did you mean 'back'?",
    ),
    "a name of no panel in creases": (
        "creases: {places: [{on: frnt}]}",
        "tube.yaml:5: creases.places.0.on: there is no panel 'frnt'",
        "did you mean 'front'?",
    ),
    "a shipped fabric that is not included": (
        "fabrics: {denim: {scale: 5}}",
        "tube.yaml:5: fabrics.denim: the fabric has no structure",
        "add include: denim",
    ),
    "a shipped fabric's name in error": (
        "include: denim\nfabrics: {denin: {scale: 5}}",
        "tube.yaml:6: fabrics.denin: the fabric has no structure",
        "did you mean 'denim'?",
    ),
    "a detail both at a point and on an edge": (
        "details: [{kind: bar tack, on: front, at: [0, 5, 4]}]",
        "tube.yaml:5: details.0: on without share or every",
        "or take on out",
    ),
    "a path of no key in a colourway": (
        "colourways:\n  sand: {drill.warp.colour: tan}",
        "tube.yaml:6: path 'drill.warp.colour' names nothing in this recipe",
        "a path is the keys on the way",
    ),
    "two keys of one name": ("colour: red", "tube.yaml:5: key 'colour' stands twice", "keep one"),
    "color beside colour": ("color: red", "tube.yaml:5: 'color' and 'colour' are the same", "keep"),
    "a colour that is none": (
        "fabrics: {it: {weave: plain, colour: navi}}",
        "tube.yaml:5: fabrics.it.colour: 'navi' is no colour",
        "did you mean 'navy'? ",
    ),
    "file names that clash": ("file_name: sheet", "tube.yaml:5: file_name: ", "{map}"),
    "a file name with folders": ("file_name: 'a/{map}'", "tube.yaml:5: file_name: ", "letters"),
    "a tile in fractions": ("tile: [0.5, 0]", "tube.yaml:5: tile", "whole number"),
    "a uv set that the file has not": ("uv_set: 2", "tube.obj: no UV set 2: OBJ has one", "uv_set"),
    "rows that do not fit a hem": (
        "hems: [{width: 5 mm, rows: 3}]",
        "tube.yaml:5: 3 rows of stitches do not fit a hem 5 mm wide",
        "make it at least ",
    ),
}


@pytest.mark.parametrize("mistake", MISTAKES)
def test_a_recipe_with(tmp_path: Path, mistake: str) -> None:
    lines, what, fix = MISTAKES[mistake]
    found, cure = bake_refused(tmp_path, SHORTEST + lines + "\n")
    assert found.startswith(what)
    assert fix in cure


def test_an_unknown_structure_offers_the_nearest(tmp_path: Path) -> None:
    what, fix = bake_refused(tmp_path, SHORTEST.replace("plain", "jersy"))
    assert what == "tube.yaml:3: fabric: there is no fabric 'jersy'"
    assert fix.startswith("did you mean 'single jersey'? ")


@pytest.mark.parametrize("name", ["a/b", "../a", "a\\b", "", "con", ".hidden", "x" * 65])
def test_a_garment_is_named_as_a_folder_can_be(tmp_path: Path, name: str) -> None:
    what, _ = bake_refused(tmp_path, SHORTEST.replace("garment: tube", f"garment: '{name}'"))
    assert what.startswith("tube.yaml:1: garment: ")


def test_every_mistake_is_told_at_once_in_the_order_of_lines(tmp_path: Path) -> None:
    text = SHORTEST + "sise: 64\nhems: [{width: 12}]\nseams: [{between: [all, all], row: 2}]\n"
    recipe = tube_recipe(tmp_path, text)
    found = refused(tmp_path, "bake", recipe)
    assert [what.removeprefix(f"{recipe}:").split(":")[0] for what, _ in found] == ["5", "6", "7"]


@pytest.mark.parametrize(
    ("size", "what", "fix"),
    [
        ("0", "0 is no size of a texture", "the nearest is 16; "),
        ("17", "17 is no size of a texture", "the nearest is 16; "),
        ("3000", "3000 is no size of a texture", "the nearest is 2048; "),
        ("1000000000", "1000000000 is no size of a texture", "the nearest is 16384; "),
        ("1e9", "'1e9' is no whole number", "write a power of two"),
        ("2k", "'2k' is no whole number", "write a power of two"),
        ("-64", "-64 is no size of a texture", "the nearest is 16; "),
    ],
)
def test_a_size_on_the_command_line_is_as_strict(
    tmp_path: Path, size: str, what: str, fix: str
) -> None:
    found, cure = bake_refused(tmp_path, SHORTEST, "--size", size)
    assert found == f"--size: {what}"
    assert cure.startswith(fix)


def test_an_unknown_colourway_offers_the_nearest(tmp_path: Path) -> None:
    text = SHORTEST + "colourways:\n  slate: {}\n  sand: {}\n"
    what, fix = bake_refused(tmp_path, text, "--colourway", "slat")
    assert what == "tube.yaml:5: there is no colourway 'slat'"
    assert fix == "did you mean 'slate'? the recipe has: slate, sand"


def test_what_is_wrong_with_the_last_colourway_is_told_before_the_first_is_baked(
    tmp_path: Path,
) -> None:
    text = SHORTEST + "colourways:\n  a: {}\n  b: {hems: [{on: frnt}]}\n"
    what, fix = bake_refused(tmp_path, text, "--size", 64)
    assert what == "tube.yaml:7: hems.0.on: there is no panel 'frnt'"
    assert fix == "did you mean 'front'? panels: front, back"
