"""How a seam or an edge is built: its cross-section, from the layers that lie one on the other.

A pressed seam lies open, both cloths turned under. A lapped seam lays one cloth, its edge turned
under, over the other; a felled seam folds both into one another, so that one layer more lies
beneath, and is sewn twice. A piped seam holds a covered cord in its line. A bound edge is clasped
by a folded strip. (ISO 4916 classes 1, 2, 1 with an insert, and 3.)
"""

from dataclasses import replace

from texbake.recipe.values import HemRecipe, SeamRecipe
from texbake.sewing.fold import Across

_LAP_MM = 6.0  # at least, of a lapped seam
_FELLED_LAYERS = 1.5  # thicknesses that the fell stands above the cloth: pressed, it loses half one
_SOFT_MM = 1.0  # over which a lap or a binding falls off at its inner edge
_STRIP = 0.8  # a binding's thickness, as a share of the cloth's: it is the lighter cloth


def seam_across(
    recipe: SeamRecipe, pressed: tuple[Across, Across], thickness_mm: float
) -> tuple[Across, Across]:
    """Build a seam.

    Parameters
    ----------
    recipe : SeamRecipe
    pressed : tuple of two Across
        What lies on each side if it is a pressed seam; rows and all.
    thickness_mm : float
        Of the cloth.

    Returns
    -------
    tuple of two Across
    """
    if recipe.construction == "piped":
        radius = 0.5 * recipe.cord_mm
        first, second = (_piped(side, radius) for side in pressed)
        return first, second
    if recipe.construction in {"lapped", "felled"}:
        over = 1 if pressed[1].lines_mm and not pressed[0].lines_mm else 0
        under = replace(pressed[1 - over], groove_mm=0.0, lift_mm=0.0, rows_mm=(), lines_mm=())
        upper = _lapped(recipe, pressed[over], thickness_mm)
        return (under, upper) if over else (upper, under)
    return pressed


def _piped(side: Across, radius_mm: float) -> Across:
    """Put half a cord in the line; rows count from its foot."""
    return replace(
        side,
        cord_mm=radius_mm,
        trim_mm=radius_mm,
        rows_mm=tuple(row + radius_mm for row in side.rows_mm),
        lines_mm=tuple(line + radius_mm for line in side.lines_mm),
    )


def _lapped(recipe: SeamRecipe, side: Across, thickness_mm: float) -> Across:
    """The side that lies on top: its folded edge in the line, and what is beneath it."""
    layers = _FELLED_LAYERS if recipe.construction == "felled" else 1.0
    width = max((_LAP_MM, *(row + recipe.from_edge_mm for row in side.rows_mm)))
    return replace(
        side,
        groove_mm=0.0,
        lift_mm=layers * thickness_mm,
        lift_to_mm=width,
        lift_soft_mm=_SOFT_MM,
        roll_mm=layers * thickness_mm,
    )


def hem_across(
    recipe: HemRecipe, turned: Across, thickness_mm: float, strip_mm: float | None = None
) -> Across:
    """Build an edge.

    Parameters
    ----------
    recipe : HemRecipe
    turned : Across
        What lies across it if it is a hem that is turned in.
    thickness_mm : float
        Of the cloth.
    strip_mm : float, optional
        Thickness of a binding's or a band's own cloth.
    """
    if recipe.construction == "turned":
        return turned
    strip = _STRIP * thickness_mm if strip_mm is None else strip_mm
    if recipe.construction == "banded":  # folded double, and joined by a seam at its width
        return replace(
            turned,
            lift_mm=max(2.0 * strip - thickness_mm, 0.0),
            lift_to_mm=recipe.width_mm,
            lift_soft_mm=_SOFT_MM,
            roll_mm=2.0 * strip,
            join_mm=recipe.width_mm,
            trim_mm=recipe.width_mm,
        )
    return replace(
        turned,
        lift_mm=strip,
        lift_to_mm=recipe.width_mm,
        lift_soft_mm=_SOFT_MM,
        roll_mm=thickness_mm if strip_mm is None else 0.5 * thickness_mm + strip,
        trim_mm=recipe.width_mm + 0.25 * _SOFT_MM,
    )


def is_felled(recipe: object) -> bool:
    """Whether a seam is felled: it is then sewn twice at least."""
    return isinstance(recipe, SeamRecipe) and recipe.construction == "felled"
