"""Drafts: which yarn is on top at each crossing (ISO 3572: plain, twill, satin).

A draft is a boolean matrix of (picks, ends), row 0 the first pick woven (the lowest), True where
the warp is on top.
"""

import numpy as np

from texbake.arrays import Bool
from texbake.recipe.values import Draft, Plain, Satin, Twill


def draft_of(weave: Plain | Twill | Satin | Draft) -> Bool:
    """One repeat of a weave.

    Returns
    -------
    (picks, ends) bool
        True: warp on top. The diagonal of a Z twill runs up to the right, as in the letter.
    """
    if isinstance(weave, Draft):
        return np.array([[mark == "x" for mark in row] for row in weave.rows])
    if isinstance(weave, Plain):
        return np.array([[True, False], [False, True]])
    if isinstance(weave, Twill):
        return _twill(weave.over, weave.under, 1 if weave.direction == "Z" else -1)
    return _satin(weave.ends, weave.move)


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
