"""How much of each old panel lies on each new island, in mm2 of common surface.

Faces that are the same on both sides are common to the bit. What is left is sampled both ways: old
cloth looks for the nearest new cloth of its side, and new for old; what both ways agree on is
common. So a pocket laid on a front takes nothing from the front, and a front nothing from its
lining. A place from where two panels are equally near is unsure, unless names tell them apart.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from texbake.arrays import F64, I32, I64, Bool
from texbake.change.twins import Side, Twins, find_twins
from texbake.garment.closest import Closest, Surface, closest, surface

# How far surfaces may lie apart that are one, as a share of the garment's diagonal: 2 cm of 1 m.
# Common practice, no source: taking out a tenth of the vertices moves less on real garments.
REACH = 0.02
# Two panels are equally near if they differ by less than this share of the diagonal, or this share
# of the nearer distance.
EQUAL, EQUAL_SHARE = 1e-5, 0.3
LEAST_COS = 0.3  # of the angle between normals of one cloth: 72 degrees, as at a crease
MOST_SAMPLES = 16  # on one face
_FIRST = ((1 / 3, 1 / 3, 1 / 3), (0.8, 0.1, 0.1), (0.1, 0.8, 0.1), (0.1, 0.1, 0.8))


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Places:
    """Places of the cloth that both garments have.

    Attributes
    ----------
    panel, island : (N,) int64
        The old panel and the new island there.
    old_uv, new_uv : (N, 2) float64
    area_mm2 : (N,) float64
        How much cloth each stands for.
    """

    panel: I64
    island: I64
    old_uv: F64
    new_uv: F64
    area_mm2: F64


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Overlap:
    """The common surface of P old panels and I new islands.

    Attributes
    ----------
    common_mm2 : (P, I) float64
    exact_mm2 : (P, I) float64
        What of it are faces that are the same on both sides.
    old_mm2 : (P,) float64
        Area of each old panel.
    new_mm2 : (I,) float64
        Of each new island; 0 for one that is not baked.
    old_unsure_mm2, new_unsure_mm2 : (P,), (I,) float64
        Where another panel, or an island of another panel, would do as well.
    places : Places
    face_panel : (F,) int32
        The old panel at each face of the new mesh; -1 for none.
    face_mixed : (F,) bool
        Samples on the face do not agree on it.
    """

    common_mm2: F64
    exact_mm2: F64
    old_mm2: F64
    new_mm2: F64
    old_unsure_mm2: F64
    new_unsure_mm2: F64
    places: Places
    face_panel: I32
    face_mixed: Bool

    @property
    def share(self) -> float:
        """Common surface, as a share of the smaller garment."""
        whole = min(float(self.old_mm2.sum()), float(self.new_mm2.sum()))
        return float(self.common_mm2.sum()) / whole if whole > 0.0 else 0.0


def measure(old: Side, new: Side, *, panels: int, islands: int) -> Overlap:
    """Measure the common surface of two garments.

    Parameters
    ----------
    old : Side
        ``owner``: panels of the garment that was baked.
    new : Side
        ``owner``: islands of the mesh as it is now.
    panels, islands : int
        How many there are.
    """
    size = _size(old, new)
    areas = [_areas(side.corners_mm) * (side.owner >= 0) for side in (old, new)]
    twins = find_twins(old, new, size_mm=size)
    shape = (panels, islands)
    exact = _twin_places(old, new, twins, areas[0])
    common = exact_mm2 = _table(exact, shape)
    unsure = np.where(twins.unsure, areas[0][twins.old], 0.0)
    old_unsure = _sums(old.owner[twins.old], unsure, panels)
    new_unsure = _sums(new.owner[twins.new], unsure, islands)
    rest = [area.copy() for area in areas]
    rest[0][twins.old] = 0.0
    rest[1][twins.new] = 0.0
    places = [exact]
    face_panel = np.full(len(new.owner), -1, np.int32)
    face_panel[twins.new] = old.owner[twins.old]
    face_mixed = np.zeros(len(new.owner), np.bool_)
    if min(float(area.sum()) for area in rest) > 0.0:
        left = _sampled(old, new, rest, size, shape)
        common = common + left.common
        old_unsure, new_unsure = old_unsure + left.old_unsure, new_unsure + left.new_unsure
        places.append(left.places)
        face_panel[left.face], face_mixed[left.face] = left.panel, left.mixed
    return Overlap(
        common_mm2=common,
        exact_mm2=exact_mm2,
        old_mm2=_sums(old.owner, areas[0], panels),
        new_mm2=_sums(new.owner, areas[1], islands),
        old_unsure_mm2=old_unsure,
        new_unsure_mm2=new_unsure,
        places=_joined(places),
        face_panel=face_panel,
        face_mixed=face_mixed,
    )


@dataclass(frozen=True, slots=True, eq=False)
class _Left:
    """What samples tell of the faces that are not the same on both sides."""

    places: Places
    common: F64
    old_unsure: F64
    new_unsure: F64
    face: I64  # of the new mesh
    panel: I64  # at each of them
    mixed: Bool


def _sampled(
    old: Side, new: Side, rest: Sequence[F64], size: float, shape: tuple[int, int]
) -> _Left:
    """Compare what is left of both sides by samples, there and back."""
    on = [surface(s.corners_mm, keep=a > 0) for s, a in zip((old, new), rest, strict=True)]
    there, back = _samples(old, on[0], rest[0]), _samples(new, on[1], rest[1], least=4)
    to_old = _settled(back, new, on[0], old, old.owner, _nearest(back, on[0], size), size)
    first = _nearest(there, on[1], size)
    home = _tally(_owner(old, to_old.face), new.owner[back.face], back.area, shape)
    likely = np.minimum(
        _tally(old.owner[there.face], _owner(new, first.face), there.area, shape), home
    )
    # Islands of one panel are no rivals: each goes by the panel that it is most likely of.
    best = np.where(likely.max(axis=0) > 0.0, likely.argmax(axis=0), shape[0] + np.arange(shape[1]))
    label = np.where(new.owner >= 0, best[np.maximum(new.owner, 0)], -1).astype(np.int32)
    to_new = _settled(there, old, on[1], new, label, first, size)
    places = _places(there, old, new, to_new)
    face, panel, mixed = _elected(back.face, _owner(old, to_old.face))
    return _Left(
        places=places,
        common=np.minimum(_table(places, shape), home),
        old_unsure=_sums(old.owner[there.face], there.area * to_new.doubt, shape[0]),
        new_unsure=_sums(new.owner[back.face], back.area * to_old.doubt, shape[1]),
        face=face,
        panel=panel,
        mixed=mixed,
    )


def _elected(face: I64, panel: I64) -> tuple[I64, I64, Bool]:
    """Return faces, the panel that most samples on each found, and whether some found another."""
    count = int(panel.max(initial=0)) + 2
    key, votes = np.unique(face * count + panel + 1, return_counts=True)
    its = key // count
    order = np.lexsort((key, -votes, its))
    first = np.ones(len(order), np.bool_)
    first[1:] = its[order][1:] != its[order][:-1]
    best = order[first]
    mixed = np.bincount(np.cumsum(first) - 1) > 1
    return its[best], key[best] % count - 1, mixed


@dataclass(frozen=True, slots=True, eq=False)
class _Samples:
    """Points on a side: face, shares of its corners, place, normal, and area each stands for."""

    face: I64
    bary: F64
    points: F64
    normals: F64
    area: F64


@dataclass(frozen=True, slots=True, eq=False)
class _Found:
    """Where samples of one side lie on the other: face (-1: nowhere), where on it, and doubts."""

    face: I64
    bary: F64
    doubt: Bool


def _nearest(samples: _Samples, on: Surface, size: float) -> Closest:
    """Find samples on the other side."""
    return closest(
        on,
        samples.points,
        normals=samples.normals,
        least_cos=LEAST_COS,
        within_mm=REACH * size,
    )


def _settled(
    samples: _Samples,
    mine: Side,
    on: Surface,
    other: Side,
    label: I32,
    hit: Closest,
    size: float,
) -> _Found:
    """Look for places of another ``label`` that are equally near; names decide, or it is unsure."""
    at = np.flatnonzero(hit.face >= 0)
    near = hit.distance_mm[at]
    rival = closest(
        on,
        samples.points[at],
        normals=samples.normals[at],
        least_cos=LEAST_COS,
        within_mm=near + np.maximum(EQUAL * size, EQUAL_SHARE * near),
        label=label,
        avoid=label[hit.face[at]],
    )
    tie = rival.face >= 0
    tag = mine.tag[samples.face[at]]
    own, its = other.tag[hit.face[at]] == tag, other.tag[rival.face] == tag
    swap = tie & its & ~own
    face, bary = hit.face.astype(np.int64), hit.bary.copy()
    face[at[swap]] = rival.face[swap]
    bary[at[swap]] = rival.bary[swap]
    doubt = np.zeros(len(face), np.bool_)
    doubt[at] = tie & (own == its)
    return _Found(face, bary, doubt)


def _samples(side: Side, on: Surface, area: F64, *, least: int = 1) -> _Samples:
    """Spread samples over faces: ``least`` on each, more on those larger than the mean.

    First the middle and near the corners, then an additive recurrence on the plastic ratios,
    folded into the triangle (Roberts, "The unreasonable effectiveness of quasirandom sequences",
    2018): even, and always the same.
    """
    faces = np.flatnonzero(area > 0.0)
    mean = float(area[faces].mean())
    times = np.clip(np.ceil(area[faces] / mean), least, MOST_SAMPLES).astype(np.int64)
    face = np.repeat(faces, times)
    number = np.arange(len(face)) - np.repeat(np.cumsum(times) - times, times)
    s, t = (0.7548776662466927 * number) % 1.0, (0.5698402909980532 * number) % 1.0
    over = s + t > 1.0
    s, t = np.where(over, 1.0 - s, s), np.where(over, 1.0 - t, t)
    bary = np.stack([1.0 - s - t, s, t], axis=1)
    corner = number < len(_FIRST)
    bary[corner] = np.array(_FIRST)[number[corner]]
    return _Samples(
        face=face,
        bary=bary,
        points=(bary[..., None] * side.corners_mm[face]).sum(axis=1),
        normals=on.normal[face],
        area=area[face] / np.repeat(times, times),
    )


def _twin_places(old: Side, new: Side, twins: Twins, area: F64) -> Places:
    """Corners of the faces that are the same on both sides."""
    corner = (np.arange(3) + twins.turn[:, None]) % 3
    return Places(
        panel=np.repeat(old.owner[twins.old], 3).astype(np.int64),
        island=np.repeat(new.owner[twins.new], 3).astype(np.int64),
        old_uv=old.uv[twins.old].reshape(-1, 2),
        new_uv=np.take_along_axis(new.uv[twins.new], corner[..., None], axis=1).reshape(-1, 2),
        area_mm2=np.repeat(area[twins.old] / 3.0, 3),
    )


def _places(samples: _Samples, old: Side, new: Side, found: _Found) -> Places:
    """Samples of the old side that the new side has."""
    at = np.flatnonzero(found.face >= 0)
    mine, its = samples.face[at], found.face[at]
    return Places(
        panel=old.owner[mine].astype(np.int64),
        island=new.owner[its].astype(np.int64),
        old_uv=(samples.bary[at][..., None] * old.uv[mine]).sum(axis=1),
        new_uv=(found.bary[at][..., None] * new.uv[its]).sum(axis=1),
        area_mm2=samples.area[at],
    )


def _joined(parts: Sequence[Places]) -> Places:
    return Places(
        panel=np.concatenate([p.panel for p in parts]),
        island=np.concatenate([p.island for p in parts]),
        old_uv=np.concatenate([p.old_uv for p in parts]),
        new_uv=np.concatenate([p.new_uv for p in parts]),
        area_mm2=np.concatenate([p.area_mm2 for p in parts]),
    )


def _table(places: Places, shape: tuple[int, int]) -> F64:
    return _tally(places.panel, places.island, places.area_mm2, shape)


def _tally(panel: I64 | I32, island: I64 | I32, area: F64, shape: tuple[int, int]) -> F64:
    """Sum areas by panel and island; -1 counts nowhere."""
    both = (panel >= 0) & (island >= 0)
    flat = panel[both].astype(np.int64) * shape[1] + island[both]
    return np.asarray(np.bincount(flat, area[both], shape[0] * shape[1]).reshape(shape))


def _owner(side: Side, face: I64 | I32) -> I64:
    return np.where(face >= 0, side.owner[face], -1).astype(np.int64)


def _sums(owner: I32, area: F64, count: int) -> F64:
    mine = owner >= 0
    return np.asarray(np.bincount(owner[mine], area[mine], count))


def _areas(corners: F64) -> F64:
    normal = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    return np.asarray(0.5 * np.linalg.norm(normal, axis=1))


def _size(old: Side, new: Side) -> float:
    """Diagonal of the larger garment."""
    boxes = [np.ptp(s.corners_mm[s.owner >= 0].reshape(-1, 3), axis=0) for s in (old, new)]
    return float(max(np.linalg.norm(box) for box in boxes))
