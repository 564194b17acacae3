"""Which chains of a garment an entry of a recipe means."""

import numpy as np

from texbake.arrays import F64
from texbake.garment.panels import panels_named
from texbake.garment.values import Chain, Garment


def chains_meant(
    garment: Garment, between: tuple[str, str] | None, on: tuple[str, ...] | None
) -> list[int]:
    """Find the seams between two panels, or the hems on some.

    Parameters
    ----------
    garment : Garment
    between : tuple of two str or None
    on : tuple of str or None
        One of both is given.

    Returns
    -------
    list of int
        Indices of chains, ascending.
    """
    if between is not None:
        first, second = (set(panels_named(garment.panels, name)) for name in between)
        return [
            index
            for index, chain in enumerate(garment.chains)
            if chain.kind == "seam" and _joins(chain, first, second)
        ]
    named = {panel for name in on or () for panel in panels_named(garment.panels, name)}
    return [
        index
        for index, chain in enumerate(garment.chains)
        if chain.kind == "hem" and chain.panels[0] in named
    ]


def _joins(chain: Chain, first: set[int], second: set[int]) -> bool:
    """Whether a seam has a panel of each."""
    a, b = chain.panels
    return (a in first and b in second) or (b in first and a in second)


def distance_mm(chain: Chain, point: F64) -> float:
    """Distance of a point (3,) in space from a chain, mm."""
    start, side = chain.points_mm[:, 0], chain.points_mm[:, 1] - chain.points_mm[:, 0]
    square = np.maximum((side * side).sum(axis=1), 1e-300)
    share = np.clip(((point - start) * side).sum(axis=1) / square, 0.0, 1.0)
    return float(np.linalg.norm(point - start - share[:, None] * side, axis=1).min())
