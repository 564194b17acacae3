"""Tops of yarns, which rubbing reaches and hollows escape.

How much of each weight lies high on the relief is told once, on the tile, and filtered with it: so
what is rubbed off the tops is right at every texel size, also where no yarn can be seen.
"""

from dataclasses import replace

import numpy as np

from texbake.arrays import F32
from texbake.cloth.tile import COVER, HEIGHT, WEIGHT, Tile

TOPS = 0.35  # of all colour that shows lies on tops, in every cloth: what strengths refer to
HIGHEST = 0.98  # of the cloth lies lower than where a top is wholly one
SLUBBY = 1.6  # how much more of a thick place stands up, per relative tone (by eye, no source)


def with_tops(tile: Tile) -> Tile:
    """The tile with one more channel per weight: the part of it that lies on tops.

    Together they are `TOPS` of all weights on average.
    """
    height, weights = tile.channels[HEIGHT], tile.channels[WEIGHT:]
    bare = tile.channels[COVER] > 0.5
    covered = height[bare] if bare.any() else height.ravel()
    high = float(np.quantile(covered, HIGHEST))
    low = _threshold(height, weights.sum(0), high)
    tops = weights * _share(height, low, high)
    return replace(tile, channels=np.concatenate([tile.channels, tops]))


def _share(height: F32, low: float, high: float) -> F32:
    """0 up to ``low``, 1 from ``high`` on."""
    out: F32 = np.clip((height - low) / max(high - low, 1e-6), 0.0, 1.0)
    return out


def _threshold(height: F32, weight: F32, high: float) -> float:
    """Height from which tops begin, so that they are `TOPS` of the weight; may lie below all."""
    span = max(high - float(height.min()), 1e-3)
    low, top = high - 100.0 * span, high
    for _ in range(50):
        middle = 0.5 * (low + top)
        share = float((weight * _share(height, middle, high)).mean(dtype=np.float64))
        low, top = (middle, top) if share > TOPS else (low, middle)
    return low


def share_on_tops(own: F32, tops: F32, coloured: list[F32]) -> list[F32]:
    """Share of each colour's weight that lies on tops; more where the yarn is thick.

    Parameters
    ----------
    own, tops : (W, N) float32
        A system's weights and what of them lies on tops.
    coloured : list of (N,) float32
        The weights as they are coloured and streaked: one per weight, or several for one.
    """
    out: list[F32] = []
    for weight, high in zip(own, tops, strict=True):
        share = np.clip(high / np.maximum(weight, 1e-6), 0.0, 1.0)
        parts = coloured if len(own) == 1 else [coloured[len(out)]]
        thick = sum(parts) / np.maximum(weight, 1e-6) - 1.0
        share += SLUBBY * np.clip(thick, -0.5, 0.5) * share * (1.0 - share)
        out += [share] * len(parts)
    return out
