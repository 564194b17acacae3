"""What a fabric averages to."""

from collections.abc import Iterator
from functools import lru_cache

import numpy as np

from texbake.arrays import F32
from texbake.cloth.facts import colours, yarns
from texbake.cloth.system import weights_of
from texbake.cloth.tile import WEIGHT
from texbake.cloth.weaver import render
from texbake.recipe.values import Fabric


def mean_colour(fabric: Fabric) -> tuple[float, float, float]:
    """Mean colour of a fabric in linear light: what its maps average to."""
    return dyed(fabric, colour_shares(fabric))


def colour_shares(fabric: Fabric) -> F32:
    """Share of the face that each colour shows, its shade included; hues do not count.

    Returns
    -------
    (S,) float32
        In the order of `colours`; sum 1.
    """
    return _shares(fabric.undyed)


@lru_cache(maxsize=64)  # colourways ask a hundred times for the same cloth, at 20 ms
def _shares(undyed: Fabric) -> F32:
    """Do so for a fabric in black."""
    shares = np.concatenate(list(_by_system(undyed))).astype(np.float32)
    shares.flags.writeable = False
    return shares


def _by_system(fabric: Fabric) -> Iterator[F32]:
    """Shares of one yarn system's colours: of the tile if it tells them apart, else as dyed."""
    seen = render(fabric, 16).channels[WEIGHT:].mean((1, 2))
    first = 0
    for yarn, count in zip(yarns(fabric), weights_of(fabric), strict=True):
        own = seen[first : first + count]
        parts = np.array([part for _, part in yarn.dyes], np.float32)
        yield own if count > 1 else own * parts
        first += count


def dyed(fabric: Fabric, shares: F32) -> tuple[float, float, float]:
    """Mix the colours of a fabric by ``colour_shares``, in linear light."""
    total = (colours(fabric) * shares[:, None]).sum(0, dtype=np.float32)
    return float(total[0]), float(total[1]), float(total[2])
