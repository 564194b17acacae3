"""The way at one size of the old picture and of the new: where each new texel lies in the old.

Where a face is paired, a table per face tells; texels of other faces carry their own place, found
once for all pictures of these sizes (20 bytes a texel).
"""

from dataclasses import dataclass
from typing import Final

import numpy as np

from texbake.arrays import F32, F64, I32, I64, Bool, bands
from texbake.carry.links import Links, links
from texbake.carry.nearest import Asking, nearest
from texbake.carry.sheet import Sheet, faces_at, snapped_at
from texbake.carry.way import Way, face_normals
from texbake.layout.raster import Snapped, paint, to_image
from texbake.layout.tables import affine

_PORTION: Final = 1 << 16


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Strays:
    """Texels of faces that are not paired.

    Attributes
    ----------
    index : (K,) int64
        Flat in the new picture, ascending.
    link : (K,) int32
    x, y : (K,) float32
        Place in the old picture, texels.
    """

    index: I64
    link: I32
    x: F32
    y: F32


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Places:
    """Where some new texels lie in the old picture.

    Attributes
    ----------
    index : (N,) int64
        Flat in the new picture, ascending.
    link : (N,) int32
    x, y : (N,) float32
        Texels from the top left of the old picture; the first one's centre is (0.5, 0.5).
    """

    index: I64
    link: I32
    x: F32
    y: F32


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Route:
    """The way at one size of both pictures.

    Attributes
    ----------
    way : Way
    old_px, new_px : int
        Width and height.
    face : (H, W) int32
        New face at each new texel; -1 where there is none, or nothing of the old on it.
    old_snapped, new_snapped : Snapped
    to_old : (F, 2, 3) float64
        Old texels from (column + 0.5, row + 0.5, 1) of the new picture, per paired new face.
    links : Links
        One for each new face, then those of the strays.
    strays : Strays
    missing : int
        New texels with nothing of the old on them.
    shared_old, shared_new : int
        Texels that two islands claim.
    """

    way: Way
    old_px: int
    new_px: int
    face: I32
    old_snapped: Snapped
    new_snapped: Snapped
    to_old: F64
    links: Links
    strays: Strays
    missing: int
    shared_old: int
    shared_new: int


def route(way: Way, *, old_px: int, new_px: int, threads: int = 1) -> Route:
    """Find where each new texel lies in the old picture.

    Parameters
    ----------
    way : Way
    old_px, new_px : int
        Widths of the two pictures, which are square.
    threads : int
        Speed only.
    """
    old_snapped, new_snapped = snapped_at(way.old, old_px), snapped_at(way.new, new_px)
    face, overlaps = faces_at(way.new, new_snapped, new_px)
    to_old = _to_old(way, new_snapped, old_px)
    strays, more = _strays(way, face, new_snapped, (old_px, threads))
    lost = _without(face, way.pairs.face < 0, strays.index)
    face.reshape(-1)[lost] = -1
    return Route(
        way=way,
        old_px=old_px,
        new_px=new_px,
        face=face,
        old_snapped=old_snapped,
        new_snapped=new_snapped,
        to_old=to_old,
        links=links(way.pairs.face, to_old[:, :, :2]).joined(more),
        strays=strays,
        missing=len(lost),
        shared_old=sum(paint(old_snapped, old_px, way.old.island)[1].values()),
        shared_new=sum(overlaps.values()),
    )


def corners_px(snapped: Snapped) -> F64:
    """Corners of the faces on the grid, texels, (K, 3, 2)."""
    return np.asarray(snapped.corner / float(1 << snapped.bits))


def _to_old(way: Way, new_snapped: Snapped, old_px: int) -> F64:
    """Old texels from new ones, per new face; 0 where it is not paired."""
    old_face, old_corner = way.pairs.face[new_snapped.face], way.pairs.corner[new_snapped.face]
    uv = way.old.mesh.uv[np.maximum(old_face, 0)]
    there = to_image(np.take_along_axis(uv, old_corner[:, :, None], axis=1), old_px)
    table = np.zeros((len(way.pairs.face), 2, 3))
    table[new_snapped.face] = affine(corners_px(new_snapped), there)
    table[way.pairs.face < 0] = 0.0
    return table


def _without(face: I32, unpaired: Bool, known: I64) -> I64:
    """Flat indices of texels whose face is not paired and whose place was not found."""
    if not unpaired.any():
        return np.empty(0, np.int64)
    return np.setdiff1d(_of_faces(face, unpaired), known, assume_unique=True)


def _of_faces(face: I32, chosen: Bool) -> I64:
    """Flat indices of the texels of some faces, ascending."""
    flat = face.reshape(-1)
    listed = np.append(chosen, False)  # the last one answers for -1
    parts = bands(len(flat), 1 << 22)
    return np.concatenate([np.flatnonzero(listed[flat[p]]) + p.start for p in parts])


def _strays(
    way: Way, face: I32, new_snapped: Snapped, how: tuple[int, int]
) -> tuple[Strays, Links]:
    """Look for the nearest place on the old surface for texels of faces that are not paired."""
    old_px, threads = how
    if way.on is None:
        nothing = np.empty(0, np.float32)
        empty = Strays(
            index=np.empty(0, np.int64), link=np.empty(0, np.int32), x=nothing, y=nothing
        )
        return empty, links(np.empty(0, np.int32), np.empty((0, 2, 2)))
    index = _of_faces(face, way.pairs.face < 0)
    found = nearest(
        Asking(
            on=way.on,
            index=index,
            face=face.reshape(-1)[index],
            to_space=_to_space(way.new, new_snapped),
            normal=face_normals(way.new.corners_mm),
            size_px=len(face),
            reach_mm=way.reach_mm,
        ),
        threads=threads,
    )
    kept = np.flatnonzero(found[0] >= 0)
    index, old_face, bary = index[kept], found[0][kept], found[1][kept]
    place = np.empty((2, len(index)), np.float32)
    corner = to_image(way.old.mesh.uv, old_px)
    for part in bands(len(index), _PORTION):
        at = np.einsum("nk,nkd->dn", bary[part], corner[old_face[part]])
        place[:, part] = at
    new_face = face.reshape(-1)[index]
    key = new_face.astype(np.int64) * len(way.old.usable) + old_face
    pair, link = np.unique(key, return_inverse=True)
    new_of, old_of = np.divmod(pair, len(way.old.usable))
    table = links(old_of.astype(np.int32), _jacobian(way, new_snapped, new_of, old_of, corner))
    link = (link.ravel() + len(way.pairs.face)).astype(np.int32)
    return Strays(index=index, link=link, x=place[0], y=place[1]), table


def _to_space(sheet: Sheet, snapped: Snapped) -> F64:
    """Space in mm from (column + 0.5, row + 0.5, 1), per face, (F, 3, 3)."""
    table = np.zeros((len(sheet.usable), 3, 3))
    table[snapped.face] = affine(corners_px(snapped), sheet.corners_mm[snapped.face])
    return table


def _jacobian(way: Way, snapped: Snapped, new_of: I64, old_of: I64, corner: F64) -> F64:
    """Old texels per new texel, from face to face through space, (L, 2, 2)."""
    step = _to_space(way.new, snapped)[new_of, :, :2]
    space = way.old.corners_mm[old_of]
    a, b = space[:, 1] - space[:, 0], space[:, 2] - space[:, 0]
    texel = corner[old_of]
    sides = np.stack([texel[:, 1] - texel[:, 0], texel[:, 2] - texel[:, 0]], axis=2)
    aa, ab, bb = ((p * q).sum(axis=1) for p, q in ((a, a), (a, b), (b, b)))
    whole = aa * bb - ab * ab
    share = np.divide(1.0, whole, out=np.zeros_like(whole), where=whole > 1e-12 * aa * bb)
    dual = np.stack([bb[:, None] * a - ab[:, None] * b, aa[:, None] * b - ab[:, None] * a], axis=1)
    inverse = dual * share[:, None, None]  # shares of the two sides from a step in space
    return np.asarray(sides @ inverse @ step)


def places(way: Route, rows: slice) -> Places:
    """Find where the texels of some rows lie in the old picture."""
    start, stop = rows.start * way.new_px, rows.stop * way.new_px
    flat = way.face.reshape(-1)[start:stop]
    index = np.flatnonzero(flat >= 0)
    link = flat[index].copy()
    row, column = np.divmod(index, way.new_px)
    centre_x, centre_y = column + 0.5, row + (rows.start + 0.5)
    x, y = (_affine_at(way.to_old, axis, link, centre_x, centre_y) for axis in (0, 1))
    index += start
    low, high = np.searchsorted(way.strays.index, [start, stop])
    if high > low:
        at = np.searchsorted(index, way.strays.index[low:high])
        link[at] = way.strays.link[low:high]
        x[at], y[at] = way.strays.x[low:high], way.strays.y[low:high]
    return Places(index=index, link=link, x=x, y=y)


def _affine_at(table: F64, axis: int, face: I32, x: F64, y: F64) -> F32:
    """One coordinate of an affine map per face at some places, (N,) float32.

    float64 within: on thin faces the terms are large and cancel.
    """
    out = np.take(table[:, axis, 0], face)
    out *= x
    part = np.take(table[:, axis, 1], face)
    part *= y
    out += part
    out += np.take(table[:, axis, 2], face)
    return out.astype(np.float32)
