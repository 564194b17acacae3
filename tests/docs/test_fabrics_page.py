"""recipes/FABRICS.md and its pictures are what `python -m texbake.swatch` makes of the code."""

from itertools import pairwise
from pathlib import Path
from typing import get_args

import numpy as np
import pytest
from PIL import Image

from texbake.arrays import F64, U8
from texbake.recipe import Structure, loads
from texbake.recipe.shipped import fabric_names
from texbake.swatch.page import GAP_PX, PICTURES, SIDE_PX, fabrics_markdown, write_small
from texbake.swatch.pictures import enlarged, folds, life_size
from texbake.swatch.samples import Sample, samples

RECIPES = Path(__file__).resolve().parents[2] / "recipes"
ALL = samples()
MOST_BYTES = 6_000_000
# A few are drawn here; `.ci/run` draws and compares all. Folds take most of the time.
FOLDED = {"single-jersey", "shipped-satin"}
DRAWN = [sample for k, sample in enumerate(ALL) if k % 8 == 0 or sample.key in FOLDED]


def test_the_page_says_what_is_so() -> None:
    written = (RECIPES / "FABRICS.md").read_text("utf-8")
    assert written == fabrics_markdown(), "run python -m texbake.swatch, and look at its pictures"


def test_every_structure_of_the_recipe_and_every_shipped_fabric_is_there() -> None:
    def kinds(structure: object) -> set[str]:
        inner = get_args(structure)
        if inner:
            return set().union(*(kinds(one) for one in inner))
        return {structure.__dataclass_fields__["kind"].default}  # type: ignore[attr-defined]

    assert {sample.fabric.structure.kind for sample in ALL} == kinds(Structure)
    shipped = {sample.title for sample in ALL if sample.key.startswith("shipped-")}
    assert shipped == set(fabric_names())


def test_every_picture_is_there_and_none_more_and_all_are_small() -> None:
    files = list((RECIPES / PICTURES).glob("*.png"))
    assert {file.stem for file in files} == {sample.key for sample in ALL}
    assert sum(file.stat().st_size for file in files) < MOST_BYTES


@pytest.mark.parametrize("sample", ALL, ids=lambda sample: sample.key)
def test_lines_to_copy_make_a_recipe_and_name_their_source(sample: Sample) -> None:
    project = loads(f"garment: tee\nmesh: tee.obj\n{sample.text}", Path("tee.yaml"))
    assert sample.fabric in project.recipe.fabrics.values()
    sources = (
        "http",
        ".com",
        ".bd",
        "Munden",
        "from memory",
        "no source",
        "trader",
        "turned",
        "as ",
    )
    assert any(source in sample.source for source in sources)


@pytest.mark.parametrize("sample", DRAWN, ids=lambda sample: sample.key)
def test_pictures_are_those_of_the_cloth(sample: Sample) -> None:
    shown = picture_of(sample)
    for k, draw in enumerate((life_size, enlarged, folds)):
        if k == 2 and sample.key not in FOLDED:
            continue
        left = k * (SIDE_PX + GAP_PX)
        there = shown[:, left : left + SIDE_PX]
        drawn = draw(sample.fabric, SIDE_PX, threads=1).astype(np.float64)
        assert np.abs(drawn - there).mean() < 3.0, (
            f"{sample.key} is stale: run python -m texbake.swatch, and look"
        )


def picture_of(sample: Sample) -> F64:
    with Image.open(RECIPES / PICTURES / f"{sample.key}.png") as image:
        return np.asarray(image.convert("RGB"), np.float64)


def test_a_picture_of_another_cloth_would_be_told() -> None:
    """The test above can fail: the next cloth's picture is farther off than it allows."""
    for one, other in pairwise(DRAWN):
        assert np.abs(picture_of(one) - picture_of(other)).mean() > 10.0


def test_a_palette_changes_colours_little(tmp_path: Path) -> None:
    ramp = np.linspace(40, 200, 64)
    picture: U8 = np.broadcast_to(ramp[:, None, None], (64, 64, 3)).astype(np.uint8)
    write_small(tmp_path / "a.png", picture)
    with Image.open(tmp_path / "a.png") as image:
        back = np.asarray(image.convert("RGB"), np.float64)
    assert np.abs(back - picture).max() <= 4.0  # 64 greys in a palette of 128
