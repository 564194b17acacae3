"""Box means that are exact at any size: tables of running sums.

A texel shows the mean of what it covers. The mean of a field over a box is the difference of its
integral at the box's two ends (four corners in the plane) over the box's size, whether the box
holds a hundredth of a stitch or a hundred stitches: so nothing here can alias, and nothing needs
a level of detail. (F. C. Crow, "Summed-area tables for texture mapping", SIGGRAPH 1984.)

Between nodes the integral is taken as linear, which says that the field is constant in a cell; a
box is never taken smaller than a cell, so that cells cannot be seen.
"""

from dataclasses import dataclass

import numpy as np

from texbake.arrays import F32, F64, I32
from texbake.cloth.lattice import between, channels, spread, towards


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Line:
    """Running sums of K fields along R lines of equal length, which start at 0.

    Attributes
    ----------
    step_mm : float
        Length of a cell.
    sums : (R, n + 1, K) float32
        Integral from 0 to each node; the first is 0. Beyond the ends a field is 0, or, where
        ``periodic``, starts again.
    periodic : bool
    """

    step_mm: float
    sums: F32
    periodic: bool = False


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Plane:
    """Running sums of K fields in the plane: periodic along, 0 beyond the ends across.

    Attributes
    ----------
    cells : int
        Cells in one unit of the coordinate along.
    period : int
        Units along after which it starts again.
    half_mm : float
        It reaches from -half_mm to half_mm across.
    sums : (period * cells + 1, m + 1, K) float32
        Integral (units along times mm) from the corner to each node.
    """

    cells: int
    period: int
    half_mm: float
    sums: F32


def line(step_mm: float, fields: F64, *, periodic: bool = False) -> Line:
    """Sum (R, K, n) fields, given at the middle of each cell, into a ``Line``."""
    sums = np.zeros((fields.shape[0], fields.shape[2] + 1, fields.shape[1]))
    np.cumsum(fields.transpose(0, 2, 1) * step_mm, axis=1, out=sums[:, 1:])
    return Line(step_mm=step_mm, sums=sums.astype(np.float32), periodic=periodic)


def plane(half_mm: float, period: int, fields: F64) -> Plane:
    """Sum (K, n, m) fields, given at the middle of each cell, into a ``Plane``."""
    count, along, across = fields.shape
    sums = np.zeros((along + 1, across + 1, count))
    area = (period / along) * (2.0 * half_mm / across)
    inner = np.cumsum(np.cumsum(fields, axis=1), axis=2)
    sums[1:, 1:] = inner.transpose(1, 2, 0) * area
    return Plane(
        cells=along // period, period=period, half_mm=half_mm, sums=sums.astype(np.float32)
    )


def line_mean(table: Line, low_mm: F32, high_mm: F32, row: I32 | None = None) -> F32:
    """Mean of every field from ``low_mm`` to ``high_mm``.

    Parameters
    ----------
    table : Line
    low_mm, high_mm : (M,) float32
        Ends of each box; ``high_mm > low_mm``.
    row : (M,) int32, optional
        Line of the table that each box reads; the first if left out.

    Returns
    -------
    (K, M) float32
    """
    total = _line_at(table, high_mm, row)
    total -= _line_at(table, low_mm, row)
    mean = channels(total, total.shape[1])
    mean /= high_mm - low_mm
    return mean


def _line_at(table: Line, at_mm: F32, row: I32 | None) -> F32:
    """Integral from 0 to ``at_mm``: (M, K) float32."""
    nodes, count = table.sums.shape[1:]
    cell = at_mm * (1.0 / table.step_mm)
    turns = None
    if table.periodic:
        turns = np.floor(cell * (1.0 / (nodes - 1)))
        cell -= turns * (nodes - 1)
    whole, cell = _cell(cell, nodes - 1)
    if row is not None:
        whole += row * nodes
    flat = table.sums.reshape(-1, count)
    at = whole.astype(np.int64)
    out = towards(flat.take(at, axis=0), flat[1:].take(at, axis=0), spread(cell, count))
    if turns is not None and turns.any():
        out += turns[:, None] * table.sums[0, -1]
    return out


def plane_mean(table: Plane, along: tuple[F32, F32], across_mm: tuple[F32, F32]) -> F32:
    """Mean of every field over boxes.

    Parameters
    ----------
    table : Plane
    along : two of (M,) float32
        Low and high end of each box along, in units of the table.
    across_mm : two of (M,) float32
        Low and high end across; what lies beyond the table counts as 0.

    Returns
    -------
    (K, M) float32
    """
    (u_low, u_high), (x_low, x_high) = along, across_mm
    total = _strip(table, along, x_high)
    total -= _strip(table, along, x_low)
    mean = channels(total, total.shape[1])
    mean /= (u_high - u_low) * (x_high - x_low)
    return mean


def _strip(table: Plane, along: tuple[F32, F32], x_mm: F32) -> F32:
    """Integral over the strip between two places along, up to ``x_mm`` across: (M, K)."""
    low, high = along
    turn_low = np.floor(low * (1.0 / table.period))
    turn_high = np.floor(high * (1.0 / table.period))
    out = _corner(table, high - turn_high * table.period, x_mm)
    out -= _corner(table, low - turn_low * table.period, x_mm)
    turn_high -= turn_low
    some = np.flatnonzero(turn_high)  # few boxes reach past the end of the table
    if some.size:
        end = np.full(some.size, table.period, np.float32)
        out[some] += turn_high[some, None] * _corner(table, end, x_mm[some])
    return out


def _corner(table: Plane, u: F32, x_mm: F32) -> F32:
    """Integral from the table's corner to (u, x): (M, K) float32."""
    rows, columns, count = table.sums.shape
    row, row_part = _cell(u * table.cells, rows - 1)
    x = (x_mm + table.half_mm) * ((columns - 1) / (2.0 * table.half_mm))
    column, column_part = _cell(x, columns - 1)
    row *= columns
    row += column
    return between(table.sums.reshape(-1, count), columns - 1, row, column_part, row_part)


def _cell(at: F32, count: int) -> tuple[I32, F32]:
    """Cell that each place lies in, and how far into it, in [0, 1]."""
    np.clip(at, 0.0, count, out=at)
    whole = np.minimum(at.astype(np.int32), count - 1)
    at -= whole.astype(np.float32)
    return whole, at
