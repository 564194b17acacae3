"""What a fabric averages to."""

from functools import lru_cache

import numpy as np

from texbake.arrays import F32
from texbake.cloth.facts import yarns
from texbake.cloth.weaver import render
from texbake.recipe.values import Fabric


def mean_colour(fabric: Fabric) -> tuple[float, float, float]:
    """Mean colour of a fabric in linear light: what its maps average to."""
    return dyed(fabric, yarn_shares(fabric))


def yarn_shares(fabric: Fabric) -> F32:
    """Share of the face that each yarn system shows, its shade included; colours do not count."""
    return _shares(fabric.undyed)


@lru_cache(maxsize=64)  # colourways ask a hundred times for the same cloth, at 20 ms
def _shares(undyed: Fabric) -> F32:
    """Do so for a fabric in black."""
    shares: F32 = render(undyed, 16).channels[-len(yarns(undyed)) :].mean((1, 2))
    shares.flags.writeable = False
    return shares


def dyed(fabric: Fabric, shares: F32) -> tuple[float, float, float]:
    """Mix the colours of a fabric by ``yarn_shares``, in linear light."""
    total = np.zeros(3, np.float32)
    for yarn, share in zip(yarns(fabric), shares, strict=True):
        for colour, part in yarn.dyes:
            total += np.array(colour.linear, np.float32) * np.float32(share * part)
    return float(total[0]), float(total[1]), float(total[2])
