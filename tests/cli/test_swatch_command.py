"""`texbake swatch`: shipped fabrics and those of a recipe; what is told and what is written."""

import json
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from tests.cli_run import texbake
from texbake.deliver import read_record

RECIPE = """garment: tube
mesh: gone.obj
fabrics:
  net: {net: tulle, colour: '#dcd8cc'}
  drill: {weave: twill 2/1 Z, warp: {colour: '#22324d'}, weft: {colour: '#34486a'}, scale: 4}
fabric: drill
colourways:
  navy: {}
  fog: {drill.warp.colour: '#8f979b', drill.weft.colour: '#b4babb'}
"""


@pytest.fixture
def recipe(tmp_path: Path) -> Path:
    path = tmp_path / "tube.yaml"
    path.write_text(RECIPE, encoding="utf-8")
    return path


def test_a_shipped_fabric_needs_no_recipe(tmp_path: Path) -> None:
    run = texbake("swatch", "satin", "--size", "64", "--width", "2cm", "--out", tmp_path)
    assert run.code == 0
    assert "repeat: 5 ends x 5 picks" in run.out
    assert "g/m2" in run.out
    folder = tmp_path / "swatches" / "satin" / "standard"
    record = read_record(folder)
    assert record is not None
    assert {entry.map for entry in record.maps} == {
        "albedo", "roughness", "metal", "normal-up", "normal-down", "height", "occlusion",
    }  # fmt: skip
    assert {entry.kind for entry in record.extras} == {"life-size", "enlarged", "folds"}
    assert all((folder / entry.file).is_file() for entry in record.files)
    assert record.tile_mm is not None
    assert record.tile_mm[0] == pytest.approx(20.0, abs=2.3)


def test_a_recipe_s_fabric_in_a_colourway(recipe: Path) -> None:
    out = recipe.parent / "out"
    args = ("--recipe", recipe, "--size", "64", "--out", out, "--json", "--maps-only")
    told = {
        name: json.loads(texbake("swatch", "drill", "--colourway", name, *args).out)
        for name in ("navy", "fog")
    }
    assert told["navy"]["repeat"]["counts"] == [3, 3]
    assert told["navy"]["size_mm"] == told["fog"]["size_mm"]
    dark, light = (
        np.asarray(Image.open(Path(t["folder"]) / t["files"][0])).mean() for t in told.values()
    )
    assert light > dark + 50


def test_a_net_has_opacity(recipe: Path) -> None:
    out = recipe.parent / "out"
    run = texbake(
        "swatch", "net", "--recipe", recipe, "--size", "64", "--out", out, "--width", "1cm"
    )
    assert run.code == 0
    assert (out / "swatches" / "net" / "navy" / "net_navy_opacity.png").is_file()


def test_scale_stands_for_the_recipe_s(recipe: Path) -> None:
    out = recipe.parent / "out"
    args = ("--recipe", recipe, "--size", "64", "--out", out, "--json", "--maps-only")
    own = json.loads(texbake("swatch", "drill", *args).out)
    life = json.loads(texbake("swatch", "drill", "--scale", "1", *args).out)
    assert life["scale"] == 1.0
    assert own["repeat"]["mm"] == pytest.approx([4.0 * mm for mm in life["repeat"]["mm"]])
    assert life["notes"]  # 10 cm at 64 px: no yarn can be seen, which is told
    assert "--width" in life["notes"][0]


def test_swatches_are_the_same_bytes_twice(tmp_path: Path) -> None:
    for folder in ("a", "b"):
        out = tmp_path / folder
        args = ("--size", "32", "--width", "2cm", "--out", out, "--quiet", "--maps-only")
        assert texbake("swatch", "canvas", *args).out == ""
    files = sorted(p.relative_to(tmp_path / "a") for p in (tmp_path / "a").rglob("*.*"))
    assert len(files) == 8
    for file in files:
        assert (tmp_path / "a" / file).read_bytes() == (tmp_path / "b" / file).read_bytes()


@pytest.mark.parametrize(
    ("args", "what", "cure"),
    [
        (("dennim",), "there is no fabric 'dennim'", "did you mean 'denim'?"),
        (("denim", "--width", "3"), "--width: 3 has no unit", "say the unit"),
        (("denim", "--width", "0 mm"), "--width: 0 mm", "1 mm to 10 m"),
        (("denim", "--scale", "0"), "--scale: 0", "1 is life size"),
        (("denim", "--size", "100"), "--size: 100", "128"),
        (("denim", "--colourway", "red"), "there is no colourway 'red'", "standard"),
    ],
)
def test_wrong_input_is_told_with_its_cure(
    tmp_path: Path, args: tuple[str, ...], what: str, cure: str
) -> None:
    run = texbake("swatch", *args, "--out", tmp_path / "out")
    assert run.code == 2
    ((told, fix),) = run.mistakes
    assert what in told
    assert cure in fix
    assert not (tmp_path / "out").exists()


def test_a_fabric_that_the_recipe_has_not_is_told_with_its_line(recipe: Path) -> None:
    run = texbake("swatch", "dril", "--recipe", recipe)
    ((told, fix),) = run.mistakes
    assert told.startswith(f"{recipe}:3: ")
    assert "did you mean 'drill'?" in fix
