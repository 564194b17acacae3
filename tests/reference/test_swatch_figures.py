"""Repeats, weights and cover of cloths against standard, handbook and trade."""

import pytest

from tests.flat_cloth import ECRU, FABRICS, INK, yarn
from texbake.cloth import repeat_of
from texbake.recipe import Fabric, Plain, Twill
from texbake.recipe.values import (
    Basket,
    Cable,
    Corduroy,
    Herringbone,
    Interlock,
    Jersey,
    Order,
    RepWeave,
    Rib,
    Sateen,
    Satin,
    Weave,
)
from texbake.swatch import facts_of

OUNCE = 33.906  # g/m2 in 1 oz/yd2 (Texcoms handbook p. 147)


# ISO 3572: a satin on n ends repeats after n ends and n picks; a twill a/b after a + b both ways;
# plain weave after 2 and 2; a hopsack a x b after 2a and 2b; ribs in one direction only.
@pytest.mark.parametrize(
    ("weave", "ends", "picks"),
    [
        (Plain(), 2, 2),
        (Twill(over=2, under=1), 3, 3),
        (Twill(over=3, under=1, direction="S"), 4, 4),
        (Satin(ends=5, move=2), 5, 5),
        (Sateen(ends=8, move=3), 8, 8),
        (Basket(ends=2, picks=2), 4, 4),
        (RepWeave(system="warp", over=2, under=2), 2, 4),
        (RepWeave(system="weft", over=3, under=3), 6, 2),
        (Herringbone(over=2, under=2, turn=8), 16, 4),
    ],
)
def test_weaves_repeat_after_the_ends_and_picks_of_the_standard(
    weave: Weave, ends: int, picks: int
) -> None:
    fabric = Fabric(name="w", structure=weave, warp=yarn(20, 25), weft=yarn(20, 20), scale=2.0)
    repeat = repeat_of(fabric)
    assert repeat.counts == (ends, picks)
    assert repeat.names == ("ends", "picks")
    assert repeat.size_mm == pytest.approx((ends / 2.5 * 2.0, picks / 2.0 * 2.0))


def test_colours_and_draft_repeat_together() -> None:
    """A stripe of six ends in a twill of four: twelve ends until both come again."""
    stripe = Order(slots=(0, 0, 0, 0, 1, 1), colours=(INK, ECRU))
    warp = yarn(50, 16, order=stripe)
    fabric = Fabric(name="s", structure=Twill(over=2, under=2), warp=warp, weft=yarn(50, 16))
    assert repeat_of(fabric).counts == (12, 4)


def test_knits_and_cords_repeat_after_their_wales() -> None:
    def knit(structure: Jersey | Rib | Interlock | Cable) -> Fabric:
        return Fabric(
            name="k", structure=structure, yarn=yarn(30), wales_per_cm=10, courses_per_cm=14
        )

    assert repeat_of(knit(Jersey())).counts == (1, 1)
    assert repeat_of(knit(Rib(face=2, back=1))).counts == (3, 1)
    assert repeat_of(knit(Interlock())).counts == (2, 1)
    assert repeat_of(knit(Cable(strand=3, every=8))).counts == (10, 8)
    cord = repeat_of(Fabric(name="c", structure=Corduroy(wales_per_inch=11), yarn=yarn(60)))
    assert cord.names[0] == "wale"
    assert cord.size_mm[0] == pytest.approx(25.4 / 11)


def test_denim_weighs_what_the_trade_s_formula_says() -> None:
    """0.6857 [K (1 + c) / sqrt(Ne) ...] oz/yd2 (shared/tables/textile.md, "Cover"), Ne 7 x 10."""
    ends, picks, c = 72.0, 56.0, 0.08
    k = ends / 7.0**0.5, picks / 10.0**0.5
    ounces = 0.6857 * (k[0] * (1 + c) / 7.0**0.5 + k[1] * (1 + c) / 10.0**0.5)
    warp, weft = yarn(590.541 / 7, ends / 2.54), yarn(590.541 / 10, picks / 2.54)
    denim = facts_of(Fabric(name="d", structure=Twill(over=3, under=1), warp=warp, weft=weft))
    assert denim.weight_g_m2 == pytest.approx(ounces * OUNCE, rel=2e-3)
    assert denim.cover_factors == pytest.approx(k, rel=1e-3)
    assert denim.weight_g_m2 is not None
    assert denim.weight_g_m2 > 11.0 * OUNCE  # heavy denim: daffodilvarsity 6589


def test_cover_factor_where_yarns_touch_is_peirce_s_28() -> None:
    warp = yarn(20.0, 10.0 / 0.03742 / 20.0**0.5)  # d = 0.03742 sqrt(tex): yarns side by side
    facts = facts_of(Fabric(name="p", structure=Plain(), warp=warp, weft=yarn(20.0, 10.0)))
    assert facts.cover_factors is not None
    assert facts.cover_factors[0] == pytest.approx(28.0, rel=0.005)
    assert facts.cover == pytest.approx(1.0, abs=1e-3)


def test_jersey_weighs_what_its_loops_weigh() -> None:
    """Ne 30 at l = 2.7 mm: 12068.59 / (30 * 2.7) = 149 g/m2 (textilecalculation.blogspot.com)."""
    facts = facts_of(FABRICS["jersey"])  # 15 x 19 to the cm
    assert facts.loop_mm == pytest.approx(2.7, rel=0.02)
    assert facts.weight_g_m2 == pytest.approx(149.0, rel=0.03)
    assert facts.tightness is not None
    assert 9.0 <= facts.tightness <= 19.0  # usual is 13 to 19 for jersey (Munden 1962, from memory)


def test_what_nothing_known_says_is_not_said() -> None:
    assert facts_of(FABRICS["felt"]).weight_g_m2 is None
    assert facts_of(FABRICS["moss"]).weight_g_m2 is None
