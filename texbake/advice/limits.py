"""The limits of a UV layout. A budget file may set others."""

from dataclasses import dataclass
from typing import Final


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """How far a layout may go before something is said. All are common practice, no source.

    Attributes
    ----------
    stretch : float
        Edge-length error of a flat pattern against the cloth (root mean square), as a share. Woven
        cloth eases by a few per cent; beyond that a tailor cuts a dart.
    stretch_max : float
        The same, of the worst edge.
    uv_stretch_mean : float
        Longest by shortest step of a texel on the surface, mean over a panel's area.
    uv_stretch : float
        The same, of all but the worst 1 % of a panel's area.
    density_spread : float
        Texels per cm of the densest panel by those of the coarsest.
    density_spread_panel : float
        The same inside a panel, without 1 % of its area at either end.
    unused : float
        Share of the sheet that no island covers.
    in_square, overlaps, folded, mirrored : bool
        Whether islands may leave the square, share texels, be turned over in part, lie mirrored.
    """

    stretch: float = 0.04
    stretch_max: float = 0.25
    uv_stretch_mean: float = 1.3
    uv_stretch: float = 2.0
    density_spread: float = 1.5
    density_spread_panel: float = 1.5
    unused: float = 0.5
    in_square: bool = False
    overlaps: bool = False
    folded: bool = False
    mirrored: bool = True


LIMITS: Final = Limits()
