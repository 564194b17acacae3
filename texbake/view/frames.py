"""The frame at every corner of the mesh: normal, tangent, and which hand it is.

Normals are the file's. Where it has none they are means over the faces round a corner, weighted
by the angle of each face there (Thürmer and Wüthrich 1998). Faces are followed from edge to edge:
so a lining that touches its shell, back to back, keeps its own, and a fold stays sharp.

Tangents follow what the maps are baked for (and glTF 2.0 assumes, where a file has none): each
face's direction of +U, laid into the plane of the corner's normal, averaged by angle over the
corners that agree in place, UV, normal and handedness. A mirrored island is another handedness.
"""

import numpy as np

from texbake.arrays import F64, I32, I64
from texbake.garment.islands import edge_groups, uv_corners
from texbake.garment.values import Garment
from texbake.garment.weld import components
from texbake.view.values import Model

# An edge whose faces turn by more is a fold: normals are not averaged over it.
_FOLD_COS = -0.2
# A face whose height is less than this share of its length has no direction of its own.
_THIN = 1e-8
# Faces of other UV tiles have no texels in the maps.
_TILE_MARGIN = 1e-4


def model_of(garment: Garment) -> Model:
    """Gather what is drawn of a garment: all faces whose UVs lie on the maps.

    Parameters
    ----------
    garment : Garment

    Returns
    -------
    Model
        In the garment's order of faces.
    """
    mesh = garment.mesh
    inside = (mesh.uv > -_TILE_MARGIN) & (mesh.uv < 1.0 + _TILE_MARGIN)
    kept = np.flatnonzero((garment.panel >= 0) | inside.all(axis=(1, 2)))
    normals = corner_normals(garment)
    tangents = corner_tangents(garment, normals)
    return Model(
        points_mm=mesh.points_mm[mesh.faces][kept],
        normals=normals[kept].astype(np.float32),
        tangents=tangents[kept].astype(np.float32),
        uv=mesh.uv[kept],
        face=kept.astype(np.int32),
    )


def corner_normals(garment: Garment) -> F64:
    """Return unit normals per corner, the file's or made from the faces.

    Returns
    -------
    (F, 3, 3) float64
        A face without area, which no picture shows, has +Z.
    """
    mesh = garment.mesh
    if mesh.normals is not None:
        return mesh.normals
    points = mesh.points_mm[mesh.faces]
    flat = _face_normals(points)
    group = _smooth_groups(garment.weld, flat)
    weighted = flat[:, None, :] * _angles(points)[:, :, None]
    smooth = _sum_by(group, weighted.reshape(-1, 3))[group].reshape(-1, 3, 3)
    own = np.broadcast_to(flat[:, None, :], smooth.shape)
    normals = _unit(np.where(_length(smooth) > 1e-6, smooth, own))
    return np.where(_length(normals) > 0.5, normals, np.array([0.0, 0.0, 1.0]))


def corner_tangents(garment: Garment, normals: F64) -> F64:
    """Return unit tangents per corner, along +U, and their handedness.

    Parameters
    ----------
    garment : Garment
    normals : (F, 3, 3) float64
        As from ``corner_normals``.

    Returns
    -------
    (F, 3, 4) float64
        ``cross(normal, tangent) * w`` points along +V.
    """
    mesh = garment.mesh
    points = mesh.points_mm[mesh.faces]
    along, hand = _face_tangents(points, mesh.uv)
    laid = _unit(_flattened(np.broadcast_to(along[:, None, :], normals.shape), normals))
    weighted = laid * _angles(points)[:, :, None]
    group = _tangent_groups(garment, normals, hand)
    mean = _sum_by(group, weighted.reshape(-1, 3))[group].reshape(-1, 3, 3)
    mean = _flattened(mean, normals)
    tangent = _unit(np.where(_length(mean) > 1e-6, mean, laid))
    tangent = np.where(_length(tangent) > 0.5, tangent, _any_across(normals))
    sign = np.broadcast_to(hand[:, None, None], (*hand.shape, 3, 1))
    return np.concatenate([tangent, sign], axis=2)


def _face_normals(points: F64) -> F64:
    """Unit normal of each face, 0 for one without area. (F, 3) float64."""
    side = points[:, 1:] - points[:, :1]
    twice = np.cross(side[:, 0], side[:, 1])
    longest = (side * side).sum(axis=2).max(axis=1, keepdims=True)
    return _unit(np.where(_length(twice) > _THIN * longest, twice, 0.0))


def _face_tangents(points: F64, uv: F64) -> tuple[F64, F64]:
    """Direction of +U on each face (F, 3), not of unit length, and its handedness (F,)."""
    side, turn = points[:, 1:] - points[:, :1], uv[:, 1:] - uv[:, :1]
    area = turn[:, 0, 0] * turn[:, 1, 1] - turn[:, 0, 1] * turn[:, 1, 0]
    hand = np.where(area < 0.0, -1.0, 1.0)
    along = side[:, 0] * turn[:, 1, 1:] - side[:, 1] * turn[:, 0, 1:]
    return np.where(area[:, None] == 0.0, 0.0, along * hand[:, None]), hand


def _smooth_groups(weld: I32, flat: F64) -> I64:
    """Number the corners (3 F,) so that those round one smooth fan share a number."""
    sound = np.flatnonzero((flat * flat).sum(axis=1) > 0.5)  # others join what they must not
    half, first = edge_groups(weld[sound])
    half = 3 * sound[half // 3] + half % 3
    two = np.flatnonzero(np.diff(first) == 2)
    a, b = half[first[two]], half[first[two] + 1]
    place = weld.ravel()
    opposite = place[a] == place[_end(b)]
    bent = (flat[a // 3] * flat[b // 3]).sum(axis=1) < _FOLD_COS
    a, b = a[opposite & ~bent], b[opposite & ~bent]
    pairs = np.concatenate([np.stack([a, _end(b)], axis=1), np.stack([_end(a), b], axis=1)])
    return components(pairs, weld.size)


def _tangent_groups(garment: Garment, normals: F64, hand: F64) -> I64:
    """Number the corners (3 F,) that share place, UV, normal and handedness."""
    corner = uv_corners(garment.weld, garment.mesh.uv).reshape(-1, 1)
    bins = np.rint(normals.reshape(-1, 3) * 512.0)
    key = np.concatenate([corner, bins, np.repeat(hand, 3)[:, None]], axis=1)
    return np.unique(key, axis=0, return_inverse=True)[1].reshape(-1).astype(np.int64)


def _end(half: I64) -> I64:
    """Corner at the end of a half-edge ``3 * face + side``."""
    return half - half % 3 + (half + 1) % 3


def _angles(points: F64) -> F64:
    """Angle of each face at each corner, rad. (F, 3) float64."""
    ahead = _unit(np.roll(points, -1, axis=1) - points)
    behind = np.roll(-ahead, 1, axis=1)
    return np.asarray(np.arccos(np.clip((ahead * behind).sum(axis=2), -1.0, 1.0)))


def _sum_by(group: I64, vectors: F64) -> F64:
    """Sum vectors (N, 3) by group."""
    count = int(group.max(initial=-1)) + 1
    return np.stack([np.bincount(group, vectors[:, k], count) for k in range(3)], axis=1)


def _flattened(vectors: F64, normals: F64) -> F64:
    """Lay vectors into the planes of unit normals."""
    return np.asarray(vectors - (vectors * normals).sum(axis=-1, keepdims=True) * normals)


def _any_across(normals: F64) -> F64:
    """Some unit vector at right angles to each normal, for faces without a direction of U."""
    axis = np.where(np.abs(normals[..., :1]) < 0.7, [1.0, 0.0, 0.0], [0.0, 1.0, 0.0])
    return _unit(_flattened(axis, normals))


def _length(vectors: F64) -> F64:
    """Length of vectors (..., 3), kept as an axis."""
    return np.asarray(np.sqrt((vectors * vectors).sum(axis=-1, keepdims=True)))


def _unit(vectors: F64) -> F64:
    """Vectors of unit length; 0 for 0."""
    length = _length(vectors)
    return np.asarray(vectors / np.where(length > 1e-30, length, 1.0))
