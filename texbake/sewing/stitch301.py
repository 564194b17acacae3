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

from texbake.arrays import F64, I64
from texbake.cloth.hash import hash01
from texbake.sewing.sky import sky_share
from texbake.sewing.sums import Plane, plane
from texbake.sewing.thread import PLIES, PLY_ANGLE_RAD

VARIANTS = 4
_SEED = 301  # of the variants: all chains share the drawing, and differ in where they start
HALF_DIAMETERS = 1.5  # the table's half width: beyond, the thread changes nothing
FIELDS = 8
COVER, HEIGHT, ACROSS, ALONG, SQUARES, SHADE, TILT, DARK = range(FIELDS)

_ACROSS_CELLS, _ALONG_CELLS = 40, 12  # of the table, per diameter
_MAX_CELLS = 512  # of the table, per stitch
_FINER = 2  # the drawing is this much finer than the table
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


def stitches(diameter_mm: float, stitch_mm: float) -> Plane:
    """Draw ``VARIANTS`` stitches into a table of running sums.

    Parameters
    ----------
    diameter_mm : float
        Of the thread; > 0.
    stitch_mm : float
        From hole to hole; at least the diameter.

    Returns
    -------
    Plane
        One unit along is one stitch. Fields: cover, height mm, slope across, slope along, sum of
        the squared slopes, cover times shade (as bright on average as it covers), x times slope
        across, darkness.
    """
    half = HALF_DIAMETERS * diameter_mm
    across = round(2 * HALF_DIAMETERS * _ACROSS_CELLS)
    along = min(_MAX_CELLS, math.ceil(stitch_mm / diameter_mm * _ALONG_CELLS))
    fine_u, fine_x = _FINER * along, _FINER * across
    u = np.arange(VARIANTS * fine_u + 1)[:, None] / fine_u
    x = np.linspace(-half, half, fine_x + 1)
    drawn = surface(u, x, diameter_mm, stitch_mm)
    return plane(half, VARIANTS, _fields(x, drawn, (stitch_mm / fine_u, 2.0 * half / fine_x)))


def surface(u: F64, x_mm: F64, diameter_mm: float, stitch_mm: float) -> tuple[F64, F64, F64, F64]:
    """Tell what a row is at points.

    Parameters
    ----------
    u : (...) float64
        Along, in stitches.
    x_mm : (...) float64
        Across, to the right; broadcasts with ``u``.
    diameter_mm, stitch_mm
        As for ``stitches``.

    Returns
    -------
    four of (...) float64
        Cover, height in mm, groove between plies (0 on a ply, 1 between two) and dip at a needle
        hole (1 in its middle, 0 outside).
    """
    whole = np.floor(u)
    number = whole.astype(np.int64) % VARIANTS
    s = (u - whole - 0.5) * stitch_mm
    dip = _dip(s, x_mm, diameter_mm, stitch_mm)
    aside = x_mm - _sideways(number, s, diameter_mm)
    cover, height, groove = _thread(s, aside, number, diameter_mm, stitch_mm)
    height -= _HOLE_DEPTH * diameter_mm * dip * dip
    return cover, height, groove, dip


def _sideways(number: I64, s: F64, diameter_mm: float) -> F64:
    """How far right of its row each stitch lies: it leans, and wanders a little."""
    wander = _WANDER * diameter_mm * (2.0 * hash01(number, 1, _SEED) - 1.0)
    lean = _LEAN + _UNEVEN * (2.0 * hash01(number, 2, _SEED) - 1.0)
    out: F64 = wander + np.tan(lean) * s
    return out


def _thread(
    s: F64, x: F64, number: I64, diameter_mm: float, stitch_mm: float
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
    start = hash01(number, 3, _SEED).astype(np.float64)
    phase = s / pitch + start - PLIES * np.arcsin(side) / (2.0 * math.pi)
    groove = 1.0 - np.abs(np.cos(math.pi * phase))
    crown = _CROWN * diameter_mm * (1.0 - _SAG * np.minimum(middle, 1.0))
    height = crown * inside * (1.0 - _PLY_DEPTH * groove)
    edge = diameter_mm / _ACROSS_CELLS  # one cell, so that the outline is not a staircase
    cover = np.clip(inside * wide / (2.0 * edge) + 0.5 * (inside > 0.0), 0.0, 1.0)
    return cover, height, groove


def _dip(s: F64, x: F64, diameter_mm: float, stitch_mm: float) -> F64:
    """Dip of the cloth at the needle holes: 1 in the middle of a hole, 0 outside it."""
    off = 0.5 * stitch_mm - np.abs(s)
    half = 0.5 * (1.0 - _VISIBLE) * stitch_mm + 0.35 * diameter_mm
    squared = np.square(off / half) + np.square(x / (_HOLE_HALF * diameter_mm))
    dip: F64 = np.maximum(1.0 - squared, 0.0)
    return dip


def _fields(x: F64, drawn: tuple[F64, F64, F64, F64], steps: tuple[float, float]) -> F64:
    """Means over cells, (8, n, m) float64, from what is drawn at the corners of their quarters.

    Slopes are differences of corners, so their means are exact, and their squares miss little at
    the thread's outline, where the slope jumps: 2 to 3 % (a whole cell a step would miss 5 %).
    """
    along_mm, across_mm = steps
    cover, groove, dip = (_middle(field) for field in (drawn[0], drawn[2], drawn[3]))
    height = drawn[1]
    slope_s = np.diff(height, axis=0) / along_mm
    slope_s = 0.5 * (slope_s[:, 1:] + slope_s[:, :-1])
    slope_x = np.diff(height, axis=1) / across_mm
    slope_x = 0.5 * (slope_x[1:] + slope_x[:-1])
    bright = cover * (1.0 - _PLY_DARK * groove)
    bright *= cover.sum() / bright.sum()
    squares, tilt = slope_x**2 + slope_s**2, 0.5 * (x[1:] + x[:-1]) * slope_x
    pieces = cover, _middle(height), slope_x, slope_s, squares, bright, tilt
    means = [_cells(piece) for piece in pieces]
    high = means[HEIGHT]
    reach = high.shape[1] // 2
    light = sky_share(high, _FINER * across_mm, reach, axis=1, periodic=False)
    reach = round(reach * across_mm / along_mm)
    light *= sky_share(high, _FINER * along_mm, reach, axis=0, periodic=True)
    light *= 1.0 - _HOLE_DARK * _cells(dip * (1.0 - cover))
    return np.stack([*means, 1.0 - light])


def _middle(field: F64) -> F64:
    """Mean of the four corners of each piece of a grid."""
    rows = field[1:] + field[:-1]
    middle: F64 = 0.25 * (rows[:, 1:] + rows[:, :-1])
    return middle


def _cells(field: F64) -> F64:
    """Mean over the ``_FINER`` x ``_FINER`` pieces of each cell."""
    rows = sum((field[k::_FINER] for k in range(1, _FINER)), start=field[::_FINER])
    total = sum((rows[:, k::_FINER] for k in range(1, _FINER)), start=rows[:, ::_FINER])
    return total / _FINER**2
