"""Carries the samples of a picture, a band of new rows and a piece of an old island at a time.

The old picture is cut into squares, and those by islands. New texels of a band are sorted by the
piece that they read; each piece is decoded, extended and fitted once a band. Pieces depend on the
old layout and the sizes alone, so neither bands nor threads can change a bit.
"""

from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

import numpy as np

from texbake.arrays import F32, F64, I64, U8, U16, bands
from texbake.carry.block import MARGIN, Block, Box, make_block, own_texels, read
from texbake.carry.coding import Coding, Green, Kind, coding_of, decode, encode, lengthen
from texbake.carry.frames import Frames, Spots, frames, turn
from texbake.carry.links import widest
from texbake.carry.route import Places, Route, places

# Texels to a band. A band has some 80 bytes a texel; the fewer bands, the less often is a piece of
# the old picture made ready again.
BAND_TEXELS: Final = 1 << 22
TILE_PX: Final = 256
_MOST_REACH: Final = 48.0
_AT_ONCE: Final = 1 << 16

Report = Callable[[str, float], None]


def silent(_stage: str, _share: float) -> None:
    """Report nothing."""


@dataclass(frozen=True, slots=True, eq=False)
class _Work:
    """What all pieces of one picture share."""

    route: Route
    samples: U8 | U16
    coding: Coding
    grid: "_Grid"
    turning: tuple[Frames, Frames] | None
    out: U8 | U16


@dataclass(frozen=True, slots=True, eq=False)
class _Grid:
    """The pieces of the old picture.

    Attributes
    ----------
    rows : tuple of (K,) int64
        Rows of the snapped faces of each island.
    low, high : (I, 2) int64
        Bounds of each island, texels (x, y), half open.
    tiles : int
        Squares along a side.
    margin : int
    """

    rows: tuple[I64, ...]
    low: I64
    high: I64
    tiles: int
    margin: int


def carry_picture(
    way: Route,
    samples: U8 | U16,
    kind: Kind,
    *,
    green: Green = "up",
    threads: int = 1,
    band_texels: int = BAND_TEXELS,
    report: Report = silent,
) -> U8 | U16:
    """Carry a picture from the old layout to the new one.

    Parameters
    ----------
    way : Route
        For pictures of this size.
    samples : (H, W, C) uint8 or uint16
        H and W are ``way.old_px``; C is 1 to 4, 3 for normals.
    kind : 'colour', 'data' or 'normal'
    green : 'up' or 'down'
        Of normals; the carried ones are the same.
    threads, band_texels : int
        Speed and memory only; the picture is the same for any.
    report : callable
        Told "carry" and the share that is done.

    Returns
    -------
    (H, W, C) in the type given
        H and W are ``way.new_px``. Where ``way.face`` is -1, 0.

    Raises
    ------
    ValueError
        If the picture has another shape.
    """
    if samples.shape[:2] != (way.old_px, way.old_px) or samples.ndim != 3:
        raise ValueError(
            f"samples are {samples.shape}; the route is for {way.old_px} px, (H, W, C)"
        )
    if kind == "normal" and samples.shape[2] != 3:
        raise ValueError(f"normals have 3 channels, not {samples.shape[2]}")
    out = np.zeros((way.new_px, way.new_px, samples.shape[2]), samples.dtype)
    turning = None
    if kind == "normal":
        turning = frames(way.way.old, way.old_snapped), frames(way.way.new, way.new_snapped)
    work = _Work(way, samples, coding_of(samples, kind, green=green), _grid(way), turning, out)
    cuts = list(bands(way.new_px, max(1, band_texels // way.new_px)))
    with ThreadPoolExecutor(threads) as pool:
        for done, rows in enumerate(cuts):
            jobs = [pool.submit(_piece, work, *piece) for piece in _pieces(work, rows)]
            try:
                for k, job in enumerate(jobs):
                    job.result()
                    report("carry", (done + (k + 1) / len(jobs)) / len(cuts))
            finally:
                for job in jobs:
                    job.cancel()
    report("carry", 1.0)
    return out


def _grid(way: Route) -> _Grid:
    """Cut the old picture into pieces."""
    snapped = way.old_snapped
    island = way.way.old.island[snapped.face]
    count = int(way.way.old.island.max(initial=-1)) + 1
    order = np.argsort(island, kind="stable")
    start = np.searchsorted(island[order], np.arange(count + 1))
    one = 1 << snapped.bits
    low, high = np.zeros((count, 2), np.int64), np.zeros((count, 2), np.int64)
    if len(order):
        has = np.flatnonzero(np.diff(start))
        corner_low = snapped.corner.min(axis=1)[order]
        corner_high = snapped.corner.max(axis=1)[order]
        low[has] = np.minimum.reduceat(corner_low, start[has]) // one
        high[has] = -(-np.maximum.reduceat(corner_high, start[has]) // one)
    return _Grid(
        rows=tuple(order[a:b] for a, b in pairwise(start)),
        low=low.clip(0, way.old_px),
        high=high.clip(0, way.old_px),
        tiles=-(-way.old_px // TILE_PX),
        margin=MARGIN + int(np.ceil(min(widest(way.links), _MOST_REACH))),
    )


def _pieces(work: _Work, rows: slice) -> Iterator[tuple[int, Places]]:
    """Sort the texels of a band by the piece of the old picture that they read."""
    found = places(work.route, rows)
    grid = work.grid
    island = work.route.way.old.island[np.take(work.route.links.old_face, found.link)]
    tile = [
        np.clip(at / TILE_PX, 0.0, grid.tiles - 1.0).astype(np.int64) for at in (found.x, found.y)
    ]
    key = (island * grid.tiles + tile[1]) * grid.tiles + tile[0]
    order = np.argsort(key, kind="stable")
    key = key[order]
    start = np.flatnonzero(np.diff(key, prepend=-1, append=-1))
    for first, last in pairwise(start):
        at = order[first:last]
        piece = Places(index=found.index[at], link=found.link[at], x=found.x[at], y=found.y[at])
        yield int(key[first]), piece


def _piece(work: _Work, key: int, here: Places) -> None:
    """Carry the texels that read one piece."""
    block = _block(work, key)
    items = work.out.reshape(-1, work.out.shape[2])
    for part in bands(len(here.index), _AT_ONCE):
        some = Places(index=here.index[part], link=here.link[part], x=here.x[part], y=here.y[part])
        values = _read(work, block, some)
        if work.turning is not None:
            _turn(work, values, some)
            lengthen(values)
        items[some.index] = encode(work.coding, values)


def _block(work: _Work, key: int) -> Block:
    """Make one piece of the old picture ready."""
    grid = work.grid
    rest, column = divmod(key, grid.tiles)
    island, row = divmod(rest, grid.tiles)
    start = np.array([column, row]) * TILE_PX
    low = np.maximum(grid.low[island], start)
    high = np.maximum(np.minimum(grid.high[island], start + TILE_PX), low + 1)
    left, top = (low - grid.margin).tolist()
    right, bottom = (high + grid.margin).tolist()
    box = Box(left=left, top=top, right=right, bottom=bottom)
    last = work.route.old_px - 1
    rows = np.clip(np.arange(top, bottom), 0, last)
    columns = np.clip(np.arange(left, right), 0, last)
    codes = work.samples[rows[0] : rows[-1] + 1][rows - rows[0]][:, columns]
    covered = own_texels(work.route.old_snapped, grid.rows[island], box)
    return make_block(decode(work.coding, codes), covered, box)


def _read(work: _Work, block: Block, some: Places) -> F32:
    """Read the values of some texels, (C, N): one read for each number of points to a box."""
    table = work.route.links
    count = np.take(table.count, some.link, axis=0)
    kind = count[:, 0].astype(np.int32) * 256 + count[:, 1]
    out = np.empty((work.samples.shape[2], len(kind)), np.float32)
    for value in np.unique(kind).tolist():
        at = np.flatnonzero(kind == value)
        step = np.take(table.step, some.link[at], axis=0)
        out[:, at] = read(block, some.x[at], some.y[at], divmod(value, 256), step)
    return out


def _turn(work: _Work, values: F32, some: Places) -> None:
    """Turn normals into the new frames."""
    if work.turning is None:
        return
    old, new = work.turning
    row, column = np.divmod(some.index, work.route.new_px)
    there = Spots(face=np.take(work.route.links.old_face, some.link), x=some.x, y=some.y)
    here = Spots(
        face=work.route.face.reshape(-1)[some.index],
        x=_centres(column),
        y=_centres(row),
    )
    turn(values, old, there, new, here)


def _centres(number: I64) -> F32 | F64:
    """Centres of columns or rows, texels, float32."""
    out = number.astype(np.float32)
    out += 0.5
    return out
