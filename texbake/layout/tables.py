"""One row of numbers per face, from which every texel's place on the cloth follows.

On a face, pattern plane and space are affine in the texel's column and row. In float32 that form
errs by about column x 2**-24 of a texel: 0.0005 of a texel at 8192, which is 0.0002 mm at a texel
of 0.4 mm. It needs no origin per face.
"""

from dataclasses import dataclass

import numpy as np

from texbake.arrays import F32, F64, I32, I64
from texbake.garment.values import Garment
from texbake.layout.raster import Snapped
from texbake.layout.values import Layout, Texels


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Tables:
    """The per-face fields of ``Layout``, same names, same shapes."""

    to_pattern: F32
    to_space: F32
    footprint_mm: F32
    frame: F32
    texel_mm: F32


def tables(garment: Garment, snapped: Snapped) -> Tables:
    """Compute the tables of every face; zeros for faces that the raster leaves out.

    Solved on the raster's own corners, so that a texel's centre lies in its face here too, however
    thin the face. In float64, kept in float32. Sums are written out, not given to a matrix
    library, so that they round alike on every system.
    """
    corner = snapped.corner / float(1 << snapped.bits)
    points = garment.mesh.points_mm[garment.mesh.faces[snapped.face]]
    to_pattern = affine(corner, garment.pattern_mm[snapped.face])
    to_space = affine(corner, points)
    frame, area = _frame(to_pattern[:, :, :2], to_space[:, :, :2])

    def full(values: F64) -> F32:
        table = np.zeros((len(garment.panel), *values.shape[1:]), np.float32)
        table[snapped.face] = values
        return table

    return Tables(
        to_pattern=full(to_pattern),
        to_space=full(to_space),
        footprint_mm=full(to_pattern[:, :, :2]),
        frame=full(frame),
        texel_mm=full(np.sqrt(area)),
    )


def _sides(corner: F64) -> tuple[F64, F64]:
    """Two sides of each triangle, from its first corner. (F, D) each."""
    return corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0]


def affine(texel: F64, value: F64) -> F64:
    """Map from (x, y, 1) in texels to a value at the corners of triangles.

    Parameters
    ----------
    texel : (F, 3, 2) float64
        Corners of triangles that have an area.
    value : (F, 3, D) float64
        The value at each corner.

    Returns
    -------
    (F, D, 3) float64
    """
    a, b = _sides(texel)
    p, q = _sides(value)
    cross = a[:, :1] * b[:, 1:] - a[:, 1:] * b[:, :1]
    by_x = (p * b[:, 1:] - q * a[:, 1:]) / cross
    by_y = (q * a[:, :1] - p * b[:, :1]) / cross
    rest = value[:, 0] - by_x * texel[:, 0, :1] - by_y * texel[:, 0, 1:]
    return np.stack([by_x, by_y, rest], axis=2)


def _frame(pattern: F64, space: F64) -> tuple[F64, F64]:
    """Turn a pattern-plane gradient into the tangent frame; also a texel's area in space.

    With ``P`` in space and ``X`` in the pattern plane, ``P_u = a T`` and ``P_v = b T + c B``.
    Then ``dh/du = g . X_u = a gT`` and ``dh/dv = g . X_v = b gT + c gB``, solved for gT and gB.
    Columns run along +u and rows along -v; the size of a step cancels.
    """
    p_u, p_v, x_u, x_v = space[:, :, 0], -space[:, :, 1], pattern[:, :, 0], -pattern[:, :, 1]
    a = np.sqrt(_dot(p_u, p_u))
    a_inverse = _inverse(a)
    tangent = p_u * a_inverse[:, None]
    b = _dot(p_v, tangent)
    across = p_v - b[:, None] * tangent
    c = np.sqrt(_dot(across, across))
    c_inverse = _inverse(np.where(c > 1e-9 * a, c, 0.0))
    first = x_u * a_inverse[:, None]
    second = (x_v - b[:, None] * first) * c_inverse[:, None]
    first = np.where(c_inverse[:, None] > 0, first, 0.0)
    return np.stack([first, second], axis=1), a * c


def _dot(a: F64, b: F64) -> F64:
    """Dot product of rows, summed in a fixed order. (F,)."""
    return a[:, 0] * b[:, 0] + a[:, 1] * b[:, 1] + a[:, 2] * b[:, 2]


def _inverse(value: F64) -> F64:
    """Reciprocal, 0 for 0."""
    return np.where(value > 0, 1.0 / np.where(value > 0, value, 1.0), 0.0)


def texels(layout: Layout, rows: slice) -> Texels:
    """Find where the covered texels of some rows lie on their panels.

    Texels come in runs of one face along a row, so tables are read once per run.

    Parameters
    ----------
    layout : Layout
    rows : slice
        Rows of the image, step 1.

    Returns
    -------
    Texels
        In the order of the image. Independent of how rows are cut into bands.
    """
    start, stop, _ = rows.indices(layout.size_px)
    first, count, face = _runs(layout.face[start:stop])
    first += start * layout.size_px
    step, base = _along_runs(layout.to_pattern, first, face, layout.size_px)
    ramp = _ramp(count)
    index = np.repeat(first, count)
    index += ramp
    ramp32 = ramp.astype(np.float32)
    x, y = (_line(s, b, count, ramp32) for s, b in zip(step, base, strict=True))
    run = np.cumsum(count) - count
    return Texels(index=index, face=np.repeat(face, count), x_mm=x, y_mm=y, run=run)


def space_mm(layout: Layout, texels: Texels) -> F32:
    """Points in space of the texels of a band. (3, N) float32, mm."""
    start = run_starts(texels.index, texels.face, layout.size_px)
    count = np.diff(start, append=len(texels.index))
    step, base = _along_runs(
        layout.to_space, texels.index[start], texels.face[start], layout.size_px
    )
    ramp = _ramp(count).astype(np.float32)
    out = np.empty((3, len(texels.index)), np.float32)
    for axis in range(3):
        out[axis] = _line(step[axis], base[axis], count, ramp)
    return out


def _runs(face: I32) -> tuple[I64, I64, I32]:
    """Runs of one face along rows: flat index of the first, length, face. Background left out."""
    flat = face.reshape(-1)
    fresh = np.empty(len(flat), bool)
    np.not_equal(flat[1:], flat[:-1], out=fresh[1:])
    fresh[:: face.shape[1]] = True
    first = np.flatnonzero(fresh)
    count = np.diff(first, append=len(flat))
    owner = flat[first]
    kept = np.flatnonzero(owner >= 0)
    return first[kept], count[kept], owner[kept]


def run_starts(index: I64, face: I32, size_px: int) -> I64:
    """Where in a band's texels each run of one face along one row starts. int64, ascending."""
    if not len(index):
        return np.empty(0, np.int64)
    fresh = np.empty(len(index), bool)
    fresh[0] = True
    np.not_equal(face[1:], face[:-1], out=fresh[1:])
    fresh[1:] |= np.diff(index) != 1
    row = np.arange(index[0] // size_px + 1, index[-1] // size_px + 1) * size_px
    fresh[np.searchsorted(index, row)] = True
    return np.flatnonzero(fresh)


def _along_runs(table: F32, first: I64, face: I32, size_px: int) -> tuple[F32, F32]:
    """Step per column and value at the first texel of each run. (D, R) float32 each."""
    row, column = np.divmod(first, size_px)
    own = table[face].astype(np.float64)  # per run, not per texel: no sum loses digits
    base = own[:, :, 0] * (column + 0.5)[:, None] + own[:, :, 1] * (row + 0.5)[:, None]
    base += own[:, :, 2]
    return np.ascontiguousarray(own[:, :, 0].T, np.float32), base.T.astype(np.float32)


def _ramp(count: I64) -> I32:
    """0, 1, 2 ... within each run. (N,) int32."""
    before = (np.cumsum(count) - count).astype(np.int32)
    ramp = np.arange(int(count.sum()), dtype=np.int32)
    ramp -= np.repeat(before, count)
    return ramp


def _line(step: F32, base: F32, count: I64, ramp: F32) -> F32:
    """``base + step * ramp`` along each run. (N,) float32."""
    out = np.repeat(step, count)
    out *= ramp
    out += np.repeat(base, count)
    return out
