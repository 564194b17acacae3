"""Yarn: from the count that a mill quotes to a diameter and a twist angle.

F. T. Peirce, "The geometry of cloth structure", Journal of the Textile Institute 28 (1937) T45: a
cotton yarn's specific volume is 1.1 cm3/g, so d [mm] = 0.03742 sqrt(tex). Covers are fractions:
yarns per unit length times diameter.
"""

import math

# Peirce 1937: sqrt(4 * 1.1 / pi) cm3/g, turned to mm per sqrt(tex): 0.0374244...
DIAMETER_MM = math.sqrt(4.0 * 1.1e-3 / math.pi)

# Usual ring-spun warp: twist factor 4,000 turns/m sqrt(tex) (common practice, no source at hand).
TWIST_FACTOR = 4000.0


def diameter_mm(count_tex: float) -> float:
    """Diameter of a round, free yarn (Peirce 1937), mm.

    >>> round(diameter_mm(29.5271), 4)  # Ne 20; tables/yarn_count_diameter.csv says 0.20336
    0.2034
    """
    if not 0.0 < count_tex < math.inf:
        raise ValueError(f"count is {count_tex} tex; it must be above 0")
    return DIAMETER_MM * math.sqrt(count_tex)


def cover_fraction(count_tex: float, per_cm: float) -> float:
    """Share of a line across the yarns that they hide, 1 where they touch."""
    return diameter_mm(count_tex) * per_cm / 10.0


def cloth_cover(warp: float, weft: float) -> float:
    """Share of the area hidden by both systems: C1 + C2 - C1 C2."""
    return warp + weft - warp * weft


def twist_angle_rad(count_tex: float, turns_per_m: float | None = None) -> float:
    """Angle of the fibres on the surface to the yarn's axis: tan(angle) = pi d t, rad."""
    turns = TWIST_FACTOR / math.sqrt(count_tex) if turns_per_m is None else turns_per_m
    return math.atan(math.pi * diameter_mm(count_tex) * 1e-3 * turns)
