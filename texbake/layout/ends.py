"""Where a chain stops: how much of what lies past its end is still near to it.

The points nearest to the end of a chain fill a fan between the square end of its last edge and
the next border of the cloth. Up to three eighths of a turn all of that belongs to the chain: a
hem runs on to the side seam, however slanted. Where the border goes on straight, as something
else, nothing does, or the chain would end in a half disc. Between these the fan narrows. Round a
corner that the cloth surrounds, the first of two chains of one kind takes the whole fan.
"""

import math
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from texbake.arrays import F32, F64, I64, Bool
from texbake.garment.values import Chain, Garment

TOGETHER_MM = 0.05  # ends nearer than this in the pattern plane are one point
ROUND = math.inf  # no limit: a half disc
_WIDE_RAD, _BEND_RAD = math.radians(135), math.radians(185)
_OWN_RAD = 1e-3  # nearer to the chain's own edge than this is that edge


@dataclass(frozen=True, slots=True, eq=False)
class Border:
    """The edges of one panel where it ends or is sewn: ends (N, 2, 2), and whose chain each is."""

    edges: F64
    chain: I64


def borders_of(garment: Garment) -> Mapping[int, Border]:
    """Gather the seams and hems of each panel."""
    found: dict[int, list[tuple[F64, int]]] = {}
    for number, chain in enumerate(garment.chains):
        for side in (0, 1) if chain.kind != "cut" else ():
            if chain.panels[side] >= 0:
                found.setdefault(chain.panels[side], []).append((chain.pattern_mm[side], number))
    return {
        panel: Border(
            np.concatenate([edges for edges, _ in parts]),
            np.repeat([number for _, number in parts], [len(edges) for edges, _ in parts]),
        )
        for panel, parts in found.items()
    }


def fan_limits(
    garment: Garment,
    chain: int,
    side: int,
    borders: Mapping[int, Border],
    rivals: Collection[int] = (),
) -> F64:
    """Say how far past each of its edges one side of a chain reaches.

    Parameters
    ----------
    garment : Garment
    chain : int
    side : int
        0 or 1.
    borders : mapping of panel to Border
        From ``borders_of``.
    rivals : collection of int
        Chains that share fans with this one by which is nearer.

    Returns
    -------
    (2, E) float64
        For the start and the end of each edge: the greatest distance past it, as a multiple of
        the distance from the edge's line. 0 is a square end, ``inf`` no limit; ``inf`` wherever
        the chain goes on in the pattern plane.
    """
    own = garment.chains[chain]
    edges = own.pattern_mm[side]
    limits = np.full((2, len(edges)), ROUND)
    if own.panels[side] not in borders or len(edges) == 0:
        return limits
    later = {k for k, c in enumerate(garment.chains) if k >= chain and c.kind == own.kind}
    border, wins = borders[own.panels[side]], later | set(rivals)
    middle = garment.pattern_mm[own.face[side]].mean(axis=1)
    following = np.roll(edges[:, 0], -1, axis=0)
    apart = np.abs(edges[:, 1] - following).max(axis=1) > TOGETHER_MM
    apart[-1] |= not own.closed
    for k in np.flatnonzero(apart).tolist():
        after = (k + 1) % len(edges)
        limits[1, k] = _limit(border, edges[k, ::-1], middle[k], wins)
        limits[0, after] = _limit(border, edges[after], middle[after], wins)
    return limits


def _limit(border: Border, edge: F64, inside: F64, wins: Collection[int]) -> float:
    """Limit at the point where ``edge`` (2, 2) starts; ``inside`` lies on its face.

    ``wins``: chains before which this one has the fan round a corner.
    """
    along = edge[1] - edge[0]
    length = float(np.hypot(along[0], along[1]))
    if length == 0.0:
        return ROUND
    along = along / length
    inward = np.array([-along[1], along[0]])
    if float(inward @ (inside - edge[0])) < 0.0:
        inward = -inward
    angle, other = _next_border(border, edge[0], along, inward)
    if angle > _BEND_RAD:
        return ROUND if other in wins else 0.0
    return ROUND if angle <= _WIDE_RAD else math.tan(max(math.pi - angle, 0.0))


def _next_border(border: Border, point: F64, along: F64, inward: F64) -> tuple[float, int]:
    """Angle through the cloth to the next border at ``point``, and its chain; a turn and -1."""
    at = np.abs(border.edges - point).max(axis=2) <= TOGETHER_MM
    which, end = np.nonzero(at)
    leads = border.edges[which, 1 - end] - border.edges[which, end]
    angle = np.arctan2(leads @ inward, leads @ along) % (2.0 * math.pi)
    angle[(angle < _OWN_RAD) | (angle > 2.0 * math.pi - _OWN_RAD)] = np.inf
    if not np.isfinite(angle).any():
        return 2.0 * math.pi, -1
    least = int(angle.argmin())
    return float(angle[least]), int(border.chain[which[least]])


def past_limits(garment: Garment, told: Sequence[int], borders: Mapping[int, Border]) -> F32:
    """Limits of all edges of some chains that have a length: chain by chain, side 0 first. (2, E).

    See ``fan_limits``; the chains are each other's rivals.
    """
    parts = []
    for number in told:
        chain = garment.chains[number]
        sides = (0, 1) if chain.panels[1] >= 0 else (0,)
        whole = [fan_limits(garment, number, side, borders, told) for side in sides]
        parts.append(np.concatenate(whole, axis=1)[:, with_length(chain)])
    return np.concatenate(parts, axis=1).astype(np.float32)


def with_length(chain: Chain) -> Bool:
    """Which edges of both sides have a length in the pattern plane."""
    sides = (0, 1) if chain.panels[1] >= 0 else (0,)
    ends = np.concatenate([chain.pattern_mm[s] for s in sides])
    return np.asarray((ends[:, 0] != ends[:, 1]).any(axis=1))
