"""Drafts: which yarn is on top at each crossing (ISO 3572).

A draft is a boolean matrix of (picks, ends), row 0 the first pick woven (the lowest), True where
the warp is on top.
"""

import numpy as np

from texbake.arrays import Bool
from texbake.recipe.values import (
    Basket,
    Crepe,
    Draft,
    Herringbone,
    Plain,
    RepWeave,
    Sateen,
    Satin,
    Twill,
    Weave,
)

# Ours: sought so that no float is longer than three, every yarn interlaces alike, and no wave
# of its spectrum stands out: cloth without lines.
CREPE = (
    "x...xx...xx.",
    "x..x.x..x.xx",
    "x.xx...xxx..",
    ".xx..xxx...x",
    ".xx.x.x..xx.",
    "x..xx...xxx.",
    "x.xx..xxx..x",
    ".x.xxx.x.x..",
    "xx..xx.x...x",
    ".xx..xx...xx",
    "..x...xxx.xx",
    ".x.xx.x.xx..",
)


def draft_of(weave: Weave) -> Bool:
    """One repeat of a weave.

    Returns
    -------
    (picks, ends) bool
        True: warp on top. The diagonal of a Z twill runs up to the right, as in the letter.
    """
    match weave:
        case Draft(rows=rows):
            return _drawn(rows)
        case Twill(over=over, under=under, direction=direction):
            return _twill(over, under, 1 if direction == "Z" else -1)
        case Satin(ends=ends, move=move) | Sateen(ends=ends, move=move):
            return _satin(ends, move) ^ isinstance(weave, Sateen)
        case Herringbone(over=over, under=under, turn=turn):
            return _herringbone(over, under, turn)
        case Crepe():
            return _drawn(CREPE)
    return _grouped(weave)


def _grouped(weave: Plain | Basket | RepWeave) -> Bool:
    """Plain weave and what comes of it when neighbours work as one."""
    plain = np.array([[True, False], [False, True]])
    if isinstance(weave, Basket):
        plain = np.repeat(np.repeat(plain, weave.picks, 0), weave.ends, 1)
    elif isinstance(weave, RepWeave):
        plain = np.repeat(plain, (weave.over, weave.under), 0)
        plain = plain if weave.system == "warp" else plain.T
    return plain


def _drawn(rows: tuple[str, ...]) -> Bool:
    return np.array([[mark == "x" for mark in row] for row in rows])


def _herringbone(over: int, under: int, turn: int) -> Bool:
    """One bone of ``turn`` ends leans as Z, the next as S.

    Of an even twill the S bone begins on the opposite of the last Z end, and so back: the cut that
    keeps the line between bones clean. Other twills have no such end, and turn in a point.
    """
    repeat = over + under
    first = turn - 1 + over if over == under else turn - 2
    ends = np.concatenate([np.arange(turn), first - np.arange(turn)])
    up: Bool = (ends[None, :] - np.arange(repeat)[:, None]) % repeat < over
    return up


def _twill(over: int, under: int, step: int) -> Bool:
    """Warp over ``over`` picks, under ``under``; each pick moves one end to the side."""
    repeat = over + under
    picks, ends = np.indices((repeat, repeat))
    up: Bool = (ends - step * picks) % repeat < over
    return up


def _satin(ends: int, move: int) -> Bool:
    """Warp-faced: each pick passes over one end only, ``move`` ends on from the last."""
    up = np.ones((ends, ends), np.bool_)
    picks = np.arange(ends)
    up[picks, (picks * move) % ends] = False
    return up


def interlacings(draft: Bool) -> int:
    """How often one end changes sides in a repeat, mean over the ends (ISO 3572's measure)."""
    changes = draft != np.roll(draft, 1, axis=0)
    return int(np.count_nonzero(changes) // draft.shape[1])


def longest_float(draft: Bool) -> int:
    """Most picks in a row that any end passes over or under."""
    twice = np.concatenate([draft, draft])
    longest, run = 1, np.ones(draft.shape[1], np.int64)
    for row, last in zip(twice[1:], twice, strict=False):
        run = np.where(row == last, run + 1, 1)
        longest = max(longest, int(run.max()))
    return min(longest, len(draft))
