"""`texbake range` as a user meets it."""

from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from tests.cli_run import SHORTEST, refused, texbake, tube_recipe
from texbake.prepared import read_garment
from texbake.range import draw_range
from texbake.recipe import load
from texbake.view import read_set, show_picture

THREE = (
    SHORTEST
    + """size: 64
gutter: 2
colourways:
  slate: {}
  sand: {colour: "#b59b74"}
  fog: {colour: "#aeb4b5"}
"""
)


def drawn(folder: Path, recipe: Path, *words: object) -> list[str]:
    """Draw a range; return the notes."""
    picture = folder / "range.png"
    run = texbake("range", recipe, "--out", folder / "out", "--picture", picture, *words)
    assert run.code == 0, run.err
    assert run.out.splitlines() == [f"picture: {picture}", f"page: {folder / 'range.html'}"]
    return run.notes


def test_a_range_is_drawn_from_sets_that_are_there_and_of_now(tmp_path: Path) -> None:
    recipe, out = tube_recipe(tmp_path, THREE), tmp_path / "out"
    small = "not baked as the recipe has it now: baked small, for this range only"
    assert drawn(tmp_path, recipe, "--sort", "listed") == [f"all 3 colourways are {small}"]
    assert not out.exists()
    first = (tmp_path / "range.png").read_bytes(), (tmp_path / "range.html").read_bytes()
    assert texbake("bake", recipe, "--out", out, "--quiet").code == 0
    # The small bake is of the recipe's own size here, so nothing else may come of the sets.
    assert drawn(tmp_path, recipe, "--sort", "listed") == []
    assert ((tmp_path / "range.png").read_bytes(), (tmp_path / "range.html").read_bytes()) == first
    text = first[1].decode()
    for word in ("slate", "sand", "fog", "#3d5a6c", "#b59b74", "#aeb4b5"):
        assert f'data-copy="{word}"' in text

    # One set is of another colour now, and one has lost a file.
    recipe.write_text(THREE.replace("#b59b74", "#c8862a"), encoding="utf-8")
    (out / "tube" / "fog" / "tube_fog_albedo.png").unlink()
    notes: list[str] = []
    shown = draw_range(recipe, out=out, sort="listed", note=notes.append)
    assert notes == [f"2 colourways are {small}"]
    assert [card.entry.name for card in shown.cards] == ["slate", "sand", "fog"]
    garment = read_garment(load(recipe).recipe)
    maps = read_set(out / "tube" / "slate")
    high, wide = shown.cards[0].view.shape[:2]
    own = show_picture(garment, maps, views=("front",), size=(wide, high))
    assert np.array_equal(shown.cards[0].view, own)


def test_the_colour_on_the_picture_is_the_recipes_value(tmp_path: Path) -> None:
    recipe = tube_recipe(tmp_path, THREE)
    drawn(tmp_path, recipe, "--colourway", "sand")
    image = np.asarray(Image.open(tmp_path / "range.png").convert("RGB"))
    below = image[-160:]
    assert (below == (0xB5, 0x9B, 0x74)).all(axis=2).sum() > 100


def test_words_that_are_wrong_are_told(tmp_path: Path) -> None:
    recipe = tube_recipe(tmp_path, THREE)
    words = "range", recipe, "--out", tmp_path / "out"
    ((what, fix),) = refused(tmp_path, *words, "--sort", "size")
    assert what == "--sort: there is no order 'size'"
    assert "hue, lightness, listed" in fix
    ((what, fix),) = refused(tmp_path, *words, "--colourway", "sant")
    assert "there is no colourway 'sant'" in what
    assert "sand" in fix


@pytest.mark.parametrize(("option", "name"), [("--picture", "x.jpg"), ("--page", "x.txt")])
def test_other_kinds_of_files_are_refused_before_anything_is_drawn(
    tmp_path: Path, option: str, name: str
) -> None:
    recipe = tube_recipe(tmp_path, THREE)
    ((_, fix),) = refused(tmp_path, "range", recipe, option, tmp_path / name)
    assert "name it x." in fix


def test_a_page_of_somebody_else_is_not_replaced(tmp_path: Path) -> None:
    recipe = tube_recipe(tmp_path, THREE)
    mine = tmp_path / "notes.html"
    mine.write_text("<p>mine</p>", encoding="utf-8")
    ((what, _),) = refused(tmp_path, "range", recipe, "--page", mine)
    assert "no page of ours" in what


def test_ten_thousand_colourways_are_refused_at_once(tmp_path: Path) -> None:
    many = "".join(f"  c{k}: {{colour: '#{k:06x}'}}\n" for k in range(1001))
    recipe = tube_recipe(tmp_path, SHORTEST + "colourways:\n" + many)
    ((what, fix),) = refused(tmp_path, "range", recipe)
    assert "1001 colourways are too many for one range: 1000 at most" in what
    assert "--colourway" in fix
