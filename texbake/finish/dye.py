"""Colour under more dye or less.

P. Kubelka and F. Munk, "Ein Beitrag zur Optik der Farbanstriche", Zeitschrift fuer technische
Physik 12 (1931) 593: an opaque layer of reflectance R has K/S = (1 - R)^2 / (2 R), and K grows with
the amount of dye. So R = 1 + K/S - sqrt((K/S)^2 + 2 K/S), and for a small change of the dye's
amount t, dR/dt = -R (1 - R) / (1 + R): deep colours answer most, white not at all. Undyed fibre
counts as white here, so a channel's K/S is all dye.
"""

import numpy as np
from numpy.typing import ArrayLike

from texbake.arrays import F32

TRACE = 0.04  # of the dye stays where it is rubbed off: rubbed indigo is pale blue (by eye)
LEAST = 1e-4  # reflectance: black itself has no finite amount of dye


def depth(linear: ArrayLike) -> F32:
    """K/S of a reflectance, each channel; (...) float32 in and out."""
    r = np.clip(np.asarray(linear, np.float32), LEAST, 1.0)
    out: F32 = np.square(1.0 - r) / (2.0 * r)
    return out


def reflectance(depth_ks: F32) -> F32:
    """Reflectance of a K/S, each channel; (...) float32 in and out."""
    out: F32 = 1.0 + depth_ks - np.sqrt(depth_ks * (depth_ks + 2.0))
    return out


def with_dye(linear: F32, share: float) -> F32:
    """The colour with ``share`` of its dye: 1 as it is, less for faded, more for deeper."""
    return reflectance(depth(linear) * share)


def rubbed_off(linear: F32, core: ArrayLike) -> F32:
    """The colour where dye is rubbed off: the core, with the trace of dye that stays in it."""
    return reflectance(depth(core) + TRACE * depth(linear))


def per_dye(linear: F32) -> F32:
    """How the colour changes per relative change of its dye: not above 0."""
    out: F32 = -linear * (1.0 - linear) / (1.0 + linear)
    return out


def dyed_along(thread: ArrayLike, cloth: ArrayLike, share: float) -> F32:
    """Thread that took part of the cloth's shade in the same bath; never paler than before."""
    own, bath = depth(thread), depth(cloth)
    out: F32 = reflectance(own + share * np.maximum(bath - own, 0.0)).astype(np.float32)
    return out
