"""Drafts against the definitions of ISO 3572 (plain, twill, satin), from memory of the standard.

An end of plain weave interlaces at every pick; of a twill a/b, twice in its repeat of a + b; of a
satin, twice in its repeat, its floats one pick shorter than the repeat and its single interlacings
never side by side.
"""

import numpy as np
import pytest

from texbake.arrays import Bool
from texbake.cloth.draft import draft_of, interlacings, longest_float
from texbake.recipe.values import Draft, Plain, Satin, Twill


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
    ],
)
def test_repeat_interlacings_and_floats(
    weave: Plain | Twill | Satin, repeat: int, changes: int, floating: int
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
