"""What a fabric averages to."""

import numpy as np

from texbake.cloth.facts import yarns
from texbake.cloth.weaver import render
from texbake.recipe.values import Fabric


def mean_colour(fabric: Fabric) -> tuple[float, float, float]:
    """Mean colour of a fabric in linear light: what its maps average to."""
    tile = render(fabric, 16)
    shares = tile.channels[-len(yarns(fabric)) :].mean((1, 2))
    total = np.zeros(3, np.float32)
    for yarn, share in zip(yarns(fabric), shares, strict=True):
        for colour, part in yarn.dyes:
            total += np.array(colour.linear, np.float32) * np.float32(share * part)
    return float(total[0]), float(total[1]), float(total[2])
