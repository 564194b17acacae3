"""ISO 4915 stitch type 301, lockstitch, as its face shows it.

Two threads lock inside the cloth, so each face shows one thread only: for every stitch a short,
plump piece that comes out of one needle hole and goes into the next. Here that piece is a
paraboloid cap with round ends, three plies twisted Z wind along it, and at each hole the cloth
dips. Four such stitches, which differ as sewn ones do, are drawn once into a table of running
sums, from which any texel reads its mean (see ``sums``).

Coordinates: ``u`` counts stitches, needle holes at whole numbers; x is mm across the row, to the
right of someone who looks along it with the cloth's face towards them.
"""

import math

import numpy as np

from texbake.arrays import F64
from texbake.cloth.hash import hash01
from texbake.sewing.sky import sky_share
from texbake.sewing.sums import Plane, plane
from texbake.sewing.thread import PLIES, PLY_ANGLE_RAD

VARIANTS = 4
HALF_DIAMETERS = 1.5  # the table's half width: beyond, the thread changes nothing
COVER, HEIGHT, ACROSS, ALONG, SQUARES, SHADE, DARK = range(7)

_CELLS = 20  # of the table, per diameter
_MAX_CELLS = 512  # of the table, per stitch
_VISIBLE = 0.84  # share of the stitch length between the holes that shows thread
_CROWN = 0.65  # height of the thread above the cloth, in diameters: it sinks in
_SAG = 0.35  # share of the crown lost towards the holes
_TAPER = 0.18  # share of the width lost towards the holes
_NOSE = 2.0  # length of the rounded end, in radii: the thread dives, it does not stop
_PLY_DEPTH = 0.25  # depth of the groove between plies, as a share of the height
_PLY_DARK = 0.35  # how much darker that groove is
_LEAN = math.radians(2.0)  # lockstitch slants a little: the needle thread is laid round the other
_UNEVEN = math.radians(2.0)
_WANDER = 0.04  # of a diameter: how far a stitch lies off its row
_HOLE_DEPTH = 0.55  # of the dip at a hole, in diameters
_HOLE_HALF = 0.70  # half width of the dip, in diameters
_HOLE_DARK = 0.6  # the hole itself goes deeper than any height field: this much less light


def stitches(diameter_mm: float, stitch_mm: float, seed: int) -> Plane:
    """Draw ``VARIANTS`` stitches into a table of running sums.

    Parameters
    ----------
    diameter_mm : float
        Of the thread; > 0.
    stitch_mm : float
        From hole to hole; at least the diameter.
    seed : int

    Returns
    -------
    Plane
        One unit along is one stitch. Fields: cover, height mm, slope across, slope along, sum of
        the squared slopes, cover times shade (as bright on average as it covers), darkness.
    """
    half = HALF_DIAMETERS * diameter_mm
    across = round(2 * HALF_DIAMETERS * _CELLS)
    along = min(_MAX_CELLS, math.ceil(stitch_mm / diameter_mm * _CELLS))
    u = (np.arange(VARIANTS * along) + 0.5) / along
    x = (np.arange(across) + 0.5) * (2.0 * half / across) - half
    number = np.floor(u).astype(np.int64)
    s = ((u - number - 0.5) * stitch_mm)[:, None]
    dip = _dip(s, x[None, :], diameter_mm, stitch_mm)
    x = x[None, :] - _sideways(number, s, diameter_mm, seed)
    cover, height, groove = _thread(s, x, number, diameter_mm, stitch_mm, seed)
    height -= _HOLE_DEPTH * diameter_mm * dip * dip
    steps = stitch_mm / along, 2.0 * half / across
    return plane(half, VARIANTS, _fields(cover, height, groove, dip, steps))


def _sideways(number: F64, s: F64, diameter_mm: float, seed: int) -> F64:
    """How far right of its row each stitch lies: it leans, and wanders a little."""
    wander = _WANDER * diameter_mm * (2.0 * hash01(number, 1, seed)[:, None] - 1.0)
    lean = _LEAN + _UNEVEN * (2.0 * hash01(number, 2, seed)[:, None] - 1.0)
    out: F64 = wander + np.tan(lean) * s
    return out


def _thread(
    s: F64, x: F64, number: F64, diameter_mm: float, stitch_mm: float, seed: int
) -> tuple[F64, F64, F64]:
    """Cover, height in mm and ply groove (0 on a ply, 1 between two) of the thread."""
    radius = 0.5 * diameter_mm
    half = 0.5 * _VISIBLE * stitch_mm
    middle = np.square(s / half)
    nose = min(_NOSE * radius, half)
    end = np.maximum(np.abs(s) - (half - nose), 0.0) / nose
    wide = radius * (1.0 - _TAPER * np.minimum(middle, 1.0))
    side = np.clip(x / wide, -1.0, 1.0)
    inside = np.maximum(1.0 - np.square(x / wide) - end * end, 0.0)
    # The plies: their phase turns once per ply and turn of the thread, Z like the letter's middle.
    pitch = math.pi * diameter_mm / (PLIES * math.tan(PLY_ANGLE_RAD))
    start = hash01(number, 3, seed)[:, None].astype(np.float64)
    phase = s / pitch + start - PLIES * np.arcsin(side) / (2.0 * math.pi)
    groove = 1.0 - np.abs(np.cos(math.pi * phase))
    crown = _CROWN * diameter_mm * (1.0 - _SAG * np.minimum(middle, 1.0))
    height = crown * inside * (1.0 - _PLY_DEPTH * groove)
    edge = diameter_mm / _CELLS  # one cell, so that the outline is not a staircase
    cover = np.clip(inside * wide / (2.0 * edge) + 0.5 * (inside > 0.0), 0.0, 1.0)
    return cover, height, groove


def _dip(s: F64, x: F64, diameter_mm: float, stitch_mm: float) -> F64:
    """Dip of the cloth at the needle holes: 1 in the middle of a hole, 0 outside it."""
    off = 0.5 * stitch_mm - np.abs(s)
    half = 0.5 * (1.0 - _VISIBLE) * stitch_mm + 0.35 * diameter_mm
    squared = np.square(off / half) + np.square(x / (_HOLE_HALF * diameter_mm))
    return np.maximum(1.0 - squared, 0.0)


def _fields(cover: F64, height: F64, groove: F64, dip: F64, steps: tuple[float, float]) -> F64:
    """Stack the table's fields from the drawn stitches: (7, n, m) float64."""
    along_mm, across_mm = steps
    slope_x = (_shift(height, -1, 1) - _shift(height, 1, 1)) / (2.0 * across_mm)
    slope_s = (_shift(height, -1, 0) - _shift(height, 1, 0)) / (2.0 * along_mm)
    bright = cover * (1.0 - _PLY_DARK * groove)
    bright *= cover.sum() / bright.sum()
    light = sky_share(height, across_mm, height.shape[1] // 2, axis=1, periodic=False)
    light *= sky_share(height, along_mm, height.shape[1] // 2, axis=0, periodic=True)
    light *= 1.0 - _HOLE_DARK * dip * (1.0 - cover)
    squares = slope_x * slope_x + slope_s * slope_s
    return np.stack([cover, height, slope_x, slope_s, squares, bright, 1.0 - light])


def _shift(field: F64, by: int, axis: int) -> F64:
    """The neighbour's value; round the end, which is level across and periodic along."""
    return np.roll(field, by, axis)
