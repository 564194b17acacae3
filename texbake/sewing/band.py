"""Sew all that touches a band of rows of texels."""

from collections.abc import Callable, Iterator, Sequence

import numpy as np

from texbake.arrays import F32, I64
from texbake.layout import Layout, Near, Reach, Texels, near, runs_of
from texbake.sewing.build import footprint, has_trim, sew, trim, trim_share
from texbake.sewing.details import DetailSpec, sew_detail
from texbake.sewing.spec import SewnSpec
from texbake.sewing.strips import StripSpec, lay_strip
from texbake.sewing.values import Sewn, Strip

Tell = Callable[[int, Near, tuple[F32, F32]], None]


def sew_band(
    band: Texels,
    rows: slice,
    layout: Layout,
    specs: Sequence[SewnSpec],
    reaches: Sequence[Reach],
    touched: I64,
    details: Sequence[DetailSpec],
    strips: Sequence[StripSpec | None],
    *,
    tell: Tell | None = None,
) -> Iterator[Sewn | Strip]:
    """Sew every chain, then every detail.

    Parameters
    ----------
    band : Texels
        Of ``rows``.
    rows : slice
    layout : Layout
    specs, reaches : sequence of SewnSpec, sequence of Reach
        Of each chain.
    touched : (chains, 2) int64
        First and last row that each can touch.
    details : sequence of DetailSpec
    strips : sequence of StripSpec or None
        Of each chain.
    tell : callable, optional
        Told each chain's number, what of the band is near it, and the size of those texels across
        and along it, mm.

    Yields
    ------
    Sewn or Strip
        What lies on the cloth, then on what came before.
    """
    runs = runs_of(band)
    here = (touched[:, 0] < rows.stop) & (touched[:, 1] >= rows.start)
    for k in np.flatnonzero(here).tolist():
        close = near(band, reaches[k], runs=runs)
        if close.at.size:
            boxes = np.take(layout.footprint_mm, band.face[close.at], 0)
            away, along = footprint(close, boxes)
            if tell is not None:
                tell(k, close, (away, along))
            if has_trim(specs[k]):
                yield from _laid(close, band, specs[k], strips[k], away)
            yield sew(close, specs[k], away, along)
    for detail in details:
        sewn = sew_detail(band, layout.footprint_mm, detail)
        if sewn is not None:
            yield sewn


def _laid(
    close: Near, band: Texels, spec: SewnSpec, strip: StripSpec | None, away: F32
) -> Iterator[Sewn | Strip]:
    """What a chain's binding, piping or band hides."""
    if strip is None:
        laid: Sewn | Strip | None = trim(close, spec, away)
    else:
        laid = lay_strip(close, band.face[close.at], strip, trim_share(close, spec, away))
    if laid is not None:
        yield laid


def depth_and_height_mm(
    specs: Sequence[SewnSpec], details: Sequence[DetailSpec]
) -> tuple[float, float]:
    """How deep and how high one chain or detail may reach, at most."""
    low = high = 0.0
    for spec in specs:
        for side in spec.across:
            low = max(low, side.groove_mm + side.roll_mm + side.trough_mm + spec.pucker_mm)
            high = max(high, side.lift_mm + side.cord_mm + spec.diameter_mm + spec.pucker_mm)
    for detail in details:
        low, high = max(low, detail.diameter_mm), max(high, detail.diameter_mm)
    return low, high
