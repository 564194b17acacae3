"""Drafts against the definitions of ISO 3572 (plain, twill, satin), from memory of the standard.

An end of plain weave interlaces at every pick; of a twill a/b, twice in its repeat of a + b; of a
satin, twice in its repeat, its floats one pick shorter than the repeat and its single interlacings
never side by side.
"""

import numpy as np
import pytest

from tests.flat_cloth import ECRU, INK, yarn
from texbake import cloth
from texbake.arrays import Bool
from texbake.cloth.draft import draft_of, interlacings, longest_float
from texbake.cloth.tile import WEIGHT
from texbake.recipe.values import (
    Basket,
    Crepe,
    Draft,
    Fabric,
    Herringbone,
    Order,
    Plain,
    RepWeave,
    Sateen,
    Satin,
    Twill,
    Weave,
)


@pytest.mark.parametrize(
    ("weave", "repeat", "changes", "floating"),
    [
        (Plain(), 2, 2, 1),
        (Twill(over=2, under=1, direction="Z"), 3, 2, 2),
        (Twill(over=3, under=1, direction="S"), 4, 2, 3),
        (Twill(over=2, under=2, direction="Z"), 4, 2, 2),
        (Satin(ends=5, move=2), 5, 2, 4),
        (Satin(ends=5, move=3), 5, 2, 4),
        (Satin(ends=8, move=3), 8, 2, 7),
        (Sateen(ends=5, move=2), 5, 2, 4),
        (Sateen(ends=8, move=5), 8, 2, 7),
        (Twill(over=1, under=3), 4, 2, 3),
        (Twill(over=4, under=4), 8, 2, 4),
    ],
)
def test_repeat_interlacings_and_floats(
    weave: Plain | Twill | Satin | Sateen, repeat: int, changes: int, floating: int
) -> None:
    draft = draft_of(weave)
    assert draft.shape == (repeat, repeat)
    assert interlacings(draft) == changes
    assert longest_float(draft) == floating


@pytest.mark.parametrize(("over", "under"), [(2, 1), (3, 1), (1, 3), (2, 2)])
def test_the_letter_of_a_twill_is_the_way_its_diagonal_leans(over: int, under: int) -> None:
    z = draft_of(Twill(over=over, under=under, direction="Z"))
    s = draft_of(Twill(over=over, under=under, direction="S"))
    up_and_right = np.roll(z, (1, 1), (0, 1))  # row 0 is the lowest pick
    assert (up_and_right == z).all()
    assert (np.roll(s, (1, -1), (0, 1)) == s).all()
    if over != under or over > 1:
        assert not (np.roll(z, (1, -1), (0, 1)) == z).all()


@pytest.mark.parametrize(("ends", "move"), [(5, 2), (5, 3), (7, 2), (8, 3), (8, 5)])
def test_satin_s_single_crossings_never_touch(ends: int, move: int) -> None:
    weft_up = ~draft_of(Satin(ends=ends, move=move))
    assert (weft_up.sum(0) == 1).all()
    assert (weft_up.sum(1) == 1).all()
    assert not _touching(weft_up)


def _touching(marks: Bool) -> bool:
    around = [(0, 1), (1, 0), (1, 1), (1, -1)]
    return any(bool((marks & np.roll(marks, step, (0, 1))).any()) for step in around)


def test_a_written_draft_is_taken_as_it_stands() -> None:
    draft = draft_of(Draft(rows=("x..", ".xx")))
    assert draft.tolist() == [[True, False, False], [False, True, True]]


@pytest.mark.parametrize(
    ("weave", "rows"),
    [
        (Basket(ends=2, picks=2), ("xx..", "xx..", "..xx", "..xx")),
        (Basket(ends=2, picks=1), ("xx..", "..xx")),
        (RepWeave(system="warp", over=2, under=2), ("x.", "x.", ".x", ".x")),
        (RepWeave(system="weft", over=2, under=1), ("xx.", "..x")),
    ],
)
def test_basket_and_rib_weaves_are_plain_weave_with_yarns_doubled(
    weave: Weave, rows: tuple[str, ...]
) -> None:
    assert (draft_of(weave) == draft_of(Draft(rows=rows))).all()


def test_a_warp_rib_floats_in_the_warp_only_and_a_weft_rib_in_the_weft() -> None:
    warp, weft = (draft_of(RepWeave(system=s, over=3, under=3)) for s in ("warp", "weft"))
    assert (longest_float(warp), longest_float(warp.T)) == (3, 1)
    assert (longest_float(weft), longest_float(weft.T)) == (1, 3)


def test_a_sateen_is_the_back_of_a_satin() -> None:
    assert (draft_of(Sateen(ends=7, move=3)) == ~draft_of(Satin(ends=7, move=3))).all()


@pytest.mark.parametrize("turn", [4, 6, 8])
def test_a_herringbone_leans_both_ways_and_cuts_where_it_turns(turn: int) -> None:
    draft = draft_of(Herringbone(over=2, under=2, turn=turn))
    assert draft.shape == (4, 2 * turn)
    twill = draft_of(Twill(over=2, under=2, direction="Z"))
    assert (draft[:, :turn] == np.tile(twill, 3)[:, :turn]).all()
    one_up = np.roll(draft, 1, axis=0)
    assert (np.roll(draft, -1, axis=0)[:, turn:-1] == draft[:, turn + 1 :]).all()  # S
    assert (one_up[:, : turn - 1] == draft[:, 1:turn]).all()  # Z
    # The cut: side by side stand opposites, so no float grows longer than the twill's.
    assert (draft[:, turn - 1] == ~draft[:, turn]).all()
    assert (draft[:, -1] == ~draft[:, 0]).all()
    assert (longest_float(draft), longest_float(draft.T)) == (2, 2)


@pytest.mark.parametrize(("over", "under"), [(2, 1), (3, 1), (1, 3)])
def test_a_herringbone_of_an_uneven_twill_turns_in_a_point(over: int, under: int) -> None:
    draft = draft_of(Herringbone(over=over, under=under, turn=6))
    assert draft.shape == (over + under, 12)
    mirrored = draft[:, ::-1]
    assert any((np.roll(mirrored, k, axis=1) == draft).all() for k in range(12))


def test_crepe_has_short_floats_even_interlacing_and_no_line() -> None:
    draft = draft_of(Crepe())
    assert (longest_float(draft), longest_float(draft.T)) == (3, 3)
    assert abs(draft.mean() - 0.5) < 0.05
    power = np.abs(np.fft.fft2(draft - draft.mean())) ** 2
    twill = draft_of(Twill(over=2, under=2))
    line = np.abs(np.fft.fft2(np.tile(twill, (3, 3)) - 0.5)) ** 2
    assert power.max() / power.sum() < 0.25 * line.max() / line.sum()


# The figure that weaving books draw for four dark, four light in both systems of a 2/2 twill: a
# solid check, two checks of twill lines that make the teeth, and bare ground.
TOOTH = (
    "##......",
    ".##.....",
    "..##....",
    "#..#....",
    "####..##",
    "#####..#",
    "######..",
    "####.##.",
)


def test_houndstooth_comes_out_of_a_two_two_twill_with_four_dark_and_four_light() -> None:
    teeth = Order(slots=(0,) * 4 + (1,) * 4, colours=(INK, ECRU))
    fabric = Fabric(
        name="tooth",
        structure=Twill(over=2, under=2, direction="Z"),
        warp=yarn(50, 16, order=teeth),
        weft=yarn(50, 16, order=teeth),
    )
    weights = cloth.render(fabric, 24).channels[WEIGHT:]
    dark, light = weights[0] + weights[2], weights[1] + weights[3]
    side = dark.shape[0] // 8
    share = (dark / (dark + light)).reshape(8, side, 8, side)
    middle = share[:, side // 3 : 2 * side // 3, :, side // 3 : 2 * side // 3].mean((1, 3))
    drawn = np.array([[mark == "#" for mark in row] for row in TOOTH[::-1]])  # first pick first
    assert _alike(middle > 0.5, drawn)
    assert np.abs(middle - 0.5).min() > 0.3  # every crossing is plainly of one colour
    assert _alike(~drawn, drawn)  # dark and light teeth are one figure


def _alike(one: Bool, other: Bool) -> bool:
    """The same endless pattern but for where it begins, a turn or a mirror."""
    turned = [np.rot90(m, k) for k in range(4) for m in (one, one.T)]
    moves = [(i, j) for i in range(len(one)) for j in range(len(one))]
    return any((np.roll(t, move, (0, 1)) == other).all() for t in turned for move in moves)
