"""What sewing must know of cloth."""

from collections.abc import Iterable
from dataclasses import dataclass

from texbake import cloth
from texbake.recipe.values import Recipe


@dataclass(frozen=True, slots=True, kw_only=True)
class ClothFacts:
    """What sewing must know of a panel's cloth.

    Attributes
    ----------
    colour_linear : tuple of three float
        Mean colour, linear light.
    thickness_mm : float
    """

    colour_linear: tuple[float, float, float]
    thickness_mm: float


def cloth_facts(recipe: Recipe, names: Iterable[str]) -> dict[str, ClothFacts]:
    """Tell it of each of these fabrics of a recipe."""
    return {
        name: ClothFacts(
            colour_linear=cloth.mean_colour(recipe.fabrics[name]),
            thickness_mm=cloth.thickness_mm(recipe.fabrics[name]),
        )
        for name in sorted(set(names))
    }
