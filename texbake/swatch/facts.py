"""What a mill would say of a cloth: weight, cover, tightness, where they follow from its figures.

Woven: oz/yd2 = 0.6857 [K_w (1 + c_w) / sqrt(Ne_w) + K_f (1 + c_f) / sqrt(Ne_f)] in the trade's
units (sources in the project's textile notes), which is count times yarns per length with crimp;
K is Peirce's cover factor (1937), ends per inch over sqrt(Ne), 28 where yarns touch. Knitted:
count times loops times the length of a loop (Texcoms handbook, p. 147), and the loop's length from
its density, S = ks / l^2 (Munden 1959).
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from texbake.cloth import cloth_cover, cover_fraction, diameter_mm
from texbake.recipe import Fabric, Yarn
from texbake.recipe.values import Jersey, Rib

CRIMP = 0.08  # how much longer a yarn is than its cloth (common practice, no source)
NE_TEX = 590.5412474  # Ne times tex (ISO 1144; exact)

# Loops per cm2 times the square of a loop's length in cm. The first three are K of GSM =
# K / (Ne l), 12068.59, 16431.497, 19005.333 (textilecalculation.blogspot.com, 2015/02), by 590.54:
# Munden's own for jersey are 19.0 dry and 21.6 wet relaxed. Rib 2x2: Ne 30, l 2.60 to 2.65 mm,
# 220 g/m2 (saidur2020.blogspot.com, 2019/12).
RELAXED: Mapping[str, float] = MappingProxyType(
    {"single jersey": 20.44, "rib 1x1": 27.82, "rib 2x1": 32.18, "rib 2x2": 29.34}
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Facts:
    """Figures of a cloth at life size; None where nothing known says them.

    Attributes
    ----------
    weight_g_m2 : float or None
    cover_factors : (float, float) or None
        Peirce's K of warp and weft.
    cover : float or None
        Share of the area that the yarns hide.
    loop_mm : float or None
        Length of yarn in one loop.
    tightness : float or None
        sqrt(tex) over the loop's length in cm; 9 to 13 as usual.
    """

    weight_g_m2: float | None = None
    cover_factors: tuple[float, float] | None = None
    cover: float | None = None
    loop_mm: float | None = None
    tightness: float | None = None


def facts_of(fabric: Fabric) -> Facts:
    """Reckon a fabric's figures.

    >>> from texbake.recipe.values import BLACK, Plain, Yarn
    >>> yarn = Yarn(count_tex=29.5, per_cm=24.0, colour=BLACK)
    >>> sheeting = facts_of(Fabric(name="sheet", structure=Plain(), warp=yarn, weft=yarn))
    >>> f"{sheeting.weight_g_m2:.0f}"
    '153'
    """
    if fabric.warp is not None and fabric.weft is not None:
        return _woven(fabric.warp, fabric.weft)
    if fabric.yarn is not None and isinstance(fabric.structure, Jersey | Rib):
        words = fabric.structure.words.removesuffix(" back")
        if words in RELAXED:
            return _knitted(fabric, fabric.yarn, RELAXED[words])
    return Facts()


def _woven(warp: Yarn, weft: Yarn) -> Facts:
    hidden = [min(cover_fraction(y.count_tex, y.per_cm), 1.0) for y in (warp, weft)]
    return Facts(
        weight_g_m2=sum((1.0 + CRIMP) * y.count_tex * y.per_cm / 10.0 for y in (warp, weft)),
        cover_factors=(cover_factor(warp), cover_factor(weft)),
        cover=cloth_cover(hidden[0], hidden[1]),
    )


def cover_factor(yarn: Yarn) -> float:
    """Peirce's K: yarns per inch over the root of Ne."""
    return yarn.per_cm * 2.54 / math.sqrt(NE_TEX / yarn.count_tex)


def _knitted(fabric: Fabric, yarn: Yarn, relaxed: float) -> Facts:
    loops = fabric.wales_per_cm * fabric.courses_per_cm
    loop_cm = math.sqrt(relaxed / loops)
    return Facts(
        weight_g_m2=loops * loop_cm * yarn.count_tex / 10.0,
        loop_mm=10.0 * loop_cm,
        tightness=math.sqrt(yarn.count_tex) / loop_cm,
    )


def yarn_words(yarn: Yarn) -> str:
    """A yarn's count and diameter, in words."""
    ne = NE_TEX / yarn.count_tex
    return f"{yarn.count_tex:.3g} tex (Ne {ne:.3g}, {diameter_mm(yarn.count_tex):.2f} mm)"
