"""Height to normal, tile by tile.

A tile reads its texels with a margin, whatever lies there (the picture, or what its border stands
for), and writes only its own. Every value is a function of fixed neighbours alone, so neither the
size of bands nor the number of threads can change a byte, and a picture that wraps may be rolled
before or after.
"""

import math
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from texbake.arrays import F32, U8, U16, bands
from texbake.convert import border, encode
from texbake.convert.bench import Bench
from texbake.convert.kernels import RADIUS, slopes
from texbake.convert.masked import masked_slopes
from texbake.convert.mend import MEND_RADIUS, mended
from texbake.convert.smooth import smooth_radius, smoothed
from texbake.convert.stairs import stairs
from texbake.convert.values import Bits, Edge, Green, Kernel, Recast, Relief, white_of

# A tile's arrays of 4 bytes a texel should stay in the cache (2 MB here). But threads wait for each
# other between numpy's calls, so several do better with longer ones, though they leave the cache.
# Measured at 4096, 8 bits, two cores: (64, 1024) takes 0.33 s on one thread and 0.30 on two,
# (256, 1024) 0.39 and 0.23.
_TILE: Final = (64, 1024)
_TILE_OF_MANY: Final = (256, 1024)


def height_to_normal(
    height: U8 | U16 | F32,
    *,
    depth_mm: float,
    texel_mm: float,
    edge: Edge = "hold",
    kernel: Kernel = "true",
    smooth_texels: float = 0.0,
    mend: bool = False,
    alpha: NDArray[Any] | None = None,
    bits: Bits | None = 8,
    dither: bool = False,
    green: Green = "up",
    threads: int = 1,
) -> U8 | U16 | F32:
    """Turn a height map into a tangent-space normal map.

    Parameters
    ----------
    height : (H, W) uint8, uint16 or float32
        Row 0 at the top; each sample the mean height over its texel. Black is 0, white is 255,
        65535 or 1.
    depth_mm : float
        From black to white; negative turns hills into hollows.
    texel_mm : float
        The size of a texel, > 0.
    edge : 'wrap', 'mirror' or 'hold'
        What lies past the borders: the other side (a picture that tiles), the picture mirrored,
        or the slopes gone on.
    kernel : 'true', 'even' or 'short'
        See `kernels`.
    smooth_texels : float
        Standard deviation of a Gaussian over the height, 0 to 64.
    mend : bool
        Mend stair-steps, if there are levels at all; see `mend`.
    alpha : (H, W), optional
        Bool, uint8, uint16 or float32; what is under half is empty: flat in the normal map, and
        without slopes across its border.
    bits : 8, 16 or None
        None gives unit vectors.
    dither : bool
        Spread the rounding of red and green over neighbours, against bands.
    green : 'up' or 'down'
        glTF 2.0 and OpenGL have +Y up; green-down is its green turned over, to the bit.
    threads : int
        >= 1; the bytes are the same for any number.

    Returns
    -------
    (H, W, 3) uint8, uint16 or float32
        Flat is (128, 128, 255), (32768, 32768, 65535) or (0, 0, 1).

    Raises
    ------
    ValueError
        If something has another shape, type or range.
    """
    if not (texel_mm > 0.0 and math.isfinite(texel_mm) and math.isfinite(depth_mm)):
        raise ValueError(f"depth_mm {depth_mm} and texel_mm {texel_mm}: finite, texel above 0")
    covered = covered_of(alpha)
    if covered is not None and height.dtype.kind == "f" and covered.shape == height.shape:
        height = np.where(covered, height, np.float32(0.0))  # what is empty may hold anything
    relief = Relief(samples=height, covered=covered)
    recast = Recast(
        slope=depth_mm / texel_mm,
        edge=edge,
        kernel=kernel,
        smooth_texels=smooth_texels,
        mend_step=stairs(relief).step if mend else 0.0,
        bits=bits,
        dither=dither,
        green=green,
    )
    kind = {8: np.uint8, 16: np.uint16, None: np.float32}[bits]
    out: NDArray[Any] = np.empty((*relief.shape, 3), kind)
    recast_rows(relief, recast, slice(0, relief.shape[0]), out, threads=threads)
    return out


def covered_of(alpha: NDArray[Any] | None) -> NDArray[np.bool_] | None:
    """Return where alpha is half or more; None if that is everywhere, or there is no alpha."""
    if alpha is None:
        return None
    covered = alpha if alpha.dtype == np.bool_ else alpha >= 0.5 * white_of(alpha)
    return None if covered.all() else covered


def flip_green(normals: NDArray[Any]) -> NDArray[Any]:
    """Turn a normal map from one convention of green into the other, exactly.

    Parameters
    ----------
    normals : (H, W, 3) uint8, uint16 or float
        Codes, or vectors.

    Returns
    -------
    (H, W, 3) in the same type
        With green as its maximum less its value, or negated; done twice it is what it was.

    Raises
    ------
    ValueError
        If the shape or the type is another.
    """
    if normals.ndim != 3 or normals.shape[2] != 3 or normals.dtype.kind not in "uf":
        raise ValueError(f"normals are {normals.dtype} of shape {normals.shape}; (H, W, 3) codes")
    out = normals.copy()
    turn = np.invert if out.dtype.kind == "u" else np.negative
    turn(out[..., 1], out=out[..., 1])
    return out


def margin_of(recast: Recast) -> int:
    """Return how far a texel's normal looks around, texels."""
    reach = RADIUS[recast.kernel]
    if recast.smooth_texels:
        reach += smooth_radius(recast.smooth_texels)
    return reach + (MEND_RADIUS if recast.mend_step else 0)


def recast_rows(
    relief: Relief, recast: Recast, rows: slice, out: NDArray[Any], *, threads: int = 1
) -> float:
    """Write the normals of some rows.

    About 18 ns a texel on one core for 8 bits, without smoothing and mending.

    Parameters
    ----------
    relief : Relief
    recast : Recast
    rows : slice
    out : (rows, W, 3) uint8, uint16 or float32
        As ``recast.bits`` says; written.
    threads : int
        >= 1.

    Returns
    -------
    float
        The steepest slope that came out, height over length.
    """
    sides = _TILE if threads == 1 else _TILE_OF_MANY
    tiles = list(_tiles(rows, relief.shape[1], sides, margin_of(recast)))
    steepest = _each(tiles, threads, lambda tile, bench: _tile(relief, recast, tile, bench, out))
    return max(steepest)


_Tile = tuple[slice, slice, int]


def _tiles(rows: slice, width: int, sides: tuple[int, int], margin: int) -> Iterator[_Tile]:
    """Cut rows into tiles; wide margins get large tiles, so that little is done twice."""
    high, wide = (max(side, 4 * margin) if margin > 8 else side for side in sides)
    for band in bands(rows.stop - rows.start, high):
        for columns in bands(width, wide):
            yield slice(rows.start + band.start, rows.start + band.stop), columns, rows.start


def _each(tiles: list[_Tile], threads: int, work: Callable[[_Tile, Bench], float]) -> list[float]:
    """Work on all tiles, each thread with a bench of its own."""

    def some(first: int) -> list[float]:
        bench = Bench()
        return [work(tile, bench) for tile in tiles[first::threads]]

    if threads == 1 or len(tiles) == 1:
        return some(0)
    with ThreadPoolExecutor(threads) as pool:
        return [one for part in pool.map(some, range(min(threads, len(tiles)))) for one in part]


def _tile(relief: Relief, recast: Recast, tile: _Tile, bench: Bench, out: NDArray[Any]) -> float:
    """Write one tile and return the steepest slope in it."""
    rows, columns, start = tile
    vector, width = _slopes(relief, recast, rows, columns, bench)
    half = encode.half_of(recast.bits)
    encode.unit_normals(vector, recast.slope / relief.white, half, bench)
    keep = (width, RADIUS[recast.kernel])
    shape = (rows.stop - rows.start, columns.stop - columns.start)
    flattest = vector[2].reshape(-1, width)[:, keep[1] : keep[1] + shape[1]].min() / half
    place = out[rows.start - start : rows.stop - start, columns]
    if recast.bits is None:
        encode.store_vectors(vector, recast.green, keep, place)
    else:
        corner = (rows.start, columns.start - keep[1])
        codes = (
            encode.dithered(vector, half, corner, width, bench)
            if recast.dither
            else encode.rounded(vector, half, bench)
        )
        encode.store(codes, half, recast.green, keep, place)
    return math.sqrt(max(1.0 / float(flattest) ** 2 - 1.0, 0.0))


def _slopes(
    relief: Relief, recast: Recast, rows: slice, columns: slice, bench: Bench
) -> tuple[F32, int]:
    """Return the doubled slopes of a tile, flat, and the width of their rows."""
    height, covered = mended_block(relief, recast, rows, columns)
    width = height.shape[1]
    if covered is not None:
        return masked_slopes(height, covered, recast.kernel, bench), width
    return slopes(height.reshape(-1), width, recast.kernel, bench), width


def mended_block(
    relief: Relief, recast: Recast, rows: slice, columns: slice
) -> tuple[F32, NDArray[np.bool_] | None]:
    """Return the heights of a tile with the kernel's margin, mended and smoothed, and the mask."""
    margin, kernel = margin_of(recast), RADIUS[recast.kernel]
    height, covered = _with_margin(
        relief, recast.edge, _grown(rows, margin), _grown(columns, margin)
    )
    if recast.mend_step:
        height = mended(height, covered, recast.mend_step)
        covered = _within(covered, MEND_RADIUS)
    if recast.smooth_texels:
        height = smoothed(height, covered, recast.smooth_texels)
        covered = _within(covered, margin - kernel - (MEND_RADIUS if recast.mend_step else 0))
    return np.ascontiguousarray(height), covered


def _grown(part: slice, margin: int) -> slice:
    """Return a slice with a margin on both sides."""
    return slice(part.start - margin, part.stop + margin)


def _with_margin(
    relief: Relief, edge: Edge, rows: slice, columns: slice
) -> tuple[F32, NDArray[np.bool_] | None]:
    """Return heights and mask of a block that may reach past the borders."""
    high, wide = relief.shape
    if min(rows.start, columns.start) >= 0 and rows.stop <= high and columns.stop <= wide:
        covered = None if relief.covered is None else relief.covered[rows, columns]
        return relief.samples[rows, columns].astype(np.float32), covered
    down = border.line(rows.start, rows.stop, high, edge)
    along = border.line(columns.start, columns.stop, wide, edge)
    height = border.block(relief.samples, down, along)
    if relief.covered is None:
        return height, None
    return height, border.mask_block(relief.covered, down, along)


def _within(mask: NDArray[np.bool_] | None, margin: int) -> NDArray[np.bool_] | None:
    """Return a mask without a margin."""
    return None if mask is None or not margin else mask[margin:-margin, margin:-margin]
