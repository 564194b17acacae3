"""A flat, rectangular piece of one cloth as maps: from a fabric alone, without a garment."""

import math
import os
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from texbake import cloth, compose, maps
from texbake.arrays import F64, bands
from texbake.layout import Layout, Texels
from texbake.recipe import Fabric
from texbake.recipe.finish_values import NO_FINISH

BAND_TEXELS = 262144  # as in `bake`
SHIFT = 0.37  # where on the sheets of streaks a piece that need not tile is cut


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Piece:
    """A piece of cloth: its maps, square in texels, and what they span."""

    maps: maps.MapArrays
    width_mm: float
    length_mm: float


def cut(
    fabric: Fabric,
    size_mm: tuple[float, float],
    size_px: int,
    *,
    tiling: bool = False,
    seed: int = 1,
    normal_bits: Literal[8, 16] = 8,
    start_px: tuple[int, int] = (0, 0),
    spread_px: float = 1.0,
    threads: int | None = None,
) -> Piece:
    """Bake a piece of cloth. Its dye and finish are plain: those belong to a sewn garment.

    Parameters
    ----------
    fabric : Fabric
    size_mm : (float, float)
        Width (across the grain) and length. If ``tiling``, whole in `cloth.repeat_of`'s sense.
    size_px : int
        Texels to a side: they are not square if the piece is not.
    tiling : bool
        Whatever differs from yarn to yarn comes again after ``size_mm``.
    start_px : (int, int)
        Column and row of the cloth that the first texel is: a tiling piece rolls.
    spread_px : float
        Each texel is the mean over so many texels each way: more than 1 for a picture whose pixels
        are larger than texels, lest yarns beat against them.
    threads : int, optional
        Speed only.
    """
    plain = replace(fabric, finish=NO_FINISH)
    layout = _flat(size_mm, size_px, start_px, spread_px)
    shift = np.full((1, 2), 0.0 if tiling else SHIFT, np.float32)
    worn = np.ones(1, np.bool_)
    weaver = cloth.prepare(plain, layout, worn, shift, seed, size_mm if tiling else None)
    arrays = maps.blank(
        size_px,
        height_lo_mm=0.0,
        height_hi_mm=weaver.top_mm + 1e-3,
        normal_bits=normal_bits,
        holes=cloth.has_holes(plain),
    )
    colours = cloth.colours(plain)

    def bake(rows: slice) -> None:
        texels = _texels(layout, rows)
        woven = cloth.weave(weaver, texels)
        surface = compose.compose(woven, colours, (), holes=cloth.has_holes(plain))
        maps.write_band(surface, texels, layout, arrays)

    with ThreadPoolExecutor(threads or os.cpu_count() or 1) as pool:
        jobs = [pool.submit(bake, b) for b in bands(size_px, max(1, BAND_TEXELS // size_px))]
        for job in jobs:
            job.result()
    return Piece(maps=arrays, width_mm=size_mm[0], length_mm=size_mm[1])


def _flat(
    size_mm: tuple[float, float], size_px: int, start_px: tuple[int, int], spread_px: float
) -> Layout:
    """One face that fills the square: x to the right, the grain upwards."""
    step = np.array([[size_mm[0], 0.0], [0.0, -size_mm[1]]]) / size_px
    corner: F64 = step @ np.array(start_px, np.float64) + np.array([0.0, size_mm[1]])
    none = np.zeros(0, np.int64)
    return Layout(
        size_px=size_px,
        face=np.zeros((size_px, size_px), np.int32),
        partial=none,
        to_pattern=np.concatenate([step, corner[:, None]], 1)[None].astype(np.float32),
        to_space=np.zeros((1, 3, 3), np.float32),
        footprint_mm=(spread_px * step)[None].astype(np.float32),
        frame=np.eye(2, dtype=np.float32)[None],
        texel_mm=np.full(1, math.sqrt(abs(step[0, 0] * step[1, 1])), np.float32),
        gutter_to=none,
        gutter_from=none,
    )


def _texels(layout: Layout, rows: slice) -> Texels:
    """Every texel of a band of rows; float64 first, lest the first and last rows differ by ulps."""
    size = layout.size_px
    step = layout.to_pattern[0].astype(np.float64)
    count = rows.stop - rows.start
    x = step[0, 0] * (np.arange(size) + 0.5) + step[0, 2]
    y = step[1, 1] * (np.arange(rows.start, rows.stop) + 0.5) + step[1, 2]
    return Texels(
        index=np.arange(rows.start * size, rows.stop * size),
        face=np.zeros(count * size, np.int32),
        x_mm=np.tile(x.astype(np.float32), count),
        y_mm=np.repeat(y.astype(np.float32), size),
    )
