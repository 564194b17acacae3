"""From samples to fragments: what of one face lies in one pixel is shaded once.

A fragment's share of the pixel is its share of the samples, and it is shaded at their middle,
which lies on the face as triangles are convex. Inside a face that is once a pixel, at its middle.
"""

from dataclasses import dataclass

import numpy as np

from texbake.arrays import F32, F64, I32, I64, Bool


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Fragments:
    """N parts of faces in pixels.

    Attributes
    ----------
    pixel : (N,) int64
        Flat index in the band.
    face : (N,) int32
    x_px, y_px : (N,) float32
        Where it is shaded, from the picture's top left corner.
    share : (N,) float32
        Of the pixel, over 0 to 1.
    """

    pixel: I64
    face: I32
    x_px: F32
    y_px: F32
    share: F32


def fragments(owner: I32, first_row: int, shifts: tuple[float, ...]) -> Fragments:
    """Gather the samples of each face in each pixel.

    Parameters
    ----------
    owner : (R, S, W) int32
        Face of each sample, as ``spans.owners`` gives it.
    first_row : int
        Row of pixels that the band starts at.
    shifts : tuple of S floats
        x of each row of samples in the pixel.

    Returns
    -------
    Fragments
        Whole pixels first, then parts, both in the order of the picture.
    """
    rows, deep, width = owner.shape
    same: Bool = np.ones((rows, width), np.bool_)
    some = owner[:, 0] >= 0
    for k in range(1, deep):
        same &= owner[:, k] == owner[:, 0]
        some |= owner[:, k] >= 0
    whole = np.flatnonzero(same & some)
    mixed = np.flatnonzero(~same)
    parts = _parts(owner, mixed, shifts)
    pixel = np.concatenate([whole, parts.pixel])
    row, column = np.divmod(pixel, width)
    face = np.concatenate([owner[:, 0].reshape(-1)[whole], parts.face])
    middle = np.full(len(whole), 0.5, np.float32)
    return Fragments(
        pixel=pixel,
        face=face,
        x_px=column.astype(np.float32) + np.concatenate([middle, parts.x_px]),
        y_px=(row + first_row).astype(np.float32) + np.concatenate([middle, parts.y_px]),
        share=np.concatenate([np.ones_like(middle), parts.share]),
    )


def _parts(owner: I32, mixed: I64, shifts: tuple[float, ...]) -> Fragments:
    """Fragments of pixels that hold more than one face; places count from the pixel's corner."""
    _, deep, width = owner.shape
    row, column = np.divmod(mixed, width)
    face = owner[row, :, column]  # (M, S)
    order = np.argsort(face, axis=1, kind="stable")
    face = np.take_along_axis(face, order, axis=1)
    fresh = np.ones(face.shape, np.bool_)
    np.not_equal(face[:, 1:], face[:, :-1], out=fresh[:, 1:])
    start = np.flatnonzero(fresh)
    if not len(start):
        none = np.empty(0, np.float32)
        return Fragments(pixel=mixed, face=np.empty(0, np.int32), x_px=none, y_px=none, share=none)
    count = np.diff(start, append=face.size).astype(np.float64)
    x = np.add.reduceat(np.array(shifts)[order].reshape(-1), start) / count
    y = np.add.reduceat(((order + 0.5) / deep).reshape(-1), start) / count
    kept = np.flatnonzero(face.reshape(-1)[start] >= 0)
    return Fragments(
        pixel=mixed[start[kept] // deep],
        face=face.reshape(-1)[start[kept]],
        x_px=x[kept].astype(np.float32),
        y_px=y[kept].astype(np.float32),
        share=(count[kept] / deep).astype(np.float32),
    )


def resolve(parts: Fragments, colour: F32, count: int) -> tuple[F32, F32]:
    """Add up the fragments of each pixel.

    Parameters
    ----------
    parts : Fragments
    colour : (3, N) float32
    count : int
        Pixels of the band.

    Returns
    -------
    colour : (3, count) float32
        Times its share.
    cover : (count,) float32
        Share of each pixel that is covered.
    """
    weighted = colour * parts.share
    sums = [_summed(parts.pixel, channel, count) for channel in weighted]
    cover = _summed(parts.pixel, parts.share, count)
    return np.stack(sums).astype(np.float32), cover.astype(np.float32)


def _summed(pixel: I64, values: F32, count: int) -> F64:
    """Sum values by pixel, in float64, in their order."""
    return np.asarray(np.bincount(pixel, values, count), np.float64)
