"""A Gaussian over the height, for noise; in blocks, without what is empty."""

import math

import numpy as np

from texbake.arrays import F32, Bool


def smooth_radius(sigma_texels: float) -> int:
    """Return how far the Gaussian reaches, texels: four standard deviations."""
    return int(4.0 * sigma_texels + 0.5)


def smoothed(block: F32, covered: Bool | None, sigma_texels: float) -> F32:
    """Smooth a block.

    Parameters
    ----------
    block : (R + 2 r, C + 2 r) float32
        With a margin of r = `smooth_radius`.
    covered : (R + 2 r, C + 2 r) bool or None
        Only these count; None is all.
    sigma_texels : float
        The standard deviation, > 0.

    Returns
    -------
    (R, C) float32
    """
    weights = _weights(sigma_texels)
    if covered is None or covered.all():
        return _along(_along(block, weights).T, weights).T
    there = covered.astype(np.float32)
    total = _along(_along(block * there, weights).T, weights).T
    share = _along(_along(there, weights).T, weights).T
    # A covered texel has at least its own share.
    total /= np.maximum(share, weights[0] * weights[0])
    return total


def _weights(sigma_texels: float) -> list[float]:
    """Return the weights by distance; with those of both sides they sum to 1."""
    radius = smooth_radius(sigma_texels)
    raw = [math.exp(-0.5 * (k / sigma_texels) ** 2) for k in range(radius + 1)]
    total = raw[0] + 2.0 * sum(raw[1:])
    return [weight / total for weight in raw]


def _along(block: F32, weights: list[float]) -> F32:
    """Smooth along the first axis, which loses its margin."""
    radius = len(weights) - 1
    count = len(block) - 2 * radius
    total = block[radius : radius + count] * weights[0]
    for k in range(1, radius + 1):
        pair = block[radius - k : radius - k + count] + block[radius + k : radius + k + count]
        pair *= weights[k]
        total += pair
    return total
