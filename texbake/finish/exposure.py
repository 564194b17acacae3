"""How much of the sky each place of the garment faces.

A plane tilted by an angle from level sees (1 + cos) / 2 of an even sky (B. Y. H. Liu and
R. C. Jordan, "The long-term average performance of flat-plate solar-energy collectors", Solar
Energy 7 (1963) 53): 1 lying face up, a half upright, 0 face down. Normals run on smoothly over
edges, and the value is evened out a little more over the mesh, so that no facet shows; in between
it is linear on each face.
"""

from dataclasses import dataclass

import numpy as np

from texbake.arrays import F32, F64, I64
from texbake.garment.values import Garment
from texbake.garment.vertices import smooth_normals
from texbake.layout.values import Texels

ROUNDS = 3  # of evening out: over about as many edges of the mesh


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Exposure:
    """Share of the sky per face, linear in the pattern plane.

    Attributes
    ----------
    linear : (F, 3) float32
        Per mm of x, per mm of y, and at the origin.
    corners : (F, 3) float32
        At the corners.
    """

    linear: F32
    corners: F32


def exposure(garment: Garment) -> Exposure:
    """Find how much of the sky every face sees."""
    points = garment.mesh.points_mm[garment.mesh.faces]
    normal = smooth_normals(points, garment.weld)
    seen = 0.5 + 0.5 * normal[:, :, 1]
    _, node = np.unique(
        np.column_stack([garment.weld.reshape(-1), np.rint(1e4 * normal.reshape(-1, 3))]),
        axis=0,
        return_inverse=True,
    )
    corners = _evened(seen, node.reshape(-1, 3))
    return Exposure(
        linear=_planes(garment.pattern_mm, corners).astype(np.float32),
        corners=corners.astype(np.float32),
    )


def _evened(seen: F64, node: I64) -> F64:
    """Each corner halfway towards the mean of the faces about it, several times."""
    count = int(node.max(initial=-1)) + 1
    about = np.bincount(node.ravel(), minlength=count)
    value = np.bincount(node.ravel(), seen.ravel(), count) / about
    for _ in range(ROUNDS):
        middle = np.repeat(value[node].mean(1), 3)
        value = 0.5 * value + 0.5 * np.bincount(node.ravel(), middle, count) / about
    out: F64 = value[node]
    return out


def _planes(corner: F64, value: F64) -> F64:
    """The plane through each face's three values; level where the face has no area."""
    a, b = corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0]
    p, q = value[:, 1] - value[:, 0], value[:, 2] - value[:, 0]
    cross = a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]
    whole = np.abs(cross) > 1e-9
    scale = np.where(whole, 1.0 / np.where(whole, cross, 1.0), 0.0)
    by_x = (p * b[:, 1] - q * a[:, 1]) * scale
    by_y = (q * a[:, 0] - p * b[:, 0]) * scale
    rest = np.where(
        whole, value[:, 0] - by_x * corner[:, 0, 0] - by_y * corner[:, 0, 1], value.mean(1)
    )
    return np.stack([by_x, by_y, rest], 1)


def exposed(sky: Exposure, texels: Texels) -> F32:
    """Share of the sky that each texel faces, (N,) float32 in [0, 1]."""
    plane = np.take(sky.linear, texels.face, 0)
    out = plane[:, 0] * texels.x_mm
    out += plane[:, 1] * texels.y_mm
    out += plane[:, 2]
    return np.clip(out, 0.0, 1.0, out=out)


def mean_exposure(sky: Exposure, garment: Garment) -> float:
    """Mean over the garment's surface."""
    return float(np.average(sky.corners.mean(1), weights=areas_mm2(garment)))


def areas_mm2(garment: Garment) -> F64:
    """Area of each face in space, (F,) float64."""
    points = garment.mesh.points_mm[garment.mesh.faces]
    cross = np.cross(points[:, 1] - points[:, 0], points[:, 2] - points[:, 0])
    return np.asarray(0.5 * np.sqrt((cross * cross).sum(1)))
