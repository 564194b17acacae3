"""Folds, drawn on a garment like strokes: a line on the body, how high, how wide.

Cloth that hangs off a body shows few kinds of folds: pulls between two points that hold it,
bunching where it is too long, and waves along a free edge. All are drawn here with one stroke,
a ridge with a hollow on either side that dies away at both ends.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from texbake.arrays import F64
from texbake.demo.pieces import spline

Knots = Sequence[Sequence[float]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Fold:
    """One fold: a line near the body's surface, its height (below 0: a hollow) and half width."""

    along: Knots
    height_cm: float
    width_cm: float


def folds(*lines: tuple[Knots, float, float]) -> list[Fold]:
    """Make folds from rows of (line, height, half width)."""
    return [Fold(along=a, height_cm=h, width_cm=w) for a, h, w in lines]


def both_sides(drawn: Sequence[Fold], *, other: float, lower_cm: float) -> list[Fold]:
    """Repeat folds on the other side of the body, a little different: nobody stands quite even."""
    mirrored = [
        Fold(
            along=[(-x, y - lower_cm, z) for x, y, z in fold.along],
            height_cm=fold.height_cm * other,
            width_cm=fold.width_cm * (2.0 - other),
        )
        for fold in drawn
    ]
    return [*drawn, *mirrored]


def lift(points: F64, drawn: Sequence[Fold]) -> F64:
    """Return how far each point (N, 3) is lifted by folds, cm, (N,)."""
    total = np.zeros(len(points))
    for fold in drawn:
        line = spline(fold.along, 24)
        apart = np.linalg.norm(points[:, None] - line[None], axis=2)
        nearest = apart.argmin(axis=1)
        share = (apart.min(axis=1) / fold.width_cm) ** 2
        fade = np.sin(math.pi * (nearest + 1.0) / (len(line) + 1.0))
        total += fold.height_cm * fade * (1.0 - share) * np.exp(-share)
    return total
