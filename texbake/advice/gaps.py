"""How far islands are apart, exactly, and which mip levels that keeps clean.

Borders are segments. They are cut into short pieces, the pieces' middles go into a tree, and only
segments whose pieces come close are measured, end to segment. So the distances are those of the
outlines themselves (on the raster's grid, 2**-8 of a texel or finer), not of the texels.

How much is enough follows from filtering. A bilinear read at mip level k blends four texels of that
level whose centres lie within 2**k of the point, and each is the mean of 2**k by 2**k texels: it
sees 1.5 * 2**k texels to each side. Between two islands each texel repeats the nearer, so each owns
half of the gap: the read is clean if the gap has 3 * 2**k texels. (Where two corners lie
crosswise, the corner itself then still sees up to 0.8 % of the other island: measured.)
"""

from dataclasses import dataclass

import numpy as np

from texbake.arrays import F64, I32, I64, bands
from texbake.garment.values import Garment
from texbake.layout.border import border
from texbake.layout.raster import snap

PER_LEVEL = 3
POINTS = 1024  # pieces looked up at once
_SLACK = 1e-6  # texels: corners lie on the raster's grid


@dataclass(frozen=True, slots=True, kw_only=True)
class Gap:
    """Two islands, the lower first, how far they are apart, and where in UV.

    Attributes
    ----------
    islands : (int, int)
    texels : float
        0 where they touch.
    uv : (float, float)
        The middle of the shortest way from one to the other.
    """

    islands: tuple[int, int]
    texels: float
    uv: tuple[float, float]


def clean_level(texels: float) -> int:
    """Return the last mip level at which a gap of so many texels keeps two islands apart.

    >>> [clean_level(t) for t in (2.9, 3, 12, 47.9, 48)]
    [-1, 0, 2, 3, 4]
    """
    level = -1
    while PER_LEVEL * 2 ** (level + 1) <= texels + _SLACK:
        level += 1
    return level


def gap_wanted(gutter_px: int) -> int:
    """Return how many texels apart islands must be for all mip levels that a gutter promises.

    >>> [gap_wanted(g) for g in (0, 1, 4, 16, 31)]
    [0, 3, 12, 48, 48]
    """
    return PER_LEVEL << (gutter_px.bit_length() - 1) if gutter_px else 0


def gaps(
    garment: Garment, size_px: int, *, within: float, apart: set[tuple[int, int]]
) -> list[Gap]:
    """Find the islands that are near each other.

    Parameters
    ----------
    garment : Garment
    size_px : int
    within : float
        Texels, > 0; if no two are so near, the nearest two.
    apart : set of (int, int)
        Islands to leave out, the lower first: those that share texels are told as such.

    Returns
    -------
    list of Gap
        Nearest first; of equals by their numbers.
    """
    snapped = snap(garment.mesh.uv, garment.panel, size_px)
    edge, owner = border(snapped, garment.island)
    line, island = edge / float(1 << snapped.bits), garment.island[owner]
    kinds, far = np.unique(island), 2.0 * size_px
    if len(kinds) * (len(kinds) - 1) // 2 <= len(apart):
        return []
    while True:
        found = _near(line, island, within, size_px, apart)
        if found or within > far:
            return found
        within *= 2.0


def _near(
    line: F64, island: I32, within: float, size_px: int, apart: set[tuple[int, int]]
) -> list[Gap]:
    """Every two islands no farther apart than ``within``."""
    best: dict[tuple[int, int], Gap] = {}
    for first, second in _candidates(line, island, within):
        distance, middle = _distance(line[first], line[second])
        low = np.minimum(island[first], island[second])
        high = np.maximum(island[first], island[second])
        order = np.lexsort((second, first, distance, high, low))
        fresh = np.diff(low[order], prepend=-1) | np.diff(high[order], prepend=-1)
        for k in order[fresh != 0]:
            pair = int(low[k]), int(high[k])
            texels, known = float(distance[k]), best.get(pair)
            if texels <= within and (known is None or texels < known.texels):
                u, v = middle[k, 0] / size_px, 1.0 - middle[k, 1] / size_px
                best[pair] = Gap(islands=pair, texels=texels, uv=(float(u), float(v)))
    kept = [gap for pair, gap in best.items() if pair not in apart]
    return sorted(kept, key=lambda gap: (gap.texels, gap.islands))


def _candidates(line: F64, island: I32, within: float) -> list[tuple[I64, I64]]:
    """Pairs of segments of two islands that may be near enough, each once, in portions."""
    from scipy.spatial import cKDTree  # heavy: only where it is used

    middle, segment, step = _pieces(line, 0.5 * within)
    tree = cKDTree(middle)
    portions = []
    for part in bands(len(middle), POINTS):
        hits = tree.query_ball_point(middle[part], within + step)
        found = [np.asarray(hit, np.int64) for hit in hits]
        count = np.array([len(hit) for hit in found])
        second = segment[np.concatenate(found)]
        first = np.repeat(segment[part], count)
        other = np.flatnonzero((first < second) & (island[first] != island[second]))
        pair = np.unique(first[other] * len(line) + second[other])
        if len(pair):
            portions.append((pair // len(line), pair % len(line)))
    return portions


def _pieces(line: F64, step: float) -> tuple[F64, I64, float]:
    """Middles of pieces no longer than ``step``, whose they are, and the longest piece."""
    way = line[:, 1] - line[:, 0]
    length = np.hypot(way[:, 0], way[:, 1])
    count = np.maximum(1, np.ceil(length / step)).astype(np.int64)
    segment = np.repeat(np.arange(len(line)), count)
    rank = np.arange(len(segment)) - np.repeat(np.cumsum(count) - count, count)
    share = (rank + 0.5) / count[segment]
    middle = line[segment, 0] + share[:, None] * way[segment]
    return middle, segment, float((length / count).max(initial=0.0))


def _distance(first: F64, second: F64) -> tuple[F64, F64]:
    """Distance (N,) of segments (N, 2, 2), and the middle (N, 2) of the shortest way.

    Of two that do not cross, one end is nearest to the other segment.
    """
    near, middle = np.full(len(first), np.inf), np.zeros((len(first), 2))
    for line, points in ((first, second), (second, first)):
        for end in (0, 1):
            foot = _foot(line, points[:, end])
            away = np.hypot(*(points[:, end] - foot).T)
            less = away < near
            near[less] = away[less]
            middle[less] = 0.5 * (points[:, end] + foot)[less]
    near[_cross(first, second)] = 0.0
    return near, middle


def _foot(line: F64, point: F64) -> F64:
    """Nearest place of each segment to a point. (N, 2)."""
    start, way = line[:, 0], line[:, 1] - line[:, 0]
    square = (way * way).sum(axis=1)
    share = ((point - start) * way).sum(axis=1)
    share = np.divide(share, square, out=np.zeros_like(share), where=square > 0).clip(0.0, 1.0)
    return np.asarray(start + share[:, None] * way)


def _cross(first: F64, second: F64) -> F64:
    """Whether segments cross inside both. (N,) bool."""
    apart = [_sides(first, second), _sides(second, first)]
    return np.asarray((apart[0] < 0) & (apart[1] < 0))


def _sides(line: F64, other: F64) -> F64:
    """Negative where the ends of ``other`` lie on either side of ``line``."""
    way = line[:, 1] - line[:, 0]
    turn = [
        way[:, 0] * (other[:, k, 1] - line[:, 0, 1]) - way[:, 1] * (other[:, k, 0] - line[:, 0, 0])
        for k in (0, 1)
    ]
    return np.asarray(np.sign(turn[0]) * np.sign(turn[1]))
