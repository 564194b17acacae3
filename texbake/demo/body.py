"""The body under the demo garments: lofted sections, joined smoothly into one distance field.

A tailor's dummy is known by its girths. Here a trunk or a limb is a row of superellipse sections
along an axis, and a body is the smooth union of such lofts. Cloth is then laid on it by moving
points along the field's gradient until the distance is nought. All lengths in this package are
cm, because the demo meshes are written in cm.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from texbake.arrays import F64

Field = Callable[[F64], F64]
"""Signed distance in cm, about true near the surface: (N, 3) points -> (N,)."""

MIRROR = np.array([-1.0, 1.0, 1.0])
UP = np.array([0.0, 1.0, 0.0])


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Loft:
    """Sections along an axis.

    Attributes
    ----------
    origin_cm : (3,) float64
        Where station 0 lies.
    frame : (3, 3) float64
        Unit rows: sideways, along the axis, forwards.
    stations_cm : (S,) float64
        Places along the axis, ascending.
    sections : (S, 6) float64
        Centre sideways, centre forwards, half width, depth in front, depth behind (cm), and the
        squareness: 2 is an ellipse, more is squarer.
    """

    origin_cm: F64
    frame: F64
    stations_cm: F64
    sections: F64


def upright(rows: Sequence[Sequence[float]]) -> Loft:
    """Make a loft along +Y from rows of (y, centre x, centre z, width, front, back, squareness)."""
    table = np.array(sorted(rows, key=list), dtype=np.float64)
    return Loft(
        origin_cm=np.zeros(3), frame=np.eye(3), stations_cm=table[:, 0], sections=table[:, 1:]
    )


def limb(origin: Sequence[float], along: Sequence[float], rows: Sequence[Sequence[float]]) -> Loft:
    """Make a loft from ``origin`` along ``along``; rows as in ``upright``, with s for y.

    Sideways points away from the body's middle and up, forwards is as near +Z as can be.
    """
    axis = np.array(along, dtype=np.float64)
    axis /= np.linalg.norm(axis)
    fore = np.array([0.0, 0.0, 1.0]) - axis[2] * axis
    fore /= np.linalg.norm(fore)
    table = np.array(sorted(rows, key=list), dtype=np.float64)
    return Loft(
        origin_cm=np.array(origin, dtype=np.float64),
        frame=np.stack([np.cross(fore, axis), axis, fore]),
        stations_cm=table[:, 0],
        sections=table[:, 1:],
    )


def loft_field(loft: Loft) -> Field:
    """Return the distance to a loft, in the plane of the section; flat caps close its ends."""
    from scipy.interpolate import PchipInterpolator  # loads scipy: only when a mesh is made

    table = PchipInterpolator(loft.stations_cm, loft.sections, axis=0)
    first, last = loft.stations_cm[0], loft.stations_cm[-1]

    def distance(points: F64) -> F64:
        local = (points - loft.origin_cm) @ loft.frame.T
        rows = table(np.clip(local[:, 1], first, last))
        x, z = local[:, 0] - rows[:, 0], local[:, 2] - rows[:, 1]
        depth = np.where(z > 0.0, rows[:, 3], rows[:, 4])
        n = rows[:, 5]
        share = (np.abs(x / rows[:, 2]) ** n + np.abs(z / depth) ** n) ** (1.0 / n)
        reach = np.hypot(x, z)
        past_end = np.maximum(first - local[:, 1], local[:, 1] - last)
        return np.asarray(np.maximum(reach - reach / np.maximum(share, 1e-9), past_end))

    return distance


def union(fields: Sequence[Field], reach_cm: float) -> Field:
    """Join bodies; where two surfaces come within ``reach_cm`` a fillet fills the fold."""

    def distance(points: F64) -> F64:
        total = fields[0](points)
        for field in fields[1:]:
            other = field(points)
            near = np.maximum(reach_cm - np.abs(total - other), 0.0) / reach_cm
            total = np.minimum(total, other) - near * near * reach_cm / 4.0
        return total

    return distance


def mirrored(field: Field) -> Field:
    """Return the field of the other side's limb."""
    return lambda points: field(points * MIRROR)


def gradient(field: Field, points: F64, step_cm: float = 1e-3) -> F64:
    """Return the field's gradient, (N, 3), by central differences."""
    parts = [(field(points + step) - field(points - step)) for step in np.eye(3) * step_cm]
    return np.stack(parts, axis=-1) / (2.0 * step_cm)


def on_surface(field: Field, points: F64, *, steps: int = 8, level: F64 | None = None) -> F64:
    """Move points along the gradient onto the surface; any shape (..., 3).

    With ``level``, a unit vector, no point moves along it: a ring stays level.
    """
    flat = points.reshape(-1, 3).copy()
    for _ in range(steps):
        slope = gradient(field, flat)
        if level is not None:
            slope -= (slope @ level)[:, None] * level
        size = np.maximum((slope * slope).sum(axis=1), 1e-6)
        move = field(flat) / size
        flat -= slope * np.clip(move, -4.0, 4.0)[:, None]
    return flat.reshape(points.shape)
