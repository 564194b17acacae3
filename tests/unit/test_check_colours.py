"""Colourways that can be told apart, and threads that show."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from tests.tube import upright, write_tube
from texbake.advice import Finding
from texbake.check import usual_budget
from texbake.check.colours import alike, faint_threads, look_of, mean_colours
from texbake.cloth import mean_colour
from texbake.colour import delta_e00, linear_to_lab
from texbake.garment.values import Garment
from texbake.prepared import read_garment
from texbake.recipe import Colour, Project, loads

HEAD = "garment: tube\nmesh: tube.obj\nmesh_unit: cm\n"
GREY = "{colour: '#808080'}"
DRILL = f"fabrics:\n  drill: {{weave: twill 2/1 Z, warp: {GREY}, weft: {GREY}}}\n"
BUDGET = usual_budget()


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    made = tmp_path_factory.mktemp("colours")
    write_tube(made / "tube.obj", upright)
    return made


def ways(folder: Path, text: str) -> tuple[Project, Garment]:
    read = loads(HEAD + text, folder / "tube.yaml")
    return read, read_garment(read.recipe)


def compared(folder: Path, text: str, **limits: bool | float) -> list[Finding]:
    project, garment = ways(folder, text)
    mean = mean_colours()
    looks = {name: look_of(way, garment, mean) for name, way in project.colourways.items()}
    return list(alike(looks, project.recipe, replace(BUDGET, **limits)))  # type: ignore[arg-type]


def faint(folder: Path, text: str, least: float = 10.0) -> list[Finding]:
    project, garment = ways(folder, text)
    budget = replace(BUDGET, thread_contrast=least)
    return list(faint_threads(project.colourways, garment, mean_colours(), budget))


def grey_pair(code: int) -> float:
    """dE00 of a grey to #808080."""
    lab = [linear_to_lab(np.array(Colour((c / 255,) * 3).linear)) for c in (128, code)]
    return float(delta_e00(lab[0], lab[1]))


def test_the_quick_mean_colour_is_that_of_a_bake(folder: Path) -> None:
    project, _ = ways(folder, DRILL + "colourways: {a: {drill.warp.colour: '#b03020'}, b: {}}\n")
    mean = mean_colours()
    for recipe in project.colourways.values():
        fabric = recipe.fabrics["drill"]
        assert mean(fabric) == pytest.approx(mean_colour(fabric), rel=1e-6)


def test_two_colourways_that_buyers_just_cannot_tell_apart_are_told_with_their_line(
    folder: Path,
) -> None:
    near = 0x82
    text = DRILL + "colourways:\n  fog: {}\n  mist: {drill.warp.colour: '#828282'}\n"
    (told,) = compared(folder, text)
    assert (told.rule, told.line) == ("apart", 8)
    assert told.value == pytest.approx(grey_pair(near), abs=1e-6)
    assert told.what == (
        f"colourways 'fog' and 'mist' differ by dE00 {grey_pair(near):.2g} at most "
        "(colour 1 of fabric 'drill'), under 2: buyers cannot tell them apart"
    )
    assert compared(folder, text, apart=grey_pair(near) - 1e-6) == []


def test_the_same_colours_under_two_names_are_told_unless_allowed(folder: Path) -> None:
    text = DRILL + "colourways:\n  fog: {}\n  mist: {}\n  haze: {drill.weft.colour: '#404040'}\n"
    (told,) = compared(folder, text)
    assert (told.rule, told.what) == (
        "identical",
        "colourway 'mist' has the same colours as 'fog'",
    )
    assert compared(folder, text, identical=True) == []


def test_each_colourway_is_told_once_with_the_nearest_before_it(folder: Path) -> None:
    lines = [
        f"  s{k}: {{drill.warp.colour: '#{c}{c}{c}'}}\n" for k, c in enumerate(("80", "81", "82"))
    ]
    told = compared(folder, DRILL + "colourways:\n" + "".join(lines))
    assert [one.what.split(" differ")[0] for one in told] == [
        "colourways 's0' and 's1'",
        "colourways 's1' and 's2'",
    ]


def test_swapped_stripes_have_one_mean_but_are_told_apart(folder: Path) -> None:
    text = (
        "fabrics:\n  deck:\n    weave: plain\n    sett: sea 8 foam 8\n"
        "    colours: {sea: '#203050', foam: '#e0e0d8'}\n"
        "colourways:\n  a: {}\n  b: {deck.colours.sea: '#e0e0d8', deck.colours.foam: '#203050'}\n"
    )
    assert compared(folder, text) == []


def test_thread_alone_tells_colourways_apart_and_other_cloth_is_not_compared(folder: Path) -> None:
    seams = "seams: [{between: [front, back], stitch: 301, thread: '#d8cfb8'}]\n"
    text = DRILL + seams + "colourways: {a: {}, b: {seams.0.thread: '#203050'}}\n"
    assert compared(folder, text) == []
    both = "fabrics:\n  drill: {weave: twill 2/1}\n  plain: {weave: plain}\nfabric: drill\n"
    assert compared(folder, both + "colourways: {a: {}, b: {fabric: plain}}\n") == []


def test_a_thread_that_just_shows_passes_and_one_that_does_not_is_told(folder: Path) -> None:
    apart = grey_pair(0x90)
    seams = "seams:\n  - {between: [front, back], stitch: 301, thread: '#909090'}\nhems: none\n"
    assert faint(folder, DRILL + seams, least=apart - 0.01) == []
    (told,) = faint(folder, DRILL + seams, least=apart + 0.01)
    assert told.value == pytest.approx(apart, abs=1e-3)
    assert (told.rule, told.line) == ("thread_contrast", 7)
    assert "seams.0.thread: in colourway 'standard' the thread differs from fabric" in told.what


def test_a_thread_without_a_colour_and_a_seam_without_stitches_are_not_meant_to_show(
    folder: Path,
) -> None:
    hidden = "seams: [{between: [front, back], stitch: 301}]\nhems: none\n"
    assert faint(folder, DRILL + hidden) == []
    unsewn = "seams: [{between: [front, back], stitch: none, thread: '#808080'}]\nhems: none\n"
    assert faint(folder, DRILL + unsewn) == []


def test_an_entry_is_told_once_with_the_colourway_where_it_is_worst(folder: Path) -> None:
    text = (
        "hems:\n  - {on: all, thread: '#858585'}\n"
        "colourways:\n  a: {}\n  b: {drill.warp.colour: '#868686', drill.weft.colour: '#868686'}\n"
        "  c: {hems.0.thread: '#203050'}\n"
    )
    (told,) = faint(folder, DRILL + text)
    assert "hems.0.thread: in colourway 'b' (and in 1 more)" in told.what


def test_only_the_entry_that_counts_for_a_seam_is_looked_at(folder: Path) -> None:
    """The general entry's thread is faint, but a particular one takes the only seam."""
    text = (
        "seams:\n  - {between: [all, all], stitch: 301, thread: '#808080'}\n"
        "  - {between: [front, back], stitch: 301, thread: '#203050'}\nhems: none\n"
    )
    assert faint(folder, DRILL + text) == []


def test_a_colourway_that_is_finished_otherwise_is_another(folder: Path) -> None:
    text = DRILL + "colourways:\n  new: {}\n  worn: {drill.finish.faded: 40 %}\n"
    assert compared(folder, text) == []
