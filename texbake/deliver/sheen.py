"""Which cloth shines at grazing angles: knits and felts, whose fibre ends stand up.

Loops of staple yarn and matted fibres carry a fuzz that is too fine for any map. It catches light
from the side; the standard's layer for that is `KHR_materials_sheen` (Estevez and Kulla,
"Production Friendly Microfacet Sheen BRDF", 2017, in its README). Woven staple is sheared and
pressed flat: the maps' own roughness is enough.
"""

from dataclasses import dataclass

from texbake.recipe.values import Fabric, Felt, Jersey, Rib, Triple

# By eye, no source. The share of the cloth's colour that the fuzz gives back: cloth knitted of
# spun yarn has little, felt is nothing but fuzz. The width is the standard's, alpha = roughness^2.
KNIT_SHARE, KNIT_ROUGHNESS = 0.3, 0.5
FELT_SHARE, FELT_ROUGHNESS = 0.6, 0.6


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheen:
    """The fuzz of one cloth.

    Attributes
    ----------
    colour_linear : three floats
        Linear light, 0 to 1.
    roughness : float
        0 to 1.
    """

    colour_linear: Triple
    roughness: float

    def __post_init__(self) -> None:
        """Refuse what cannot be."""
        if not all(0.0 <= value <= 1.0 for value in (*self.colour_linear, self.roughness)):
            raise ValueError(f"sheen is of numbers in 0..1, not {self}")


def sheen_of(fabric: Fabric, mean_linear: Triple) -> Sheen | None:
    """Return the sheen of a fabric; None for one without fuzz.

    Parameters
    ----------
    fabric : Fabric
    mean_linear : three floats
        The cloth's mean colour, linear light.
    """
    match fabric.structure:
        case Jersey() | Rib():
            share, roughness = KNIT_SHARE, KNIT_ROUGHNESS
        case Felt():
            share, roughness = FELT_SHARE, FELT_ROUGHNESS
        case _:
            return None
    r, g, b = (round(min(share * channel, 1.0), 6) for channel in mean_linear)
    return Sheen(colour_linear=(r, g, b), roughness=roughness)
