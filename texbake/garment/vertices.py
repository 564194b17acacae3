"""The mesh as a graphics card wants it: vertices with normals, and tangent frames for the maps.

A corner of a face becomes a vertex; corners are one vertex where place, normal, UV and the hand of
the frame are equal to the bit. The tangent of a vertex is the mean of the directions of +U on its
faces, each laid into the plane of the normal and weighted by the face's angle there, as bakers and
renderers usually do it; the hand is that of the face, so mirrored islands, and islands that meet
their mirror image, come out right.

Meshes without normals get smooth ones. Cloth bends round, but where faces meet at more than 80
degrees (by eye, no source) it is taken for a fold. So the two layers of a lined edge, which share
their places and look opposite ways, are never averaged to nothing.
"""

import math
from dataclasses import dataclass
from typing import Final

import numpy as np

from texbake.arrays import F32, F64, I32, I64
from texbake.garment.islands import edge_groups
from texbake.garment.values import Garment, Mesh
from texbake.garment.weld import components, first_seen

FOLD_COS: Final = math.cos(math.radians(80.0))
# Faces at one edge that are compared each with each; real garments have two, four where lined.
_MOST_AT_EDGE: Final = 8


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Vertices:
    """All vertices of a garment.

    Attributes
    ----------
    points_m : (N, 3) float32
        Positions, metres.
    normal : (N, 3) float32
        Unit vectors.
    tangent : (N, 4) float32
        A unit vector along +U, at right angles to the normal, and the hand w, +1 or -1:
        ``cross(normal, tangent) * w`` is the side of +V, upwards in the image.
    uv : (N, 2) float32
        (0, 0) at the bottom left.
    corner : (F, 3) int32
        The vertex at each corner, numbered in the order in which corners need them.
    """

    points_m: F32
    normal: F32
    tangent: F32
    uv: F32
    corner: I32


def vertices(garment: Garment) -> Vertices:
    """Make a garment's vertices. 24,000 faces take 0.1 s, 0.4 s where normals are to be made.

    Parameters
    ----------
    garment : Garment
        The file's normals are taken if it has one at every corner.

    Returns
    -------
    Vertices
        Of all faces, also those that no map covers.
    """
    return vertices_of(garment.mesh, garment.weld)


def vertices_of(mesh: Mesh, weld: I32) -> Vertices:
    """Make a mesh's vertices; ``weld``: corner to place, (F, 3) int32. See `vertices`."""
    points = mesh.points_mm[mesh.faces]
    normal = mesh.normals
    if normal is None:
        normal = smooth_normals(points, weld)
    along_u, hand = _face_frames(points, mesh.uv, normal)
    values = np.concatenate(
        [points / 1000.0, normal, mesh.uv, np.repeat(hand, 3).reshape(-1, 3, 1)], axis=2
    )
    rows = values.reshape(-1, 9).astype(np.float32) + np.float32(0.0)  # -0 is 0
    first, corner = _distinct(rows)
    kept = rows[first]
    tangent = _tangents(kept[:, 3:6], corner, along_u, corner_angles(points).ravel())
    return Vertices(
        points_m=kept[:, :3],
        normal=kept[:, 3:6],
        tangent=np.concatenate([tangent, kept[:, 8:]], axis=1),
        uv=kept[:, 6:8],
        corner=corner.reshape(-1, 3),
    )


def _distinct(rows: F32) -> tuple[I64, I32]:
    """Return the first of each kind of row, in order, and the number of each row's kind."""
    bits = np.ascontiguousarray(rows).view(np.int32)
    order = np.lexsort(bits.T)
    ordered = bits[order]
    new = np.ones(len(rows), np.int64)
    new[1:] = (ordered[1:] != ordered[:-1]).any(axis=1)
    label = np.empty(len(rows), np.int64)
    label[order] = np.cumsum(new) - 1
    kind = first_seen(label)
    return np.unique(kind, return_index=True)[1], kind


def _face_frames(points: F64, uv: F64, normal: F64) -> tuple[F64, F64]:
    """Direction of +U on each face (F, 3), as long as may be, and its hand (F,), +1 or -1."""
    edge, by_uv = points[:, 1:] - points[:, :1], uv[:, 1:] - uv[:, :1]
    twice = by_uv[:, 0, 0] * by_uv[:, 1, 1] - by_uv[:, 0, 1] * by_uv[:, 1, 0]
    along = edge[:, 0] * by_uv[:, 1, 1, None] - edge[:, 1] * by_uv[:, 0, 1, None]
    along *= np.sign(twice)[:, None]
    # Normals of a file may look against the winding; +V must lie on the frame's side all the same.
    outward = (np.cross(edge[:, 0], edge[:, 1]) * normal.sum(axis=1)).sum(axis=1)
    return along, np.where(twice * np.where(outward < 0.0, -1.0, 1.0) < 0.0, -1.0, 1.0)


def _tangents(normal: F32, corner: I32, along: F64, angle: F64) -> F32:
    """Return the mean direction of +U at each vertex (N, 3): unit, in the plane of its normal."""
    upright = normal.astype(np.float64)
    flat = _unit(_laid(np.repeat(along, 3, axis=0), upright[corner]))
    total = _sums(flat * angle[:, None], corner, len(normal))
    total = _unit(_laid(total, upright))
    lost = np.flatnonzero(~total.any(axis=1))  # no area in UV: any direction will do
    axis = np.eye(3)[np.abs(upright[lost]).argmin(axis=1)]
    total[lost] = _unit(_laid(axis, upright[lost]))
    return total.astype(np.float32)


def smooth_normals(points: F64, weld: I32) -> F64:
    """Return normals that run on over every edge but folds.

    Parameters
    ----------
    points : (F, 3, 3) float64
        Corners of the faces, any unit.
    weld : (F, 3) int32
        Corner to place.

    Returns
    -------
    (F, 3, 3) float64
        Unit vectors. At each place faces that are joined through edges count by their angles.
        A face without area takes the normal of another at its place.
    """
    face = _unit(np.cross(points[:, 1] - points[:, 0], points[:, 2] - points[:, 0]))
    smooth = components(_joined_corners(face, weld), weld.size)
    weighted = np.repeat(face, 3, axis=0) * corner_angles(points).reshape(-1, 1)
    total = _unit(_sums(weighted, smooth, int(smooth.max(initial=-1)) + 1))[smooth]
    whole = total.any(axis=1)
    place = weld.ravel()
    spare = np.tile([0.0, 1.0, 0.0], (int(weld.max(initial=-1)) + 1, 1))
    spare[place[whole][::-1]] = total[whole][::-1]  # the first at each place wins
    total[~whole] = spare[place[~whole]]
    return total.reshape(-1, 3, 3)


def _joined_corners(face_normal: F64, weld: I32) -> I64:
    """Pairs of corners (P, 2), as 3 * face + corner, across every edge that is no fold."""
    half, first = edge_groups(weld)
    edge = np.repeat(np.arange(len(first) - 1), np.diff(first))
    start, stop = half, half - half % 3 + (half + 1) % 3
    turned = weld.ravel()[start] > weld.ravel()[stop]
    low, high = np.where(turned, stop, start), np.where(turned, start, stop)
    found = [np.empty((0, 2), np.int64)]
    for step in range(1, min(_MOST_AT_EDGE, len(half))):
        same = np.flatnonzero(edge[step:] == edge[:-step])
        a, b = face_normal[half[same] // 3], face_normal[half[same + step] // 3]
        same = same[(a * b).sum(axis=1) > FOLD_COS]
        found += [np.stack([side[same], side[same + step]], axis=1) for side in (low, high)]
    return np.concatenate(found)


def corner_angles(points: F64) -> F64:
    """Angles of triangles (F, 3, 3) at their corners, rad, (F, 3); 0 by an edge of no length."""
    ahead = _unit(np.roll(points, -1, axis=1) - points)
    back = _unit(np.roll(points, 1, axis=1) - points)
    across = np.linalg.norm(np.cross(ahead, back), axis=2)
    return np.asarray(np.arctan2(across, (ahead * back).sum(axis=2)) * ahead.any(2) * back.any(2))


def _unit(vectors: F64) -> F64:
    """Vectors of length 1; those without length stay 0."""
    length = np.linalg.norm(vectors, axis=-1, keepdims=True)
    return np.asarray(np.divide(vectors, length, out=np.zeros_like(vectors), where=length > 0.0))


def _laid(vectors: F64, normal: F64) -> F64:
    """Take off what stands on the plane of the normal; what is left of rounding alone is 0."""
    flat = vectors - (vectors * normal).sum(axis=1, keepdims=True) * normal
    rest, whole = (np.linalg.norm(v, axis=1, keepdims=True) for v in (flat, vectors))
    return np.where(rest > 1e-6 * whole, flat, 0.0)


def _sums(vectors: F64, group: I32 | I64, count: int) -> F64:
    """Sum vectors (N, 3) by group: (count, 3)."""
    return np.stack([np.bincount(group, vectors[:, k], count) for k in range(3)], axis=1)
