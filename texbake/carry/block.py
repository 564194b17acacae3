"""A piece of the old picture as one island sees it, ready to be read between its texels.

Nothing but the island's own texels counts: those whose centre lies in it. All others, also those
of its neighbours, are taken from the nearest of its own, before anything is filtered. So no read
can reach over a border, however close islands are packed, and where islands lie on each other,
each reads what is painted there.

Between texels the picture is a spline that runs through them (P. Thevenaz, T. Blu, M. Unser,
"Interpolation revisited", IEEE Trans. Medical Imaging 19(7), 2000): of order 5, which is nearer to
the ideal than windowed sinc functions of the same cost. A spline rings at hard edges, so what it
gives is kept within the sixteen texels around.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np

from texbake.arrays import F32, I64, Bool
from texbake.layout.raster import Snapped, paint

ORDER: Final = 5
# The spline's own reach, and how far its coefficients depend on texels: 0.43^16 is 1e-6.
MARGIN: Final = 3 + 16


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Block:
    """A piece of one island.

    Attributes
    ----------
    left, top : int
        Its first column and row in the old picture; may lie outside.
    coefficients : (C, h, w) float32
    low, high : (C, h, w) float32
        Least and greatest of the 4 x 4 texels around a point whose upper left neighbour this is.
    """

    left: int
    top: int
    coefficients: F32
    low: F32
    high: F32


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Box:
    """Columns and rows of the old picture, half open; may lie outside."""

    left: int
    top: int
    right: int
    bottom: int


def make_block(values: F32, covered: Bool, box: Box) -> Block:
    """Extend an island over what is not its own, and fit the spline.

    Parameters
    ----------
    values : (C, h, w) float32
        Decoded samples.
    covered : (h, w) bool
        The island's own; if nothing is, all are taken as they are.
    box : Box
        Where the piece lies.
    """
    from scipy import ndimage

    if covered.any() and not covered.all():
        row, column = ndimage.distance_transform_edt(
            ~covered, return_distances=False, return_indices=True
        )
        values = values[:, row, column]
    coefficients = np.empty_like(values)
    low, high = np.empty_like(values), np.empty_like(values)
    for k, channel in enumerate(values):
        ndimage.spline_filter(channel, order=ORDER, output=coefficients[k], mode="mirror")
        # Of four, scipy's window goes from -2 to +1; shifted, from -1 to +2.
        ndimage.minimum_filter(channel, size=4, output=low[k], mode="nearest", origin=-1)
        ndimage.maximum_filter(channel, size=4, output=high[k], mode="nearest", origin=-1)
    return Block(left=box.left, top=box.top, coefficients=coefficients, low=low, high=high)


def own_texels(snapped: Snapped, rows: I64, box: Box) -> Bool:
    """Say which texels of a box have their centre in some faces, (h, w) bool.

    Parameters
    ----------
    snapped : Snapped
    rows : (K,) int64
        Rows of ``snapped``: the faces of an island.
    box : Box
    """
    one = 1 << snapped.bits
    corner = snapped.corner[rows]
    low, high = corner.min(axis=1), corner.max(axis=1)
    start, stop = np.array([box.left, box.top]) * one, np.array([box.right, box.bottom]) * one
    near = ((low < stop) & (high > start)).all(axis=1)
    corner = corner[near] - start
    size = max(box.right - box.left, box.bottom - box.top)
    count = len(corner)
    here = Snapped(
        bits=snapped.bits,
        corner=corner,
        face=np.zeros(count, np.int32),
        turn=snapped.turn[rows][near],
    )
    face = paint(here, size, np.zeros(1, np.int32))[0]
    return np.asarray(face[: box.bottom - box.top, : box.right - box.left] >= 0)


def read(block: Block, x: F32, y: F32, count: tuple[int, int], step: F32) -> F32:
    """Read means over boxes.

    Parameters
    ----------
    block : Block
    x, y : (N,) float32
        Places in the old picture, texels; the first one's centre is (0.5, 0.5).
    count : (int, int)
        Points along the two axes of the box.
    step : (N, 2, 2) float32
        From one point to the next, as in ``Links``.

    Returns
    -------
    (C, N) float32
    """
    from texbake.carry.links import offsets

    if count == (1, 1):
        return _at(block, x, y)
    total = np.zeros((len(block.coefficients), len(x)), np.float32)
    points = offsets(count)
    for along, across in points.tolist():
        dx = along * step[:, 0, 0]
        dx += across * step[:, 1, 0]
        dy = along * step[:, 0, 1]
        dy += across * step[:, 1, 1]
        dx += x
        dy += y
        total += _at(block, dx, dy)
    total *= 1.0 / len(points)
    return total


def _at(block: Block, x: F32, y: F32) -> F32:
    """Values of all channels at some places, (C, N)."""
    from scipy.ndimage import map_coordinates

    height, width = block.low.shape[1:]
    place = np.empty((2, len(x)), np.float32)
    np.subtract(y, block.top + 0.5, out=place[0])
    np.subtract(x, block.left + 0.5, out=place[1])
    np.clip(place[0], 0.0, height - 1.0, out=place[0])
    np.clip(place[1], 0.0, width - 1.0, out=place[1])
    corner = place.astype(np.int32)
    flat = corner[0] * width + corner[1]
    out = np.empty((len(block.coefficients), len(x)), np.float32)
    for k, channel in enumerate(block.coefficients):
        map_coordinates(channel, place, order=ORDER, prefilter=False, mode="mirror", output=out[k])
        np.maximum(out[k], block.low[k].reshape(-1)[flat], out=out[k])
        np.minimum(out[k], block.high[k].reshape(-1)[flat], out=out[k])
    return out
