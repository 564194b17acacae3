"""The cloth across a chain: groove of a seam, fold of a hem, trough under a row of stitches.

All are functions of the distance to the chain alone. A pressed seam turns both cloths under, so
each side rolls down into the line; the allowances lie beneath and lift the cloth a little. A hem
is turned under: two layers from its folded edge, which is round, to its width. A row of stitches
pulls the layers together.

The pieces are polynomials with a continuous slope, except at the line of a seam itself, where the
two sides meet with opposite slopes in a crease.
"""

from dataclasses import dataclass

import numpy as np

from texbake.arrays import F64
from texbake.sewing.sky import sky_share

STEP_MM = 0.01
GROOVE_MM = 1.5  # over which a pressed seam rolls into its line
ALLOWANCE_MM = 10.0  # 3/8 in: general seaming, side seams, armholes
ALLOWANCE_SHARE = 0.5  # of a thickness: pressed and beaten flat, it shows half (chosen)
FOLD_SOFT_MM = 1.5  # over which a turned hem falls off
ALLOWANCE_SOFT_MM = 3.0  # an allowance lies behind a layer and is pressed: it shows less
TROUGH_MM = 1.25  # half width of the trough under a row of a thin thread
_ROLL_SHARE = 0.8  # of a thickness: how far the folded edge turns down
_JOIN_MM = 0.5  # depth of the seam that joins a band: pressed away from it, it lies deep (chosen)
_SKY_MM = 4.0  # a horizon further off than this is too low to matter


@dataclass(frozen=True, slots=True, kw_only=True)
class Across:
    """What lies across a chain. All in mm.

    Attributes
    ----------
    groove_mm : float
        Depth of a seam's line.
    lift_mm, lift_to_mm, lift_soft_mm : float
        A hidden layer beneath (a seam's allowance, a hem's fold): its height, its width, and over
        how much it falls off there.
    roll_mm : float
        Radius of a folded edge at the line; 0 for none.
    rows_mm : tuple of float
        Distance of each row of needle holes, at which the cloth is drawn in.
    lines_mm : tuple of float
        Distance of the middle of each line of stitches: of lockstitch, its row.
    join_mm : float
        Distance of a seam that joins a band; 0 for none.
    cord_mm : float
        Radius of a cord in the line; 0 for none.
    trim_mm : float
        How far from the line another cloth covers this one: a binding, a piping.
    trough_mm, trough_half_mm : float
        Depth and half width of the trough under a row.
    """

    groove_mm: float = 0.0
    lift_mm: float = 0.0
    lift_to_mm: float = 0.0
    lift_soft_mm: float = FOLD_SOFT_MM
    roll_mm: float = 0.0
    rows_mm: tuple[float, ...] = ()
    lines_mm: tuple[float, ...] = ()
    join_mm: float = 0.0
    cord_mm: float = 0.0
    trim_mm: float = 0.0
    trough_mm: float = 0.0
    trough_half_mm: float = TROUGH_MM


def reach_mm(across: Across) -> float:
    """Distance beyond which the profile is flat."""
    ends = [across.cord_mm + GROOVE_MM, across.roll_mm, across.trim_mm]
    if across.join_mm:
        ends.append(across.join_mm + GROOVE_MM)
    if across.lift_mm:
        ends.append(across.lift_to_mm + 0.5 * across.lift_soft_mm)
    ends += [row + across.trough_half_mm for row in across.rows_mm]
    return max(ends)


def bump(t: F64) -> F64:
    """1 at 0, 0 from 1 on, slope continuous: (1 - t^2)^2."""
    return np.square(np.maximum(1.0 - t * t, 0.0))


def trough_bend(across: Across) -> float:
    """Second derivative of the height at the bottom of a trough, per mm."""
    return 4.0 * across.trough_mm / across.trough_half_mm**2


def profile_mm(across: Across, distance_mm: F64) -> F64:
    """Height of the cloth at each distance, mm; (...) float64 in and out."""
    d = distance_mm
    foot = np.maximum(d - across.cord_mm, 0.0)
    height: F64 = -across.groove_mm * np.maximum(1.0 - foot / GROOVE_MM, 0.0) ** 3
    if across.cord_mm:  # half a cord, from the bottom of the groove that runs along its foot
        top = across.cord_mm + across.groove_mm
        height += top * np.maximum(1.0 - np.square(d / across.cord_mm), 0.0)
    if across.lift_mm:
        t = np.clip((d - across.lift_to_mm) / across.lift_soft_mm + 0.5, 0.0, 1.0)
        height += across.lift_mm * (1.0 - t * t * (3.0 - 2.0 * t))
    if across.join_mm:
        height -= _JOIN_MM * np.maximum(1.0 - np.abs(d - across.join_mm) / GROOVE_MM, 0.0) ** 3
    if across.roll_mm:
        turned = np.maximum(1.0 - d / across.roll_mm, 0.0)
        height -= _ROLL_SHARE * across.roll_mm * turned * turned
    for row in across.rows_mm:
        height -= across.trough_mm * bump((d - row) / across.trough_half_mm)
    return height


def profile_fields(across: Across, length_mm: float, beyond: Across | None) -> F64:
    """Height, slope, slope squared and darkness in cells of ``STEP_MM`` from the line on.

    Parameters
    ----------
    across : Across
    length_mm : float
        How far to tell it.
    beyond : Across or None
        The other side of the line (of a seam); None: it is empty (of a hem).

    Returns
    -------
    (4, n) float64
        Darkness is one minus the share of the sky that is seen.
    """
    count = round(length_mm / STEP_MM)
    nodes = profile_mm(across, np.arange(count + 1) * STEP_MM)
    height = 0.5 * (nodes[1:] + nodes[:-1])
    slope = np.diff(nodes) / STEP_MM
    reach = round(_SKY_MM / STEP_MM)
    whole = height
    if beyond is not None:
        other = profile_mm(beyond, (np.arange(reach)[::-1] + 0.5) * STEP_MM)
        whole = np.concatenate([other, height])
    share = sky_share(whole, STEP_MM, reach, axis=0, periodic=False)[-count:]
    return np.stack([height, slope, slope * slope, 1.0 - share])
