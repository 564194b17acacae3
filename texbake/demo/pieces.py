"""Pieces of cloth as grids of quads, laid on a body.

A piece is cut as a tailor cuts it: four sides, each a curve on the body. The inside is filled by
Coons' transfinite interpolation (S. A. Coons, MIT Project MAC TR-41, 1967), evened out, and
laid back on the body. Neighbours are built from the very same side, so that they meet point by
point. Columns run from left to right as seen from outside, rows upwards, which makes every quad
counter-clockwise.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from texbake.arrays import F64
from texbake.demo.body import MIRROR, Field, Loft, on_surface

WELD_DECIMALS = 6  # cm: 10 nm, far above rounding errors and far below any edge


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Piece:
    """One piece of cloth in space.

    Attributes
    ----------
    name, material : str
    points_cm : (R + 1, C + 1, 3) float64
        Rows upwards, columns left to right as seen from outside.
    layer : str
        Normals are smooth within a layer and hard between layers.
    """

    name: str
    material: str
    points_cm: F64
    layer: str = "shell"


def spline(knots: Sequence[Sequence[float]] | F64, count: int) -> F64:
    """Return ``count`` + 1 points, evenly spaced along a smooth curve through ``knots``."""
    from scipy.interpolate import CubicSpline  # loads scipy: only when a mesh is made

    through = np.asarray(knots, dtype=np.float64)
    at = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(through, axis=0), axis=1))])
    dense = CubicSpline(at, through, bc_type="natural")(np.linspace(0.0, at[-1], 40 * len(at)))
    dense[0], dense[-1] = through[0], through[-1]
    return even(dense, count)


def even(line: F64, count: int) -> F64:
    """Return ``count`` + 1 points evenly spaced along a polyline; its ends stay as they are."""
    steps = np.linalg.norm(np.diff(line, axis=0), axis=1)
    arc = np.concatenate([[0.0], np.cumsum(steps)])
    want = np.linspace(0.0, arc[-1], count + 1)
    points = np.stack([np.interp(want, arc, line[:, k]) for k in range(line.shape[1])], axis=1)
    points[0], points[-1] = line[0], line[-1]
    return points


def side_on(
    field: Field, knots: Sequence[Sequence[float]], count: int, *, level: F64 | None = None
) -> F64:
    """Return a side of a piece: a smooth curve through ``knots``, laid on the body.

    ``level`` is a direction that it keeps its place in, as in ``on_surface``.
    """
    dense = on_surface(field, spline(knots, 12 * len(knots)), level=level)
    return on_surface(field, even(dense, count), level=level)


def coons(*, bottom: F64, top: F64, left: F64, right: F64) -> F64:
    """Fill four sides that meet in four corners: (R + 1, C + 1, 3)."""
    u = np.linspace(0.0, 1.0, len(bottom))[None, :, None]
    v = np.linspace(0.0, 1.0, len(left))[:, None, None]
    rows = left[:, None] * (1.0 - u) + right[:, None] * u
    columns = bottom[None] * (1.0 - v) + top[None] * v
    low = bottom[0] * (1.0 - u) + bottom[-1] * u
    high = top[0] * (1.0 - u) + top[-1] * u
    return np.asarray(rows + columns - (low * (1.0 - v) + high * v))


def fill(field: Field, *, bottom: F64, top: F64, left: F64, right: F64, rounds: int = 24) -> F64:
    """Fill four sides and lay the inside on the body, evenly spread; the sides stay."""
    grid = coons(bottom=bottom, top=top, left=left, right=right)
    for _ in range(rounds):
        grid[1:-1, 1:-1] = on_surface(field, winslow(grid), steps=1)
    grid[1:-1, 1:-1] = on_surface(field, grid[1:-1, 1:-1])
    return grid


def winslow(grid: F64) -> F64:
    """Return the inside of a grid after one round of smoothing that never folds it.

    Evening out straight away would push columns over the hollow curve of an armhole. Winslow's
    equations smooth the inverse map instead (A. Winslow, J. Comput. Phys. 1(2), 1966, 149-172).
    """
    right, left = grid[1:-1, 2:], grid[1:-1, :-2]
    above, below = grid[2:, 1:-1], grid[:-2, 1:-1]
    along_u, along_v = (right - left) / 2.0, (above - below) / 2.0
    alpha = (along_v * along_v).sum(axis=-1, keepdims=True)
    beta = (along_u * along_v).sum(axis=-1, keepdims=True)
    gamma = (along_u * along_u).sum(axis=-1, keepdims=True)
    cross = grid[2:, 2:] - grid[2:, :-2] - grid[:-2, 2:] + grid[:-2, :-2]
    total = alpha * (right + left) + gamma * (above + below) - beta * cross / 2.0
    return np.asarray(total / (2.0 * (alpha + gamma)))


def other_side(points: F64) -> F64:
    """Mirror a grid to the other half of the body; columns still run left to right."""
    return np.asarray((points * MIRROR)[:, ::-1])


def round_limb(field: Field, loft: Loft, *, top: F64, end_cm: float, rows: int) -> F64:
    """Grow a tube from a closed loop down a limb to a straight end: (rows + 1, C + 1, 3).

    The columns start where the loop's points lie around the limb and spread evenly further down.
    First and last column are the tube's seam.
    """
    local = to_limb(loft, top)
    around = np.unwrap(np.arctan2(local[:, 2], -local[:, 0]))
    spread = around[0] + math.tau * np.linspace(0.0, 1.0, len(top))
    grid = []
    for share in np.linspace(1.0, 0.0, rows + 1)[:-1]:
        down = local[:, 1] + (end_cm - local[:, 1]) * share
        even_out = min(1.0, 1.6 * share)
        angle = around + (spread - around) * even_out
        ring = np.stack([-6.0 * np.cos(angle), down, 6.0 * np.sin(angle)], axis=1)
        level = loft.frame[1] if share > 0.5 else None
        ring = on_surface(field, from_limb(loft, ring), level=level)
        ring[-1] = ring[0]
        grid.append(ring)
    return np.stack([*grid, top])


def to_limb(loft: Loft, points: F64) -> F64:
    """Turn points into (sideways, along, forwards) from the limb's own middle line."""
    local = (points - loft.origin_cm) @ loft.frame.T
    for k, axis in ((0, 0), (1, 2)):
        local[:, axis] -= np.interp(local[:, 1], loft.stations_cm, loft.sections[:, k])
    return local


def from_limb(loft: Loft, local: F64) -> F64:
    """Undo ``to_limb``."""
    out = local.copy()
    for k, axis in ((0, 0), (1, 2)):
        out[:, axis] += np.interp(local[:, 1], loft.stations_cm, loft.sections[:, k])
    return out @ loft.frame + loft.origin_cm
