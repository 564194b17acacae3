"""Which old panel each new face is, from the common surface: decided, or left open.

What is decided is certain. An island is a panel's if that panel is all the old cloth in it. If it
holds cloth of several panels, each face is its own panel's still: the seam lies where it lay, in
space. It must then run along the mesh's edges, no face may lie on both sides of it, and no other
place may do as well; all else is a question.
"""

from collections.abc import Collection
from dataclasses import dataclass
from typing import Literal

import numpy as np

from texbake.arrays import F64, I32, Bool
from texbake.change.overlap import Overlap

# Shares of an island's or a panel's area; common practice, no source. What lies between the limits
# is asked.
MOST_UNSURE = 0.15  # of an island or a panel: more may be another
MOST_MIXED = 0.02  # of an island: faces on both sides of a seam
FRESH = 0.9  # of an island, so much is new cloth: it is new
HALF = 0.5  # of an island, at least so much is old cloth: it is an old panel, perhaps grown
GONE = 0.95  # of a panel, so much is not there: it is gone
TRACE = 0.02  # of an island: less of a panel's cloth is a neighbour's border, met by samples ...
PART = 0.15  # ... unless it is so much of that panel, or the very same faces

Why = Literal["across", "alike", "partly"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Doubt:
    """An island that cannot be decided.

    Attributes
    ----------
    island : int
    panels : tuple of int
        Old panels that it could be, the likeliest first.
    why : 'across', 'alike' or 'partly'
        Faces lie across the seam of two panels; other cloth lies in the same place; too little of
        it is old cloth.
    """

    island: int
    panels: tuple[int, ...]
    why: Why


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Decision:
    """What became of the old panels.

    Attributes
    ----------
    face : (F,) int32
        The old panel of each new face; -1: of none, or open.
    fresh : tuple of int
        Islands of new cloth.
    gone : tuple of int
        Old panels whose cloth is not there any more.
    doubts : tuple of Doubt
    """

    face: I32
    fresh: tuple[int, ...]
    gone: tuple[int, ...]
    doubts: tuple[Doubt, ...]


def decide(
    overlap: Overlap, island: I32, area_mm2: F64, *, settled: Collection[int] = ()
) -> Decision:
    """Decide by common surface.

    Parameters
    ----------
    overlap : Overlap
    island : (F,) int32
        Of the new mesh.
    area_mm2 : (F,) float64
        Of its faces.
    settled : collection of int
        Islands that the recipe itself assigns: nothing is asked of them, and no panel gets them.
    """
    face = np.full(len(island), -1, np.int32)
    fresh: list[int] = []
    doubts: list[Doubt] = []
    for number in np.flatnonzero(overlap.new_mm2 > 0.0).tolist():
        if number in settled:
            continue
        ranked = candidates(overlap, number)
        mine = island == number
        if not ranked and overlap.new_unsure_mm2[number] <= MOST_UNSURE * overlap.new_mm2[number]:
            fresh.append(number)
        elif why := _why(overlap, number, ranked, mine, area_mm2):
            doubts.append(Doubt(island=number, panels=ranked, why=why))
        else:
            known = mine & np.isin(overlap.face_panel, ranked)
            face[mine] = ranked[0]
            face[known] = overlap.face_panel[known]
            if len(ranked) == 1:
                face[mine] = ranked[0]
    asked = {panel for doubt in doubts for panel in doubt.panels}
    lost = overlap.common_mm2.sum(axis=1) <= (1.0 - GONE) * overlap.old_mm2
    gone = [p for p in np.flatnonzero(lost).tolist() if p not in asked and not (face == p).any()]
    return Decision(face=face, fresh=tuple(fresh), gone=tuple(gone), doubts=tuple(doubts))


def candidates(overlap: Overlap, island: int) -> tuple[int, ...]:
    """Return the panels whose cloth an island holds, the most of it first; none if it is new."""
    common = overlap.common_mm2[:, island]
    area = float(overlap.new_mm2[island])
    if common.sum() <= (1.0 - FRESH) * area and not (common > PART * overlap.old_mm2).any():
        return ()
    some = (common > TRACE * area) | (common > PART * np.maximum(overlap.old_mm2, 1e-300))
    some |= overlap.exact_mm2[:, island] > 0.0
    return tuple(int(p) for p in np.argsort(-common, kind="stable") if some[p])


def _why(
    overlap: Overlap, island: int, ranked: tuple[int, ...], mine: Bool, area: F64
) -> Why | None:
    """Say why an island is open; None if it is not."""
    whole = float(overlap.new_mm2[island])
    unsure = overlap.old_unsure_mm2 > MOST_UNSURE * overlap.old_mm2
    if overlap.new_unsure_mm2[island] > MOST_UNSURE * whole or any(unsure[p] for p in ranked):
        return "alike"
    if overlap.common_mm2[:, island].sum() < HALF * whole:
        return "partly"
    if len(ranked) > 1:
        stray = overlap.face_mixed | ~np.isin(overlap.face_panel, ranked)
        if float(area[mine & stray].sum()) > MOST_MIXED * whole:
            return "across"
    return None
