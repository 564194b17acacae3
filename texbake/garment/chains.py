"""Seams, hems and cuts: runs of edges, walked the same way whatever the file's numbering.

A pair of faces that is not one cloth is a seam; a glued pair across a UV border is a cut; a face
alone at its edge is a hem. A slit in UV whose sides lie together in the pattern plane is a cut
too: nothing was taken out there, so nothing is sewn, while the sides of a dart lie apart.

Edges of one kind and one pair of panels make one run until its end, until more than two meet, or
until a hem (or both sides of a seam) turns a corner: stitches then come out whole on each straight
side. A run starts at its lowest end (then least x, then least z), a closed one at its lowest
vertex, and goes to the lower neighbour first.
"""

from dataclasses import dataclass
from typing import Literal

import numpy as np

from texbake.arrays import F64, I32, I64, Bool
from texbake.garment.edges import Edges
from texbake.garment.values import Chain

Kind = Literal["seam", "hem", "cut"]
KINDS: tuple[Kind, ...] = ("seam", "hem", "cut")
CORNER_RAD = np.pi / 3
# Sides of a slit nearer than this share of their edge (or this many mm) lie together.
TOGETHER_SHARE = 0.02
TOGETHER_MM = 0.05
# Places are compared in steps of 1 um, so that rounding in a file does not choose the start.
STEP_MM = 1e-3


@dataclass(frozen=True, slots=True, eq=False)
class _Borders:
    """All chain edges. For hems side 1 is empty: half -1."""

    kind: I64  # (E,) index into KINDS
    panels: I64  # (E, 2), lower first, -1 for none
    half: I64  # (E, 2) half-edges, side 0 and 1
    start: I64  # (E,) welded place where side 0 starts
    end: I64

    def take(self, which: I64 | Bool) -> "_Borders":
        return _Borders(
            self.kind[which],
            self.panels[which],
            self.half[which],
            self.start[which],
            self.end[which],
        )


@dataclass(frozen=True, slots=True, eq=False)
class _Walk:
    """One run: edges in order and whether each is walked from its end to its start."""

    edges: list[int]
    back: list[bool]
    closed: bool


def find_chains(
    points_mm: F64,
    weld: I32,
    edges: Edges,
    glued: Bool,
    island: I32,
    panel: I32,
    cloth: I32,
    pattern_mm: F64,
) -> tuple[Chain, ...]:
    """Sort the borders of all panels into chains.

    Parameters
    ----------
    points_mm : (W, 3) float64
        Welded places, mm.
    weld : (F, 3) int32
    edges : Edges
    glued : (P,) bool
        Pairs of half-edges that are one cloth.
    island, panel, cloth : (F,) int32
        ``panel`` is -1 for faces without area in UV; ``cloth`` is the panel such a face is part of
        nevertheless. An edge between a face on a panel and one on none is in no chain: it is not
        open, and what is sewn there is not baked.
    pattern_mm : (F, 3, 2) float64

    Returns
    -------
    tuple of Chain
        Seams, then hems, then cuts; each kind by its start in space. Side 0 is the panel with the
        lower number; where a panel meets itself, the side whose faces lie left of the walk.
    """
    rank = _rank(points_mm)
    borders = _borders(weld, edges, glued, island, panel, cloth, pattern_mm)
    key = np.concatenate([borders.kind[:, None], borders.panels], axis=1)
    group = np.unique(key, axis=0, return_inverse=True)[1].ravel()
    chains = []
    for g in range(int(group.max(initial=-1)) + 1):
        mine = borders.take(group == g)
        corner = _Corners(mine, pattern_mm, weld)
        walks = _walks(mine, rank, corner)
        chains += [(_chain(walk, mine, points_mm, weld, pattern_mm)) for walk in walks]
    return tuple(sorted(chains, key=_order))


def _borders(
    weld: I32,
    edges: Edges,
    glued: Bool,
    island: I32,
    panel: I32,
    cloth: I32,
    pattern_mm: F64,
) -> _Borders:
    """List every edge where cloth of a panel ends, is sewn, or is cut in UV."""
    pairs = edges.pairs
    f, g = pairs[:, 0] // 3, pairs[:, 1] // 3
    sides = panel[np.stack([f, g], axis=1)]
    both = np.asarray((sides >= 0).all(axis=1))
    same_cloth = (cloth[f] == cloth[g]) & (cloth[f] >= 0)
    across = both & (~glued | (island[f] != island[g]))
    kind = np.where(glued | (same_cloth & _together(pairs, weld, pattern_mm)), 2, 0)[across]
    two = _ordered(pairs[across], sides[across], edges.turned)
    alone = edges.open[panel[edges.open // 3] >= 0]
    one = np.stack([alone, np.full(len(alone), -1)], axis=1)
    half = np.concatenate([two, one])
    flat = weld.ravel().astype(np.int64)
    return _Borders(
        kind=np.concatenate([kind, np.ones(len(one), np.int64)]),
        panels=np.where(half >= 0, panel[half // 3], -1).astype(np.int64),
        half=half,
        start=flat[half[:, 0]],
        end=flat[_end(half[:, 0])],
    )


def _ordered(pairs: I64, sides: I32, turned: Bool) -> I64:
    """Put the side of the lower panel first; of one panel the one wound as most of it is."""
    swap = (sides[:, 0] > sides[:, 1]) | (
        (sides[:, 0] == sides[:, 1]) & turned[pairs[:, 0] // 3] & ~turned[pairs[:, 1] // 3]
    )
    return np.where(swap[:, None], pairs[:, ::-1], pairs)


def _together(pairs: I64, weld: I32, pattern_mm: F64) -> Bool:
    """Tell which pairs of half-edges lie on each other in the pattern plane."""
    flat = pattern_mm.reshape(-1, 2)
    place = weld.ravel()
    a, b = pairs[:, 0], pairs[:, 1]
    same = place[a] == place[b]
    b_start, b_end = np.where(same, b, _end(b)), np.where(same, _end(b), b)
    apart = np.maximum(
        np.linalg.norm(flat[a] - flat[b_start], axis=1),
        np.linalg.norm(flat[_end(a)] - flat[b_end], axis=1),
    )
    length = np.linalg.norm(flat[a] - flat[_end(a)], axis=1)
    return np.asarray(apart <= np.maximum(TOGETHER_SHARE * length, TOGETHER_MM))


class _Corners:
    """Tells where the border turns by more than 60 degrees on every side it has."""

    def __init__(self, borders: _Borders, pattern_mm: F64, weld: I32) -> None:
        self.kind = KINDS[int(borders.kind[0])]
        self.ends = [_pattern(borders, side, pattern_mm, weld) for side in (0, 1)]
        self.ends = self.ends[:1] if self.kind == "hem" else self.ends

    def __call__(self, a: int, a_back: bool, b: int, b_back: bool) -> bool:
        """Tell whether a corner lies between edge ``a`` and the next, ``b``."""
        if self.kind == "cut":
            return False
        return all(self._turns(side, a, a_back, b, b_back) for side in self.ends)

    @staticmethod
    def _turns(side: F64, a: int, a_back: bool, b: int, b_back: bool) -> bool:
        first = side[a, ::-1] if a_back else side[a]
        second = side[b, ::-1] if b_back else side[b]
        if np.abs(first[1] - second[0]).max() > TOGETHER_MM:
            return False  # the panel's own seam ends here: the hem goes on across it
        u, v = first[1] - first[0], second[1] - second[0]
        return bool(abs(np.arctan2(u[0] * v[1] - u[1] * v[0], u @ v)) > CORNER_RAD)


def _walks(borders: _Borders, rank: I64, corner: _Corners) -> list[_Walk]:
    """Walk all edges of one kind and pair of panels (a Python loop: 4 us per edge)."""
    at: dict[int, list[int]] = {}
    start, end = borders.start.tolist(), borders.end.tolist()
    for edge, ends in enumerate(zip(start, end, strict=True)):
        for vertex in ends:
            at.setdefault(vertex, []).append(edge)
    goes_on = {
        vertex: len(meet) == 2
        and meet[0] != meet[1]
        and not corner(meet[0], start[meet[0]] == vertex, meet[1], end[meet[1]] == vertex)
        for vertex, meet in at.items()
    }
    by_rank = sorted(at, key=lambda vertex: int(rank[vertex]))
    ends_first = [v for v in by_rank if not goes_on[v]] + [v for v in by_rank if goes_on[v]]
    used: set[int] = set()
    walks = []
    for vertex in ends_first:
        others = [(start[e] if end[e] == vertex else end[e], e) for e in at[vertex]]
        for _, edge in sorted(others, key=lambda pair: (int(rank[pair[0]]), pair[1])):
            if edge not in used:
                walks.append(_follow(vertex, edge, (start, end), at, goes_on, used))
    return walks


def _follow(
    vertex: int,
    edge: int,
    ends: tuple[list[int], list[int]],
    at: dict[int, list[int]],
    goes_on: dict[int, bool],
    used: set[int],
) -> _Walk:
    """Walk from ``vertex`` along ``edge`` until the run ends or comes back."""
    start, end = ends
    first = vertex
    edges, back = [], []
    while True:
        used.add(edge)
        edges.append(edge)
        back.append(start[edge] != vertex)
        vertex = start[edge] if back[-1] else end[edge]
        if vertex == first or not goes_on[vertex]:
            break
        edge = next(e for e in at[vertex] if e != edge)
        if edge in used:
            break
    return _Walk(edges, back, vertex == first)


def _chain(walk: _Walk, borders: _Borders, points_mm: F64, weld: I32, pattern_mm: F64) -> Chain:
    """Lay out one run as arrays."""
    which = borders.take(np.array(walk.edges, np.int64))
    back = np.array(walk.back)
    ends = np.stack([which.start, which.end], axis=1)
    points = points_mm[np.where(back[:, None], ends[:, ::-1], ends)]
    length = np.linalg.norm(points[:, 1] - points[:, 0], axis=1)
    arc = np.cumsum(length)
    sides = [_pattern(which, side, pattern_mm, weld) for side in (0, 1)]
    sides = [np.where(back[:, None, None], side[:, ::-1], side) for side in sides]
    faces = [(which.half[:, side] // 3).astype(np.int32) for side in (0, 1)]
    kind = KINDS[int(which.kind[0])]
    a, b = which.panels[0].tolist()
    if kind == "hem":
        faces[1], sides[1] = faces[1][:0], sides[1][:0]
    elif a == b:
        faces, sides = _left_first(back, faces, sides)
    return Chain(
        kind=kind,
        panels=(a, b),
        face=(faces[0], faces[1]),
        pattern_mm=(sides[0], sides[1]),
        points_mm=points,
        arc_mm=np.stack([arc - length, arc], axis=1),
        length_mm=float(arc[-1]),
        closed=walk.closed,
    )


def _left_first(back: Bool, faces: list[I32], sides: list[F64]) -> tuple[list[I32], list[F64]]:
    """Make side 0 the one left of the walk: its half-edges run along it."""
    turn = back[:, None, None]
    return (
        [np.where(back, faces[1], faces[0]), np.where(back, faces[0], faces[1])],
        [np.where(turn, sides[1], sides[0]), np.where(turn, sides[0], sides[1])],
    )


def _pattern(borders: _Borders, side: int, pattern_mm: F64, weld: I32) -> F64:
    """Return start and end (E, 2, 2) of each edge on one side, in the direction of side 0."""
    half = borders.half[:, side]
    flat = pattern_mm.reshape(-1, 2)
    ends = np.stack([half, _end(half)], axis=1)
    swap = weld.ravel()[half] != borders.start
    ends = np.where(swap[:, None], ends[:, ::-1], ends)
    return flat[ends]


def _rank(points_mm: F64) -> I64:
    """Number welded places from the lowest up, then by x, then by z."""
    steps = np.round(points_mm / STEP_MM)
    order = np.lexsort((steps[:, 2], steps[:, 0], steps[:, 1]))
    rank = np.empty(len(order), np.int64)
    rank[order] = np.arange(len(order))
    return rank


def _order(chain: Chain) -> tuple[float, ...]:
    """Sort key: kind, then start, then where the first edge goes, then panels."""
    x, y, z = np.round(chain.points_mm[0, 0] / STEP_MM).tolist()
    to_x, to_y, to_z = np.round(chain.points_mm[0, 1] / STEP_MM).tolist()
    return (KINDS.index(chain.kind), y, x, z, to_y, to_x, to_z, *chain.panels)


def _end(half: I64) -> I64:
    """Return the corner at the end of each half-edge."""
    return half - half % 3 + (half + 1) % 3
