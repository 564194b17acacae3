"""Which cloth shines at grazing angles: felts, knits, and whatever is woven of hairy yarn.

Loops of staple yarn, matted fibres and raised naps carry a fuzz that is too fine for any map. It
catches light from the side; the standard's layer for that is `KHR_materials_sheen` (Estevez and
Kulla, "Production Friendly Microfacet Sheen BRDF", 2017, in its README). Other woven cloth is
sheared and pressed flat: the maps' own roughness is enough.

By eye, no source: felt is all fuzz and gives back 0.6 of its colour; a knit of ordinary yarn has
half of that, more if the yarn is hairy; a weave has as much as its yarns have hair, from one half
up, which is what brushing leaves. The width is the standard's, alpha = roughness^2.
"""

from dataclasses import dataclass
from typing import Final

from texbake.cloth.facts import has_holes
from texbake.recipe.values import Fabric, Felt, Pile, Skin, Triple

SHARE: Final = 0.6  # of the cloth's colour, where all is fuzz
ROUGHNESS: Final = 0.5
_BRUSHED: Final = 0.5  # hair of a yarn from which a weave counts as brushed


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheen:
    """The fuzz of one cloth.

    Attributes
    ----------
    colour_linear : three floats
        Linear light, 0 to 1.
    roughness : float
        0 to 1.
    see_through : bool
        The cloth has holes.
    """

    colour_linear: Triple
    roughness: float
    see_through: bool = False

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
    fuzz = SHARE * _fuzz(fabric)
    if fuzz == 0.0:
        return None
    r, g, b = (round(min(fuzz * channel, 1.0), 6) for channel in mean_linear)
    return Sheen(colour_linear=(r, g, b), roughness=ROUGHNESS, see_through=has_holes(fabric))


def _fuzz(fabric: Fabric) -> float:
    """How much of a fabric's surface is fuzz, 0 to 1."""
    if isinstance(fabric.structure, Felt | Pile):
        return 1.0
    if isinstance(fabric.structure, Skin):
        return 0.0
    if fabric.yarn is not None:
        return 0.375 + 0.625 * fabric.yarn.hair  # one half at the usual hair, 0.2
    hair = max((yarn.hair for yarn in (fabric.warp, fabric.weft) if yarn is not None), default=0.0)
    return hair if hair >= _BRUSHED else 0.0
