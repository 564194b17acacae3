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
from texbake.change.samples import Found, Samples, elected, mutual, nearest, settled, spread
from texbake.change.twins import Side, Twins, find_twins
from texbake.garment.closest import surface


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
    old_common_mm2, new_common_mm2 : (P, I) float64
        Measured on the old cloth, and on the new.
    exact_mm2 : (P, I) float64
        What of it are faces that are the same on both sides.
    old_mm2 : (P,) float64
        Area of each old panel.
    new_mm2 : (I,) float64
        Of each new island; 0 for one that is not baked.
    old_unsure_mm2, new_unsure_mm2 : (P,), (I,) float64
        Where another panel, or an island of another panel, would do as well.
    rival_mm2 : (P, I) float64
        On each island, where that panel would do as well.
    places : Places
    face_panel : (F,) int32
        The old panel at each face of the new mesh; -1 for none.
    face_exact : (F,) bool
        The face is the same in both.
    """

    old_common_mm2: F64
    new_common_mm2: F64
    exact_mm2: F64
    old_mm2: F64
    new_mm2: F64
    old_unsure_mm2: F64
    new_unsure_mm2: F64
    rival_mm2: F64
    places: Places
    face_panel: I32
    face_exact: Bool

    @property
    def share(self) -> float:
        """Common surface, as a share of the smaller garment."""
        whole = min(float(self.old_mm2.sum()), float(self.new_mm2.sum()))
        common = min(float(self.old_common_mm2.sum()), float(self.new_common_mm2.sum()))
        return common / whole if whole > 0.0 else 0.0


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
    old_common = new_common = exact_mm2 = _table(exact, shape)
    unsure = np.where(twins.rival >= 0, areas[0][twins.old], 0.0)
    rival = _tally(twins.rival, new.owner[twins.new], areas[0][twins.old], shape)
    old_unsure = _sums(old.owner[twins.old], unsure, panels)
    new_unsure = _sums(new.owner[twins.new], unsure, islands)
    rest = [area.copy() for area in areas]
    rest[0][twins.old] = 0.0
    rest[1][twins.new] = 0.0
    places = [exact]
    face_panel = np.full(len(new.owner), -1, np.int32)
    face_panel[twins.new] = old.owner[twins.old]
    face_exact = np.zeros(len(new.owner), np.bool_)
    face_exact[twins.new] = True
    if min(float(area.sum()) for area in rest) > 0.0:
        left = _sampled(old, new, rest, size, shape)
        old_common = old_common + left.old_common
        new_common = new_common + left.new_common
        old_unsure, new_unsure = old_unsure + left.old_unsure, new_unsure + left.new_unsure
        rival = rival + left.rival
        places.append(left.places)
        face_panel[left.face] = left.panel
    return Overlap(
        old_common_mm2=old_common,
        new_common_mm2=new_common,
        exact_mm2=exact_mm2,
        old_mm2=_sums(old.owner, areas[0], panels),
        new_mm2=_sums(new.owner, areas[1], islands),
        old_unsure_mm2=old_unsure,
        new_unsure_mm2=new_unsure,
        rival_mm2=rival,
        places=_joined(places),
        face_panel=face_panel,
        face_exact=face_exact,
    )


@dataclass(frozen=True, slots=True, eq=False)
class _Left:
    """What samples tell of the faces that are not the same on both sides."""

    places: Places
    old_common: F64
    new_common: F64
    old_unsure: F64
    new_unsure: F64
    rival: F64
    face: I64  # of the new mesh
    panel: I64  # at each of them


def _sampled(
    old: Side, new: Side, rest: Sequence[F64], size: float, shape: tuple[int, int]
) -> _Left:
    """Compare what is left of both sides by samples, there and back."""
    on = [surface(s.corners_mm, keep=a > 0) for s, a in zip((old, new), rest, strict=True)]
    there, back = spread(old, on[0], rest[0]), spread(new, on[1], rest[1], least=4)
    to_old = settled(back, new, on[0], old, old.owner, nearest(back, on[0], size), size)
    first = nearest(there, on[1], size)
    home = _tally(_owner(old, to_old.face), new.owner[back.face], back.area, shape)
    likely = np.minimum(
        _tally(old.owner[there.face], _owner(new, first.face), there.area, shape), home
    )
    # Islands of one panel are no rivals: each goes by the panel that it is most likely of.
    best = np.where(likely.max(axis=0) > 0.0, likely.argmax(axis=0), shape[0] + np.arange(shape[1]))
    label = np.where(new.owner >= 0, best[np.maximum(new.owner, 0)], -1).astype(np.int32)
    to_new = settled(there, old, on[1], new, label, first, size)
    places = _places(there, old, new, to_new)
    face, panel = elected(back.face, _owner(old, to_old.face))
    shared = [
        area * mutual(samples, side, other, found, size)
        for samples, area, side, other, found in (
            (there, there.area, new, on[0], to_new),
            (back, back.area, old, on[1], to_old),
        )
    ]
    return _Left(
        places=places,
        old_common=_tally(old.owner[there.face], _owner(new, to_new.face), shared[0], shape),
        new_common=_tally(_owner(old, to_old.face), new.owner[back.face], shared[1], shape),
        old_unsure=_sums(old.owner[there.face], there.area * (to_new.rival >= 0), shape[0]),
        new_unsure=_sums(new.owner[back.face], back.area * (to_old.rival >= 0), shape[1]),
        rival=_tally(to_old.rival, new.owner[back.face], back.area, shape),
        face=face,
        panel=panel,
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


def _places(samples: Samples, old: Side, new: Side, found: Found) -> Places:
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
