"""Fibres without order: what felt, pile and brushed cloth are made of.

A fibre is a bent row of points on a periodic sheet; thousands are laid at once, and at each cell
the highest is seen. Each is a few cells wide with a round top, so that it has slopes of its own.
"""

import math
from dataclasses import dataclass, replace

import numpy as np

from texbake.arrays import F32, I64
from texbake.cloth.noise import noise2
from texbake.cloth.tile import Relief

Grid = tuple[F32, F32]


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Lines:
    """Rows of points to be laid, lengths in mm; all (fibres, points), ``tone`` (fibres, 1)."""

    x_mm: F32
    y_mm: F32
    top_mm: F32
    tone: F32


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """A periodic grid: cells and size, rows along +y."""

    rows: int
    columns: int
    width_mm: float
    length_mm: float

    def axes(self) -> tuple[F32, F32]:
        """Centres of the cells, as shares of the period: x (rows, columns), y alike."""
        x = (np.arange(self.columns, dtype=np.float32) + 0.5) / self.columns
        y = (np.arange(self.rows, dtype=np.float32) + 0.5) / self.rows
        return tuple(np.meshgrid(x, y))  # type: ignore[return-value]


def unevenness(sheet: Sheet, waves: tuple[tuple[int, float], ...], base: int) -> F32:
    """Smooth noise, (rows, columns), zero mean; waves: how many across the sheet, how strong."""
    x, y = sheet.axes()
    out = np.zeros_like(x)
    for n, (count, amplitude) in enumerate(waves):
        along = max(1, round(count * sheet.length_mm / sheet.width_mm))
        wave = noise2(x * count, y * along, repeat=(count, along), base=base + 7 * n)
        out += amplitude * wave
    out -= out.mean()
    return out


def evened(relief: Relief, over_mm: float) -> Relief:
    """Take what is larger than ``over_mm`` (standard deviation) off height and shade.

    Blotches are what shows that a sheet repeats; fine forms, strayed a little, do not.
    """
    rows, columns = relief.height_mm.shape
    waves = np.fft.fftfreq(rows, relief.length_mm / rows)[:, None] ** 2
    waves = waves + np.fft.rfftfreq(columns, relief.width_mm / columns) ** 2
    slow = np.exp(-2.0 * (math.pi * over_mm) ** 2 * waves)  # a Gaussian's, per mm

    def blotches(values: F32) -> F32:
        return np.fft.irfft2(np.fft.rfft2(values) * slow, values.shape).astype(np.float32)

    height = relief.height_mm - blotches(relief.height_mm) + relief.height_mm.mean()
    total = relief.weights.sum(0)
    return replace(relief, height_mm=height, weights=relief.weights / blotches(total))


def bent(
    start: tuple[F32, F32], heading: F32, bend: F32, length_mm: float, points: int
) -> tuple[F32, F32]:
    """Fibres that set out from ``start`` and turn evenly by ``bend`` radians on their way.

    Parameters
    ----------
    start : two (N, 1) float32
        mm.
    heading, bend : (N, 1) float32
        rad.

    Returns
    -------
    x, y : (N, points) float32
        mm.
    """
    along = np.linspace(-0.5, 0.5, points, dtype=np.float32)[None, :]
    angle = heading + bend * along
    step = length_mm / points
    x = start[0] + np.cumsum(np.cos(angle), 1, dtype=np.float32) * step
    y = start[1] + np.cumsum(np.sin(angle), 1, dtype=np.float32) * step
    return x, y


def at(values: F32, sheet: Sheet, x_mm: F32, y_mm: F32) -> F32:
    """Value of the cell at each place."""
    rows = np.floor(y_mm * (sheet.rows / sheet.length_mm)).astype(np.int64) % sheet.rows
    columns = np.floor(x_mm * (sheet.columns / sheet.width_mm)).astype(np.int64) % sheet.columns
    out: F32 = values[rows, columns]
    return out


def lay(
    relief: Grid, sheet: Sheet, lines: Lines, half_width_mm: float, half_thick_mm: float
) -> None:
    """Lay all lines on the sheet; the highest at each cell is seen.

    ``relief`` is height (mm) and shade, (rows, columns), and is written.
    """
    height, shade = (v.reshape(-1) for v in relief)
    step = sheet.width_mm / sheet.columns, sheet.length_mm / sheet.rows
    for dx, dy, crown in _section(step, half_width_mm):
        places = _cells(lines, sheet, step, dx, dy)
        top = lines.top_mm + half_thick_mm * crown
        tone = np.broadcast_to(lines.tone * (0.72 + 0.28 * crown), places.shape)
        order = np.argsort(top, axis=None, kind="stable")  # the last written wins: the highest
        cells, tops = places.reshape(-1)[order], top.reshape(-1)[order]
        wins = tops > height[cells]
        cells = cells[wins]
        height[cells] = tops[wins]
        shade[cells] = tone.reshape(-1)[order][wins]


def _section(step: tuple[float, float], half: float) -> list[tuple[int, int, float]]:
    """Cells of a round section about a point, each with its height in [0, 1]."""
    reach = math.ceil(half / step[0]), math.ceil(half / step[1])
    out = []
    for dy in range(-reach[1], reach[1] + 1):
        for dx in range(-reach[0], reach[0] + 1):
            off2 = ((dx * step[0]) ** 2 + (dy * step[1]) ** 2) / (half * half)
            if off2 < 1.0:
                out.append((dx, dy, 1.0 - off2))
    return out


def _cells(lines: Lines, sheet: Sheet, step: tuple[float, float], dx: int, dy: int) -> I64:
    """Cells beside every point, periodic."""
    column = np.floor(lines.x_mm / step[0]).astype(np.int64) + dx
    row = np.floor(lines.y_mm / step[1]).astype(np.int64) + dy
    out: I64 = (row % sheet.rows) * sheet.columns + column % sheet.columns
    return out
