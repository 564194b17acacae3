"""Samples of one garment's cloth, looked for on another's.

Old cloth looks for the nearest new cloth of its side, and new for old. What is then about the
nearest both ways is one cloth: so a pocket laid on a front is not taken for the front, nor a front
for its lining. A place from where two panels are equally near is unsure, unless names in the file
tell them apart.
"""

from dataclasses import dataclass

import numpy as np

from texbake.arrays import F64, I32, I64, Bool
from texbake.change.twins import Side
from texbake.garment.closest import Closest, Surface, closest

# How far surfaces may lie apart that are one, as a share of the garment's diagonal: 2 cm of 1 m.
# Common practice, no source: taking out a tenth of the vertices moves less on real garments.
REACH = 0.02
# Two panels are equally near if they differ by less than this share of the diagonal, or this share
# of the nearer distance.
EQUAL, EQUAL_SHARE = 1e-5, 0.3
LEAST_COS = 0.3  # of the angle between normals of one cloth: 72 degrees, as at a crease
MOST_SAMPLES = 16  # on one face
_FIRST = ((1 / 3, 1 / 3, 1 / 3), (0.8, 0.1, 0.1), (0.1, 0.8, 0.1), (0.1, 0.1, 0.8))


@dataclass(frozen=True, slots=True, eq=False)
class Samples:
    """Points on a side: face, shares of its corners, place, normal, and area each stands for."""

    face: I64
    bary: F64
    points: F64
    normals: F64
    area: F64


@dataclass(frozen=True, slots=True, eq=False)
class Found:
    """Where samples of one side lie on the other: face (-1: nowhere), where on it, and rivals."""

    face: I64
    bary: F64
    rival: I64  # label of another place that would do as well; -1 for none


def spread(side: Side, on: Surface, area: F64, *, least: int = 1) -> Samples:
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
    return Samples(
        face=face,
        bary=bary,
        points=(bary[..., None] * side.corners_mm[face]).sum(axis=1),
        normals=on.normal[face],
        area=area[face] / np.repeat(times, times),
    )


def nearest(samples: Samples, on: Surface, size: float) -> Closest:
    """Find samples on the other side."""
    return closest(
        on,
        samples.points,
        normals=samples.normals,
        least_cos=LEAST_COS,
        within_mm=REACH * size,
    )


def settled(
    samples: Samples,
    mine: Side,
    on: Surface,
    other: Side,
    label: I32,
    hit: Closest,
    size: float,
) -> Found:
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
    rivals = np.full(len(face), -1, np.int64)
    rivals[at] = np.where(tie & (own == its), label[rival.face], -1)
    return Found(face, bary, rivals)


def mutual(samples: Samples, other: Side, on: Surface, found: Found, size: float) -> Bool:
    """Tell which samples are, seen from where they were found, about the nearest cloth.

    Parameters
    ----------
    samples : of one side
    other : the side that they were found on
    on : the samples' own side
    found : where
    size : of the garment
    """
    at = np.flatnonzero(found.face >= 0)
    corners = other.corners_mm[found.face[at]]
    foot = (found.bary[at][..., None] * corners).sum(axis=1)
    away = np.linalg.norm(foot - samples.points[at], axis=1)
    normal = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    normal /= np.maximum(np.linalg.norm(normal, axis=1), 1e-300)[:, None]
    back = closest(on, foot, normals=normal, least_cos=LEAST_COS, within_mm=away + EQUAL * size)
    out = np.zeros(len(found.face), np.bool_)
    nearest = np.minimum(back.distance_mm, away)
    out[at] = away <= (1.0 + EQUAL_SHARE) * nearest + EQUAL * size
    return out


def elected(face: I64, panel: I64) -> tuple[I64, I64]:
    """Return faces, and the panel that most samples on each found."""
    count = int(panel.max(initial=0)) + 2
    key, votes = np.unique(face * count + panel + 1, return_counts=True)
    its = key // count
    order = np.lexsort((key, -votes, its))
    first = np.ones(len(order), np.bool_)
    first[1:] = its[order][1:] != its[order][:-1]
    best = order[first]
    return its[best], key[best] % count - 1
