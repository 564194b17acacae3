"""Normals from the old layout's tangent frames into the new one's.

A tangent frame is the surface's normal, the direction of +U in the surface, and the side of +V.
A new layout turns +U, and may mirror the frame. The vector's part in the surface turns along, its
part along the normal stays: relief stays what it was to the cloth, and flat stays flat. Frames are
those that renderers use: means of the faces at a vertex, interpolated over the face.
"""

from dataclasses import dataclass

import numpy as np

from texbake.arrays import F32, F64, I32
from texbake.carry.sheet import Sheet
from texbake.garment.vertices import vertices_of
from texbake.layout.raster import Snapped
from texbake.layout.tables import affine


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Frames:
    """Tangent frames of a layout at one size.

    Attributes
    ----------
    tangent, normal : (F, 3, 3) float32
        From (x, y, 1) in texels; not of unit length between vertices.
    hand : (F,) float32
        +1 or -1: ``cross(normal, tangent) * hand`` is the side of +V.
    """

    tangent: F32
    normal: F32
    hand: F32


def frames(sheet: Sheet, snapped: Snapped) -> Frames:
    """Make the frames of a sheet at the size of ``snapped``; 0 for faces that it leaves out."""
    made = vertices_of(sheet.mesh, sheet.weld)
    count = len(made.corner)
    used = snapped.face
    texel = snapped.corner / float(1 << snapped.bits)
    tangent, normal = np.zeros((count, 3, 3), np.float32), np.zeros((count, 3, 3), np.float32)
    tangent[used] = affine(texel, made.tangent[made.corner[used], :3].astype(np.float64))
    normal[used] = affine(texel, made.normal[made.corner[used]].astype(np.float64))
    hand = np.ascontiguousarray(made.tangent[made.corner[:, 0], 3])
    return Frames(tangent=tangent, normal=normal, hand=hand)


def _vectors(table: F32, face: I32, x: F32, y: F32) -> F64 | F32:
    """Vectors of a table at some places, (3, N)."""
    out = np.empty((3, len(face)), np.float32)
    for k in range(3):
        np.multiply(np.take(table[:, k, 0], face), x, out=out[k])
        out[k] += np.take(table[:, k, 1], face) * y
        out[k] += np.take(table[:, k, 2], face)
    return out


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Spots:
    """Places of one layout: faces (N,) int32 and texels x, y (N,) float32."""

    face: I32
    x: F32
    y: F32


def turn(values: F32, old: Frames, at_old: Spots, new: Frames, at_new: Spots) -> None:
    """Turn vectors from old frames into new ones, in place.

    Parameters
    ----------
    values : (3, N) float32
        Red, green (up) and blue, as vectors.
    old, new : Frames
    at_old, at_new : Spots
        N places each.
    """
    normal = _vectors(new.normal, at_new.face, at_new.x, at_new.y)
    there = _vectors(old.tangent, at_old.face, at_old.x, at_old.y)
    here = _vectors(new.tangent, at_new.face, at_new.x, at_new.y)
    square = _dot(normal, normal)
    np.maximum(square, 1e-12, out=square)
    cos = _dot(there, here) - _dot(there, normal) * _dot(here, normal) / square
    cross = np.stack(
        [
            here[1] * there[2] - here[2] * there[1],
            here[2] * there[0] - here[0] * there[2],
            here[0] * there[1] - here[1] * there[0],
        ]
    )
    sin = _dot(normal, cross) / np.sqrt(square)
    length = np.hypot(cos, sin)
    lost = length < 1e-9
    length[lost], cos[lost], sin[lost] = 1.0, 1.0, 0.0
    cos /= length
    sin /= length
    hand_old, hand_new = np.take(old.hand, at_old.face), np.take(new.hand, at_new.face)
    across, up = values[0].copy(), values[1] * hand_old
    values[0] = cos * across - sin * up
    values[1] = hand_new * (sin * across + cos * up)


def _dot(a: F32, b: F32) -> F32:
    """Dot products of columns, summed in a fixed order, (N,)."""
    return np.asarray(a[0] * b[0] + a[1] * b[1] + a[2] * b[2])
