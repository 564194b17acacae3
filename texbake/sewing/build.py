"""Sew: what one chain's sewing adds to each texel near it.

Everything is a function of the distance to the chain and of the arc length along it, and every
value is the mean over the texel's footprint, taken as a box along those two directions. The cloth
across the chain and the pucker's envelope are read from running sums on a line, the wave from
another, the stitches from sums in the plane (see ``sums``), so means are exact for such boxes.

What a mean slope leaves out becomes variance: half of E[|slope|^2] - |E[slope]|^2 for each of
cloth, pucker and thread, which are taken as independent of one another, but for one thing: thread
lies where its trough is hollow, so their slopes cancel in part. Near the row the trough's slope is
c x, and the table holds E[x slope], so their covariance is known: c (E[x slope] - E[x] E[slope]).
"""

import numpy as np

from texbake.arrays import F32, I64
from texbake.cloth.lattice import channels
from texbake.layout.values import Near
from texbake.sewing.drawing import (
    ACROSS,
    ALONG,
    COVER,
    DARK,
    FIELDS,
    HEIGHT,
    SHADE,
    SQUARES,
    TILT,
)
from texbake.sewing.fold import trough_bend
from texbake.sewing.spec import SewnSpec, first_variant
from texbake.sewing.sums import Plane, line_mean, plane_mean
from texbake.sewing.values import Sewn

_TACK_ASIDE = 0.55  # of a diameter: how far beside a row the stitches lie that go back over it
_TRIM_ALPHA2 = 0.75**4  # a plain cotton: the middle of the staple cloths, see ``thread``
_TRACE = 2e-3  # thread that covers less of a texel is rounding, and has no brightness


def footprint(near: Near, footprint_mm: F32) -> tuple[F32, F32]:
    """Size of each texel across and along the chain.

    The box gets the second moment that the texel's parallelogram has in each direction, so a
    square texel is as large whichever way the chain runs through it.

    Parameters
    ----------
    near : Near
        M texels.
    footprint_mm : (M, 2, 2) float32
        Steps of one column and one row in the pattern plane, of each texel's face.

    Returns
    -------
    two of (M,) float32
        mm across, and mm of arc length along; > 0.
    """
    right, down, right_up, down_up = channels(footprint_mm.reshape(-1, 4), 4)
    sizes = []
    for x, y in (near.away, near.along):
        square = np.square(right * x + right_up * y)
        square += np.square(down * x + down_up * y)
        sizes.append(np.sqrt(square, out=square))
    return sizes[0], sizes[1]


def sew(near: Near, spec: SewnSpec, footprint_away_mm: F32, footprint_along_mm: F32) -> Sewn:
    """Sew one chain onto the texels near it.

    Parameters
    ----------
    near : Near
        M texels.
    spec : SewnSpec
    footprint_away_mm, footprint_along_mm : (M,) float32
        Size of each texel across and along, mm; see ``footprint``.

    Returns
    -------
    Sewn
        Of the same M texels.
    """
    low, high = _span_across(near.distance_mm, footprint_away_mm, spec.cloth.step_mm)
    cloth = line_mean(spec.cloth, low, high, near.side)
    wave = line_mean(spec.wave, *_span_along(near.arc_mm, footprint_along_mm, spec))
    height, across, along, variance = _bend(cloth, wave)
    light = 1.0 - cloth[3]
    thread = _threads(near, spec, footprint_away_mm, footprint_along_mm)
    height += thread[HEIGHT]
    across += thread[ACROSS]
    along += thread[ALONG]
    variance += thread[SQUARES]
    np.maximum(variance, 0.0, out=variance)
    light *= 1.0 - np.minimum(thread[DARK], 1.0)
    cover = np.clip(thread[COVER], 0.0, 1.0)
    slope = near.away * across
    slope += near.along * along
    return Sewn(
        at=near.at,
        height_mm=height,
        slope=slope,
        variance=variance,
        occlusion=light,
        cover=cover,
        shade=_shade(thread[SHADE], thread[COVER]),
        thread=spec.thread,
        alpha2=spec.alpha2,
        metal=spec.metal,
    )


def trim(near: Near, spec: SewnSpec, footprint_away_mm: F32) -> Sewn | None:
    """Lay the cloth of a binding or a piping over that beside the chain; see ``sew``.

    It comes before what is sewn through it. Its shape is the chain's: see ``fold``.

    Returns
    -------
    Sewn or None
        None where there is none.
    """
    share = trim_share(near, spec, footprint_away_mm)
    hit = np.flatnonzero(share)
    if not hit.size:
        return None
    none = np.zeros(hit.size, np.float32)
    return Sewn(
        at=near.at[hit],
        height_mm=none,
        slope=np.zeros((2, hit.size), np.float32),
        variance=none,
        occlusion=np.ones_like(none),
        cover=share[hit],
        shade=np.ones_like(none),
        thread=spec.trim,
        alpha2=_TRIM_ALPHA2,
        metal=0.0,
    )


def has_trim(spec: SewnSpec) -> bool:
    """Whether a binding, a piping or a band covers some of the cloth."""
    return any(side.trim_mm for side in spec.across)


def trim_share(near: Near, spec: SewnSpec, footprint_away_mm: F32) -> F32:
    """Share of each texel that a binding, a piping or a band covers, (M,) float32; see ``sew``."""
    wide = np.array([side.trim_mm for side in spec.across], np.float32)[near.side]
    low, high = _span_across(near.distance_mm, footprint_away_mm, spec.cloth.step_mm)
    share: F32 = np.clip((np.minimum(high, wide) - low) / (high - low), 0.0, 1.0)
    return share


def _span_across(distance_mm: F32, size_mm: F32, least_mm: float) -> tuple[F32, F32]:
    """The texel's part of its own side of the chain: low and high distance."""
    half = np.maximum(size_mm, least_mm)
    half *= 0.5
    return np.maximum(distance_mm - half, 0.0), distance_mm + half


def _span_along(arc_mm: F32, size_mm: F32, spec: SewnSpec) -> tuple[F32, F32]:
    """The texel's part of the chain: low and high arc length; an open chain stops at its ends."""
    half = np.maximum(size_mm, spec.wave.step_mm)
    half *= 0.5
    low, high = arc_mm - half, arc_mm + half
    if not spec.closed:
        np.clip(low, 0.0, spec.length_mm - spec.wave.step_mm, out=low)
        np.clip(high, spec.wave.step_mm, spec.length_mm, out=high)
    return low, high


def _bend(cloth: F32, wave: F32) -> tuple[F32, F32, F32, F32]:
    """Height, slope across and along, and lost variance of the bent and puckered cloth."""
    height, across, square, _, swell, rise, swell2, rise2 = cloth
    lift, run, lift2, run2 = wave
    variance = square - across * across
    variance += rise2 * lift2 - np.square(rise * lift)
    variance += swell2 * run2 - np.square(swell * run)
    variance *= 0.5
    return height + swell * lift, across + rise * lift, swell * run, variance


def _threads(near: Near, spec: SewnSpec, away_mm: F32, along_mm: F32) -> F32:
    """Means of the stitches' fields, all rows together, slope squares turned to variance."""
    out = np.zeros((FIELDS, near.at.size), np.float32)
    table = spec.table
    if table is None:
        return out
    cell_mm = 2.0 * table.half_mm / (table.sums.shape[1] - 1)
    low, high = _span_across(near.distance_mm, away_mm, cell_mm)
    for side in (0, 1):
        for row, offset in enumerate(spec.across[side].lines_mm):
            touched = (near.side == side) & (high > offset - table.half_mm)
            touched &= low < offset + table.half_mm
            pick = np.flatnonzero(touched)
            if pick.size:
                span = low.take(pick) - offset, high.take(pick) - offset
                mean = _row(near, spec, table, row, pick, span, along_mm.take(pick))
                _add(out, pick, mean)
                _tack(near, spec, table, row, pick, span, along_mm, out)
    return out


def _tack(
    near: Near,
    spec: SewnSpec,
    table: Plane,
    row: int,
    pick: I64,
    span: tuple[F32, F32],
    along_mm: F32,
    out: F32,
) -> None:
    """Add the stitches that go back over a row's ends and secure them, to ``out`` in place.

    They fall between the first ones and lie beside them.
    """
    if not spec.tacked:
        return
    whole = min(spec.tacked, spec.stitches)
    far = (whole + 1) * spec.stitch_mm
    arc = near.arc_mm.take(pick)
    for turn, start, end in (
        (spec.turns[0], 0.0, far),
        (spec.turns[1], spec.length_mm - far, spec.length_mm),
    ):
        if turn:  # the row goes on round a corner
            continue
        some = np.flatnonzero((arc >= start) & (arc <= end))
        if some.size:
            at = pick.take(some)
            own = span[0].take(some), span[1].take(some)
            ends = (0.5, whole + 0.5) if start == 0.0 else (-whole - 0.5, -0.5)
            _add(out, at, _row(near, spec, table, row, at, own, along_mm.take(at), ends))


def _add(out: F32, at: I64, mean: F32) -> None:
    """Add to some columns, row by row: all at once takes three times as long."""
    for field, values in zip(out, mean, strict=True):
        field[at] += values


def _row(
    near: Near,
    spec: SewnSpec,
    table: Plane,
    row: int,
    pick: I64,
    across_mm: tuple[F32, F32],
    along_mm: F32,
    back: tuple[float, float] | None = None,
) -> F32:
    """Means of one row's fields over the texels ``pick``: (FIELDS, len(pick)) float32.

    ``back``: where stitches that go back begin and end, counted from an end of the chain.
    """
    size = np.maximum(along_mm, spec.stitch_mm / table.cells)
    arc = _arc_beyond(near, spec, pick)
    if any(spec.turns):
        arc, size = _between_corners(spec, row, arc, size)
    shift = first_variant(spec, row)
    low, high = (_stitch_at(arc + sign * size, spec) for sign in (-0.5, 0.5))
    away, run = near.away.take(pick, axis=1), near.along.take(pick, axis=1)
    right = away[0] * run[1] >= away[1] * run[0]  # the table's x grows to the chain's right
    if spec.turn:
        right = np.full_like(right, spec.turn > 0)
    x_low = np.where(right, across_mm[0], -across_mm[1])
    x_high = np.where(right, across_mm[1], -across_mm[0])
    if back:
        x_low -= _TACK_ASIDE * spec.diameter_mm
        x_high -= _TACK_ASIDE * spec.diameter_mm
        first = 0 if back[0] > 0.0 else spec.stitches
        mean = plane_mean(table, (low + (shift + 0.5), high + (shift + 0.5)), (x_low, x_high))
        mean *= _share_on(low, high, first + back[0], first + back[1])
    else:
        mean = plane_mean(table, (low + shift, high + shift), (x_low, x_high))
    if not spec.closed:
        mean *= _share_on(low, high, 0.0, spec.stitches)
    mean[SQUARES] -= np.square(mean[ACROSS]) + np.square(mean[ALONG])
    mean[SQUARES] *= 0.5
    if spec.lockstitch:  # wider stitches lie across their troughs, not along them
        mean[TILT] -= mean[ACROSS] * (0.5 * (x_low + x_high))
        mean[SQUARES] += mean[TILT] * trough_bend(spec.across[0])
    mean[ACROSS] *= np.where(right, np.float32(1.0), np.float32(-1.0))
    mean[SHADE] *= 1.0 + _tone(spec, row, low, high)
    return mean


def _between_corners(spec: SewnSpec, row: int, arc_mm: F32, size_mm: F32) -> tuple[F32, F32]:
    """Stretch a row that ends before the corners of its hem to the length of the hem."""
    start, end = (turn * spec.across[0].lines_mm[row] for turn in spec.turns)
    stretch = spec.length_mm / (spec.length_mm - start - end)
    return (arc_mm - start) * stretch, size_mm * stretch


def _arc_beyond(near: Near, spec: SewnSpec, pick: I64) -> F32:
    """Arc length, carried on straight past the ends of an open chain.

    There the nearest point is the end itself, and ``away`` is no longer at right angles to
    ``along``: what it has along the chain leads past the end, where no stitch is.
    """
    arc = near.arc_mm.take(pick)
    if spec.closed:
        return arc
    past = near.away[0].take(pick) * near.along[0].take(pick)
    past += near.away[1].take(pick) * near.along[1].take(pick)
    past *= near.distance_mm.take(pick)
    edge = 1e-3 * spec.stitch_mm
    ends = np.where(arc <= edge, np.minimum(past, 0.0), 0.0)
    ends += np.where(arc >= spec.length_mm - edge, np.maximum(past, 0.0), 0.0)
    arc += ends
    return arc


def _stitch_at(arc_mm: F32, spec: SewnSpec) -> F32:
    """Place along the chain in stitches: needle holes, uneven as they are, at whole numbers."""
    turns = np.zeros_like(arc_mm)
    if spec.closed:
        turns = np.floor(arc_mm * (1.0 / spec.length_mm))
        arc_mm = arc_mm - turns * spec.length_mm
    holes, count = spec.holes_mm, spec.stitches
    number = np.clip((arc_mm * (1.0 / spec.stitch_mm)).astype(np.int32), 0, count - 1)
    number -= (arc_mm < holes.take(number)) & (number > 0)
    number += (arc_mm >= holes.take(number + 1)) & (number < count - 1)
    start = holes.take(number)
    part = (arc_mm - start) / (holes.take(number + 1) - start)
    part += number.astype(np.float32)
    part += turns * count
    return part


def _share_on(low: F32, high: F32, start: float, end: float) -> F32:
    """Share of each box that lies between two places along an open chain."""
    on = np.minimum(high, end) - np.maximum(low, start)
    return np.clip(on / (high - low), 0.0, 1.0)


def _tone(spec: SewnSpec, row: int, low: F32, high: F32) -> F32:
    """How much brighter than usual the stitches of each box are on average."""
    return (_tone_at(spec, row, high) - _tone_at(spec, row, low)) / (high - low)


def _tone_at(spec: SewnSpec, row: int, at: F32) -> F32:
    """Running sum of the stitches' brightness up to ``at``."""
    sums = spec.tone[row]
    if spec.closed:
        at = at - np.floor(at * (1.0 / spec.stitches)) * spec.stitches  # the sum of all is 0
    part = np.clip(at, 0.0, spec.stitches)
    number = np.minimum(part.astype(np.int32), spec.stitches - 1)
    part -= number.astype(np.float32)
    first = sums.take(number)
    part *= sums.take(number + 1) - first
    part += first
    return part


def _shade(bright: F32, cover: F32) -> F32:
    """Mean brightness of what thread there is; 1 where there is none."""
    out = np.ones_like(cover)
    np.divide(bright, cover, out=out, where=cover > _TRACE)
    return out
