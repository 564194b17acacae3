"""A field of folds in space, made of small smooth humps, and what of it lies on each face.

Each node of a fold is a ridge and a wider valley beside it: humps a (1 - q / 4)^4, where q is half
the squared distance from the node in units of the hump's size along, across and out of the cloth.
The field is a function of the place in space and of nothing else, so both sides of a seam or of a
cut in UV have one height. A face is a plane, and on a plane q is a quadratic in pattern-plane mm;
so all that a texel needs is six numbers for each hump that reaches its face, and slopes are exact.

A texel shows a hump's mean: the hump with the texel's own second moments added to it, and as much
lower as it is wider. A hump is at least 1 mm wide; so only texels of many mm see less of it.

Cloth that is near in space but not along the cloth (the other leg, the lining) has no part in a
hump: its faces must hang together with the one that the node lies on.
"""

from dataclasses import dataclass, replace

import numpy as np

from texbake.arrays import F32, F64, I32, I64, Bool, bands
from texbake.crease.strokes import Nodes
from texbake.garment.closest import on_triangle
from texbake.garment.values import Garment
from texbake.layout.raster import spread
from texbake.layout.values import Layout

POWER = 4  # of a hump: smooth to the third derivative
SQUARE = POWER / (POWER + 2.0)  # second moment of a hump over that of a Gaussian of the same q
STEEPEST = 0.673  # slope of a hump at its steepest, times its size over its height
_PLAIN_SUM = 2.2987  # integral of (1 - t^2 / 8)^4: humps a step apart add to a ridge of height 1
_REACH = np.sqrt(2.0 * POWER)  # sizes from the middle to where it ends
_SIZE = 0.2  # of a fold's width: the size of its ridge across
_ALONG = 0.95  # of a step: the size of a hump along
_OUT = 4.0  # sizes across: how far out of the cloth a hump is felt
# The valley: so much wider, so deep, so far aside (in sizes of the ridge). Its volume is the
# ridge's, so a fold neither lifts nor sinks the cloth on average; the aside makes one flank steep.
_VALLEY_WIDE, _VALLEY_ASIDE = 2.2, 0.7
_VALLEY_DEEP = 1.0 / _VALLEY_WIDE
_CREST = 1.6  # ridge and valley overlap: this makes the crest as high as was asked for
_SPARE = 1.1  # of the bounds
_PORTION = 1 << 16  # places read at once
_AT_ONCE = 1 << 16  # pairs of hump and face


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Humps:
    """K humps. Unit vectors and sizes as the axes along, across and out of the cloth.

    Attributes
    ----------
    middle : (K, 3) float64
    axes : (K, 3, 3) float64
        Rows are the unit vectors.
    size_mm : (K, 3) float64
    height_mm : (K,) float64
    face : (K,) int32
    """

    middle: F64
    axes: F64
    size_mm: F64
    height_mm: F64
    face: I32


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Field:
    """The humps that reach each face, in its pattern plane.

    Attributes
    ----------
    first, count : (F,) int32
        Each face's are ``first`` to ``first + count``.
    table : (6, P) float32
        Middle (x, y) mm; the quadratic's xx, xy and yy, per mm2: 1 where the hump ends; its height,
        mm.
    steep_per_mm : float
        Slope of humps at their steepest, per mm of their height, on average.
    low_mm, high_mm : float
        Bounds of the height.
    """

    first: I32
    count: I32
    table: F32
    steep_per_mm: float
    low_mm: float
    high_mm: float


def humps(nodes: Nodes) -> Humps:
    """Turn the nodes of folds into humps: of each a ridge, then a valley."""
    across = np.cross(nodes.normal, nodes.along)
    axes = np.stack([nodes.along, across, nodes.normal], axis=1)
    size = _SIZE * nodes.width_mm
    aside = -nodes.lean * _VALLEY_ASIDE * size
    middle = nodes.point + across * aside[:, None]
    wide = np.stack([_ALONG * nodes.step_mm, size, _OUT * size], axis=1)
    share = _CREST * nodes.height_mm / (_PLAIN_SUM * _ALONG)
    return Humps(
        middle=np.concatenate([nodes.point, middle]),
        axes=np.concatenate([axes, axes]),
        size_mm=np.concatenate([wide, wide * [1.0, _VALLEY_WIDE, _VALLEY_WIDE]]),
        height_mm=np.concatenate([share, -_VALLEY_DEEP * share]),
        face=np.concatenate([nodes.face, nodes.face]),
    )


def field(garment: Garment, layout: Layout, given: Humps) -> Field:
    """Find what of a field lies on each face.

    Parameters
    ----------
    garment : Garment
    layout : Layout
        Its texels' footprints count.
    given : Humps

    Returns
    -------
    Field
    """
    corners = garment.mesh.points_mm[garment.mesh.faces]
    hump, face = _near(corners, given, layout.texel_mm)
    kept = _hanging_together(garment, given, hump, face)
    kept &= (garment.panel[face] >= 0) & (layout.texel_mm[face] > 0.0)
    hump, face = hump[kept], face[kept]
    order = np.lexsort((hump, face))
    hump, face = hump[order], face[order]
    table, reached = _on_faces(garment, layout, corners, given, hump, face)
    hump, face, table = hump[reached], face[reached], table[:, reached]
    count = np.bincount(face, minlength=len(garment.panel))
    found = Field(
        first=(np.cumsum(count) - count).astype(np.int32),
        count=count.astype(np.int32),
        table=np.ascontiguousarray(table, np.float32),
        steep_per_mm=STEEPEST / max(float(np.mean(given.size_mm[:, 1])), 1e-6),
        low_mm=0.0,
        high_mm=0.0,
    )
    return _bounded(found, face)


def _near(corners: F64, given: Humps, texel_mm: F32) -> tuple[I64, I64]:
    """Pairs of hump and face that may meet: by balls, then by the humps themselves."""
    from scipy.spatial import cKDTree

    middle = corners.mean(axis=1)
    radius = np.sqrt(np.square(corners - middle[:, None]).sum(axis=2).max(axis=1))
    spare = 2.0 * texel_mm.astype(np.float64)
    ball = _REACH * given.size_mm.max(axis=1)
    octave = np.ceil(np.log2(np.maximum(radius + spare, 1e-3))).astype(np.int64)
    parts = [(np.empty(0, np.int64), np.empty(0, np.int64))]
    for each in np.unique(octave):  # faces of one size together: a tree's balls fit them
        faces = np.flatnonzero(octave == each)
        lists = cKDTree(middle[faces]).query_ball_point(given.middle, ball + 2.0**each)
        count = np.fromiter((len(found) for found in lists), np.int64, len(lists))
        at = np.fromiter((k for found in lists for k in sorted(found)), np.int64, count.sum())
        parts.append((np.repeat(np.arange(len(lists)), count), faces[at]))
    hump, face = (np.concatenate(part) for part in zip(*parts, strict=True))
    slab = np.ones(len(hump), bool)
    for some in bands(len(hump), _AT_ONCE):  # a long hump's ball is mostly empty
        at, on = hump[some], face[some]
        off = np.abs(np.einsum("kij,kj->ki", given.axes[at], middle[on] - given.middle[at]))
        slab[some] = (off <= _REACH * given.size_mm[at] + (radius + spare)[on][:, None]).all(axis=1)
    hump, face = hump[slab], face[slab]
    close = np.zeros(len(hump), bool)
    for some in bands(len(hump), _AT_ONCE):
        at, on = hump[some], face[some]
        size = np.sqrt(np.square(given.size_mm[at]) + np.square(spare[on])[:, None])
        whiten = given.axes[at] / size[:, :, None]
        flat = np.einsum("kij,kcj->kci", whiten, corners[on] - given.middle[at][:, None])
        close[some] = on_triangle(np.zeros((len(at), 3)), flat)[1] < _REACH
    return hump[close], face[close]


def _hanging_together(garment: Garment, given: Humps, hump: I64, face: I64) -> Bool:
    """Which pairs hang together, face by face, with the face that the hump's node lies on."""
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import connected_components

    faces = len(garment.panel)
    key = hump * faces + face
    order = np.argsort(key)
    ordered = key[order]

    def find(wanted: I64) -> tuple[I64, Bool]:
        at = np.minimum(np.searchsorted(ordered, wanted), len(ordered) - 1)
        return order[at], ordered[at] == wanted

    beside = _neighbours(garment)
    links = []
    for side in range(3):
        other = beside[face, side]
        at, there = find(hump * faces + other)
        there &= other >= 0
        links.append(np.stack([np.flatnonzero(there), at[there]]))
    row, column = np.concatenate(links, axis=1)
    graph = coo_array((np.ones(len(row), np.int8), (row, column)), shape=(len(key), len(key)))
    part = connected_components(graph, directed=False)[1]
    home, known = find(np.arange(len(given.face), dtype=np.int64) * faces + given.face)
    wanted = np.where(known, part[home], -1)
    kept: Bool = part == wanted[hump]
    return kept


def _neighbours(garment: Garment) -> I64:
    """Face beyond each side, (F, 3); -1 where there is none, any one where there are several."""
    weld = garment.weld.astype(np.int64)
    ends = np.stack([weld, np.roll(weld, -1, axis=1)], axis=2).reshape(-1, 2)
    ends.sort(axis=1)
    order = np.lexsort((ends[:, 1], ends[:, 0]))
    same = (ends[order][1:] == ends[order][:-1]).all(axis=1)
    first, second = order[:-1][same], order[1:][same]
    out = np.full(len(ends), -1, np.int64)
    out[first], out[second] = second // 3, first // 3
    return out.reshape(-1, 3)


def _on_faces(
    garment: Garment, layout: Layout, corners: F64, given: Humps, hump: I64, face: I64
) -> tuple[F64, Bool]:
    """Table of humps on faces, and which of them reach their faces' planes at all."""
    jacobian = _to_space(garment.pattern_mm, corners)[face]
    inverse = given.axes[hump] / given.size_mm[hump][:, :, None]
    tilt = np.einsum("kij,kjc->kic", inverse, jacobian)
    off = np.einsum("kij,kj->ki", inverse, corners[face, 0] - given.middle[hump])
    form = np.einsum("kic,kid->kcd", tilt, tilt)  # 2 q = x' form x + 2 side x + rest
    side = np.einsum("kic,ki->kc", tilt, off)
    square = _inverse(form)
    foot = -np.einsum("kcd,kd->kc", square, side)
    rest = 0.5 * (np.square(off).sum(axis=1) + (side * foot).sum(axis=1))
    lowered = np.maximum(1.0 - rest / POWER, 1e-9)
    own = square * lowered[:, None, None]
    step = layout.footprint_mm[face].astype(np.float64)
    blurred = own + np.einsum("kic,kjc->kij", step, step) / (12.0 * SQUARE)
    height = given.height_mm[hump] * lowered**POWER
    height *= np.sqrt(_size(own) / _size(blurred))
    quadratic = _inverse(blurred) / (2.0 * POWER)
    x, y = (garment.pattern_mm[face, 0] + foot).T
    xx, xy, yy = quadratic[:, 0, 0], quadratic[:, 0, 1], quadratic[:, 1, 1]
    return np.stack([x, y, xx, xy, yy, height]), lowered > 1e-6


def _to_space(pattern: F64, corners: F64) -> F64:
    """Steps in space for one mm along x and y of the pattern plane, (F, 3, 2)."""
    flat = (pattern[:, 1:] - pattern[:, :1]).transpose(0, 2, 1)
    space = (corners[:, 1:] - corners[:, :1]).transpose(0, 2, 1)
    size = flat[:, 0, 0] * flat[:, 1, 1] - flat[:, 0, 1] * flat[:, 1, 0]
    plain = np.abs(size) > 1e-12
    flat = np.where(plain[:, None, None], flat, np.eye(2))
    out: F64 = np.einsum("fij,fjk->fik", space, _inverse(flat))
    return out


def _inverse(matrix: F64) -> F64:
    """Inverse of 2 x 2 matrices, written out so that it rounds alike on every system."""
    (a, b), (c, d) = matrix[:, 0].T, matrix[:, 1].T
    size = a * d - b * c
    out: F64 = np.stack([np.stack([d, -b], 1), np.stack([-c, a], 1)], 1) / size[:, None, None]
    return out


def _size(matrix: F64) -> F64:
    """Determinant of 2 x 2 matrices."""
    out: F64 = matrix[:, 0, 0] * matrix[:, 1, 1] - matrix[:, 0, 1] * matrix[:, 1, 0]
    return out


def read(of: Field, face: I32, length: I64, x_mm: F32, y_mm: F32) -> F32:
    """Read a field at places in the pattern plane that come in runs of one face.

    Parameters
    ----------
    of : Field
    face, length : (R,)
        Face of each run, and how many of the places it has; runs follow one another.
    x_mm, y_mm : (N,) float32

    Returns
    -------
    (3, N) float32
        Height, mm, and its slopes along x and y.
    """
    out = np.empty((3, len(x_mm)), np.float32)
    end = np.cumsum(length)
    first = 0
    while first < len(face):  # portions that stay in the cache
        last = int(np.searchsorted(end, end[first] - length[first] + _PORTION)) + 1
        part = slice(int(end[first] - length[first]), int(end[min(last, len(end)) - 1]))
        some = slice(first, last)
        _read(of, face[some], length[some], x_mm[part], y_mm[part], out[:, part])
        first = last
    return out


def _read(of: Field, face: I32, length: I64, x_mm: F32, y_mm: F32, out: F32) -> None:
    """Read one portion into ``out``, which ``read`` has made.

    Runs are sorted by how many humps reach their faces: so those that a pass still concerns come
    first, and each pass works on the head of the arrays.
    """
    order = np.argsort(-of.count[face], kind="stable")
    count, runs = of.count[face][order], length[order]
    place = spread((np.cumsum(length) - length)[order], runs)[1]
    x_all, y_all, end = x_mm[place], y_mm[place], np.cumsum(runs)
    total = np.zeros((3, len(place)), np.float32)
    start = of.first[face][order]
    for k in range(int(count[0])):  # one pass per hump of a face: 10 to 30
        deep = int(np.searchsorted(-count, -k))
        many = int(end[deep - 1])
        x, y, xx, xy, yy, height = (
            column.take(start[:deep] + k).repeat(runs[:deep]) for column in of.table
        )
        np.subtract(x_all[:many], x, out=x)
        np.subtract(y_all[:many], y, out=y)
        xx *= x
        xx += xy * y  # half the quadratic's slope along x
        yy *= y
        xy *= x
        yy += xy
        x *= xx
        y *= yy
        x += y
        left = np.subtract(1.0, x, out=x)
        np.maximum(left, 0.0, out=left)
        np.multiply(left, left, out=y)
        y *= left
        y *= height
        left *= y
        total[0, :many] += left
        y *= -2.0 * POWER
        xx *= y
        yy *= y
        total[1, :many] += xx
        total[2, :many] += yy
    out[:, place] = total


def _bounded(of: Field, face: I64) -> Field:
    """Bounds of a field: what it is where its humps have their middles, and a little to spare.

    Extremes lie near the middle of some hump; texels beyond are held to the bounds.
    """
    if not len(face):
        return of
    seen = read(of, face.astype(np.int32), np.ones_like(face), of.table[0], of.table[1])[0]
    low, high = float(seen.min()), float(seen.max())
    return replace(of, low_mm=_SPARE * min(low, 0.0), high_mm=_SPARE * max(high, 0.0))
