"""Reading the maps where the picture's fragments lie.

What a pixel covers of the maps is a parallelogram. Its short side chooses the level of the pyramid,
between two of them as it lies; along its long side several reads are averaged. So slanted cloth is
neither blurred nor does its weave make moiré. Where a texel is larger than a pixel, 4 x 4 texels
are blended with the filter of Mitchell and Netravali (1988): smooth, so that texels do not show.
"""

import numpy as np

from texbake.arrays import F32, I32, I64
from texbake.view.pyramid import ACROSS, ALPHA2, CHANNELS, METAL, UP, Level, Pyramid

MOST_TAPS = 8
_LEAST_ALPHA2 = 1e-4  # roughness 0.1
_FRAGMENTS_AT_ONCE = 1 << 14


def read_maps(pyramid: Pyramid, u: F32, v: F32, steps: F32) -> F32:
    """Read all channels at points of the maps, filtered for their footprints.

    Parameters
    ----------
    pyramid : Pyramid
    u, v : (N,) float32
        (0, 0) at the bottom left.
    steps : (4, N) float32
        Change of u and of v with a pixel to the right, then with one down.

    Returns
    -------
    (8, N) float32
        Channels as in `pyramid`, but for ``ALPHA2``: it is the filtered alpha^2.
    """
    out = np.empty((CHANNELS, len(u)), np.float32)
    minor, major, along_u, along_v = footprint(pyramid.size_px, steps)
    taps = np.ceil(major / np.maximum(minor, 1.0) - 1e-3)
    taps = np.clip(taps, 1.0, float(MOST_TAPS)).astype(np.uint8)
    taps[major < 1.0] = 0
    order = np.argsort(taps, kind="stable")
    ends = np.searchsorted(taps[order], np.arange(MOST_TAPS + 2))
    for count in range(MOST_TAPS + 1):
        for start in range(int(ends[count]), int(ends[count + 1]), _FRAGMENTS_AT_ONCE):
            at = order[start : min(start + _FRAGMENTS_AT_ONCE, int(ends[count + 1]))]
            if count == 0:
                out[:, at] = _smooth(pyramid, u[at], v[at])
                continue
            level = np.log2(np.maximum(np.maximum(minor[at], major[at] / MOST_TAPS), 1.0))
            axis = along_u[at], along_v[at]
            out[:, at] = _along(pyramid, (u[at], v[at]), axis, level, count)
    _settle(out)
    return out


def footprint(size_px: tuple[int, int], steps: F32) -> tuple[F32, F32, F32, F32]:
    """Short and long side of what a pixel covers, in texels of level 0, and the long side in UV.

    The sides are those of the ellipse that a round pixel becomes: the singular values of the
    matrix of steps. (N,) float32 each.
    """
    wide, high = (float(k) for k in size_px)
    a, b = steps[0] * wide, steps[2] * wide
    c, d = steps[1] * high, steps[3] * high
    uu, vv, uv = a * a + b * b, c * c + d * d, a * c + b * d
    mean = (uu + vv) * 0.5
    half = (uu - vv) * 0.5
    spread = np.sqrt(half * half + uv * uv)
    major = np.sqrt(mean + spread)
    minor = np.abs(a * d - b * c) / np.maximum(major, 1e-12)
    x = np.where(half >= 0.0, spread + half, uv)
    y = np.where(half >= 0.0, uv, spread - half)
    length = np.sqrt(x * x + y * y)
    flat = length < 1e-12
    scale_by = major / np.where(flat, 1.0, length)
    x = np.where(flat, major, x * scale_by) / wide
    y = np.where(flat, 0.0, y * scale_by) / high
    return minor, major, x, y


def _along(
    pyramid: Pyramid, place: tuple[F32, F32], axis: tuple[F32, F32], level: F32, count: int
) -> F32:
    """Mean of several reads along the long side. (8, N)."""
    total = np.zeros((CHANNELS, len(level)), np.float32)
    for k in range(count):
        share = (k + 0.5) / count - 0.5
        _add_between(pyramid, place[0] + axis[0] * share, place[1] + axis[1] * share, level, total)
    total *= 1.0 / count
    return total


def _add_between(pyramid: Pyramid, u: F32, v: F32, level: F32, total: F32) -> None:
    """Add a read between two levels to ``total``."""
    top = len(pyramid.levels) - 1
    within = np.clip(level - float(pyramid.base), 0.0, float(top))
    lower = np.minimum(within.astype(np.int32), max(top - 1, 0))
    share = within - lower
    for step, weight in ((0, 1.0 - share), (min(1, top), share)):
        column, row, x, y = _cells(pyramid.levels, lower + step, u, v)
        _add_bilinear(pyramid, lower + step, (column, row), (x, y), weight, total)


def _table(levels: tuple[Level, ...]) -> I64:
    """Start, columns, rows, origin x and y, whole columns and rows of all levels. (7, L)."""
    rows = [(one.start, *one.size, *one.origin, *one.whole) for one in levels]
    return np.array(rows, np.int64).T


def _cells(levels: tuple[Level, ...], number: I32, u: F32, v: F32) -> tuple[F32, F32, F32, F32]:
    """Texel left of and above each point, counted in the window, and the share to the next."""
    table = _table(levels).astype(np.float32)
    _, _, _, left, top, wide, high = np.take(table, number, axis=1)
    x, y = u * wide, (1.0 - v) * high
    x -= left
    y -= top
    x -= 0.5
    y -= 0.5
    column, row = np.floor(x), np.floor(y)
    return column, row, x - column, y - row


def _add_bilinear(
    pyramid: Pyramid,
    number: I32,
    cell: tuple[F32, F32],
    share: tuple[F32, F32],
    weight: F32,
    total: F32,
) -> None:
    """Add the blend of 2 x 2 texels, times ``weight``, to ``total``."""
    start, wide, high = np.take(_table(pyramid.levels)[:3], number, axis=1)
    x, y = share
    rows = [_bounded(cell[1] + step, high) * wide + start for step in (0.0, 1.0)]
    columns = [_bounded(cell[0] + step, wide) for step in (0.0, 1.0)]
    for row, down in zip(rows, (1.0 - y, y), strict=True):
        for column, across in zip(columns, (1.0 - x, x), strict=True):
            _add(pyramid.texels, row + column, across * down * weight, total)


def _bounded(value: F32, size: I64) -> I64:
    """Cell numbers, kept within 0 and size - 1."""
    return np.minimum(np.maximum(value, 0.0).astype(np.int64), size - 1)


def _add(texels: F32, at: I64, weight: F32, total: F32) -> None:
    """Add texels, times ``weight`` (N,), to ``total`` (8, N)."""
    read = np.ascontiguousarray(np.take(texels, at, axis=0).T)
    read *= weight
    total += read


def _smooth(pyramid: Pyramid, u: F32, v: F32) -> F32:
    """Blend of 4 x 4 texels of the largest level. (8, N).

    What lies between two texels is a slope between theirs, and no rougher: so alpha^2 is blended
    without the slopes' squares.
    """
    number = np.zeros(len(u), np.int32)
    column, row, x, y = _cells(pyramid.levels, number, u, v)
    wide, high = (np.full(len(u), k, np.int64) for k in pyramid.levels[0].size)
    across, down = _mitchell(x), _mitchell(y)
    columns = [_bounded(column + (k - 1.0), wide) for k in range(4)]
    total = np.zeros((CHANNELS, len(u)), np.float32)
    for k in range(4):
        base = _bounded(row + (k - 1.0), high) * wide
        for j in range(4):
            read = np.ascontiguousarray(np.take(pyramid.texels, base + columns[j], axis=0).T)
            read[ALPHA2] -= _square(read)
            read *= across[j] * down[k]
            total += read
    np.maximum(total, 0.0, out=total)
    total[ALPHA2] += _square(total)
    return total


def _mitchell(share: F32) -> tuple[F32, ...]:
    """Weights of four texels for a point between the second and the third; they sum to 1.

    Mitchell and Netravali 1988, B = C = 1/3.
    """
    weights = []
    for offset in (-1.0, 0.0, 1.0, 2.0):
        d = np.abs(share - offset)
        if offset in (0.0, 1.0):
            weights.append((7.0 / 6.0 * d - 2.0) * d * d + 8.0 / 9.0)
        else:
            weights.append(((-7.0 / 18.0 * d + 2.0) * d - 10.0 / 3.0) * d + 16.0 / 9.0)
    return tuple(weights)


def _settle(out: F32) -> None:
    """Take the square of the mean slope off alpha^2 + slope^2, and keep all in range."""
    alpha2 = out[ALPHA2]
    alpha2 -= _square(out)
    np.clip(alpha2, _LEAST_ALPHA2, 1.0, out=alpha2)
    np.clip(out[METAL:], 0.0, 1.0, out=out[METAL:])


def _square(read: F32) -> F32:
    """Square of the slope, (N,)."""
    square: F32 = read[ACROSS] * read[ACROSS]
    square += read[UP] * read[UP]
    return square
