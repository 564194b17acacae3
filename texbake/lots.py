"""Dye lots: colourways that differ in colours alone, baked together.

All that weaving and sewing do to colours is done to each channel by itself, with weights that no
colour changes. So the channels of several colourways can stand side by side, as if cloth and thread
had 3 C channels instead of three: everything else is then worked out once, and each albedo is, to
the bit, what it is when its colourway is baked alone.
"""

from collections.abc import Sequence
from dataclasses import replace
from typing import Final, TypeVar

import numpy as np

from texbake.arrays import F32, U8, U16
from texbake.bake import BAND_TEXELS, render
from texbake.hands import sheet
from texbake.maps import MapArrays
from texbake.prepared import Prepared, Report, silent
from texbake.sewing.details import DetailSpec
from texbake.sewing.spec import SewnSpec
from texbake.sewing.strips import StripSpec

MOST: Final = 16  # of one lot: what colourways share is then a small part of each
MOST_BYTES: Final = 1 << 28  # that the albedos of one lot may take: 256 MiB
_SHARE: Final = 4  # colourways whose channels take as much memory as all else in a band

_Sewing = TypeVar("_Sewing", SewnSpec, DetailSpec)


def lot_size(size_px: int) -> int:
    """Return how many colourways to bake together at most."""
    return max(1, min(MOST, MOST_BYTES // (3 * size_px * size_px)))


def render_lot(
    ready: Sequence[Prepared], *, threads: int | None = None, report: Report = silent
) -> tuple[MapArrays, tuple[U8 | U16, ...]]:
    """Bake colourways that differ in colours alone.

    Parameters
    ----------
    ready : sequence of Prepared
        Of one garment, each redressed from the first; at least one.
    threads : int, optional
        All cores if not given. The bytes are the same for any.
    report : callable
        Told the share done.

    Returns
    -------
    maps : MapArrays
        Of the first.
    albedos : tuple of (H, W, 3) uint8 or uint16
        Of the others. All their other maps are those of the first.
    """
    first = ready[0]
    shape = (first.recipe.size_px, first.recipe.size_px, 3)
    deep = first.recipe.delivery.depths(first.recipe.normal_bits)["albedo"] == 16
    albedos = tuple(sheet(shape, np.uint16 if deep else np.uint8) for _ in ready[1:])
    arrays = render(
        side_by_side(ready),
        first.recipe,
        threads=threads,
        band_texels=BAND_TEXELS * _SHARE // (_SHARE + len(ready)),
        report=report,
        more=albedos,
    )
    return arrays, albedos


def side_by_side(ready: Sequence[Prepared]) -> Prepared:
    """Return the first of several colourways, with the channels of all."""
    first = ready[0]
    if len(ready) == 1:
        return first
    dyed = zip(*(one.finishing.colours for one in ready), strict=True)
    colours = tuple(_wide(own) for own in dyed)
    return replace(
        first,
        specs=tuple(map(_chain, zip(*(one.specs for one in ready), strict=True))),
        details=tuple(map(_thread, zip(*(one.details for one in ready), strict=True))),
        strips=tuple(map(_strip, zip(*(one.strips for one in ready), strict=True))),
        finishing=replace(first.finishing, colours=colours),
    )


def _wide(colours: Sequence[F32]) -> F32:
    """Put channels side by side, the last axis."""
    out: F32 = np.concatenate(colours, axis=-1)
    return out


def _chain(own: Sequence[SewnSpec]) -> SewnSpec:
    """Thread and trim of one chain."""
    return replace(_thread(own), trim=_wide([spec.trim for spec in own]))


def _thread(own: Sequence[_Sewing]) -> _Sewing:
    """Thread of one chain or detail."""
    return replace(own[0], thread=_wide([spec.thread for spec in own]))


def _strip(own: Sequence[StripSpec | None]) -> StripSpec | None:
    """Colours of one chain's binding or band."""
    there = [strip for strip in own if strip is not None]
    return replace(there[0], colours=_wide([s.colours for s in there])) if there else None
