"""Which old panel each new face is, from the common surface: decided, or left open.

What is decided is certain. An island is a panel's if that panel is all the old cloth in it. If it
holds cloth of several panels, the seams between them lie where they lay, in space: so each part of
the island between old seams is one panel's. That needs edges of the mesh there, nearly all of each
part on one panel, and no other place that would do as well; all else is a question.
"""

from collections.abc import Collection
from dataclasses import dataclass
from typing import Literal

import numpy as np

from texbake.arrays import F64, I32, I64
from texbake.change.overlap import Overlap
from texbake.garment.islands import edge_pairs
from texbake.garment.known import LEAST_OFF, on_seam
from texbake.garment.weld import components

# Shares of an island's or a panel's area; common practice, no source. What lies between the limits
# is asked.
MOST_UNSURE = 0.15  # of an island or a panel: more may be another
MOST_STRAY = 0.03  # of an island: cloth on another panel than its part
MOST_TIMES = 1.15  # of a panel: cloth of it that lies there twice
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


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Cloth:
    """The new mesh, and the seams of the old one.

    Attributes
    ----------
    corners_mm : (F, 3, 3) float64
    weld, island : (F, 3), (F,) int32
    area_mm2 : (F,) float64
    seams_mm : (E, 2, 3) float64
        Edges of the old mesh where one panel meets another.
    """

    corners_mm: F64
    weld: I32
    island: I32
    area_mm2: F64
    seams_mm: F64


def decide(overlap: Overlap, cloth: Cloth, *, settled: Collection[int] = ()) -> Decision:
    """Decide by common surface.

    Parameters
    ----------
    overlap : Overlap
    cloth : Cloth
    settled : collection of int
        Islands that the recipe itself assigns: nothing is asked of them, and no panel gets them.
    """
    face = np.full(len(cloth.island), -1, np.int32)
    fresh: list[int] = []
    doubts: list[Doubt] = []
    for number in np.flatnonzero(overlap.new_mm2 > 0.0).tolist():
        if number in settled:
            continue
        ranked = candidates(overlap, number)
        mine = np.flatnonzero(cloth.island == number)
        why, label = _judged(overlap, cloth, number, ranked, mine)
        if why:
            doubts.append(Doubt(island=number, panels=ranked, why=why))
        elif ranked:
            face[mine] = label
        else:
            fresh.append(number)
    asked = {panel for doubt in doubts for panel in doubt.panels}
    lost = overlap.old_common_mm2.sum(axis=1) <= (1.0 - GONE) * overlap.old_mm2
    gone = [p for p in np.flatnonzero(lost).tolist() if p not in asked and not (face == p).any()]
    return Decision(face=face, fresh=tuple(fresh), gone=tuple(gone), doubts=tuple(doubts))


def candidates(overlap: Overlap, island: int) -> tuple[int, ...]:
    """Return the panels whose cloth an island holds, the most of it first; none if it is new."""
    common = overlap.new_common_mm2[:, island]
    area = float(overlap.new_mm2[island])
    large = overlap.old_common_mm2[:, island] > PART * np.maximum(overlap.old_mm2, 1e-300)
    if common.sum() <= (1.0 - FRESH) * area and not large.any():
        return ()
    some = (common > TRACE * area) | large | (overlap.exact_mm2[:, island] > 0.0)
    some |= overlap.rival_mm2[:, island] > MOST_UNSURE * area
    return tuple(int(p) for p in np.argsort(-common, kind="stable") if some[p])


def _judged(
    overlap: Overlap, cloth: Cloth, island: int, ranked: tuple[int, ...], mine: I64
) -> tuple[Why | None, I32]:
    """Say why an island is open, or None, and the panel of each of its faces."""
    whole = float(overlap.new_mm2[island])
    label = np.full(len(mine), ranked[0] if ranked else -1, np.int32)
    unsure = overlap.old_unsure_mm2 > MOST_UNSURE * overlap.old_mm2
    unsure |= overlap.new_common_mm2.sum(axis=1) > MOST_TIMES * overlap.old_mm2
    if overlap.new_unsure_mm2[island] > MOST_UNSURE * whole or any(unsure[p] for p in ranked):
        return "alike", label
    if not ranked:
        return None, label
    if overlap.new_common_mm2[:, island].sum() < HALF * whole:
        return "partly", label
    if len(ranked) > 1:
        label, stray = _parted(overlap, cloth, ranked, mine)
        if stray > MOST_STRAY * whole:
            return "across", label
    return None, label


def _parted(
    overlap: Overlap, cloth: Cloth, ranked: tuple[int, ...], mine: I64
) -> tuple[I32, float]:
    """Share an island out among the panels whose cloth it holds.

    Returns the panel of each face, and how much area lies elsewhere than its part. Seams whose
    edges are still there are tried first: beside a bent one, thin faces lie nearly on it.
    """
    whole = float(cloth.area_mm2[mine].sum())
    label, stray = _by_parts(overlap, cloth, ranked, mine, slack=0.0)
    if stray > MOST_STRAY * whole:
        label, stray = _by_parts(overlap, cloth, ranked, mine, slack=1.0)
    return label, stray


def _by_parts(
    overlap: Overlap, cloth: Cloth, ranked: tuple[int, ...], mine: I64, *, slack: float
) -> tuple[I32, float]:
    """Give each part of an island to the panel that most of it was found on."""
    found, exact = overlap.face_panel[mine], overlap.face_exact[mine]
    area = cloth.area_mm2[mine]
    part = _parts(cloth, mine, slack)
    votes = np.zeros((len(ranked), int(part.max()) + 1))
    for k, panel in enumerate(ranked):
        votes[k] = np.bincount(part[found == panel], area[found == panel], votes.shape[1])
    label = np.array(ranked, np.int32)[votes.argmax(axis=0)][part]
    stray = float(area[(label != found) & ~exact].sum())
    return np.where(exact, found, label).astype(np.int32), stray


def _parts(cloth: Cloth, mine: I64, slack: float) -> I64:
    """Number the parts of an island between seams of the old cloth."""
    welded, corners = cloth.weld[mine], cloth.corners_mm[mine].reshape(-1, 3)
    pairs = edge_pairs(welded)
    start = pairs[:, 0]
    end = start - start % 3 + (start + 1) % 3
    edge = np.stack([corners[start], corners[end]], axis=1)
    flat = cloth.corners_mm.reshape(-1, 3)
    size = float(np.linalg.norm(np.ptp(flat, axis=0)))
    seam = on_seam(edge, cloth.seams_mm, LEAST_OFF * size, slack=slack)
    return components(pairs[~seam] // 3, len(mine))
