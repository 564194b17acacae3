"""What is joined in space: corners at one place share a number.

Exporters split a vertex wherever UV or normal changes, so a file's own indices fall apart at every
UV border. Distances, not rounded coordinates, decide: two points on both sides of a rounding step
are as near as any other two. Nearly all twins are equal to the bit, so those are found first, by
sorting (24,000 triangles: 3 ms), and only what is left is searched for near twins.
"""

import numpy as np

from texbake.arrays import F64, I32, I64, Bool

SHARE_OF_DIAGONAL = 1e-6
LEAST_MM = 1e-6
# So many points are compared each with each: 600 take 7 ms and 9 MB.
MOST_TRIED = 600


def weld(points_mm: F64, faces: I32, *, tolerance_mm: float | None = None) -> I32:
    """Number the corners by their place in space.

    Parameters
    ----------
    points_mm : (V, 3) float64
        Positions, mm.
    faces : (F, 3) int32
        Triangles, as indices into ``points_mm``.
    tolerance_mm : float, optional
        Points at most this far apart are one place; a chain of such points is one place too.
        By default 1e-6 of the diagonal of the box round the used points, at least 1e-6 mm.

    Returns
    -------
    (F, 3) int32
        Corner to place, numbered from 0 by first appearance. Points that no face uses have none.
    """
    if faces.size == 0:
        return np.zeros((len(faces), 3), np.int32)
    used, corner = np.unique(faces, return_inverse=True)
    points = points_mm[used]
    if tolerance_mm is None:
        diagonal = float(np.linalg.norm(points.max(axis=0) - points.min(axis=0)))
        tolerance_mm = max(SHARE_OF_DIAGONAL * diagonal, LEAST_MM)
    return first_seen(same_place(points, tolerance_mm)[corner.reshape(faces.shape)])


def same_place(points: F64, tolerance: float) -> I64:
    """Number points (N, D) so that those within ``tolerance`` of each other share a number.

    Returns
    -------
    (N,) int64
        In [0, number of places); the order is fixed but means nothing.
    """
    label, distinct = _same_bits(points)
    near = _near_pairs(distinct, tolerance)
    return label if len(near) == 0 else components(near, len(distinct))[label]


def components(pairs: I64, count: int) -> I64:
    """Number ``count`` nodes by the connected part they are in.

    Parameters
    ----------
    pairs : (P, 2) int64
        Nodes that are joined.
    count : int
        Number of nodes.

    Returns
    -------
    (count,) int64
        Numbered from 0 by the first node of each part.
    """
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import connected_components

    links = coo_array((np.ones(len(pairs), np.int8), (pairs[:, 0], pairs[:, 1])), (count, count))
    label = np.asarray(connected_components(links, directed=False)[1])
    return first_seen(label).astype(np.int64)


def first_seen(label: I64 | I32) -> I32:
    """Renumber labels of any shape from 0 in the order in which they first appear.

    >>> first_seen(np.array([7, 7, 2, 9, 2]))
    array([0, 0, 1, 2, 1], dtype=int32)
    """
    _, first, inverse = np.unique(label.ravel(), return_index=True, return_inverse=True)
    rank = np.empty(len(first), np.int32)
    rank[np.argsort(first)] = np.arange(len(first), dtype=np.int32)
    return rank[inverse.ravel()].reshape(label.shape)


def _same_bits(points: F64) -> tuple[I64, F64]:
    """Number equal rows, and give each number's row."""
    points = points + 0.0  # -0.0 becomes 0.0
    order = np.lexsort(points.T)
    ordered = points[order]
    new = np.ones(len(points), np.int64)
    new[1:] = (ordered[1:] != ordered[:-1]).any(axis=1)
    label = np.empty(len(points), np.int64)
    label[order] = np.cumsum(new) - 1
    return label, ordered[new == 1]


def _near_pairs(points: F64, tolerance: float) -> I64:
    """Return all pairs of rows at most ``tolerance`` apart: (P, 2) int64.

    On most garments few points have any other as near on each single axis, and then all pairs of
    those few are tried. Loading the tree search would take longer (0.1 s).
    """
    near = np.ones(len(points), np.bool_)
    for axis in range(points.shape[1]):
        near &= _near_on_axis(points[:, axis], tolerance)
    few = np.flatnonzero(near)
    if len(few) > MOST_TRIED:
        from scipy.spatial import cKDTree

        found = cKDTree(points[few]).query_pairs(tolerance, output_type="ndarray")
        return few[np.asarray(found, dtype=np.int64)]
    apart = points[few, None] - points[None, few]
    low, high = np.nonzero(np.triu((apart * apart).sum(axis=2) <= tolerance * tolerance, 1))
    return np.stack([few[low], few[high]], axis=1)


def _near_on_axis(value: F64, tolerance: float) -> Bool:
    """Say which values (N,) have another within ``tolerance``."""
    order = np.argsort(value, kind="stable")
    step = np.diff(value[order]) <= tolerance
    near = np.zeros(len(value), np.bool_)
    near[order[:-1]] = step
    near[order[1:]] |= step
    return near
