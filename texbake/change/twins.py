"""Faces that are there again: the same three places in space, wound the same way round.

The order of faces, of vertices and of a face's corners does not matter. Where several faces lie on
one another, names in the file tell them apart, then equal UVs; faces that are still alike are
paired in the order of the file and marked as unsure, unless either choice is the same panel.
"""

from dataclasses import dataclass

import numpy as np

from texbake.arrays import F64, I32, I64
from texbake.garment.weld import same_place

# Of the diagonal: what another exporter's rounding may move a vertex. 5 um on a garment of 1 m.
ROUNDING = 5e-6
SAME_UV = 1e-6


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Side:
    """One of two garments, as far as it is compared.

    Attributes
    ----------
    corners_mm : (F, 3, 3) float64
    uv : (F, 3, 2) float64
    owner : (F,) int32
        Panel of each face of the old garment, island of the new one; -1: is not compared.
    tag : (F,) int32
        Names of each face, numbered alike on both sides.
    """

    corners_mm: F64
    uv: F64
    owner: I32
    tag: I32


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Twins:
    """Pairs of faces that are one.

    Attributes
    ----------
    old, new : (N,) int64
        Faces.
    turn : (N,) int64
        Corner k of the old face is corner ``(k + turn) % 3`` of the new one.
    rival : (N,) int64
        The old panel that would do as well, as another pairing would say otherwise; -1 for none.
    """

    old: I64
    new: I64
    turn: I64
    rival: I64


def find_twins(old: Side, new: Side, *, size_mm: float) -> Twins:
    """Pair the faces that are the same in both garments.

    Parameters
    ----------
    old, new : Side
    size_mm : float
        Diagonal of the garment.
    """
    faces = [np.flatnonzero(side.owner >= 0) for side in (old, new)]
    flat = [s.corners_mm[f].reshape(-1, 3) for s, f in zip((old, new), faces, strict=True)]
    place = same_place(np.concatenate(flat), ROUNDING * size_mm).reshape(-1, 3)
    first, key = _keys(place)
    count = len(faces[0])
    pairs = _paired(key[:count], key[count:])
    single, crowd = pairs
    chosen, rivals = [single], [np.full(len(single), -1, np.int64)]
    for olds, news in crowd:
        some, rival = _sorted_out(old, new, faces[0][olds], faces[1][news], olds, news)
        chosen.append(some)
        rivals.append(rival)
    both = np.concatenate(chosen)
    turn = (first[count:][both[:, 1]] - first[:count][both[:, 0]]) % 3
    return Twins(
        old=faces[0][both[:, 0]],
        new=faces[1][both[:, 1]],
        turn=turn,
        rival=np.concatenate(rivals),
    )


def _keys(place: I64) -> tuple[I64, I64]:
    """Number faces by their places and winding; -1 for a face with two corners at one place."""
    first = place.argmin(axis=1)
    row = np.arange(len(place))
    turned = np.stack([place[row, (first + k) % 3] for k in range(3)], axis=1)
    key = np.unique(turned, axis=0, return_inverse=True)[1].ravel().astype(np.int64)
    a, b, c = place.T
    key[(a == b) | (b == c) | (c == a)] = -1
    return first, key


def _paired(old: I64, new: I64) -> tuple[I64, list[tuple[I64, I64]]]:
    """Return the pairs (N, 2) of keys that are there once on each side, and the groups of more."""
    count = 1 + max(int(old.max(initial=-1)), int(new.max(initial=-1)))
    times = [np.bincount(side[side >= 0], minlength=count) for side in (old, new)]
    where = []
    for side in (old, new):
        at = np.full(count, -1, np.int64)
        at[side[side >= 0]] = np.flatnonzero(side >= 0)
        where.append(at)
    once = (times[0] == 1) & (times[1] == 1)
    single = np.stack([where[0][once], where[1][once]], axis=1)
    crowded = np.flatnonzero((times[0] > 0) & (times[1] > 0) & ~once)
    # A Python loop over faces that lie on others: the worst real mesh has 120.
    crowd = [(np.flatnonzero(old == key), np.flatnonzero(new == key)) for key in crowded.tolist()]
    return single, crowd


def _sorted_out(
    old: Side, new: Side, old_face: I64, new_face: I64, olds: I64, news: I64
) -> tuple[I64, I64]:
    """Pair faces that lie on one another; return the pairs, and the rival of each."""
    alike = np.array([[_likeness(old, new, a, b) for b in new_face] for a in old_face])
    of_old, of_new = old.owner[old_face], new.owner[new_face]
    left = alike.astype(np.int64)
    pairs: list[tuple[int, int]] = []
    rivals: list[int] = []
    while left.max() >= 0:
        a, b = (int(k) for k in np.unravel_index(int(left.argmax()), left.shape))
        same = alike[:, b] == alike[a, b]
        others = of_old[same & (of_old != of_old[a])]
        elsewhere = (alike[a] == alike[a, b]) & (of_new != of_new[b])
        rival = int(others[0]) if len(others) else int(of_old[a]) if elsewhere.any() else -1
        rivals.append(-1 if alike[a, b] == 2 else rival)
        pairs.append((int(olds[a]), int(news[b])))
        left[a], left[:, b] = -1, -1
    return np.array(pairs, np.int64).reshape(-1, 2), np.array(rivals, np.int64)


def _likeness(old: Side, new: Side, a: int, b: int) -> int:
    """2 for equal names and UVs, 1 for equal names, 0 otherwise."""
    if old.tag[a] != new.tag[b]:
        return 0
    turned = [np.roll(new.uv[b], -k, axis=0) for k in range(3)]
    near = min(float(np.abs(old.uv[a] - uv).max()) for uv in turned)
    return 2 if near <= SAME_UV else 1
