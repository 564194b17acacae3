"""`texbake panels`: a table and a picture of a mesh, or of a recipe's panels."""

import json
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from tests.cli_run import SHORTEST, refused, texbake, tube_recipe
from tests.tube import upright
from texbake.arrays import F64

NAMED = "panels:\n  chest: {group: front}\nhems: none\n"


def test_a_mesh_gives_a_row_for_each_panel_and_a_picture(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    tube_recipe(tmp_path)
    monkeypatch.chdir(tmp_path)
    run = texbake("panels", "tube.obj")
    assert (run.code, run.err) == (0, "")
    assert [row.split()[1] for row in run.out.splitlines() if row[:2] in {" 0", " 1"}] == [
        "front",
        "back",
    ]
    # Half of a prism of 24 sides: 12 sides of 2 * 40 mm * sin(7.5 deg), 100 mm high.
    width = 12 * 2 * 40.0 * np.sin(np.pi / 24)
    assert f"{width:.0f} x 100" in run.out
    assert "seams: back 200 mm; hem 251 mm" in run.out
    assert run.out.splitlines()[-1] == "picture: tube-panels.png"
    with Image.open("tube-panels.png") as picture:
        assert picture.format == "PNG"
        assert len(picture.convert("RGB").getcolors(1 << 22) or []) > 20


def test_a_recipe_shows_its_own_panels(tmp_path: Path) -> None:
    recipe = tube_recipe(tmp_path, SHORTEST + NAMED)
    run = texbake("panels", recipe, "--picture", tmp_path / "a.png")
    assert run.code == 0, run.err
    assert " 0  chest " in run.out
    assert " 1  back " in run.out


def test_json_holds_the_same_figures(tmp_path: Path) -> None:
    recipe = tube_recipe(tmp_path, SHORTEST + NAMED)
    run = texbake("panels", recipe, "--picture", tmp_path / "a.png", "--json")
    chest, back = json.loads(run.out)["panels"]
    assert (chest["name"], back["name"]) == ("chest", "back")
    assert chest["length_mm"] == pytest.approx(100.0)
    assert chest["seams"] == [{"name": "back", "length_mm": pytest.approx(200.0)}]


def test_a_layout_with_faults_is_advised_on(tmp_path: Path) -> None:
    """Front over back by a texel, and both twice as wide as long: told once each, with a cure."""

    def poor(panel: int, s: F64, t: F64) -> tuple[F64, F64]:
        return 0.1 + 0.396 * panel + 0.4 * s, 0.1 + 0.15 * t

    recipe = tube_recipe(tmp_path, SHORTEST + "size: 256\n", poor)
    run = texbake("panels", recipe, "--picture", tmp_path / "a.png")
    told = [row for row in run.out.splitlines() if row.startswith("advice: ")]
    assert len(told) == 4
    whole = "advice: islands 0 (front), 1 (back) are over one another: 38 texels are shared"
    assert told[0].startswith(whole)
    # 125.3 mm on 0.4 of the sheet's width, 100 mm on 0.15 of its height: 2.13 to 1.
    panels = "panels 'back' (2.13), 'front' (2.13)"
    words = "advice: texels are longer than wide, in the mean by a factor over 1.3: "
    assert told[2].startswith(words + panels)
    read = json.loads(texbake("panels", recipe, "--picture", tmp_path / "a.png", "--json").out)
    assert [one["rule"] for one in read["advice"]] == [
        "overlaps",
        "unused",
        "uv_stretch_mean",
        "uv_stretch",
    ]
    assert read["sheet"]["shared"] == [{"islands": [0, 1], "texels": 38}]


def test_the_size_decides_how_many_texels_there_are(tmp_path: Path) -> None:
    recipe = tube_recipe(tmp_path)
    densities = []
    for path, size in ((recipe, 512), (tmp_path / "tube.obj", 1024)):
        words = ("--picture", tmp_path / "a.png", "--json", "--size", size)
        told = json.loads(texbake("panels", path, *words).out)
        densities.append(told["panels"][0]["texels_per_cm"])
    assert densities == pytest.approx([densities[0], 2 * densities[0]])


def test_a_picture_is_replaced_but_nothing_else_is(tmp_path: Path) -> None:
    tube_recipe(tmp_path)
    words = ("panels", tmp_path / "tube.obj", "--picture")
    assert texbake(*words, tmp_path / "a.png").code == 0
    assert texbake(*words, tmp_path / "a.png").code == 0
    (tmp_path / "mine.png").write_bytes(b"a photograph")
    ((what, fix),) = refused(tmp_path, *words, tmp_path / "mine.png")
    assert "is there already" in what
    assert "--picture" in fix


def test_what_cannot_be_charted_is_told(tmp_path: Path) -> None:
    recipe = tube_recipe(tmp_path)
    mesh = tmp_path / "tube.obj"
    ((what, fix),) = refused(tmp_path, "panels", tmp_path / "tub.obj")
    assert what == f"{tmp_path}/tub.obj: no such mesh file"
    assert fix.startswith("did you mean 'tube.obj'?")
    ((what, fix),) = refused(tmp_path, "panels", mesh, "--picture", tmp_path / "a.jpg")
    assert (what, fix) == (
        f"{tmp_path}/a.jpg: --picture: a picture of panels is a PNG",
        "name it a.png",
    )
    ((what, fix),) = refused(
        tmp_path, "panels", mesh, "--picture", tmp_path / "no" / "a.png", code=3
    )
    assert what == f"{tmp_path}/no/a.png: there is no such folder"
    ((what, _),) = refused(tmp_path, "panels", recipe, "--size", 17)
    assert what == "--size: 17 is no size of a texture"
    recipe.write_text(SHORTEST + "panels: {a: {group: font}}\n")
    ((what, fix),) = refused(tmp_path, "panels", recipe)
    assert what == f"{recipe}:5: panel 'a': no cloth has the group 'font'"
    assert fix.startswith("did you mean 'front'?")


def test_islands_in_other_squares_are_told_and_left_out(tmp_path: Path) -> None:
    def apart(panel: int, s: F64, t: F64) -> tuple[F64, F64]:
        u, v = upright(panel, s, t)
        return u + panel, v

    tube_recipe(tmp_path, SHORTEST, apart)
    run = texbake("panels", tmp_path / "tube.obj", "--picture", tmp_path / "a.png")
    assert run.code == 0
    assert run.notes == ["left out, as they lie in other UV tiles: islands 1 (144 triangles)"]
