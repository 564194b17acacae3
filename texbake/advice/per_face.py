"""Figures that follow from each face's own map from texels to the surface.

On a face a texel is a parallelogram on the surface. The singular values of its map are its
longest and shortest step over all directions: their ratio is how much it is stretched, the root of
their product its size.
"""

from dataclasses import dataclass

import numpy as np

from texbake.arrays import F64, I32
from texbake.garment.values import Garment
from texbake.layout.values import Layout

# Cloth left out at either end of a spread, as a share of the area: slivers do not count.
ENDS = 0.01
# Steps below this share of the other have no length: such a face is a line on the surface.
FLAT = 1e-6


@dataclass(frozen=True, slots=True, kw_only=True)
class Density:
    """Texels per cm: mean over the area; ``low``, ``high`` without 1 % of it at either end."""

    mean: float
    low: float
    high: float


def face_areas(garment: Garment) -> F64:
    """Areas of the faces in space (F,), mm2."""
    a, b, c = (garment.mesh.points_mm[garment.mesh.faces[:, k]] for k in range(3))
    return np.asarray(0.5 * np.linalg.norm(np.cross(b - a, c - a), axis=1))


def density(layout: Layout, faces: I32, area: F64) -> Density:
    """Texels per cm on some faces; all 0 where they have no texels.

    Parameters
    ----------
    layout : Layout
    faces : (K,) int32
    area : (K,) float64
        Their areas in space.
    """
    texel_mm = layout.texel_mm[faces].astype(np.float64)
    has = (texel_mm > 0) & (area > 0)
    if not has.any():
        return Density(mean=0.0, low=0.0, high=0.0)
    per_cm, weight = 10.0 / texel_mm[has], area[has]
    mean = float((per_cm * weight).sum() / weight.sum())
    low, high = (share_under(per_cm, weight, share) for share in (ENDS, 1.0 - ENDS))
    return Density(mean=mean, low=low, high=high)


def share_under(value: F64, weight: F64, share: float) -> float:
    """Return the value that the given share of the weight lies at or under."""
    order = np.argsort(value, kind="stable")
    upto = np.cumsum(weight[order]) / weight.sum()
    return float(value[order[min(int(np.searchsorted(upto, share)), len(order) - 1)]])


def uv_stretch(layout: Layout) -> F64:
    """Longest by shortest step of a texel on the surface, per face.

    Returns
    -------
    (F,) float64
        >= 1; 0 for faces without area in UV or in space.
    """
    step = layout.to_space[:, :, :2].astype(np.float64)
    across, down = step[:, :, 0], step[:, :, 1]
    a, b = (across * across).sum(axis=1), (down * down).sum(axis=1)
    skew = (across * down).sum(axis=1)
    half, spread = 0.5 * (a + b), np.hypot(0.5 * (a - b), skew)
    longest = half + spread
    # The product of both is the determinant; taken so, the shorter loses no digits.
    shortest = np.linalg.norm(np.cross(across, down), axis=1) ** 2
    np.divide(shortest, longest, out=shortest, where=longest > 0)
    whole = shortest > FLAT**2 * longest
    ratio = np.divide(longest, shortest, out=np.zeros_like(longest), where=whole)
    return np.asarray(np.sqrt(ratio))


def handed(garment: Garment) -> F64:
    """Area in UV by area of the pattern, per face (F,): negative where UV mirrors the cloth."""
    uv, pattern = _area(garment.mesh.uv), _area(garment.pattern_mm)
    return np.asarray(uv * np.sign(pattern))


def _area(corner: F64) -> F64:
    """Twice the signed area of triangles (F, 3, 2)."""
    a, b = corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0]
    return np.asarray(a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0])
