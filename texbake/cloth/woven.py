"""Woven cloth: two yarn systems that pass over and under each other by a draft.

`press` says where each yarn lies at each crossing; between crossings all of it goes over smoothly.
Here the yarns get their form: an arched section, fibres wound round it, plies wound round each
other. The higher yarn shows.
"""

import math
from dataclasses import dataclass

import numpy as np

from texbake.arrays import F32, I64, Bool
from texbake.cloth.hash import draws
from texbake.cloth.press import Crossings, crossings
from texbake.cloth.tile import Relief
from texbake.cloth.yarn import diameter_mm, twist_angle_rad
from texbake.recipe.values import Yarn

FLATTEN = 1.22  # width over thickness is its square: Kemp's racetrack, J. Text. Inst. 49 (1958) T44
SOFT = 0.006  # variance of the smoothing over the square of the pitch, in passes of half a cell^2
HAIR_SOFT = 3.0  # hair of 1 smooths this much more (by eye, no source)
SMOOTH_SOFT = 24.0  # the same of slack, lustrous yarns, which lie close (by eye, no source)
GAP_SHADE, HAIR_SHADE = 0.42, 0.40  # what shows between yarns, and with hair (by eye, no source)
SLACK = 0.35  # filaments, hardly twisted, lie this much flatter at lustre 1 (by eye, no source)
PARALLEL = 1.1  # and their fibres lie along them (by eye, no source)
HAIR_WIDE = 0.25  # hair of 1 makes a yarn this much wider (by eye, no source)
FIBRE_SHADE = 0.22  # amplitude of the fibre lines on a dull yarn (by eye, no source)
FIBRE_RELIEF = 0.20  # the same of a yarn's height
LINES = ((5, 1), (8, -2), (11, 3), (14, -1), (19, 2))  # round a yarn, and waves in a repeat
PLY_TWIST = 0.65  # turns of the plies over turns of the single yarns (common practice)
PLY_GROOVE = 0.35  # of a yarn's height: depth of the groove between plies (by eye, no source)

Faces = tuple[F32, F32, I64]  # top surface, shade, number of the weight


@dataclass(frozen=True, slots=True, kw_only=True)
class _System:
    """One yarn system: lengths in mm; ``codes``: which weight each yarn goes to, or plies do."""

    yarn: Yarn
    pitch_mm: float
    width_mm: float
    thick_mm: float
    lean: float  # turns per mm along the yarn, signed by the letter of its twist
    codes: tuple[int, ...]
    weights: int


def woven(draft: Bool, warp: Yarn, weft: Yarn, *, cells: int = 24, ordered: bool = False) -> Relief:
    """Render one repeat at life size.

    Parameters
    ----------
    draft : (picks, ends) bool
        Warp on top. With ``ordered`` whole repeats of the orders of colour too.
    warp, weft : Yarn
        Count, yarns per cm, twist, plies.
    cells : int
        Grid cells across one yarn of the wider pitch; 8 to 96.
    ordered : bool
        Give each colour of an order a weight of its own.

    Returns
    -------
    Relief
        Weights in the order warp, weft; of a system with orders or marl, one per colour.
    """
    ends, picks = (_system(y, ordered=ordered) for y in (warp, weft))
    step = max(ends.pitch_mm, picks.pitch_mm) / cells
    grid = [max(6, round(s.pitch_mm / step)) for s in (ends, picks)]
    apart = 0.5 * (ends.thick_mm + picks.thick_mm)
    share = (
        ends.width_mm
        / ends.pitch_mm
        / (ends.width_mm / ends.pitch_mm + picks.width_mm / picks.pitch_mm)
    )
    over = _lie(draft, ends, share * apart), _lie(~draft.T, picks, (1.0 - share) * apart)
    warps = _yarns(over[0], ends, picks.pitch_mm, grid[0], grid[1])
    wefts = _yarns(over[1], picks, ends.pitch_mm, grid[1], grid[0], weft=True)
    hair = 0.5 * (warp.hair + weft.hair)
    smooth = max(0.0, 0.5 * (warp.lustre + weft.lustre) - 0.2)
    softer = 1.0 + HAIR_SOFT * hair + SMOOTH_SOFT * smooth
    return _merge(
        (warps, (wefts[0].T, wefts[1].T, wefts[2].T)),
        (ends.weights, picks.weights),
        floor=-0.5 * apart,
        gap_shade=GAP_SHADE + HAIR_SHADE * hair,
        soften=max(1, round(SOFT * softer * cells * cells)),
        size_mm=(ends.pitch_mm * draft.shape[1], picks.pitch_mm * draft.shape[0]),
    )


def _system(yarn: Yarn, *, ordered: bool) -> _System:
    """Flattened size of a yarn in the cloth, never wider than 1.15 of its pitch."""
    pitch = 10.0 / yarn.per_cm
    free = diameter_mm(yarn.count_tex)
    wider = 1.0 + HAIR_WIDE * (yarn.hair - 0.2) + SLACK * max(0.0, yarn.lustre - 0.2)
    width = min(free * FLATTEN * wider, 1.15 * pitch)
    turns = math.tan(twist_angle_rad(yarn.count_tex)) / (math.pi * free)
    wound = 1.0 - PARALLEL * max(0.0, yarn.lustre - 0.2)
    codes = yarn.order.slots if ordered and yarn.order is not None else (0,)
    return _System(
        yarn=yarn,
        pitch_mm=pitch,
        width_mm=width,
        thick_mm=free * free / width,
        lean=-turns * wound if yarn.twist == "Z" else turns * wound,
        codes=codes,
        weights=max(1 + max(codes), len(yarn.marl)),
    )


def _lie(up: Bool, own: _System, rise_mm: float) -> Crossings:
    return crossings(up, rise_mm=rise_mm, width_mm=own.width_mm, pitch_mm=own.pitch_mm)


def _yarns(
    lie: Crossings, own: _System, cross_mm: float, across: int, along: int, *, weft: bool = False
) -> Faces:
    """Top surface (mm; -inf beside the yarns), shade, and weight of a system along the rows.

    Each cell is looked up under the yarn whose place it is and under both neighbours, which may
    have spread over it.
    """
    count, yarns = lie.axis_mm.shape
    place = (np.arange(count * along, dtype=np.float32) + 0.5) / along - 0.5
    axis, width, floats, aside = (
        _follow(v, place) for v in (lie.axis_mm, lie.width_mm, lie.floats, lie.aside_mm)
    )
    offset = ((np.arange(across, dtype=np.float32) + 0.5) / across - 0.5) * own.pitch_mm
    best = np.full((len(place), yarns, across), -np.inf, np.float32)
    shade, code = np.zeros_like(best), np.zeros(best.shape, np.int64)
    for k in (0, -1, 1):
        beside = [np.roll(v, -k, 1)[:, :, None] for v in (axis, width, floats, aside)]
        q = (offset - k * own.pitch_mm - beside[3]) / (0.5 * beside[1])
        number = (np.arange(yarns) + k) % yarns
        along_mm = place * cross_mm, count * cross_mm
        height, lit, which = _form(q, beside, own, along_mm, number, weft=weft)
        wins = height > best
        best, shade = np.where(wins, height, best), np.where(wins, lit, shade)
        code = np.where(wins, which, code)
    rows = len(place)
    return best.reshape(rows, -1), shade.reshape(rows, -1), code.reshape(rows, -1)


def _form(
    q: F32,
    beside: list[F32],
    own: _System,
    along_mm: tuple[F32, float],
    number: I64,
    *,
    weft: bool,
) -> Faces:
    """Height (-inf outside), shade and weight of yarns at ``q``, -1 to 1 across them."""
    axis, width, floats, _ = beside
    inside, q = np.abs(q) < 1.0, np.clip(q, -1.0, 1.0)
    crown = 1.0 - np.abs(q) ** (2.2 + 1.6 * floats)
    fibres = _fibres(q, own, along_mm, number, weft=weft)
    ridge, ply = _plies(q, own, along_mm, number, weft=weft)
    thick = own.thick_mm * own.width_mm / width
    body = crown * (1.0 - PLY_GROOVE * (1.0 - ridge))
    height = axis + 0.5 * thick * body * (1.0 + FIBRE_RELIEF * fibres)
    shade = (0.74 + 0.26 * crown * ridge) * (
        1.0 + FIBRE_SHADE * (1.0 - 0.2 * own.yarn.lustre) * fibres
    )
    codes = np.array(own.codes, np.int64)[number % len(own.codes)][None, :, None]
    which = ply if own.yarn.marl else np.broadcast_to(codes, q.shape)
    return np.where(inside, height, -np.inf), shade, which


def _follow(level: F32, place: F32) -> F32:
    """Values between crossings: as given at each, smooth between (cubic, flat at crossings)."""
    low = np.floor(place).astype(np.int64)
    t = (place - low)[:, None]
    t = t * t * (3.0 - 2.0 * t)
    count = len(level)
    a, b = level[low % count], level[(low + 1) % count]
    out: F32 = (a + t * (b - a)).astype(np.float32)
    return out


def _winding(q: F32, own: _System, along_mm: tuple[F32, float], times: float, *, weft: bool) -> F32:
    """Turns round the yarn at each point of its face; whole turns fit the repeat.

    Across the weft +q points to +y, but a yarn turned from the warp's direction to the weft's
    (clockwise, +y to +x) has its +q at -y: hence the sign.
    """
    place, period = along_mm
    turns = max(1, round(abs(own.lean) * abs(times) * period)) / period
    winding = math.copysign(turns, own.lean * times)
    around = np.arcsin(q) / (2.0 * math.pi) * (-1.0 if weft else 1.0)
    out: F32 = (around + (winding * place)[:, None, None]).astype(np.float32)
    return out


def _fibres(q: F32, own: _System, along_mm: tuple[F32, float], number: I64, *, weft: bool) -> F32:
    """Fibre lines wound round the yarn, about -1 to 1; in plies they lean against the plies."""
    phase = _winding(q, own, along_mm, -1.0 if own.yarn.plies > 1 else 1.0, weft=weft)
    along = (along_mm[0] / along_mm[1])[:, None, None]
    shift = draws(len(LINES) * q.shape[1], 11).reshape(len(LINES), 1, -1, 1)[:, :, number]
    out = np.zeros_like(q)
    for (lines, waves), part in zip(LINES, shift, strict=True):
        out += np.cos(2.0 * math.pi * (lines * phase + waves * along + part))
    out *= 1.0 / len(LINES)
    return out


def _plies(
    q: F32, own: _System, along_mm: tuple[F32, float], number: I64, *, weft: bool
) -> tuple[F32, I64]:
    """Ridge of the plies, 0 in the groove to 1, and which ply shows."""
    plies = own.yarn.plies
    if plies < 2:
        return np.ones((1, 1, 1), np.float32), np.zeros(q.shape, np.int64)
    phase = _winding(q, own, along_mm, PLY_TWIST, weft=weft)
    phase += draws(q.shape[1], 13)[None, number, None]
    turns = phase * plies
    ridge: F32 = np.sqrt(np.abs(np.sin(math.pi * turns))).astype(np.float32)
    return ridge, np.floor(turns).astype(np.int64) % plies


def _merge(
    systems: tuple[Faces, Faces],
    channels: tuple[int, int],
    *,
    floor: float,
    gap_shade: float,
    soften: int,
    size_mm: tuple[float, float],
) -> Relief:
    """The higher yarn shows; where there is none, the shadow between them."""
    (warp_top, warp_shade, warp_code), (weft_top, weft_shade, weft_code) = systems
    height = np.maximum(warp_top, weft_top)
    gap: Bool = ~np.isfinite(height)
    shows = warp_top >= weft_top
    weights = np.concatenate(
        [
            _split(np.where(shows, warp_shade, 0.0), warp_code, channels[0]),
            _split(np.where(shows, 0.0, weft_shade), weft_code, channels[1]),
        ]
    )
    weights[:, gap] = (0.5 * gap_shade / np.repeat(channels, channels))[:, None]
    return Relief(
        height_mm=np.where(gap, floor, height).astype(np.float32),
        weights=weights.astype(np.float32),
        cover=(~gap).astype(np.float32),
        width_mm=size_mm[0],
        length_mm=size_mm[1],
        soften=soften,
    )


def _split(shade: F32, code: I64, channels: int) -> F32:
    """A system's shade, in the channel of the colour that shows."""
    out: F32 = np.where(code == np.arange(channels)[:, None, None], shade, 0.0)
    return out
