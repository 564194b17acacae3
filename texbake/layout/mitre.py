"""Where two hems meet at a corner that juts into the cloth: which of them has what lies past it.

All points of the fan past such a corner are equally near to both hems: their nearest point is the
corner. Cloth is clipped there and both folds are laid straight on until they meet in a mitre. So
each point belongs to the hem from whose line it is farther, which parts the fan in halves, and its
distance counts from that line.
"""

import math

import numpy as np

from texbake.arrays import F32, F64, I32, I64, Bool

LEAST_RAD, MOST_RAD = math.radians(20.0), math.radians(120.0)
NONE = -1


def partners(ends: F64, along: F64, inward: F64, which: I64) -> I32:
    """Find the segment of another chain that each segment meets at such a corner.

    Parameters
    ----------
    ends : (E, 2, 2) float64
        Start and end of each segment in one pattern plane.
    along, inward : (E, 2) float64
        Unit vectors.
    which : (E,) int
        The chain of each.

    Returns
    -------
    (2, E) int32
        At its start and at its end; -1 for none.
    """
    out = np.full((2, len(ends)), NONE, np.int32)
    starts = {(x, y): k for k, (x, y) in enumerate(ends[:, 0].tolist())}
    for k, (x, y) in enumerate(ends[:, 1].tolist()):
        after = starts.get((x, y), NONE)
        if after == NONE or which[after] == which[k]:
            continue
        if LEAST_RAD < turned_away(along[k], inward[k], along[after]) < MOST_RAD:
            out[1, k], out[0, after] = after, k
    return out


def turned_away(along: F64, inward: F64, ahead: F64) -> float:
    """How far the next segment turns away from the cloth, rad."""
    return -math.atan2(float(inward @ ahead), float(along @ ahead))


def widening(partner: I32, along: F64) -> float:
    """How much farther than its hem a mitre reaches from its corner, at most."""
    joined = np.flatnonzero(partner[1] != NONE)
    ahead = along[partner[1, joined]]
    cosine = (along[joined] * ahead).sum(axis=1)
    half = np.sqrt(0.5 * (1.0 + cosine))  # cosine of half the turn
    return float(1.0 / half.min()) if joined.size else 1.0


def part(x: F32, y: F32, segment: I32, partner: I32, place: tuple[F32, F32, F32, F32]) -> Bool:
    """Part the fans between the hems that meet there.

    Parameters
    ----------
    x, y : (M,) float32
        Pattern plane.
    segment : (M,) int32
        Nearest to each point; set to the hem's that has it, in place.
    partner : (2, E) int32
    place : four arrays
        Of all segments: start (2, E), along (2, E), inward (2, E), length (E,).

    Returns
    -------
    (M,) bool
        Which points lie past such a corner.
    """
    start, along, inward, length = place
    fan = np.zeros(len(segment), bool)
    at = np.flatnonzero((partner != NONE).any(axis=0)[segment])
    own = segment[at]
    arm = np.stack([x[at], y[at]]) - start[:, own]
    run = (arm * along[:, own]).sum(axis=0)
    past = np.where(run < 0.0, partner[0, own], np.where(run > length[own], partner[1, own], NONE))
    hit = np.flatnonzero(past != NONE)
    at, own, other = at[hit], own[hit], past[hit]
    point = np.stack([x[at], y[at]])
    mine, theirs = (
        ((point - start[:, each]) * inward[:, each]).sum(axis=0) for each in (own, other)
    )
    taken = (theirs > mine) | ((theirs == mine) & (other < own))
    segment[at] = np.where(taken, other, own)
    fan[at] = True
    return fan
