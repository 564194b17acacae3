"""Runs the stages from cloth to maps, for every texel.

Texels are done in bands of rows over threads. A band touches only its own texels and every value is
a function of the texel alone, so neither the number of threads nor the size of the bands can change
a byte.
"""

import os
from collections.abc import Iterator, Sequence

import numpy as np

from texbake import cloth, compose, finish, hands, maps
from texbake.arrays import F32, U8, U16, bands
from texbake.compose.values import Ink
from texbake.layout import Near, Texels, part_of, texels
from texbake.prepared import Prepared, Report, redress, silent
from texbake.recipe import Recipe
from texbake.sewing.band import depth_and_height_mm, sew_band
from texbake.sewing.values import Sewn, Strip

# Texels to a band, in processes and in threads. Each band has calls that cost the same however
# small it is, and threads wait for each other at every call; larger bands fall out of the cache.
# The vest at 2048 takes 0.63 s at 64 k, 0.60 at 128 k, 0.55 at 256 k and 0.64 at 512 k in two
# processes; 0.84 at 256 k and 0.79 at 512 k on two threads. Temporaries: about 40 MiB for 256 k.
BAND_TEXELS = 262144 if hands.CAN_FORK else 524288


def render(
    prepared: Prepared,
    recipe: Recipe,
    *,
    threads: int | None = None,
    band_texels: int = BAND_TEXELS,
    report: Report = silent,
    more: Sequence[U8 | U16] = (),
) -> maps.MapArrays:
    """Bake the maps of one colourway.

    Parameters
    ----------
    prepared : Prepared
    recipe : Recipe
        The colourway: cloth and sewing may differ from ``prepared.recipe``, nothing else may.
    threads, band_texels : int
        Speed only; the maps are the same for any.
    more : sequence of (H, W, 3) uint8
        Albedos of further colourways, which are written: see ``lots``; sheets.
    """
    prepared = redress(prepared, recipe)
    workers = threads or os.cpu_count() or 1
    lo, hi = height_range_mm(prepared)
    arrays = maps.blank(
        recipe.size_px,
        height_lo_mm=lo,
        height_hi_mm=hi,
        bits=recipe.delivery.depths(recipe.normal_bits),
        holes=any(cloth.has_holes(wear.fabric) for wear in prepared.wears),
        empty=hands.sheet,
        bare=False,
    )
    rows = max(1, band_texels // recipe.size_px)
    cuts = list(bands(recipe.size_px, rows))
    layout = prepared.layout
    ground = maps.blank_ground(*layout.face.shape, empty=hands.sheet)

    def turn(number: int) -> None:
        if number:
            _bake_band(prepared, cuts[number - 1], arrays, more)
        else:  # needs no band, and no band needs it
            maps.survey(layout.face, layout.gutter_to, ground)

    hands.divide(1 + len(cuts), turn, workers=workers, report=lambda share: report("bake", share))
    maps.fill(arrays, layout, threads=workers, more=more, ground=ground, sheets=True)
    return arrays


def height_range_mm(prepared: Prepared) -> tuple[float, float]:
    """Bounds of height known before any texel: cloth and everything that may be sewn on it."""
    top = max((wear.weaver.top_mm for wear in prepared.wears), default=0.0)
    top += prepared.finishing.high_mm
    low, high = depth_and_height_mm(prepared.specs, prepared.details)
    low, top = -2.0 * low, top + 2.0 * high + 1e-3  # two chains may meet at a corner
    bent = prepared.creases
    return (low + bent.low_mm, top + bent.high_mm) if bent else (low, top)


def _bake_band(
    prepared: Prepared, rows: slice, arrays: maps.MapArrays, more: Sequence[U8 | U16]
) -> None:
    """Bake the texels of a band of rows."""
    for k, part in _by_wear(prepared, texels(prepared.layout, rows)):
        woven = cloth.weave(prepared.wears[k].weaver, part)
        marked: list[finish.Marks] = []
        sewn = list(_sewn(prepared, k, part, rows, marked))
        done = prepared.finishing.done(k, woven, part, prepared.layout, marked)
        holes = cloth.has_holes(prepared.wears[k].fabric)
        printed = _printed(prepared, part)
        colours = prepared.finishing.colours[k]
        surface = compose.compose(done, colours, sewn, inks=printed, holes=holes)
        maps.write_band(surface, part, prepared.layout, arrays)
        for number, image in enumerate(more, 1):
            maps.write_albedo(surface.albedo[3 * number : 3 * number + 3], part, image)


def _printed(prepared: Prepared, band: Texels) -> Sequence[Ink]:
    """Inks on texels."""
    if not prepared.prints:
        return ()
    from texbake.carry.prints import inks

    return inks(prepared.prints, band)


def _by_wear(prepared: Prepared, band: Texels) -> Iterator[tuple[int, Texels]]:
    """Texels sorted by the fabric that they wear."""
    if band.run is None:
        raise ValueError("texels of a band know their runs")
    if len(prepared.wears) == 1:
        if band.index.size:
            yield 0, band
        return
    wear = prepared.wear_of.take(band.face.take(band.run))
    length = np.diff(band.run, append=len(band.face))
    for k in range(len(prepared.wears)):
        some = np.flatnonzero(wear == k)
        if some.size == wear.size and some.size:
            yield k, band
        elif some.size:
            yield k, part_of(band, band.run[some], length[some])


def _sewn(
    prepared: Prepared, wear: int, band: Texels, rows: slice, marked: list[finish.Marks]
) -> Iterator[Sewn | Strip]:
    """What is sewn on texels and what bends them; ``marked`` gets what finishes must know of it."""

    def tell(chain: int, close: Near, sizes: tuple[F32, F32]) -> None:
        marked.extend(prepared.finishing.mark(wear, chain, close, sizes))

    chains = prepared.specs, prepared.reaches, prepared.rows
    more = prepared.details, prepared.strips
    yield from sew_band(band, rows, prepared.layout, *chains, *more, tell=tell)
    if prepared.creases is None:
        return
    from texbake import crease

    bent = crease.crease(band, prepared.creases)
    if bent:
        marked += prepared.finishing.creased(wear, bent)
        yield bent
