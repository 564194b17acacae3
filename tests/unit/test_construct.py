"""Seams and edges as cross-sections: heights in mm over the cloth, which is 0.6 mm thick."""

from dataclasses import replace

import numpy as np
import pytest

from tests.straight_seams import CREAM, NAVY, grid, straight
from texbake.arrays import F32
from texbake.recipe.values import Colour, HemRecipe, SeamRecipe
from texbake.sewing.build import sew, trim
from texbake.sewing.fold import STEP_MM, profile_mm
from texbake.sewing.spec import SewnSpec, spec_for_hem, spec_for_seam

THICK = 0.6
AMBER = Colour((0.8, 0.5, 0.15))


def seam(recipe: SeamRecipe, seen: tuple[bool, bool] = (True, False)) -> SewnSpec:
    return spec_for_seam(straight(61.0), replace(recipe, trim=AMBER), NAVY, THICK, seen)


def height(spec: SewnSpec, side: int, distance_mm: float) -> float:
    return float(profile_mm(spec.across[side], np.array([distance_mm]))[0])


def covered(spec: SewnSpec, texel_mm: float = 0.1, side: int = 0) -> F32:
    """Share that a binding or a piping hides, by distance."""
    near, size = grid(texel_mm, 10.0, 12.0)
    near = replace(near, side=np.full_like(near.side, side))
    strip = trim(near, spec, size)
    out = np.zeros(near.at.size, np.float32)
    if strip is not None:
        out[strip.at] = strip.cover
    mean: F32 = out.reshape(round(12.0 / texel_mm), -1).mean(axis=1)
    return mean


def test_a_lapped_seam_is_one_layer_high_on_its_side_and_level_on_the_other() -> None:
    spec = seam(SeamRecipe(stitch="301", construction="lapped"))
    assert height(spec, 0, 4.5) == pytest.approx(THICK, abs=0.01)
    assert height(spec, 1, 1.0) == 0.0
    assert height(spec, 0, 9.0) == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize("seen", [(True, False), (False, True), (True, True)])
def test_a_felled_seam_has_two_rows_on_the_side_that_lies_on_top(seen: tuple[bool, bool]) -> None:
    spec = seam(SeamRecipe(stitch="301", construction="felled", spacing_mm=6.4), seen)
    top = 0 if seen[0] else 1
    assert spec.across[top].rows_mm == pytest.approx((2.0, 8.4))
    assert spec.across[1 - top].rows_mm == ()
    assert height(spec, top, 5.0) == pytest.approx(1.5 * THICK, abs=0.01)
    assert height(spec, top, 11.5) == pytest.approx(0.0, abs=1e-9)


def test_more_rows_of_a_felled_seam_are_kept() -> None:
    spec = seam(SeamRecipe(stitch="301", construction="felled", rows=3))
    assert len(spec.across[0].rows_mm) == 3


def test_the_cloth_beside_a_lap_lies_in_its_shade() -> None:
    flat, lap = (seam(SeamRecipe(stitch="301", construction=c)) for c in ("pressed", "lapped"))
    near, size = grid(0.1, 20.0, 3.0)
    other = replace(near, away=-near.away, side=np.ones_like(near.side))
    one, two = (sew(other, spec, size, size).occlusion.reshape(30, -1) for spec in (flat, lap))
    beside, far = two[:3].mean(), two[-3:].mean()
    assert beside < 0.88
    assert far > beside + 0.08
    assert one[5:8].mean() > two[5:8].mean()


def test_a_piping_is_a_cord_in_the_line_and_rows_count_from_its_foot() -> None:
    spec = seam(SeamRecipe(stitch="301", construction="piped", cord_mm=3.0), (True, True))
    assert height(spec, 0, 0.0) - height(spec, 0, 6.0) == pytest.approx(1.5, abs=0.05)
    assert spec.across[0].rows_mm == pytest.approx((3.5,))
    for side in (0, 1):
        hidden = covered(spec, side=side)
        assert hidden[:14] == pytest.approx(np.ones(14))
        assert not hidden[16:].any()
    assert height(spec, 0, 1.6) < height(spec, 0, 4.5)  # the groove runs along its foot


def bound(width_mm: float = 8.0) -> SewnSpec:
    recipe = HemRecipe(
        stitch="301", construction="bound", width_mm=width_mm, trim=AMBER, thread=CREAM
    )
    return spec_for_hem(straight(61.0, kind="hem"), recipe, NAVY, THICK)


def test_a_binding_covers_its_width_in_its_own_colour() -> None:
    spec = bound()
    assert spec.trim == pytest.approx(AMBER.linear, abs=1e-6)
    assert covered(spec).sum() * 0.1 == pytest.approx(8.25, abs=0.06)
    assert height(spec, 0, 3.0) == pytest.approx(0.8 * THICK, abs=0.01)
    assert height(spec, 0, 9.0) == pytest.approx(0.0, abs=0.03)
    assert spec.across[0].rows_mm == pytest.approx((6.0,))


@pytest.mark.parametrize("texel_mm", [0.1, 0.4, 1.0, 3.0])
def test_any_texel_has_its_share_of_a_binding(texel_mm: float) -> None:
    assert covered(bound(), texel_mm).sum() * texel_mm == pytest.approx(8.25, rel=0.02)


def test_without_a_colour_the_strip_is_of_the_cloth() -> None:
    recipe = HemRecipe(construction="bound", width_mm=8.0)
    spec = spec_for_hem(straight(61.0, kind="hem"), recipe, NAVY, THICK)
    assert spec.trim == pytest.approx(NAVY)


@pytest.mark.parametrize("construction", ["pressed", "lapped", "felled", "piped"])
def test_the_cloth_has_no_wall_but_at_the_line(construction: str) -> None:
    spec = seam(SeamRecipe(stitch="301", construction=construction))  # type: ignore[arg-type]
    for side in (0, 1):
        rise = np.diff(profile_mm(spec.across[side], np.arange(0.0, 15.0, STEP_MM))) / STEP_MM
        assert np.abs(rise).max() < 3.0


def test_pressed_seams_and_turned_hems_have_no_strip() -> None:
    assert not covered(seam(SeamRecipe(stitch="301"))).any()
    turned = HemRecipe(stitch="301", trim=AMBER)
    assert not covered(spec_for_hem(straight(61.0, kind="hem"), turned, NAVY, THICK)).any()
