"""Where rows of two hems meet: at a corner of a panel both turn round one needle hole.

Hems meet in a mitre, so a row at distance d ends d tan(angle / 2) before the corner, and as far
beyond it where the corner juts into the cloth. Its stitches are laid out between those places, not
between the corners of the cloth.
"""

import math
from collections.abc import Mapping

import numpy as np

from texbake.arrays import F64
from texbake.garment.values import Chain, Garment
from texbake.layout.mitre import MOST_RAD

_LEAST_RAD = math.radians(20.0)  # less is a bend, and arc lengths are eased there


def turns(garment: Garment, entry_of: Mapping[int, int]) -> dict[int, tuple[float, float]]:
    """Find how much earlier rows of hems start and end, per mm of their distance to the edge.

    Parameters
    ----------
    garment : Garment
    entry_of : mapping of int to int
        Chain to the entry of the recipe that it is sewn by, of each hem that is.

    Returns
    -------
    dict of int to two float
        Of each of these chains: tangents at its start and its end, negative where the corner juts
        into the cloth; 0 where no row goes on.
    """
    ways = {index: _ways(garment.chains[index]) for index in entry_of}
    starts = {_place(garment.chains[index], ways[index][0]): index for index in entry_of}
    found = {index: [0.0, 0.0] for index in entry_of}
    for index, entry in entry_of.items():
        chain = garment.chains[index]
        after = starts.get(_place(chain, ways[index][1]))
        if chain.closed or after is None or after == index or entry_of[after] != entry:
            continue
        angle = _angle(garment, chain, ways[index][1][1], ways[after][0][1])
        if abs(angle) > _LEAST_RAD and angle > -MOST_RAD:
            found[index][1] = found[after][0] = math.tan(0.5 * angle)
    return {index: (start, end) for index, (start, end) in found.items()}


def _ways(chain: Chain) -> tuple[tuple[F64, F64], tuple[F64, F64]]:
    """Place and direction of a hem's start and of its end, in the pattern plane."""
    sides = chain.pattern_mm[0]
    sides = sides[(sides[:, 0] != sides[:, 1]).any(axis=1)]
    first, last = sides[0], sides[-1]
    return (first[0], first[1] - first[0]), (last[1], last[1] - last[0])


def _place(chain: Chain, way: tuple[F64, F64]) -> tuple[int, float, float]:
    """Name of a point of a panel."""
    return chain.panels[0], float(way[0][0]), float(way[0][1])


def _angle(garment: Garment, chain: Chain, ahead: F64, then: F64) -> float:
    """How far the edge turns towards the cloth, rad."""
    edge, triangle = chain.pattern_mm[0][-1], garment.pattern_mm[chain.face[0][-1]]
    inward = triangle.mean(axis=0) - edge[0]
    left = ahead[0] * inward[1] - ahead[1] * inward[0] > 0.0
    turn = math.atan2(ahead[0] * then[1] - ahead[1] * then[0], float(np.dot(ahead, then)))
    return turn if left else -turn
