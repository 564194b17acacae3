"""Pieces of cloth: what is flattened in one go.

Faces joined in UV are one piece; islands that a recipe made one panel are glued along the edges
they share in space, longest run first, as long as the piece can still lie flat: gluing may not
make a hole, a handle, or a closed surface. What is not glued stays a seam of the panel with itself.
"""

from dataclasses import dataclass

import numpy as np

from texbake.arrays import F64, I32, I64, Bool
from texbake.garment.edges import Edges, corner_pairs
from texbake.garment.weld import components


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Topology:
    """What some faces look like when some of their half-edges are glued.

    Attributes
    ----------
    corner : (K, 3) int64
        Corner to vertex.
    part : (K,) int64
        Connected part of each face.
    euler, loops : (N,) int64
        Euler characteristic and number of borders of each part.
    """

    corner: I64
    part: I64
    euler: I64
    loops: I64

    @property
    def handles(self) -> I64:
        """Number of handles of each part (N,)."""
        return np.asarray((2 - self.loops - self.euler) // 2)


def topology(weld: I32, faces: I64, pairs: I64) -> Topology:
    """Glue half-edges and count what comes out.

    Parameters
    ----------
    weld : (F, 3) int32
    faces : (K,) int64
        Ascending.
    pairs : (P, 2) int64
        Half-edges of these faces to glue, each at most once.
    """
    local = np.searchsorted(faces, pairs // 3) * 3 + pairs % 3
    count = len(faces)
    a, b = corner_pairs(local, weld[faces])
    corner = components(np.stack([a, b], axis=1), 3 * count)
    part = components(local // 3, count)
    parts = int(part.max(initial=-1)) + 1
    open_ = np.ones(3 * count, np.bool_)
    open_[local.ravel()] = False
    half = np.flatnonzero(open_)
    rim = np.stack([corner[half], corner[half - half % 3 + (half + 1) % 3]], axis=1)
    loop = components(rim, int(corner.max(initial=-1)) + 1)
    loop_part = part[half[np.unique(loop[rim[:, 0]], return_index=True)[1]] // 3]
    vertex_part = part[np.unique(corner, return_index=True)[1] // 3]
    edges = 3 * np.bincount(part, minlength=parts) - np.bincount(
        part[local[:, 0] // 3], minlength=parts
    )
    euler = np.bincount(vertex_part, minlength=parts) - edges + np.bincount(part, minlength=parts)
    loops = np.bincount(loop_part, minlength=parts)
    return Topology(corner=corner.reshape(-1, 3), part=part, euler=euler, loops=loops)


def glue(points_mm: F64, weld: I32, edges: Edges, island: I32, cloth: I32) -> Bool:
    """Choose the pairs of half-edges that are one and the same cloth.

    Parameters
    ----------
    points_mm : (W, 3) float64
        Welded places, mm.
    weld : (F, 3) int32
    edges : Edges
    island, cloth : (F,) int32
        Island and panel of each face; -1 for no panel.

    Returns
    -------
    (P,) bool
        Per pair of ``edges``: glued.
    """
    f, g = edges.pairs[:, 0] // 3, edges.pairs[:, 1] // 3
    kin = edges.level & (cloth[f] == cloth[g]) & (cloth[f] >= 0)
    glued = kin & edges.joined
    between = kin & (island[f] != island[g])
    for panel in np.unique(cloth[f[between]]):
        faces = np.flatnonzero(whole_faces(weld) & (cloth == panel))
        mine = np.flatnonzero(glued & (cloth[f] == panel))
        runs = _runs(points_mm, weld, edges, island, np.flatnonzero(between & (cloth[f] == panel)))
        glued[_glue_runs(weld, faces, edges.pairs, mine, runs)] = True
    return np.asarray(glued)


def whole_faces(weld: I32) -> Bool:
    """Tell which faces (F,) have three different corners in space."""
    a, b, c = weld.T
    return np.asarray((a != b) & (b != c) & (c != a))


def open_up(points_mm: F64, weld: I32, faces: I64, pairs: I64) -> Bool:
    """Cut a piece until it is a disk, along as few edges as need be.

    The faces are strung on a tree that branches out from the lowest; the edges it does not cross
    are cut, and every cut that leads nowhere is mended again (Erickson and Har-Peled, Optimally
    cutting a surface into a disk, 2004, section 3). A sphere is then cut from bottom to top.

    Parameters
    ----------
    points_mm : (W, 3) float64
        Welded places, mm.
    weld : (F, 3) int32
    faces : (K,) int64
        One connected piece, ascending.
    pairs : (P, 2) int64
        Its glued half-edges.

    Returns
    -------
    (P,) bool
        Pairs that stay glued.
    """
    shape = topology(weld, faces, pairs)
    local = np.searchsorted(faces, pairs // 3) * 3 + pairs % 3
    corner = shape.corner.ravel()
    ends = np.stack([corner[local[:, 0]], corner[_ends(local[:, 0])]], axis=1)
    place = np.empty(int(corner.max()) + 1, np.int64)
    place[corner] = weld[faces].ravel()
    if shape.loops.sum() == 0 and shape.handles.sum() == 0:
        return ~_path(points_mm[place], ends)
    cut = ~_tree(local // 3, len(faces), points_mm[weld[faces]].mean(axis=1))
    rim = np.ones(3 * len(faces), np.bool_)
    rim[local.ravel()] = False
    half = np.flatnonzero(rim)
    degree = np.bincount(np.concatenate([corner[half], corner[_ends(half)]]), minlength=len(place))
    return ~_mend(ends, cut, degree)


def _runs(points_mm: F64, weld: I32, edges: Edges, island: I32, which: I64) -> list[I64]:
    """Sort pairs between islands into connected runs of two islands, the longest first."""
    pairs = edges.pairs[which]
    swap = island[pairs[:, 0] // 3] > island[pairs[:, 1] // 3]
    pairs = np.where(swap[:, None], pairs[:, ::-1], pairs)
    groups = np.stack([island[pairs[:, 0] // 3], island[pairs[:, 1] // 3]], axis=1)
    group = np.unique(groups, axis=0, return_inverse=True)[1].ravel()
    start, end = weld.ravel()[pairs[:, 0]], weld.ravel()[_ends(pairs[:, 0])]
    count = len(points_mm)
    nodes = np.stack([start + group * count, end + group * count], axis=1)
    names, nodes = np.unique(nodes, return_inverse=True)
    run = components(nodes.reshape(-1, 2), len(names))[nodes.reshape(-1, 2)[:, 0]]
    length = np.linalg.norm(points_mm[end] - points_mm[start], axis=1)
    total = np.bincount(run, length)
    order = np.argsort(-total, kind="stable")
    return [which[run == r] for r in order if (run == r).any()]


def _glue_runs(weld: I32, faces: I64, pairs: I64, glued: I64, runs: list[I64]) -> I64:
    """Glue run after run while the panel stays flat; again, until none can be added."""
    before = _burden(topology(weld, faces, pairs[glued]))
    found = True
    while found:
        found = False
        for run in list(runs):
            trial = np.concatenate([glued, run])
            after = _burden(topology(weld, faces, pairs[trial]))
            if all(a <= b for a, b in zip(after, before, strict=True)):
                glued, before, found = trial, after, True
                runs = [other for other in runs if other is not run]
    return glued


def _burden(shape: Topology) -> tuple[int, int, int]:
    """Return holes, handles and closed parts: what gluing may not add."""
    holes = int(shape.loops.sum()) - len(shape.loops)
    closed = int((shape.loops == 0).sum())
    return holes + closed, int(shape.handles.sum()), closed


def _tree(dual: I64, count: int, middle: F64) -> Bool:
    """Tell which dual edges (P, 2) are in the tree that branches out from the lowest face."""
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import breadth_first_order

    first = int(np.lexsort((middle[:, 2], middle[:, 0], middle[:, 1]))[0])
    links = coo_array((np.ones(len(dual), np.int8), dual.T), shape=(count, count)).tocsr()
    parent = breadth_first_order(links, first, directed=False)[1]
    low, high = dual.min(axis=1), dual.max(axis=1)
    is_parent = (parent[low] == high) | (parent[high] == low)
    # Two faces may share two edges; the tree crosses one of them.
    _, once = np.unique(low * count + high, return_index=True)
    tree = np.zeros(len(dual), np.bool_)
    tree[once] = is_parent[once]
    return tree


def _mend(ends: I64, cut: Bool, degree: I64) -> Bool:
    """Take back cuts with a loose end; ``degree`` counts the border edges at each vertex."""
    cut = cut.copy()
    while True:  # each round takes the last edge of every loose branch; all rounds: ~1 ms
        total = degree + np.bincount(ends[cut].ravel(), minlength=len(degree))
        loose = cut & (total[ends] == 1).any(axis=1)
        if not loose.any():
            return cut
        cut &= ~loose


def _path(points_mm: F64, ends: I64) -> Bool:
    """Tell which edges (P, 2) lie on the shortest way from the lowest vertex to the highest.

    Edges from one straight to the other are no way: cutting a single edge opens nothing.
    """
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import dijkstra

    order = np.lexsort((points_mm[:, 2], points_mm[:, 0], points_mm[:, 1]))
    direct = np.isin(ends, order[[0, -1]]).all(axis=1)
    way = ends[~direct]
    length = np.linalg.norm(points_mm[way[:, 0]] - points_mm[way[:, 1]], axis=1)
    count = len(points_mm)
    graph = coo_array((length, way.T), shape=(count, count)).tocsr()
    before = dijkstra(graph, directed=False, indices=order[:1], return_predecessors=True)[1][0]
    on = np.zeros(count, np.int64) - 1
    vertex = int(order[-1])
    while before[vertex] >= 0:
        on[vertex] = before[vertex]
        vertex = int(before[vertex])
    across = (on[ends[:, 0]] == ends[:, 1]) | (on[ends[:, 1]] == ends[:, 0])
    one_of_each = np.zeros(len(ends), np.bool_)
    one_of_each[np.unique(np.sort(ends, axis=1), axis=0, return_index=True)[1]] = True
    return np.asarray(across & ~direct & one_of_each)


def _ends(half: I64) -> I64:
    """Return the corner at the end of each half-edge."""
    return half - half % 3 + (half + 1) % 3
