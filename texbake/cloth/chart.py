"""Which loop of a knit faces the eye, where it lies and how far it stands out.

A knit is a chart of face and back loops. Cloth left to itself curls at each change: beside each
other, face wales come forward and back wales sink and narrow (rib); above each other, back courses
come forward (purl); where both happen, they cancel (moss). A cable swaps two groups of wales.
"""

import math
from dataclasses import dataclass

import numpy as np

from texbake.arrays import F32, Bool
from texbake.recipe.values import Cable, Chart, Interlock, Jersey, Knit, Rib, Terry

NEAR = 1.5  # wales or courses over which a change curls the cloth (by eye, no source)
RIB, PURL = 4.2, 3.8  # how far it comes forward, in half yarns (by eye, no source)
NARROW = 0.50  # how much wider a wale is that stands fully forward, and narrower one that sinks
CROSSING = 2.2  # half yarns that the front strand of a cable lies above its mean (by eye)
CABLE_PURL = 2  # back wales on either side of a cable, as usual in patterns


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Loops:
    """Loops of one repeat, (courses, wales), the first course at the bottom.

    Attributes
    ----------
    face : bool
        The loop shows its legs.
    forward : float32
        How far it stands out, in half yarns.
    sideways : float32
        How far it is moved to the right, in wales.
    slant : float32
        How far it leans to the right, in wales per course.
    lift : (wales,) float32
        How far a wale is moved up, in courses.
    width : (wales,) float32
        Of each wale, 1 on average.
    """

    face: Bool
    forward: F32
    sideways: F32
    slant: F32
    lift: F32
    width: F32


def loops_of(knit: Knit) -> Loops:
    """Lay out one repeat of a knit."""
    if isinstance(knit, Cable):
        return _cable(knit)
    face = np.array([[c == "k" for c in row] for row in chart_rows(knit)], np.bool_)
    forward = _relaxed(face)
    lift = np.zeros(face.shape[1], np.float32)
    if isinstance(knit, Interlock):  # neighbouring wales are knitted by turns, half a course on
        lift[1::2] = 0.5
    return Loops(
        face=face,
        forward=forward,
        sideways=np.zeros_like(forward),
        slant=np.zeros_like(forward),
        lift=lift,
        width=_widths(forward),
    )


def chart_rows(knit: Jersey | Rib | Chart | Interlock | Terry) -> tuple[str, ...]:
    """Rows of 'k' (face loop) and 'p' (back loop), the first knitted first.

    >>> chart_rows(Rib(face=2, back=1))
    ('kkp',)
    """
    match knit:
        case Jersey(side=side):
            return ("k" if side == "face" else "p",)
        case Rib():
            return ("k" * knit.face + "p" * knit.back,)
        case Interlock():
            return ("kk",)
        case Terry():
            return ("p" * 2 * knit.every,) * 4
        case _:
            return knit.rows


def _relaxed(face: Bool) -> F32:
    """Depth of each loop once the cloth lies free, in half yarns, mean 0."""
    sign = np.where(face, 1.0, -1.0).astype(np.float32)
    beside = sign - _near_mean(sign, 1)
    above = sign - _near_mean(sign, 0)
    depth = 0.5 * (RIB * beside - PURL * above)
    out: F32 = (depth - depth.mean()).astype(np.float32)
    return out


def _near_mean(sign: F32, axis: int) -> F32:
    """Mean over the neighbourhood along one axis, periodic."""
    total, weight = np.zeros_like(sign), 0.0
    for k in range(-4, 5):
        part = math.exp(-0.5 * (k / NEAR) ** 2)
        total += part * np.roll(sign, k, axis)
        weight += part
    total /= weight
    return total


def _widths(forward: F32) -> F32:
    """Wales that stand forward are wide, those that sink are narrow."""
    column = forward.mean(0)
    width = 1.0 + NARROW * column / max(float(np.abs(column).max()), 1.0)
    out: F32 = (width / width.mean()).astype(np.float32)
    return out


def _cable(cable: Cable) -> Loops:
    """Two strands that change places over ``cable.every`` courses, back wales beside them."""
    strand, rows = cable.strand, cable.every
    wales = 2 * strand + 2 * CABLE_PURL
    face = np.ones((rows, wales), np.bool_)
    face[:, :CABLE_PURL] = face[:, -CABLE_PURL:] = False
    forward = _relaxed(face)
    # The strands change places over most of the repeat, as knitted cloth spreads the strain.
    turn = (np.arange(rows, dtype=np.float32) + 0.5) / rows
    moved = strand * turn * turn * (3.0 - 2.0 * turn)
    pace = strand * 6.0 * turn * (1.0 - turn) / rows
    height = np.sin(math.pi * turn).astype(np.float32)
    sideways, slant = np.zeros_like(forward), np.zeros_like(forward)
    left = slice(CABLE_PURL, CABLE_PURL + strand)
    right = slice(CABLE_PURL + strand, CABLE_PURL + 2 * strand)
    sideways[:, left], sideways[:, right] = moved[:, None], -moved[:, None]
    slant[:, left], slant[:, right] = pace[:, None], -pace[:, None]
    forward[:, left] -= CROSSING * height[:, None]
    forward[:, right] += CROSSING * height[:, None]
    return Loops(
        face=face,
        forward=forward,
        sideways=sideways,
        slant=slant,
        lift=np.zeros(wales, np.float32),
        width=np.ones(wales, np.float32),
    )
