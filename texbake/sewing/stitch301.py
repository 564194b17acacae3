"""ISO 4915 stitch type 301, lockstitch, as its face shows it.

Two threads lock inside the cloth, so each face shows one thread only: for every stitch a short,
plump piece that comes out of one needle hole and goes into the next. Here that piece is a
paraboloid cap with round ends, three plies twisted Z wind along it, and at each hole the cloth
dips. Four such stitches, which differ as sewn ones do, are drawn once into a table of running
sums, from which any texel reads its mean (see ``sums``).

For coordinates see ``drawing``.
"""

import math

import numpy as np

from texbake.arrays import F64, I64
from texbake.cloth.hash import hash01
from texbake.sewing.drawing import FINER, MAX_CELLS, VARIANTS, Drawn, table
from texbake.sewing.sums import Plane
from texbake.sewing.thread import PLIES, PLY_ANGLE_RAD

_SEED = 301  # of the variants: all chains share the drawing, and differ in where they start
HALF_DIAMETERS = 1.5  # the table's half width: beyond, the thread changes nothing

_ACROSS_CELLS, _ALONG_CELLS = 40, 12  # of the table, per diameter
_VISIBLE = 0.84  # share of the stitch length between the holes that shows thread
_CROWN = 0.65  # height of the thread above the cloth, in diameters: it sinks in
_SAG = 0.35  # share of the crown lost towards the holes
_TAPER = 0.18  # share of the width lost towards the holes
_NOSE = 2.0  # length of the rounded end, in radii: the thread dives, it does not stop
_PLY_DEPTH = 0.25  # depth of the groove between plies, as a share of the height
_LEAN = math.radians(2.0)  # lockstitch slants a little: the needle thread is laid round the other
_UNEVEN = math.radians(2.0)
_WANDER = 0.04  # of a diameter: how far a stitch lies off its row
_HOLE_DEPTH = 0.55  # of the dip at a hole, in diameters
_HOLE_HALF = 0.70  # half width of the dip, in diameters


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
        See ``drawing.table``.
    """
    half = HALF_DIAMETERS * diameter_mm
    across = round(2 * HALF_DIAMETERS * _ACROSS_CELLS)
    along = min(MAX_CELLS, math.ceil(stitch_mm / diameter_mm * _ALONG_CELLS))
    fine_u, fine_x = FINER * along, FINER * across
    u = np.arange(VARIANTS * fine_u + 1)[:, None] / fine_u
    x = np.linspace(-half, half, fine_x + 1)
    cover, height, groove, dip = surface(u, x, diameter_mm, stitch_mm)
    drawn = Drawn(cover=cover, height_mm=height, groove=groove, dip=dip)
    return table(drawn, half, stitch_mm)


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
