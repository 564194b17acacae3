"""From the pattern plane to UV: the other way round than everything else in the program.

Only the chart needs it, to draw grain and seams where they lie in the UV picture.
"""

from dataclasses import dataclass

import numpy as np

from texbake.arrays import F64, I32, I64
from texbake.garment.values import Chain, Garment

# A triangle lower than this share of its longest side has no direction.
FLAT = 1e-9


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class UvMap:
    """The affine map from each face's pattern plane to its UVs, without the offset.

    Attributes
    ----------
    by_x, by_y : (F, 2) float64
        Step in UV of one mm across the grain and along it; 0 for faces without area.
    """

    by_x: F64
    by_y: F64

    @property
    def handed(self) -> F64:
        """UV area of one mm2 (F,); negative where the face lies mirrored in UV."""
        return np.asarray(self.by_x[:, 0] * self.by_y[:, 1] - self.by_x[:, 1] * self.by_y[:, 0])


def uv_map(garment: Garment) -> UvMap:
    """Solve the map of every face."""
    pattern, uv = garment.pattern_mm, garment.mesh.uv
    a, b = pattern[:, 1] - pattern[:, 0], pattern[:, 2] - pattern[:, 0]
    p, q = uv[:, 1] - uv[:, 0], uv[:, 2] - uv[:, 0]
    cross = a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]
    side = pattern - np.roll(pattern, 1, axis=1)
    whole = np.abs(cross) > FLAT * (side * side).sum(axis=2).max(axis=1)
    share = np.where(whole, 1.0 / np.where(whole, cross, 1.0), 0.0)[:, None]
    by_x = (p * b[:, 1:] - q * a[:, 1:]) * share
    by_y = (q * a[:, :1] - p * b[:, :1]) * share
    return UvMap(by_x=by_x, by_y=by_y)


def up_in_uv(by_y: F64, weight: F64) -> F64:
    """Return the mean direction (2,) of +y in UV, a unit vector; +V where there is none.

    Parameters
    ----------
    by_y : (K, 2) float64
        From ``UvMap``.
    weight : (K,) float64
        Areas.
    """
    size = np.hypot(by_y[:, 0], by_y[:, 1])
    unit = by_y / np.where(size > 0, size, 1.0)[:, None]
    mean = (unit * weight[:, None]).sum(axis=0)
    length = float(np.hypot(mean[0], mean[1]))
    if length <= 1e-9 * float(weight.sum()):
        return np.array([0.0, 1.0])
    return np.asarray(mean / length)


def corners_of(garment: Garment, chain: Chain, side: int) -> I64:
    """Find which corners of their faces a chain's edges start and end at.

    A chain keeps its edges in the pattern plane; its ends are corners of the face to the bit or
    nearly so, and the nearest one is meant.

    Returns
    -------
    (E, 2) int64
        0, 1 or 2.
    """
    pattern = garment.pattern_mm[chain.face[side]]
    away = chain.pattern_mm[side][:, :, None, :] - pattern[:, None, :, :]
    return np.asarray((away * away).sum(axis=3).argmin(axis=2))


def side_uv(garment: Garment, face: I32, corner: I64) -> tuple[F64, F64]:
    """Return where edges lie in UV (E, 2, 2), and their faces' third corners (E, 2)."""
    uv = garment.mesh.uv[face]
    edge = np.take_along_axis(uv, corner[:, :, None], axis=1)
    third = np.clip(3 - corner.sum(axis=1), 0, 2)
    return edge, uv[np.arange(len(uv)), third]
