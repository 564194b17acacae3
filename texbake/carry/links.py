"""How much of the old picture a new texel covers, and how to take its mean.

From face to face, old texels are an affine function of new ones; its matrix J says what a new
texel covers. A picture's texel is already the mean over its own square: with variance 1/12 of a
texel along each axis. What a new texel covers has covariance J J' / 12. Only the difference is
still to be averaged: along each principal axis of J J' that is longer than 1, a box of variance
(s^2 - 1) / 12. At equal size that is nothing, so nothing is blurred; at a quarter of the size it
is nearly the whole texel. The box is taken as n points with the same variance.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from texbake.arrays import F32, F64, I32

# A box narrower than this many texels does nothing that shows: it weakens the finest stripes
# (two texels) by 2.6 %.
_NARROW: Final = 0.25
MOST_POINTS: Final = 32


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Links:
    """Pairs of a new face and an old one.

    Attributes
    ----------
    old_face : (L,) int32
        -1 where there is none.
    count : (L, 2) uint8
        Points along the two axes of the box; 1 for none.
    step : (L, 2, 2) float32
        ``step[:, k]`` leads from one point to the next along axis k, old texels (x, y).
    """

    old_face: I32
    count: NDArray[np.uint8]
    step: F32

    def joined(self, other: "Links") -> "Links":
        """Return these and then the other's."""
        return Links(
            old_face=np.concatenate([self.old_face, other.old_face]),
            count=np.concatenate([self.count, other.count]),
            step=np.concatenate([self.step, other.step]),
        )


def links(old_face: I32, jacobian: F64) -> Links:
    """Make links from matrices.

    Parameters
    ----------
    old_face : (L,) int32
    jacobian : (L, 2, 2) float64
        Step in old texels of one new texel along x (``[:, :, 0]``) and y.
    """
    width, axis = _boxes(np.nan_to_num(jacobian, nan=0.0, posinf=0.0, neginf=0.0))
    count = np.where(width < _NARROW, 1.0, np.clip(np.ceil(width) + 1.0, 2.0, MOST_POINTS))
    apart = width / np.sqrt(np.maximum(count * count - 1.0, 1.0))
    step = np.where(count > 1.0, apart, 0.0)[:, :, None] * axis
    return Links(old_face=old_face, count=count.astype(np.uint8), step=step.astype(np.float32))


def _boxes(jacobian: F64) -> tuple[F64, F64]:
    """Widths (L, 2) of the boxes along two axes, and those unit vectors (L, 2, 2)."""
    (p, q), (r, s) = (jacobian[:, 0].T, jacobian[:, 1].T)
    xx, xy, yy = p * p + q * q, p * r + q * s, r * r + s * s
    middle, half = 0.5 * (xx + yy), np.hypot(0.5 * (xx - yy), xy)
    angle = 0.5 * np.arctan2(xy, 0.5 * (xx - yy))
    axis = np.stack([np.cos(angle), np.sin(angle), -np.sin(angle), np.cos(angle)], axis=1)
    square = np.stack([middle + half, middle - half], axis=1)
    return np.sqrt(np.maximum(square - 1.0, 0.0)), axis.reshape(-1, 2, 2)


def offsets(count: tuple[int, int]) -> F32:
    """Places of the points of a box, in steps along its axes, (n, 2): their mean is 0.

    >>> offsets((2, 1)).tolist()
    [[-0.5, 0.0], [0.5, 0.0]]
    """
    along, across = (np.arange(n) - 0.5 * (n - 1) for n in count)
    grid = np.stack(np.meshgrid(along, across, indexing="ij"), axis=-1)
    return grid.reshape(-1, 2).astype(np.float32)


def widest(table: Links) -> float:
    """How far points of a box lie from its middle at most, old texels."""
    span = np.abs(table.step) * (0.5 * (table.count.astype(np.float64) - 1.0))[:, :, None]
    return float(span.sum(axis=1).max(initial=0.0))
