"""How yarns press on each other in a weave: who rises, who spreads, who closes up.

All of it follows from the draft. Peirce's geometry (1937): at a crossing the two axes are one mean
thickness apart, and each system takes its share of that as crimp; the closer system takes more, as
the warp of poplin and denim does, whose weft lies straight and a little deeper. A float is held by
nothing: it spreads until it meets a neighbour, and reaches over a neighbour that has dived, which
is what closes a satin. Yarns that work alike close up, as the pairs of a basket weave do.
"""

from dataclasses import dataclass

import numpy as np

from texbake.arrays import F32, Bool

LONG = 3.0  # crossings by which a float exceeds one when it has spread fully (by eye, no source)
SPREAD = 0.80  # a long float is this much wider than the mean (by eye, no source)
PINCH = 0.08  # where a yarn dives it is this much narrower, and wider on top (by eye, no source)
ROOM, OPEN = 1.12, 2.10  # of a pitch: widest beside a neighbour on top, and beside one below
CLOSE = 0.10  # of a pitch: how far yarns that work alike close up (by eye, no source)
HELD = 1.10  # a lone crossing under long floats stays this much lower (by eye, no source)
BOW = 0.12  # of the thickness: how far a long float bows up (by eye, no source)


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Crossings:
    """One system at each crossing, all (crossings along, yarns) float32.

    Attributes
    ----------
    axis_mm : height of its axis
    width_mm : of the yarn
    floats : 0 where it interlaces at every crossing, 1 in a long float
    aside_mm : how far it is moved off its even place
    """

    axis_mm: F32
    width_mm: F32
    floats: F32
    aside_mm: F32


def crossings(up: Bool, *, rise_mm: float, width_mm: float, pitch_mm: float) -> Crossings:
    """Where one system lies.

    Parameters
    ----------
    up : (crossings along, yarns) bool
        This system is on top.
    rise_mm : float
        From the middle of the cloth to its axis.
    width_mm, pitch_mm : float
        Mean width of the yarn, distance between yarns.
    """
    floats = np.clip((_runs(up) - 1.0) / LONG, 0.0, 1.0)
    sign = np.where(up, 1.0, -1.0)
    wide = width_mm * (1.0 + PINCH * sign + SPREAD * floats * up)
    beside = np.roll(up, 1, 1) & np.roll(up, -1, 1)
    most = np.maximum(np.where(beside, ROOM, OPEN) * pitch_mm, width_mm)
    return Crossings(
        axis_mm=(rise_mm * (sign * (1.0 + BOW * floats) - _held(up, floats))).astype(np.float32),
        width_mm=np.minimum(wide, most).astype(np.float32),
        floats=floats.astype(np.float32),
        aside_mm=(CLOSE * pitch_mm * _pull(up)).astype(np.float32),
    )


def _held(up: Bool, floats: F32) -> F32:
    """How much lower a yarn stays that comes up between long floats of its own below.

    The floats of the other system beside it lie over it and close: in a satin they all but hide
    it, in a twill they make it small.
    """
    below = (
        floats**3 * ~up
    )  # three picks of denim hold it a little, four of a satin all but hide it
    beside = np.minimum(np.roll(below, 1, 0), np.roll(below, -1, 0))
    out: F32 = (HELD * beside * up).astype(np.float32)
    return out


def _runs(up: Bool) -> F32:
    """Length of the float, on top or below, that each crossing belongs to; axis 0 is periodic."""
    count = len(up)
    runs = np.ones(up.shape, np.float32)
    for step in (1, -1):
        same = np.ones(up.shape, np.bool_)
        for k in range(1, count):
            same = same & (np.roll(up, step * k, 0) == up)
            runs += same
    return np.minimum(runs, np.float32(count))


def _pull(up: Bool) -> F32:
    """-1 to 1: towards the neighbour that works alike near this crossing, away from the other."""
    alike = (up == np.roll(up, -1, 1)).astype(np.float32)  # with the neighbour to the right
    near = (alike + np.roll(alike, 1, 0) + np.roll(alike, -1, 0)) / np.float32(3.0)
    out: F32 = near - np.roll(near, 1, 1)
    return out
