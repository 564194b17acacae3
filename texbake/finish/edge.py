"""Where the sewing stands up, where it is hollow, where cloth lies thick, and how it ripples.

What a finish does beside seams and hems follows their cross-section. Relief is the height less its
own mean nearby, so it tells ridge from groove whatever the construction; it is scaled by each
chain's greatest. Along the chain cloth ripples, as a drawn-in seam does in the wash (roping): slow
noise on the arc length, slanted, as the fold of a hem is pushed along under the foot. All are
running sums, so a texel of any size gets its mean.
"""

import math
from dataclasses import dataclass, replace

import numpy as np

from texbake.arrays import F32, F64, I64
from texbake.cloth.hash import hash01
from texbake.layout.values import Near
from texbake.sewing import fold, pucker
from texbake.sewing.fold import Across
from texbake.sewing.spec import SewnSpec
from texbake.sewing.sums import Line, line, line_mean

STEP_MM = 0.05
NEARBY_MM = 3.0  # half width of the mean that relief is measured from
CREST_MM = 1.2  # a crease that stands this high is rubbed like a seam (by eye, no source)
LEAST_MM = 0.2  # relief that counts as whole, at least
CALM_MM = 1.5  # over which all ends where the sewing's own profile does
# Lengths of the ripples along, mm, and their amplitudes (by eye: ripples of a jeans' hem lie 5 to
# 10 mm apart).
RIPPLES = ((9.0, 0.7), (4.0, 0.3))
SLANT = 0.4  # mm along per mm across (by eye, no source)
RIDGE, GROOVE, THICK, WAVING = range(4)


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Edge:
    """One chain's tables.

    Attributes
    ----------
    across : Line
        Per side: ridge, groove, thick, and how strongly ripples show, each in [0, 1].
    along : Line
        Ripples, about -1 to 1, mean 0.
    length_mm : float
    closed : bool
    """

    across: Line
    along: Line
    length_mm: float
    closed: bool


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Marks:
    """Means over the M texels near one chain.

    Attributes
    ----------
    at : (M,) int64
        As of ``Near``.
    fields : (4, M) float32
        Ridge, groove, thick, and ripples (signed).
    """

    at: I64
    fields: F32


def edge_of(spec: SewnSpec) -> Edge:
    """Make one chain's tables; about 1 ms."""
    length = spec.cloth.step_mm * (spec.cloth.sums.shape[1] - 1)
    count = max(2, math.ceil(length / STEP_MM))
    beyond = spec.across[::-1] if spec.kind == "seam" else (None, None)
    fields = [_side(side, other, count) for side, other in zip(spec.across, beyond, strict=True)]
    scale = max(LEAST_MM, *(float(f[: GROOVE + 1].max()) for f in fields))
    for own in fields:
        own[: GROOVE + 1] /= scale
    return Edge(
        across=line(STEP_MM, np.stack(fields)),
        along=_ripples(spec),
        length_mm=spec.length_mm,
        closed=spec.closed,
    )


def _side(side: Across, other: Across | None, count: int) -> F64:
    """Ridge and groove in mm, thick and waving, in cells from the line on: (4, count)."""
    at = (np.arange(count) + 0.5) * STEP_MM
    relief = _relief_mm(side, other, count)
    calm = np.clip((count * STEP_MM - at) / CALM_MM, 0.0, 1.0)
    thick = np.zeros(count)
    if side.lift_mm:
        t = np.clip((at - side.lift_to_mm) / side.lift_soft_mm + 0.5, 0.0, 1.0)
        thick = 1.0 - t * t * (3.0 - 2.0 * t)
    rows = (0.0, *side.rows_mm) if other is not None else side.rows_mm
    waving = np.maximum(pucker.envelope(rows, pucker.HALF_MM, at), thick)
    out: F64 = np.stack([np.maximum(relief, 0.0), np.maximum(-relief, 0.0), thick, waving]) * calm
    return out


def _relief_mm(side: Across, other: Across | None, count: int) -> F64:
    """Height less its mean nearby. A folded edge is a ridge, though it rolls down at last."""
    reach = round(NEARBY_MM / STEP_MM)
    own = fold.profile_mm(replace(side, roll_mm=0.0), (np.arange(count + reach) + 0.5) * STEP_MM)
    back = (np.arange(reach)[::-1] + 0.5) * STEP_MM
    before = np.full(reach, own[0] - side.roll_mm)
    if other is not None:
        before = fold.profile_mm(replace(other, roll_mm=0.0), back)
    whole = np.concatenate([before, own])
    kernel = fold.bump(np.linspace(-1.0, 1.0, 2 * reach + 1))
    near = np.convolve(whole, kernel / kernel.sum(), mode="valid")
    out: F64 = own[:count] - near[:count]
    return out


def _ripples(spec: SewnSpec) -> Line:
    """Noise along the chain; as it starts so it ends, where the chain is closed."""
    cells = max(8, math.ceil(spec.length_mm / 0.4))
    at = (np.arange(cells) + 0.5) / cells
    out = np.zeros(cells)
    for octave, (size, amplitude) in enumerate(RIPPLES):
        nodes = max(2, round(2.0 * spec.length_mm / size))
        number = np.arange(nodes + 1) % (nodes if spec.closed else nodes + 1)
        value = 2.0 * hash01(number, 23, spec.seed + octave).astype(np.float64) - 1.0
        place = at * nodes
        low = np.minimum(place.astype(np.int64), nodes - 1)
        t = place - low
        t *= t * (3.0 - 2.0 * t)
        out += amplitude * (value[low] + (value[low + 1] - value[low]) * t)
    out -= out.mean()
    return line(spec.length_mm / cells, out[None, None], periodic=spec.closed)


def creased(at: I64, height_mm: F32) -> Marks:
    """What a finish finds on creases: their crests are ridges, their valleys are hollow.

    Parameters
    ----------
    at : (M,) int64
        Index into the band's texels.
    height_mm : (M,) float32
        Of the creases alone.
    """
    fields = np.zeros((4, len(at)), np.float32)
    relief = height_mm * (1.0 / CREST_MM)
    np.clip(relief, 0.0, 1.0, out=fields[RIDGE])
    np.clip(-relief, 0.0, 1.0, out=fields[GROOVE])
    return Marks(at=at, fields=fields)


def marks(near: Near, edge: Edge, away_mm: F32, along_mm: F32) -> Marks:
    """Read one chain's tables at the texels near it.

    Parameters
    ----------
    near : Near
        M texels.
    edge : Edge
    away_mm, along_mm : (M,) float32
        Size of each texel across and along.
    """
    half = 0.5 * np.maximum(away_mm, STEP_MM)
    low = np.maximum(near.distance_mm - half, 0.0)
    fields = line_mean(edge.across, low, near.distance_mm + half, near.side)
    half = 0.5 * np.maximum(along_mm, edge.along.step_mm)
    half += (0.5 * SLANT) * away_mm
    at = near.arc_mm + SLANT * near.distance_mm
    low, high = at - half, at + half
    if not edge.closed:
        low = np.clip(low, 0.0, edge.length_mm - edge.along.step_mm)
        high = np.clip(high, low + edge.along.step_mm, edge.length_mm)
    fields[WAVING] *= line_mean(edge.along, low, high)[0]
    return Marks(at=near.at, fields=fields)
