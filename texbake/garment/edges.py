"""Which faces meet at which edge: the half-edges of the welded garment, in pairs.

Two faces at an edge are a pair. More than two (a lining caught in a seam, doubled layers) are
paired by what belongs together: first faces joined in UV, then faces of one panel, then the rest;
among equals those that lie flattest to each other. What is left over is an open edge.
"""

from dataclasses import dataclass

import numpy as np

from texbake.arrays import F64, I32, I64, Bool
from texbake.garment.islands import edge_groups, uv_corners
from texbake.garment.weld import components


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Edges:
    """Half-edges (``3 * face + side``, from corner ``side`` to the next) of the welded garment.

    Attributes
    ----------
    pairs : (P, 2) int64
        Half-edges of two faces that meet.
    joined : (P,) bool
        Both faces are of one island and equal in UV here.
    level : (P,) bool
        Both faces have the same outside here, once ``turned`` ones are turned over.
    open : (Q,) int64
        Half-edges without a partner.
    turned : (F,) bool
        Faces wound against most of their panel.
    """

    pairs: I64
    joined: Bool
    level: Bool
    open: I64
    turned: Bool


def pair_edges(points_mm: F64, weld: I32, uv: F64, island: I32, cloth: I32, area_mm2: F64) -> Edges:
    """Pair the half-edges of a garment.

    Parameters
    ----------
    points_mm : (W, 3) float64
        Welded places, mm.
    weld : (F, 3) int32
    uv : (F, 3, 2) float64
    island, cloth : (F,) int32
        Island and panel of each face; -1 for no panel.
    area_mm2 : (F,) float64
        Area in space.

    Returns
    -------
    Edges
        Faces with two corners at one place have no part in it.
    """
    half, first = _groups(weld)
    size = np.diff(first)
    two = first[:-1][size == 2]
    pairs = np.stack([half[two], half[two + 1]], axis=1)
    alone = half[first[:-1][size == 1]]
    place = uv_corners(weld, uv)
    crowd = [half[first[g] : first[g + 1]] for g in np.flatnonzero(size > 2)]
    kinship = _Kinship(points_mm, weld, place, island, cloth)
    more, left = _sort_out(crowd, kinship)
    pairs, alone = np.concatenate([pairs, more]), np.sort(np.concatenate([alone, left]))
    turned = _turned(pairs, weld, cloth, area_mm2)
    return Edges(
        pairs=pairs,
        joined=_joined(pairs, place, island),
        level=_level(pairs, weld, turned),
        open=alone,
        turned=turned,
    )


def corner_pairs(pairs: I64, weld: I32) -> tuple[I64, I64]:
    """Return the corners (``3 * face + corner``) that coincide across pairs: two (2P,) int64."""
    flat = weld.ravel()
    a, b = pairs[:, 0], pairs[:, 1]
    a_end, b_end = _end(a), _end(b)
    same = flat[a] == flat[b]
    return (
        np.concatenate([a, a_end]),
        np.concatenate([np.where(same, b, b_end), np.where(same, b_end, b)]),
    )


def welded_points(points_mm: F64, faces: I32, weld: I32) -> F64:
    """Return the mean position (W, 3) of the corners at each welded place, mm."""
    count = int(weld.max(initial=-1)) + 1
    corner = points_mm[faces.ravel()]
    total = np.stack([np.bincount(weld.ravel(), corner[:, i], count) for i in range(3)], axis=1)
    return np.asarray(total / np.bincount(weld.ravel(), minlength=count)[:, None])


@dataclass(frozen=True, slots=True, eq=False)
class _Kinship:
    """How much two half-edges belong together: larger is closer."""

    points_mm: F64
    weld: I32
    place: I32
    island: I32
    cloth: I32

    def __call__(self, a: int, b: int) -> tuple[bool, bool, bool, bool, float]:
        f, g = a // 3, b // 3
        ends = {self._corner(self.place, a), self._corner(self.place, _next(a))}
        joined = ends == {self._corner(self.place, b), self._corner(self.place, _next(b))}
        panel = self.cloth[f] == self.cloth[g] >= 0
        against = self._corner(self.weld, a) != self._corner(self.weld, b)
        kin = self.island[f] == self.island[g]
        return (joined and kin, panel, against, kin, self._flatness(a, b))

    @staticmethod
    def _corner(numbers: I32, half: int) -> int:
        return int(numbers[half // 3, half % 3])

    def _flatness(self, a: int, b: int) -> float:
        """Return 1 where two faces go on straight over their edge, -1 where they fold back."""
        start, end = (self.points_mm[self._corner(self.weld, h)] for h in (a, _next(a)))
        along = (end - start) / max(float(np.linalg.norm(end - start)), 1e-300)
        away = []
        for half in (a, b):
            to = self.points_mm[self._corner(self.weld, _next(_next(half)))] - start
            to = to - (to @ along) * along
            away.append(to / max(float(np.linalg.norm(to)), 1e-300))
        return -float(away[0] @ away[1])


def _groups(weld: I32) -> tuple[I64, I64]:
    """Group half-edges by edge, faces with two corners at one place left out."""
    a, b, c = weld.T
    whole = np.flatnonzero((a != b) & (b != c) & (c != a))
    half, first = edge_groups(weld[whole])
    return 3 * whole[half // 3] + half % 3, first


def _sort_out(crowd: list[I64], kinship: _Kinship) -> tuple[I64, I64]:
    """Pair the half-edges of crowded edges, closest kin first; return pairs and those left over.

    A Python loop over crowded edges, 0.2 ms each: the worst real mesh has 222.
    """
    pairs: list[tuple[int, int]] = []
    left: list[int] = []
    for group in crowd:
        free = [int(h) for h in group]
        ranked = sorted(
            ((kinship(a, b), -a, -b) for i, a in enumerate(free) for b in free[i + 1 :]),
            reverse=True,
        )
        for _, a, b in ranked:
            if -a in free and -b in free:
                pairs.append((-a, -b))
                free = [h for h in free if h not in (-a, -b)]
        left += free
    return np.array(pairs, np.int64).reshape(-1, 2), np.array(left, np.int64)


def _turned(pairs: I64, weld: I32, cloth: I32, area_mm2: F64) -> Bool:
    """Find faces wound against most of the connected cloth they are in.

    Two-colouring as connectivity: every face is two nodes, as it is and turned over.
    """
    count = len(weld)
    within = pairs[cloth[pairs[:, 0] // 3] == cloth[pairs[:, 1] // 3]]
    along = ~_level(within, weld, np.zeros(count, np.bool_))
    turned = np.zeros(count, np.bool_)
    if not along.any():
        return turned
    f, g = within[:, 0] // 3, within[:, 1] // 3
    twin = np.where(along, g + count, g)
    other = np.where(along, g, g + count)
    links = np.concatenate([np.stack([f, twin], axis=1), np.stack([f + count, other], axis=1)])
    label = components(links, 2 * count)
    up, down = label[:count], label[count:]
    whole = np.minimum(up, down)
    turned = (up != whole) & (up != down)  # equal: one-sided like a Moebius strip, left as it is
    share = np.bincount(whole, area_mm2 * turned) / np.maximum(np.bincount(whole, area_mm2), 1e-300)
    return np.asarray((turned ^ (share > 0.5)[whole]) & (up != down))


def _joined(pairs: I64, place: I32, island: I32) -> Bool:
    flat = place.ravel()
    a = np.sort(np.stack([flat[pairs[:, 0]], flat[_end(pairs[:, 0])]]), axis=0)
    b = np.sort(np.stack([flat[pairs[:, 1]], flat[_end(pairs[:, 1])]]), axis=0)
    kin = island[pairs[:, 0] // 3] == island[pairs[:, 1] // 3]
    return np.asarray((a == b).all(axis=0) & kin)


def _level(pairs: I64, weld: I32, turned: Bool) -> Bool:
    """Tell which pairs run against each other, as neighbours with one outside do."""
    against = weld.ravel()[pairs[:, 0]] != weld.ravel()[pairs[:, 1]]
    return np.asarray(against ^ turned[pairs[:, 0] // 3] ^ turned[pairs[:, 1] // 3])


def _end(half: I64) -> I64:
    """Return the corner at the end of each half-edge."""
    return half - half % 3 + (half + 1) % 3


def _next(half: int) -> int:
    return half - half % 3 + (half + 1) % 3
