"""Woven cloth: two yarn systems that pass over and under each other by a draft.

Peirce's geometry (1937): at a crossing the two axes are one mean thickness apart, and each system
takes its share of that as crimp. A yarn pressed in cloth is flatter than a free one; where it
floats it spreads, where it interlaces it is pinched.
"""

import math
from dataclasses import dataclass

import numpy as np

from texbake.arrays import F32, Bool
from texbake.cloth.draft import draft_of
from texbake.cloth.hash import draws
from texbake.cloth.tile import Relief
from texbake.cloth.yarn import diameter_mm, twist_angle_rad
from texbake.recipe.values import Draft, Plain, Satin, Twill, Yarn

FLATTEN = 1.2  # width over thickness is its square: Kemp's racetrack, J. Text. Inst. 49 (1958) T44
SPREAD = 0.10  # a float is this much wider than the mean, an interlacing as much narrower
SOFT = 0.006  # variance of the smoothing over the square of the pitch, in passes of half a cell^2
GAP_SHADE = 0.30  # what shows between yarns: shadowed fibres (by eye, no source)
FIBRE_SHADE = 0.10  # amplitude of the fibre lines on a yarn (by eye, no source)


@dataclass(frozen=True, slots=True, kw_only=True)
class _System:
    """One yarn system: lengths in mm."""

    pitch_mm: float
    width_mm: float
    thick_mm: float
    lean: float  # turns per mm along the yarn, signed by the letter of its twist


def woven(
    weave: Plain | Twill | Satin | Draft, warp: Yarn, weft: Yarn, *, cells: int = 24
) -> Relief:
    """Render one repeat at life size.

    Parameters
    ----------
    weave : Plain, Twill, Satin or Draft
    warp, weft : Yarn
        Count, yarns per cm, twist.
    cells : int
        Grid cells across one yarn of the wider pitch; 8 to 96.

    Returns
    -------
    Relief
        Weights in the order warp, weft.
    """
    draft = draft_of(weave)
    ends, picks = (_system(y) for y in (warp, weft))
    step = max(ends.pitch_mm, picks.pitch_mm) / cells
    per_end, per_pick = (max(6, round(s.pitch_mm / step)) for s in (ends, picks))
    apart = 0.25 * (ends.thick_mm + picks.thick_mm)
    up = np.where(draft, apart, -apart).astype(np.float32)
    top_warp, shade_warp = _yarns(up, ends, picks.pitch_mm, per_end, per_pick)
    top_weft, shade_weft = _yarns(-up.T, picks, ends.pitch_mm, per_pick, per_end, weft=True)
    return _merge(
        (top_warp, top_weft.T),
        (shade_warp, shade_weft.T),
        floor=-0.8 * apart,
        soften=max(1, round(SOFT * cells * cells)),
        size_mm=(ends.pitch_mm * draft.shape[1], picks.pitch_mm * draft.shape[0]),
    )


def _system(yarn: Yarn) -> _System:
    """Flattened size of a yarn in the cloth, never wider than 1.15 of its pitch."""
    pitch = 10.0 / yarn.per_cm
    free = diameter_mm(yarn.count_tex)
    width = min(free * FLATTEN, 1.15 * pitch)
    turns = math.tan(twist_angle_rad(yarn.count_tex)) / (math.pi * free)
    return _System(
        pitch_mm=pitch,
        width_mm=width,
        thick_mm=free * free / width,
        lean=-turns if yarn.twist == "Z" else turns,
    )


def _yarns(
    level: F32, own: _System, cross_mm: float, across: int, along: int, *, weft: bool = False
) -> tuple[F32, F32]:
    """Top surface (mm; -inf beside the yarn) and shade of one system that runs along the rows.

    ``level`` is (crossings, yarns): height of the yarn's axis at each crossing.
    """
    place = (np.arange(len(level) * along, dtype=np.float32) + 0.5) / along - 0.5
    axis = _follow(level, place)  # (rows, yarns)
    amplitude = max(float(np.abs(level).max()), 1e-9)
    half = 0.5 * own.width_mm * (1.0 + SPREAD * axis / amplitude)
    offset = ((np.arange(across, dtype=np.float32) + 0.5) / across - 0.5) * own.pitch_mm
    q = offset[None, None, :] / half[:, :, None]  # (rows, yarns, cells across)
    inside = np.abs(q) < 1.0
    crown = np.maximum(1.0 - np.abs(q) ** 2.2, 0.0)
    fibres = _fibres(np.clip(q, -1.0, 1.0), place * cross_mm, own, len(level) * cross_mm, weft=weft)
    top = axis[:, :, None] + 0.5 * own.thick_mm * (crown + 0.10 * fibres * crown)
    shade = (0.72 + 0.28 * crown) * (1.0 + FIBRE_SHADE * fibres)
    rows = len(place)
    return (
        np.where(inside, top, -np.inf).reshape(rows, -1).astype(np.float32),
        shade.reshape(rows, -1).astype(np.float32),
    )


def _follow(level: F32, place: F32) -> F32:
    """Yarn axis between crossings: level at each, smooth between (cubic, flat at crossings)."""
    low = np.floor(place).astype(np.int64)
    t = (place - low)[:, None]
    t = t * t * (3.0 - 2.0 * t)
    count = len(level)
    a, b = level[low % count], level[(low + 1) % count]
    out: F32 = a + t * (b - a)
    return out


def _fibres(q: F32, along_mm: F32, own: _System, period_mm: float, *, weft: bool) -> F32:
    """Fibre lines wound round the yarn, about -1 to 1; whole turns fit the repeat.

    Across the weft +q points to +y, but a yarn turned from the warp's direction to the weft's
    (clockwise, +y to +x) has its +q at -y: hence the sign.
    """
    turns = max(1, round(abs(own.lean) * period_mm))
    winding = math.copysign(turns / period_mm, own.lean)
    around = np.arcsin(q) / (2.0 * math.pi) * (-1.0 if weft else 1.0)
    phase = around + (winding * along_mm)[:, None, None]
    shift = draws(3 * q.shape[1], 11).reshape(3, 1, -1, 1)
    out = np.zeros_like(q)
    for m, part in zip((5, 8, 13), shift, strict=True):
        out += np.cos(2.0 * math.pi * (m * phase + part)) / 3.0
    return out


def _merge(
    tops: tuple[F32, F32],
    shades: tuple[F32, F32],
    *,
    floor: float,
    soften: int,
    size_mm: tuple[float, float],
) -> Relief:
    """The higher yarn shows; where there is none, the shadow between them."""
    height = np.maximum(*tops)
    gap: Bool = ~np.isfinite(height)
    warp_shows = tops[0] >= tops[1]
    weights = np.stack([np.where(warp_shows, shades[0], 0.0), np.where(warp_shows, 0.0, shades[1])])
    weights[:, gap] = 0.5 * GAP_SHADE
    return Relief(
        height_mm=np.where(gap, floor, height).astype(np.float32),
        weights=weights.astype(np.float32),
        cover=(~gap).astype(np.float32),
        width_mm=size_mm[0],
        length_mm=size_mm[1],
        soften=soften,
    )
