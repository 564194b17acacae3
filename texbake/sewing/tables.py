"""The tables of one chain: its needle holes, its stitches' tones, the cloth across and along it."""

import math
from functools import lru_cache

import numpy as np

from texbake.arrays import F32, F64
from texbake.cloth.hash import hash01
from texbake.sewing import fold, pucker
from texbake.sewing.fold import Across
from texbake.sewing.sums import Line, line

UNEVEN_LENGTH = 0.03  # of a stitch length: how far a needle hole lies off its place
_RISE = 3.0  # stitches over which waves begin beside a corner
UNEVEN_TONE = 0.03  # of its brightness: how much stitches differ


def holes_mm(count: int, stitch_mm: float, seed: int) -> F64:
    """Place of each needle hole; the first at 0, the last at the chain's length."""
    number = np.arange(count + 1)
    off = UNEVEN_LENGTH * (2.0 * hash01(number, 11, seed).astype(np.float64) - 1.0)
    off[0] = off[-1] = 0.0
    return (number + off) * stitch_mm


def tone(rows: int, count: int, seed: int) -> F32:
    """Running sum of how much each stitch's brightness differs, per row."""
    out = np.zeros((rows, count + 1))
    for row in range(rows):
        off = UNEVEN_TONE * (2.0 * hash01(np.arange(count), 13 + row, seed) - 1.0)
        np.cumsum(off - off.mean(), dtype=np.float64, out=out[row, 1:])
    return out.astype(np.float32)


@lru_cache(maxsize=256)  # chains that are sewn alike, in all colourways, share one: 2 ms each
def cloth_table(across: tuple[Across, Across], *, mirrored: bool) -> Line:
    """Tell what lies across the chain, per side, out to where all is flat."""
    half = max(pucker.HALF_MM, across[0].trough_half_mm)
    rows = [_waving(side, mirrored=mirrored) for side in across]
    length = max(
        *(fold.reach_mm(side) for side in across), *(row + half for each in rows for row in each)
    )
    length = math.ceil(length / fold.STEP_MM) * fold.STEP_MM
    fields: list[F64] = []
    for side, other, waving in zip(across, across[::-1], rows, strict=True):
        if side == across[0] and fields:
            fields.append(fields[0])  # the sky takes 2 ms
            break
        still = fold.profile_fields(side, length, other if mirrored else None)
        fields.append(np.concatenate([still, _swell(waving, half, still.shape[1])]))
    table = line(fold.STEP_MM, np.stack(fields))
    table.sums.flags.writeable = False
    return table


def _swell(waving: tuple[float, ...], half_mm: float, count: int) -> F64:
    """The pucker's envelope, its slope, and the square of both: (4, count) float64."""
    nodes = pucker.envelope(waving, half_mm, np.arange(count + 1) * fold.STEP_MM)
    mean, slope = 0.5 * (nodes[1:] + nodes[:-1]), np.diff(nodes) / fold.STEP_MM
    return np.stack([mean, slope, mean * mean, slope * slope])


def _waving(side: Across, *, mirrored: bool) -> tuple[float, ...]:
    """Rows that draw the cloth in: those that are seen, and the seam itself."""
    return (0.0, *side.rows_mm) if mirrored else side.rows_mm or (side.lift_to_mm,)


def _rise(from_mm: F64, stitch_mm: float) -> F64:
    """0 up to a place, 1 from some stitches on."""
    t = np.clip(from_mm / (_RISE * stitch_mm), 0.0, 1.0)
    out: F64 = t * t * (3.0 - 2.0 * t)
    return out


def wave_table(
    holes_mm: F64,
    amplitude_mm: float,
    seed: int,
    *,
    closed: bool,
    still_mm: tuple[float, float] | None = None,
) -> Line:
    """Tell the pucker along the chain.

    ``still_mm``: up to where from its start and its end it lies still, as a row turns a corner
    there and goes on with waves of its own.
    """
    count = len(holes_mm) - 1
    length = float(holes_mm[-1])
    step = length / (count * pucker.CELLS)
    at = np.interp(np.arange(count * pucker.CELLS + 1) * step, holes_mm, np.arange(count + 1.0))
    nodes = amplitude_mm * pucker.wave(at, count, seed, closed=closed)
    if still_mm is not None:
        nodes *= _rise(at * (length / count) - still_mm[0], length / count)
        nodes *= _rise(length - still_mm[1] - at * (length / count), length / count)
    mean, slope = 0.5 * (nodes[1:] + nodes[:-1]), np.diff(nodes) / step
    fields = np.stack([mean, slope, mean * mean, slope * slope])
    return line(step, fields[None], periodic=closed)


def still_mm(side: Across, turns: tuple[float, float]) -> tuple[float, float] | None:
    """How far from its ends the pucker of a chain that turns there has none."""
    if not any(turns):
        return None
    far = max(side.lines_mm, default=0.0)
    start, end = (max(turn, 0.0) * far if turn else -math.inf for turn in turns)
    return start, end
