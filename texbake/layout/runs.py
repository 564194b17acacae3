"""Runs of a band's texels that lie on one face, and how large each is on the cloth.

What is near a whole run is asked once, so that texels need not ask it each.
"""

from dataclasses import dataclass

import numpy as np

from texbake.arrays import F32, I32, I64
from texbake.layout.raster import spread
from texbake.layout.values import Texels


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Runs:
    """Runs of one face, in the order of a band's texels.

    Attributes
    ----------
    start, length : (R,) int64
        Each run is texels ``start`` to ``start + length``.
    face : (R,) int32
    middle_mm : (2, R) float32
        Middle of the upright box round each run in the pattern plane.
    half_mm : (R,) float32
        Half of that box's diagonal: no texel of the run is farther from the middle.
    """

    start: I64
    length: I64
    face: I32
    middle_mm: F32
    half_mm: F32


def runs_of(texels: Texels) -> Runs:
    """Find the runs of a band."""
    start = face_starts(texels.face) if texels.run is None else texels.run
    middle = np.empty((2, len(start)), np.float32)
    half = np.zeros(len(start), np.float32)
    if len(start):
        for axis, mm in enumerate((texels.x_mm, texels.y_mm)):
            low, high = _bounds(mm, start, rows=texels.run is not None)
            middle[axis] = 0.5 * (low + high)
            half += np.square(0.5 * (high - low))
    return Runs(
        start=start,
        length=np.diff(start, append=len(texels.face)),
        face=texels.face[start],
        middle_mm=middle,
        half_mm=np.sqrt(half),
    )


def part_of(texels: Texels, run: I64, length: I64) -> Texels:
    """Some runs of a band, by where each starts and how long it is."""
    _, at = spread(run, length)
    return Texels(
        index=texels.index.take(at),
        face=texels.face.take(at),
        x_mm=texels.x_mm.take(at),
        y_mm=texels.y_mm.take(at),
        run=np.cumsum(length) - length,
    )


def _bounds(mm: F32, start: I64, *, rows: bool) -> tuple[F32, F32]:
    """Least and greatest of each run; along one row those are its ends, as places are affine."""
    if not rows:
        return np.minimum.reduceat(mm, start), np.maximum.reduceat(mm, start)
    first, last = mm.take(start), mm.take(np.append(start[1:], len(mm)) - 1)
    return np.minimum(first, last), np.maximum(first, last)


def face_starts(face: I32) -> I64:
    """Where runs of one face start, in the order of a band's texels; rows do not matter.

    (N,) int32 -> (R,) int64, ascending.
    """
    fresh = np.ones(len(face), bool)
    np.not_equal(face[1:], face[:-1], out=fresh[1:])
    return np.flatnonzero(fresh)
