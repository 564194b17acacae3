"""`texbake show`, and what `bake` makes beside the maps."""

from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from tests.cli_run import texbake, tube_recipe


@pytest.fixture
def recipe(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    return tube_recipe(tmp_path)


def _picture(path: Path) -> np.ndarray:
    with Image.open(path) as picture:
        return np.asarray(picture).astype(np.float64)


def test_a_bake_brings_view_sheet_and_glb(recipe: Path) -> None:
    run = texbake("bake", recipe, "--size", 64, beside=True)
    assert run.code == 0, run.err
    folder = Path("out/tube/standard")
    assert _picture(folder / "tube_standard_view.png").shape == (900, 1200, 3)
    assert _picture(folder / "tube_standard_sheet.png").shape[1] == 2400
    assert (folder / "tube_standard.glb").read_bytes()[:4] == b"glTF"


def test_without_a_bake_it_bakes_small_and_says_so(recipe: Path) -> None:
    run = texbake("show", recipe, "--size", 160, 120)
    assert run.code == 0, run.err
    assert "not baked as the recipe has it now: baked at 1024 px" in run.notes[-1]
    assert not Path("out").exists()
    picture = _picture(Path("tube_standard_view.png"))
    assert picture.shape == (120, 160, 3)
    assert np.ptp(picture) > 60.0  # a dark tube on a light ground


def test_a_baked_set_is_shown_as_it_is_until_the_recipe_changes(recipe: Path) -> None:
    texbake("bake", recipe, "--size", 64)
    fresh = texbake("show", recipe, "--size", 160, 120)
    assert not [n for n in fresh.notes if "not baked" in n]
    recipe.write_text(recipe.read_text().replace("#3d5a6c", "#b23a2e"))
    stale = texbake("show", recipe, "--size", 160, 120)
    assert [n for n in stale.notes if "not baked" in n]
    red, _, blue = _picture(Path("tube_standard_view.png"))[60, 40]
    assert red > blue + 30.0


def test_views_stand_side_by_side_and_a_panel_is_seen_near(recipe: Path) -> None:
    words = ["--view", "left", "--view", "three-quarter", "--view", "right"]
    assert texbake("show", recipe, *words, "--size", 300, 100, "--picture", "three.png").code == 0
    assert _picture(Path("three.png")).shape == (100, 300, 3)
    run = texbake("show", recipe, "--near", "front", "--size", 200, 200)
    assert run.code == 0, run.err
    assert "tube_standard_near-front.png" in run.out
    assert _picture(Path("tube_standard_near-front.png"))[50:150, 50:150].std() > 2.0  # a weave


@pytest.mark.parametrize(
    ("words", "what", "fix"),
    [
        (("--view", "frnt"), "frnt", "front"),
        (("--size", 20, 20), "20", "64"),
        (("--size", 9000, 900), "9000", "8192"),
        (("--near", "sleeve"), "sleeve", "front"),
        (("--colourway", "standart"), "standart", "standard"),
    ],
)
def test_what_cannot_be_shown_is_told(
    recipe: Path, words: tuple[object, ...], what: str, fix: str
) -> None:
    run = texbake("show", recipe, *words)
    assert run.code == 2
    found, cure = run.mistakes[0]
    assert what in found
    assert fix in cure
    assert not list(Path().glob("*.png"))


def test_a_picture_never_replaces_a_stranger_s_file(recipe: Path) -> None:
    Path("mine.png").write_bytes(b"my own picture")
    run = texbake("show", recipe, "--size", 100, 100, "--picture", "mine.png")
    assert run.code == 2
    assert Path("mine.png").read_bytes() == b"my own picture"
