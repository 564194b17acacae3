"""How far texels lie from a seam or hem, and where along it.

Distances are measured in the pattern plane to the chain's own segments, not in the image, so they
are in mm and right on any layout. What can be nearest to a face is found once per chain
(``reach_of``); texels then look at a few segments each (``near``).

Where two hems meet at a corner, each texel belongs to the nearer: a fold is turned once, and goes
round the corner in a mitre.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from texbake.arrays import F32, F64, I32, I64, Bool
from texbake.garment.values import Chain, Garment
from texbake.layout import mitre
from texbake.layout.candidates import candidates
from texbake.layout.ends import Border, past_limits, with_length
from texbake.layout.raster import spread
from texbake.layout.runs import Runs, runs_of
from texbake.layout.values import Near, Texels

_SHARP_RAD = 0.45  # half of the angle of a corner, at which a line of stitches breaks
_SLACK_MM = 0.01  # far more than distances are rounded: garments are a few metres large
_LEAST_SHARE = 0.1  # of a segment's length that is left inside a bend


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Reach:
    """What of one chain can be nearest to each face.

    Segments of side 0 come first; those without length in the pattern plane are left out.

    Attributes
    ----------
    reach_mm : float
    first, count : (F,) int32
        Each face's candidates are ``segment[first : first + count]``; count 0 for most faces.
    segment : (C,) int32
    start_mm : (2, E) float32
        Start of each segment in the pattern plane.
    along : (2, E) float32
        Unit vector from start to end.
    inward : (2, E) float32
        Unit normal, to the side of the face that owns the edge.
    length_mm : (E,) float32
        In the pattern plane.
    arc_mm : (E,) float32
        Arc length of the chain at the start.
    pace : (E,) float32
        Arc length in space per mm in the pattern plane.
    side : (E,) int32
    bend : (2, E) float32
        Per mm of distance, how much longer the segment's part of a line beside the chain is than
        itself, at its start and its end; shorter, inside a bend.
    own : (E,) bool
        Whether it is the chain's; else a rival's, and what is nearest to it is not near.
    past : (2, E) float32 or None
        How far past the start and the end of each segment the chain reaches, as a multiple of
        the distance from its line (see ``ends``); None: half a disc round every end.
    partner : (2, E) int32 or None
        Segment of a rival that each meets in a mitre at its start and its end (see ``mitre``).
    mitre_mm : float
        How far mitres reach from their corners.
    """

    reach_mm: float
    first: I32
    count: I32
    segment: I32
    start_mm: F32
    along: F32
    inward: F32
    length_mm: F32
    arc_mm: F32
    pace: F32
    side: I32
    bend: F32
    own: Bool
    past: F32 | None = None
    partner: I32 | None = None
    mitre_mm: float = 0.0


def reach_of(
    garment: Garment,
    chain: int,
    *,
    reach_mm: float,
    spare_mm: float = 2.0,
    rivals: Sequence[int] = (),
    eased: bool = False,
    borders: Mapping[int, Border] | None = None,
) -> Reach:
    """Find the segments of a chain that can be nearest to each face, within ``reach_mm``.

    Parameters
    ----------
    garment : Garment
    chain : int
        Index into ``garment.chains``.
    reach_mm : float
        > 0.
    spare_mm : float
        How far outside of its face a texel may lie: partly covered texels do, by up to 0.7
        texel.
    rivals : sequence of int
        Other chains; what is nearer to one of them is not near to this.
    eased : bool
        Whether ``arc_mm`` runs on smoothly beside gentle bends, for what is laid along the chain;
        else it is that of the nearest point, which jumps inside a bend and waits outside.
    borders : mapping of panel to Border, optional
        From ``ends.borders_of``: leave out what lies past the chain's ends, as ``ends`` says.
        Without: half a disc round each end is near.

    Returns
    -------
    Reach

    Raises
    ------
    ValueError
        For a reach that is not positive.
    """
    if not reach_mm > 0:
        raise ValueError(f"reach_mm is {reach_mm}; it must be positive")
    # Always in one order: chains that are each other's rivals then share equal distances alike.
    told = sorted({chain, *rivals})
    parts = [_segments(garment.chains[k]) for k in told]
    ends, owner, arc, side, panel = (np.concatenate(part) for part in zip(*parts, strict=True))
    which = np.repeat(told, [len(part[0]) for part in parts])
    along = ends[:, 1] - ends[:, 0]
    length = np.sqrt(_dot(along, along))
    along /= length[:, None]
    inward = _inward(along, ends, garment.pattern_mm[owner])
    partner = mitre.partners(ends, along, inward, which) if rivals else None
    mitre_mm = reach_mm if partner is None else reach_mm * mitre.widening(partner, along)
    faces, segments = candidates(garment, panel, ends, mitre_mm, spare_mm)
    count = np.bincount(faces, minlength=len(garment.panel))
    return Reach(
        reach_mm=reach_mm,
        first=(np.cumsum(count) - count).astype(np.int32),
        count=count.astype(np.int32),
        segment=segments.astype(np.int32),
        start_mm=ends[:, 0].T.astype(np.float32),
        along=along.T.astype(np.float32),
        inward=inward.T.astype(np.float32),
        length_mm=length.astype(np.float32),
        arc_mm=arc[:, 0].astype(np.float32),
        pace=((arc[:, 1] - arc[:, 0]) / length).astype(np.float32),
        side=side,
        bend=(
            _bend(ends, along, inward, 2 * which + side)
            if eased and len(ends)
            else np.zeros((2, len(ends)))
        ).astype(np.float32),
        own=which == chain,
        past=None if borders is None else past_limits(garment, told, borders),
        partner=partner,
        mitre_mm=mitre_mm,
    )


def _segments(chain: Chain) -> tuple[F64, I32, F64, I32, I32]:
    """Both sides in one list: ends (E, 2, 2), owner face, arc (E, 2), side, panel."""
    sides = (0, 1) if chain.panels[1] >= 0 else (0,)
    ends = np.concatenate([chain.pattern_mm[s] for s in sides])
    owner = np.concatenate([chain.face[s] for s in sides])
    arc = np.concatenate([chain.arc_mm for _ in sides])
    side = np.repeat(np.array(sides, np.int32), len(chain.arc_mm))
    kept = with_length(chain)
    panel = np.array(chain.panels, np.int32)[side]
    return ends[kept], owner[kept], arc[kept], side[kept], panel[kept]


def _bend(ends: F64, along: F64, inward: F64, run: I64) -> F64:
    """How lines beside a chain gain or lose length where it bends, (2, E); see ``Reach``.

    A line at distance d turns on the bisector of two segments, d tan(angle / 2) before their
    joint inside the bend; outside it goes round, d sin(angle / 2) beyond. Sharp corners stay.
    """
    first = np.unique(run, return_index=True)[1][np.unique(run, return_inverse=True)[1]]
    after = np.arange(1, len(run) + 1)
    last = np.append(run[1:] != run[:-1], True)
    after[last] = first[last]  # a closed chain meets its start
    joined = (ends[:, 1] == ends[after, 0]).all(axis=1)
    ahead = along[after]
    cross = along[:, 0] * ahead[:, 1] - along[:, 1] * ahead[:, 0]
    half = 0.5 * np.arctan2(cross, _dot(along, ahead))
    half = np.where(along[:, 0] * inward[:, 1] > along[:, 1] * inward[:, 0], half, -half)
    gain = np.where(half > 0.0, -np.tan(half), -np.sin(half))
    gain[~joined | (np.abs(half) > _SHARP_RAD)] = 0.0
    out = np.zeros((2, len(run)))
    out[1] = gain
    out[0, after[joined]] = gain[joined]
    return out


def _inward(along: F64, ends: F64, triangle: F64) -> F64:
    """Unit normals of segments, towards the middle of the face that owns each. (E, 2)."""
    normal = np.stack([-along[:, 1], along[:, 0]], axis=1)
    inside = _dot(normal, triangle.mean(axis=1) - ends[:, 0])
    return np.where(inside[:, None] < 0, -normal, normal)


def _dot(a: F64, b: F64) -> F64:
    """Dot product over the last axis, which holds 2, summed in a fixed order."""
    total: F64 = a[..., 0] * b[..., 0] + a[..., 1] * b[..., 1]
    return total


def near(texels: Texels, reach: Reach, *, runs: Runs | None = None) -> Near:
    """Measure the texels of a band that lie within reach of a chain.

    Parameters
    ----------
    texels : Texels
    reach : Reach
    runs : Runs, optional
        ``runs_of(texels)``, for callers that ask about many chains: most bands hold no texel of
        most chains, and finding the runs is then nearly all the work.

    Returns
    -------
    Near
        Texels with ``distance_mm`` at most ``reach.reach_mm``, on the faces of the chain's panels.
        Of segments equally near the first counts, and side 0 before side 1.
    """
    runs = runs_of(texels) if runs is None else runs
    hit, count, candidate = _left(runs, reach)
    if not hit.size:
        return _nothing()
    length = runs.length[hit]
    _, at = spread(runs.start[hit], length)
    x, y = texels.x_mm.take(at), texels.y_mm.take(at)
    best, segment = _search(x, y, length, (count, candidate), reach)
    fan, close = None, best <= reach.reach_mm * reach.reach_mm
    if reach.partner is not None and reach.mitre_mm > reach.reach_mm:
        place = reach.start_mm, reach.along, reach.inward, reach.length_mm
        fan = mitre.part(x, y, segment, reach.partner, place)
        close |= fan & (best <= reach.mitre_mm * reach.mitre_mm)
    kept = np.flatnonzero(close & reach.own.take(segment))
    if reach.past is not None:
        ends = x.take(kept), y.take(kept), segment.take(kept)
        kept = kept[_within(*ends, reach, reach.past)]
    beyond = None if fan is None else fan.take(kept)
    return _measure(at.take(kept), x.take(kept), y.take(kept), segment.take(kept), reach, beyond)


def _nothing() -> Near:
    none, pair = np.empty(0, np.float32), np.empty((2, 0), np.float32)
    ints = np.empty(0, np.int32)
    at = np.empty(0, np.int64)
    return Near(
        at=at, distance_mm=none, arc_mm=none, away=pair, along=pair, side=ints, segment=ints
    )


def _left(runs: Runs, reach: Reach) -> tuple[I64, I64, I32]:
    """Which runs may have texels within reach, how many segments may be nearest to each, and those.

    Most faces that a chain can reach lie beyond it for the most part, and few of the segments that
    can be nearest to a face can be to a run of it: for the vest at 2048, 3.6 million distances
    become 1.4. What is left out is farther than the limit, or than another segment, by more than
    distances are rounded: nothing changes. So are runs to which only rivals are near.
    """
    hit = np.flatnonzero(reach.count[runs.face])
    if not hit.size:
        return hit, hit, np.empty(0, np.int32)
    face = runs.face[hit]
    which, at = spread(reach.first[face].astype(np.int64), reach.count[face].astype(np.int64))
    segment, run = reach.segment[at], hit[which]
    x, y = runs.middle_mm[:, run]
    away = np.sqrt(_distance2(x, y, segment, None, reach))
    half = runs.half_mm[run]
    first = np.cumsum(reach.count[face]) - reach.count[face]
    most = np.minimum.reduceat(away + half, first)
    mine, limit = reach.own[segment], np.full(len(run), reach.reach_mm, np.float32)
    if reach.partner is not None:  # what lies in a mitre is of one chain or the other
        joined = (reach.partner != mitre.NONE).any(axis=0)[segment]
        limit[joined] = max(reach.reach_mm, reach.mitre_mm)
        mine |= joined
    most = np.minimum(most, np.maximum.reduceat(limit, first)) + _SLACK_MM
    kept = away - half <= most[which]
    asked = np.bincount(which[kept & mine], minlength=len(hit)) > 0
    kept &= asked[which]
    left = np.bincount(which[kept], minlength=len(hit))
    return hit[asked], left[asked], segment[kept]


def _search(x: F32, y: F32, length: I64, asked: tuple[I64, I32], reach: Reach) -> tuple[F32, I32]:
    """Return the square of each texel's distance and the segment that is so near.

    One pass per candidate of the runs that have so many: 2 or 3 in practice. ``asked``: how many
    each run has, at least one, and the candidates of all.
    """
    count, candidate = asked
    first = np.cumsum(count) - count
    own = candidate.take(first)
    best, segment = _distance2(x, y, own, length, reach), own.repeat(length)
    for k in range(1, int(count.max(initial=0))):
        deep = np.flatnonzero(count > k)
        some = _texels_of(deep, length)
        own, long = candidate.take(first.take(deep) + k), length.take(deep)
        distance2 = _distance2(x.take(some), y.take(some), own, long, reach)
        nearer = np.flatnonzero(distance2 < best.take(some))
        target = some.take(nearer)
        best[target] = distance2.take(nearer)
        segment[target] = own.repeat(long).take(nearer)
    return best, segment


def _texels_of(runs: I64, length: I64) -> I64:
    """Texels of some runs, where all runs lie one after the other."""
    return spread((np.cumsum(length) - length)[runs], length[runs])[1]


def _distance2(x: F32, y: F32, segment: I32, length: I64 | None, reach: Reach) -> F32:
    """Squared distance from the texels of runs to one segment per run; None: runs of one texel."""

    def each(of: F32) -> F32:
        own: F32 = of.take(segment)
        return own if length is None else own.repeat(length)

    arm_x, arm_y = each(reach.start_mm[0]), each(reach.start_mm[1])
    np.subtract(x, arm_x, out=arm_x)
    np.subtract(y, arm_y, out=arm_y)
    along_x, along_y = each(reach.along[0]), each(reach.along[1])
    t = arm_x * along_x
    t += arm_y * along_y
    np.maximum(t, 0.0, out=t)
    np.minimum(t, each(reach.length_mm), out=t)
    along_x *= t
    along_y *= t
    arm_x -= along_x
    arm_y -= along_y
    arm_x *= arm_x
    arm_y *= arm_y
    return np.add(arm_x, arm_y, out=arm_x)


def _within(x: F32, y: F32, segment: I32, reach: Reach, past_of: F32) -> Bool:
    """Which texels do not lie too far past an end of the segment nearest to them."""
    out = np.ones(len(segment), bool)
    limited = np.isfinite(past_of).any(axis=0)  # few segments are: those at a chain's ends
    at = np.flatnonzero(limited.take(segment))
    own = segment[at]
    limits = past_of[:, own]
    arm = np.stack([x[at], y[at]]) - reach.start_mm[:, own]
    along = arm[0] * reach.along[0, own] + arm[1] * reach.along[1, own]
    away = np.abs(arm[0] * reach.inward[0, own] + arm[1] * reach.inward[1, own])
    before, beyond = -along, along - reach.length_mm[own]
    with np.errstate(invalid="ignore"):  # inf times a distance of 0
        past = (before > limits[0] * away) & (before > 0.0)
        past |= (beyond > limits[1] * away) & (beyond > 0.0)
    out[at] = ~past
    return out


def _measure(
    at: I64, x: F32, y: F32, segment: I32, reach: Reach, beyond: Bool | None = None
) -> Near:
    """Distance, arc length and gradients of texels whose nearest segment is known.

    ``beyond``: which lie past a corner, where their segment is taken as going on straight.
    """
    own = reach.along.take(segment, axis=1)
    arm = np.stack([x, y])
    arm -= reach.start_mm.take(segment, axis=1)
    t = arm[0] * own[0]
    t += arm[1] * own[1]
    length = reach.length_mm.take(segment)
    run = np.clip(t, 0.0, length)
    straight = t.copy() if beyond is not None and beyond.any() else None
    if straight is not None:
        np.copyto(run, straight, where=beyond)
    arm -= own * run
    distance = np.sqrt(arm[0] * arm[0] + arm[1] * arm[1])
    apart = distance > 1e-4  # nearer, rounding decides the direction: take the normal
    np.divide(arm, distance, out=arm, where=apart)
    if not apart.all():
        np.copyto(arm, reach.inward.take(segment, axis=1), where=~apart)
    before, after = reach.bend.take(segment, axis=1) * distance
    # Outside a bend either segment may be the nearest all round: it goes on past the bisector.
    low, high = (np.maximum(gain, 2.0 * gain) for gain in (before, after))
    np.clip(t, -low, length + high, out=t)
    if straight is not None:
        np.copyto(t, straight, where=beyond)
    t += before
    pace = reach.pace.take(segment) * length
    pace /= np.maximum(length + before + after, _LEAST_SHARE * length)
    t *= pace
    own *= pace
    t += reach.arc_mm.take(segment)
    side = reach.side.take(segment)
    return Near(
        at=at, distance_mm=distance, arc_mm=t, away=arm, along=own, side=side, segment=segment
    )
