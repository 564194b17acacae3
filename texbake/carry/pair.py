"""Which old face is which new one: those with the same three corners in space, in any order.

Places are compared by distance, not by rounded coordinates: a mesh that went through another
program comes back with other digits. Faces on the same three places (layers, two-sided cloth) are
told apart by their winding, and beyond that taken in their order in the file.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np

from texbake.arrays import F64, I32, I64, Bool
from texbake.carry.sheet import Sheet

# Exporters round to five or six digits; 1e-5 of a coat's diagonal is 0.02 mm.
SHARE_OF_DIAGONAL: Final = 1e-5


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Pairs:
    """The old face of each new one.

    Attributes
    ----------
    face : (F,) int32
        -1 where there is none.
    corner : (F, 3) int64
        For each corner of the new face the old face's corner at the same place.
    """

    face: I32
    corner: I64


def diagonal_mm(sheet: Sheet) -> float:
    """Length of the diagonal of the box round a sheet's usable faces, mm."""
    points = sheet.corners_mm[sheet.usable].reshape(-1, 3)
    return float(np.linalg.norm(np.ptp(points, axis=0)))


def pair_faces(old: Sheet, new: Sheet) -> Pairs:
    """Pair the faces of two meshes that have the same corners in space.

    Parameters
    ----------
    old, new : Sheet
        Old faces that are not usable are nobody's.

    Returns
    -------
    Pairs
    """
    from scipy.spatial import cKDTree

    old_place, new_place = _places(old), _places(new)
    tolerance = SHARE_OF_DIAGONAL * diagonal_mm(old)
    nearest = cKDTree(old_place).query(new_place, distance_upper_bound=tolerance)[1]
    here = np.where(nearest < len(old_place), nearest, -1)[new.weld].astype(np.int64)
    there = old.weld.astype(np.int64)
    face = np.full(len(here), -1, np.int32)
    for wound in (True, False):  # first those wound alike, then those that were turned over
        left = np.flatnonzero((face < 0) & _whole(here))
        free = np.flatnonzero(old.usable & _whole(there))
        face[left] = _same(_keys(there[free], wound=wound), _keys(here[left], wound=wound), free)
    return Pairs(face=face, corner=_corners(there, here, face))


def _places(sheet: Sheet) -> F64:
    """Points of the welded places, (P, 3)."""
    first = np.unique(sheet.weld, return_index=True)[1]
    return sheet.corners_mm.reshape(-1, 3)[first]


def _whole(place: I64) -> Bool:
    """Say which faces (F, 3) have three known places, all different."""
    apart = (place != np.roll(place, 1, axis=1)).all(axis=1)
    return np.asarray(apart & (place >= 0).all(axis=1))


def _keys(place: I64, *, wound: bool) -> I64:
    """Sorted places and, where asked for, the way round, (F, 4)."""
    order = np.argsort(place, axis=1, kind="stable")
    ordered = np.take_along_axis(place, order, axis=1)
    odd = (order[:, 1] - order[:, 0]) % 3 == 2
    turn = np.where(odd & wound, 1, 0)
    return np.concatenate([ordered, turn[:, None]], axis=1)


def _same(there: I64, here: I64, free: I64) -> I32:
    """For each key in ``here`` one of ``free`` with the same key: the k-th of the k-th, or -1."""
    if not len(here) or not len(there):
        return np.full(len(here), -1, np.int32)
    label = np.unique(np.concatenate([there, here]), axis=0, return_inverse=True)[1].ravel()
    old, new = label[: len(there)], label[len(there) :]
    order = np.argsort(old, kind="stable")
    count = np.bincount(old, minlength=int(label.max()) + 1)
    start = np.cumsum(count) - count
    place = start[new] + np.minimum(_rank(new), np.maximum(count[new] - 1, 0))
    found = np.where(count[new] > 0, free[order[np.minimum(place, len(order) - 1)]], -1)
    return found.astype(np.int32)


def _rank(label: I64) -> I64:
    """How many of the same label come before each."""
    order = np.argsort(label, kind="stable")
    ordered = label[order]
    start = np.flatnonzero(np.concatenate([[True], ordered[1:] != ordered[:-1]]))
    run = np.arange(len(label)) - np.repeat(start, np.diff(start, append=len(label)))
    rank = np.empty(len(label), np.int64)
    rank[order] = run
    return rank


def _corners(there: I64, here: I64, face: I32) -> I64:
    """For each corner of a paired face, the old face's corner at the same place; else 0, 1, 2."""
    corner = np.tile(np.arange(3), (len(face), 1))
    paired = np.flatnonzero(face >= 0)
    by_place = np.argsort(there[face[paired]], axis=1, kind="stable")
    rank = np.argsort(np.argsort(here[paired], axis=1, kind="stable"), axis=1, kind="stable")
    corner[paired] = np.take_along_axis(by_place, rank, axis=1)
    return corner
