"""Sewing thread: how thick it is, what colour, how rough.

Sewing threads are two or three plies, first twisted S, then plied Z (practice; so say trade
guides to thread construction). A corespun polyester thread of 60 tex is the usual one for seams
that are meant to be seen.
"""

import math

import numpy as np

from texbake.arrays import F32

# Peirce, "The geometry of cloth structure", J. Textile Institute 28 (1937) T45: specific volume
# 1.1 cm3/g, so d = sqrt(4 * 1.1e-3 / pi) sqrt(tex) mm. For polyester (1.38 g/cm3) packed to
# 0.646 (d[cm] = 4.44e-3 sqrt(tex / density)) it is 0.0378 sqrt(tex): 1 % more.
_PEIRCE = math.sqrt(4.0 * 1.1e-3 / math.pi)

PLIES = 3
# Angle of the plies to the thread: balanced three-ply threads lie near 30 degrees (practice).
PLY_ANGLE_RAD = math.radians(32.0)

# Roughness 0.5: between the measured nylon (0.30) and the smoothest measured staple cloths (0.54
# to 0.78), MERL cloths as fitted by Bagher, Soler and Holzschuch (EGSR 2012). alpha =
# roughness^2 (glTF 2.0), and the contract keeps alpha^2.
_ALPHA2 = 0.5**4
# Metallised film round a core: as smooth as the nylon, a little broken by the winding (chosen).
_ALPHA2_METALLIC = 0.35**4

# Thread that the recipe gives no colour is dyed to the cloth and looks a little darker.
_TONE = 0.75


def diameter_mm(count_tex: float) -> float:
    """Diameter of a thread, mm (Peirce 1937).

    >>> round(diameter_mm(60.0), 3)
    0.29
    """
    if not count_tex > 0.0:
        raise ValueError(f"thread count {count_tex} tex is not above 0")
    return _PEIRCE * math.sqrt(count_tex)


def alpha2(*, metallic: bool) -> float:
    """Square of the GGX width of a thread's own surface."""
    return _ALPHA2_METALLIC if metallic else _ALPHA2


def thread_colour(thread_linear: tuple[float, ...] | None, cloth_linear: tuple[float, ...]) -> F32:
    """Colour of the thread, (3,) float32 linear light; ``None`` follows the cloth, darker."""
    if thread_linear is None:
        return np.asarray(cloth_linear, np.float32) * np.float32(_TONE)
    return np.asarray(thread_linear, np.float32)
