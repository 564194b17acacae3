from dataclasses import replace

import numpy as np
import pytest

from tests.straight_seams import CREAM, NAVY, straight
from texbake.recipe.values import HemRecipe, SeamRecipe, Thread
from texbake.sewing.spec import SewnSpec, hem_rows_mm, reach_mm, spec_for_hem, spec_for_seam
from texbake.sewing.thread import thread_colour

BOTH = (True, True)
TOPSTITCH = SeamRecipe(stitch="301", thread=CREAM)


def seam(
    length_mm: float = 100.0, recipe: SeamRecipe = TOPSTITCH, *, closed: bool = False
) -> SewnSpec:
    return spec_for_seam(straight(length_mm, closed=closed), recipe, NAVY, 0.5, BOTH)


@pytest.mark.parametrize(("length_mm", "count"), [(100.0, 40), (101.2, 40), (101.3, 41), (0.7, 1)])
def test_a_whole_number_of_stitches_fits_the_chain(length_mm: float, count: int) -> None:
    spec = seam(length_mm)
    assert spec.stitches == count
    assert spec.stitch_mm * count == pytest.approx(length_mm)


@pytest.mark.parametrize("closed", [False, True])
def test_needle_holes_run_in_order_from_end_to_end(*, closed: bool) -> None:
    spec = seam(99.0, closed=closed)
    steps = np.diff(spec.holes_mm)
    assert spec.holes_mm[0] == 0.0
    assert spec.holes_mm[-1] == pytest.approx(99.0)
    assert (np.abs(steps / spec.stitch_mm - 1.0) < 0.07).all()
    assert steps.std() > 0.01 * spec.stitch_mm


def test_scale_enlarges_thread_and_stitch_and_moves_nothing() -> None:
    life, large = seam(300.0), seam(300.0, replace(TOPSTITCH, scale=3.0))
    assert large.diameter_mm == pytest.approx(3.0 * life.diameter_mm)
    assert large.stitches * 3 == life.stitches
    assert large.across[0].rows_mm == life.across[0].rows_mm
    assert large.across[0].groove_mm == life.across[0].groove_mm


def test_rows_lie_on_the_sides_that_are_asked_for() -> None:
    recipe = replace(TOPSTITCH, rows=2, from_edge_mm=1.5, spacing_mm=6.4)
    spec = spec_for_seam(straight(100.0), recipe, NAVY, 0.5, (False, True))
    assert spec.across[0].rows_mm == ()
    assert spec.across[1].rows_mm == pytest.approx((1.5, 7.9))


def test_rows_of_a_hem_start_at_its_turned_edge() -> None:
    recipe = HemRecipe(stitch="301", rows=2, width_mm=20.0, from_edge_mm=2.0, spacing_mm=6.0)
    assert hem_rows_mm(recipe) == pytest.approx((18.0, 12.0))


def test_rows_of_a_hem_without_width_start_at_the_edge() -> None:
    recipe = HemRecipe(stitch="301", rows=2, width_mm=0.0, from_edge_mm=2.0, spacing_mm=6.0)
    spec = spec_for_hem(straight(100.0, kind="hem"), recipe, NAVY, 0.5)
    assert spec.across[0].rows_mm == pytest.approx((2.0, 8.0))
    assert spec.across[0].lift_mm == spec.across[0].roll_mm == 0.0


def test_a_row_off_the_cloth_is_refused() -> None:
    recipe = HemRecipe(stitch="301", rows=3, width_mm=12.0, from_edge_mm=2.0, spacing_mm=6.0)
    with pytest.raises(ValueError, match="2 mm outside the edge"):
        spec_for_hem(straight(100.0, kind="hem"), recipe, NAVY, 0.5)


def test_a_fold_is_as_high_as_asked_or_as_the_cloth_is_thick() -> None:
    chain, recipe = straight(100.0, kind="hem"), HemRecipe(width_mm=12.0)
    assert spec_for_hem(chain, recipe, NAVY, 0.7).across[0].lift_mm == 0.7
    flat = replace(recipe, fold_mm=0.1)
    assert spec_for_hem(chain, flat, NAVY, 0.7).across[0].lift_mm == 0.1


def test_a_chain_shorter_than_a_stitch_gets_none() -> None:
    spec = seam(0.4)
    assert spec.table is None
    assert spec.across[0].rows_mm == ()
    assert spec.across[0].groove_mm > 0.0


def test_thread_without_a_colour_is_the_cloth_a_little_darker() -> None:
    assert thread_colour(None, (0.4, 0.2, 0.1)) == pytest.approx([0.3, 0.15, 0.075])
    assert thread_colour((0.9, 0.8, 0.7), NAVY) == pytest.approx([0.9, 0.8, 0.7])


def test_metallic_thread_is_metal_and_smoother() -> None:
    dull, bright = seam(), seam(recipe=replace(TOPSTITCH, thread=Thread(metallic=True)))
    assert (dull.metal, bright.metal) == (0.0, 1.0)
    assert bright.alpha2 < dull.alpha2


def test_the_reach_holds_all_that_is_sewn() -> None:
    wide = seam(recipe=replace(TOPSTITCH, rows=4))
    assert reach_mm(wide) >= 20.0 + 1.25
    assert reach_mm(wide, texel_mm=2.0) >= reach_mm(wide) + 1.0


def test_a_chain_keeps_its_seed_when_it_is_told_the_other_way_round() -> None:
    chain = straight(100.0)
    back = replace(chain, points_mm=chain.points_mm[::-1, ::-1].copy())
    elsewhere = replace(chain, points_mm=chain.points_mm + 30.0)
    one, same, other = (
        spec_for_seam(c, TOPSTITCH, NAVY, 0.5, BOTH) for c in (chain, back, elsewhere)
    )
    assert np.array_equal(one.holes_mm, same.holes_mm)
    assert not np.array_equal(one.holes_mm, other.holes_mm)


def test_another_seed_sews_other_stitches() -> None:
    one, two = (
        spec_for_seam(straight(100.0), TOPSTITCH, NAVY, 0.5, BOTH, seed=seed) for seed in (1, 2)
    )
    assert not np.array_equal(one.holes_mm, two.holes_mm)
