"""The nearest place on a surface in space, exactly, for many points at once.

Triangles are cut at their longest sides into pieces of about one size, and the pieces' middles go
into a tree. No piece reaches farther from its middle than ``reach_mm``; so once the k-th nearest
middle is farther away than the best triangle found plus that reach, no other can be nearer.
float64, because it is a geometry solve. Points are taken in portions, so memory stays bounded.
"""

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from texbake.arrays import F64, I32, I64, Bool, bands

if TYPE_CHECKING:
    from scipy.spatial import cKDTree

PAIRS = 2**18  # points times candidates in one portion: some 100 MB of temporaries
FIRST, MORE = 8, 4  # candidates at first, and how many times more where they did not suffice
TIE = 1e-9  # of the surface's size: places so equally near are told apart by side, then by number


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Surface:
    """Triangles, ready to be searched.

    Attributes
    ----------
    corners_mm : (F, 3, 3) float64
    normal : (F, 3) float64
        Unit normals, counter-clockwise from outside; 0 for a triangle without area.
    face : (P,) int32
        The triangle of each piece.
    tree : cKDTree of (P, 3)
        Middles of the pieces.
    reach_mm : float
        No piece has a corner farther from its middle.
    size_mm : float
        Diagonal of the box round it.
    """

    corners_mm: F64
    normal: F64
    face: I32
    tree: "cKDTree"
    reach_mm: float
    size_mm: float


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Closest:
    """The nearest place for each point.

    Attributes
    ----------
    face : (N,) int32
        -1 where nothing that is allowed lies within reach.
    bary : (N, 3) float64
        Shares of the face's corners: >= 0, sum 1; 0 where there is none.
    distance_mm : (N,) float64
        inf where there is none.
    """

    face: I32
    bary: F64
    distance_mm: F64


def surface(corners_mm: F64, *, keep: Bool | None = None) -> Surface:
    """Make triangles ready to be searched.

    Parameters
    ----------
    corners_mm : (F, 3, 3) float64
        Corners of the triangles, mm; F > 0.
    keep : (F,) bool, optional
        Triangles that may be found; all of them if not given.

    Raises
    ------
    ValueError
        If there is no triangle to find.
    """
    from scipy.spatial import cKDTree

    corners = np.asarray(corners_mm, np.float64)
    chosen = np.arange(len(corners)) if keep is None else np.flatnonzero(keep)
    if not len(chosen):
        raise ValueError("a surface needs at least one triangle")
    normal = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    twice = np.linalg.norm(normal, axis=1)
    face, pieces = _pieces(corners[chosen], chosen, 0.5 * float(twice[chosen].sum()))
    middle = pieces.mean(axis=1)
    flat = corners[chosen].reshape(-1, 3)
    return Surface(
        corners_mm=corners,
        normal=normal / np.where(twice > 0.0, twice, 1.0)[:, None],
        face=face.astype(np.int32),
        tree=cKDTree(middle),
        reach_mm=float(_radius(pieces, middle).max()),
        size_mm=float(np.linalg.norm(flat.max(axis=0) - flat.min(axis=0))),
    )


def closest(
    on: Surface,
    points_mm: F64,
    *,
    normals: F64 | None = None,
    least_cos: float = 0.0,
    within_mm: F64 | float = np.inf,
    label: I32 | None = None,
    avoid: I32 | None = None,
) -> Closest:
    """Find the nearest place on a surface for each point.

    Parameters
    ----------
    on : Surface
    points_mm : (N, 3) float64
    normals : (N, 3) float64, optional
        Unit vectors: a face is allowed only if the cosine between its normal and the point's is
        more than ``least_cos``. Shell and lining, back to back, are so told apart.
    least_cos : float
        -1 to 1.
    within_mm : float or (N,) float64
        What lies farther away is not found: >= 0. The smaller, the faster.
    label : (F,) int32, optional
        A number for each face, as of its panel.
    avoid : (N,) int32, optional
        For each point, the label that is not allowed.

    Returns
    -------
    Closest
        Among places that are equally near, the one whose side agrees best, then the face of the
        lowest number: the same for any order or portion of points.
    """
    count = len(points_mm)
    out = Closest(
        face=np.full(count, -1, np.int32),
        bary=np.zeros((count, 3)),
        distance_mm=np.full(count, np.inf),
    )
    ask = _Question(on, points_mm, normals, least_cos, within_mm, label, avoid)
    left = np.arange(count)
    wanted = FIRST
    while len(left):
        wanted = min(wanted, len(on.face))
        portions = bands(len(left), max(1, PAIRS // wanted))
        unsure = [ask.answer(left[part], wanted, out) for part in portions]
        left = np.concatenate(unsure)
        wanted *= MORE
    return out


def on_triangle(points_mm: F64, corners_mm: F64) -> tuple[F64, F64]:
    """Find the nearest place of one triangle to one point, for many of both.

    Parameters
    ----------
    points_mm : (..., 3) float64
    corners_mm : (..., 3, 3) float64

    Returns
    -------
    bary : (..., 3) float64
        Shares of the corners: >= 0, sum 1.
    distance_mm : (...) float64
    """
    a, b, c = (corners_mm[..., k, :] for k in range(3))
    side, other, to = b - a, c - a, points_mm - a
    ss, so, oo = _dot(side, side), _dot(side, other), _dot(other, other)
    ts, ot = _dot(to, side), _dot(to, other)
    area = ss * oo - so * so  # four times the area, squared
    whole = area > 1e-24 * np.maximum(ss * oo, 1e-300)
    share = 1.0 / np.where(whole, area, 1.0)
    second, third = (oo * ts - so * ot) * share, (ss * ot - so * ts) * share
    bary = np.stack([1.0 - second - third, second, third], axis=-1)
    inside = whole & (bary >= 0.0).all(axis=-1)
    if not inside.all():
        out = ~inside
        points = np.broadcast_to(points_mm, (*inside.shape, 3))
        bary[out] = _on_sides(points[out], corners_mm[out])
    foot = (bary[..., None] * corners_mm).sum(axis=-2)
    return bary, np.linalg.norm(foot - points_mm, axis=-1)


def _on_sides(points: F64, corners: F64) -> F64:
    """Shares (M, 3) of the nearest place on the three sides."""
    start, along = corners, np.roll(corners, -1, axis=1) - corners
    to = points[:, None] - start
    length = np.maximum(_dot(along, along), 1e-300)
    share = np.clip(_dot(to, along) / length, 0.0, 1.0)
    away = to - share[..., None] * along
    best = _dot(away, away).argmin(axis=1)
    row = np.arange(len(points))
    bary = np.zeros((len(points), 3))
    bary[row, best] = 1.0 - share[row, best]
    bary[row, (best + 1) % 3] = share[row, best]
    return bary


def _dot(a: F64, b: F64) -> F64:
    return np.asarray(np.einsum("...i,...i->...", a, b))


def _pieces(corners: F64, face: I64, area: float) -> tuple[I64, F64]:
    """Cut triangles at their longest sides until all are about as small as their mean."""
    goal = 1.2 * np.sqrt(area / (2 * len(corners) + 2048))
    most = 8 * len(corners) + 20_000  # slivers could be cut for ever
    done: list[tuple[I64, F64]] = []
    while len(corners):
        large = _radius(corners, corners.mean(axis=1)) > goal
        done.append((face[~large], corners[~large]))
        face, corners = face[large], corners[large]
        if sum(len(f) for f, _ in done) + 2 * len(face) > most or goal <= 0.0:
            done.append((face, corners))
            break
        face, corners = np.concatenate([face, face]), _halves(corners)
    return np.concatenate([f for f, _ in done]), np.concatenate([c for _, c in done])


def _halves(corners: F64) -> F64:
    """Both halves of each triangle, cut at its longest side."""
    side = np.roll(corners, -1, axis=1) - corners
    first = _dot(side, side).argmax(axis=1)
    row = np.arange(len(corners))
    a, b, c = (corners[row, (first + k) % 3] for k in range(3))
    middle = 0.5 * (a + b)
    return np.concatenate([np.stack([a, middle, c], axis=1), np.stack([middle, b, c], axis=1)])


def _radius(corners: F64, middle: F64) -> F64:
    return np.asarray(np.linalg.norm(corners - middle[:, None], axis=2).max(axis=1))


@dataclass(frozen=True, slots=True, eq=False)
class _Question:
    """What is asked, for all points; answered a portion at a time."""

    on: Surface
    points: F64
    normals: F64 | None
    least_cos: float
    within: F64 | float
    label: I32 | None
    avoid: I32 | None

    def answer(self, part: I64, wanted: int, out: Closest) -> I64:
        """Fill in what ``wanted`` candidates can tell; return the points that need more."""
        on, points = self.on, self.points[part]
        away, piece = on.tree.query(points, k=[*range(1, wanted + 1)])
        face = on.face[piece]
        bary, distance = on_triangle(points[:, None], on.corners_mm[face])
        agrees: F64 = np.zeros(distance.shape)
        if self.normals is not None:
            agrees = _dot(on.normal[face], self.normals[part][:, None])
            distance[agrees <= self.least_cos] = np.inf
        if self.label is not None and self.avoid is not None:
            distance[self.label[face] == self.avoid[part][:, None]] = np.inf
        within: F64 = np.broadcast_to(np.asarray(self.within), (len(self.points),))[part]
        distance[distance > within[:, None]] = np.inf
        row, best = np.arange(len(part)), _first(distance, agrees, face, TIE * on.size_mm)
        nearest = distance[row, best]
        found = np.isfinite(nearest)
        out.face[part] = np.where(found, face[row, best], -1)
        out.bary[part] = np.where(found[:, None], bary[row, best], 0.0)
        out.distance_mm[part] = nearest
        if wanted >= len(on.face):
            return part[:0]
        known = np.minimum(nearest, within) + on.reach_mm + TIE * on.size_mm
        return np.asarray(part[np.asarray(away)[:, -1] <= known])


def _first(distance: F64, agrees: F64, face: I32, tie: float) -> I64:
    """Column of the best candidate in each row."""
    near = distance <= distance.min(axis=1, keepdims=True) + tie
    side = np.where(near, np.round(agrees, 9), -np.inf)
    near &= side == side.max(axis=1, keepdims=True)
    return np.asarray(np.where(near, face, np.iinfo(np.int32).max).argmin(axis=1))
