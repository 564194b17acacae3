"""Structures as a mill calls them (``twill 2/1 Z``), and what a tailor would order them with."""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from texbake.recipe.mistake import WrongValueError, advice, shown
from texbake.recipe.units import TEX_NE
from texbake.recipe.values import Felt, Jersey, RepWeave, Rib, Structure
from texbake.recipe.weaves import FIRST_WORDS, WEAVE_WORDS, parse_weave

KNITS = r"^\s*(single jersey|rib\s+\d{1,3}x\d{1,3})\s*$"
KNIT_WORDS = "single jersey, rib 1x1, rib 2x2"
_RIB_MAX = 16


def parse_knit(text: str) -> Jersey | Rib:
    """Return the knit that a phrase names.

    Raises
    ------
    WrongValueError
        No such knit, or its numbers do not make one.

    >>> parse_knit("rib 2x2")
    Rib(face=2, back=2, kind='rib')
    """
    words = " ".join(text.split())
    if words == "single jersey":
        return Jersey()
    if not (found := re.fullmatch(r"rib (\d{1,3})x(\d{1,3})", words)):
        fix = advice(words, KNIT_WORDS.split(", "), f"write a knit: {KNIT_WORDS}")
        raise WrongValueError(f"{shown(text)} is no knit", fix=fix)
    face, back = int(found[1]), int(found[2])
    if not (1 <= face <= _RIB_MAX and 1 <= back <= _RIB_MAX):
        fix = f"a rib has 1 to {_RIB_MAX} wales each way, as in rib 2x2"
        raise WrongValueError(f"{words!r} cannot be knitted", fix=fix)
    return Rib(face=face, back=back)


def parse_structure(text: str) -> Structure:
    """Return the structure that any phrase names: a weave, a knit, or ``felt``.

    Raises
    ------
    WrongValueError
        No such structure, or its numbers do not make one.
    """
    words = " ".join(text.split())
    if words == "felt":
        return Felt()
    if re.match(r"(single|jersey|rib)\b", words):
        return parse_knit(words)
    if words.split(" ")[0] in {"plain", "crepe", *FIRST_WORDS}:
        return parse_weave(words)
    phrases = [*WEAVE_WORDS.split(", "), *KNIT_WORDS.split(", "), "felt"]
    fix = advice(words, phrases, f"write a structure: {', '.join(phrases)}")
    raise WrongValueError(f"{shown(text)} is no structure", fix=fix)


@dataclass(frozen=True, slots=True, kw_only=True)
class Construction:
    """What a cloth is usually made with: counts in tex, densities per cm.

    For weaves ``first`` is the warp (ends), ``second`` the weft (picks); for knits ``first`` is
    wales and ``second`` courses, of one yarn.
    """

    cloth: str
    first_tex: float
    first_per_cm: float
    second_tex: float
    second_per_cm: float


def _woven(cloth: str, ne: tuple[float, float], per_inch: tuple[float, float]) -> Construction:
    return Construction(
        cloth=cloth,
        first_tex=TEX_NE / ne[0],
        first_per_cm=per_inch[0] / 2.54,
        second_tex=TEX_NE / ne[1],
        second_per_cm=per_inch[1] / 2.54,
    )


def _knitted(cloth: str, ne: float, wales: float, courses: float) -> Construction:
    tex = TEX_NE / ne
    return Construction(
        cloth=cloth, first_tex=tex, first_per_cm=wales, second_tex=tex, second_per_cm=courses
    )


# Weaves: the mill's "Ne x Ne / ends x picks per inch". Plain cloth 32 x 32 / 68 x 68 and drill
# 20 x 16 / 108 x 56 (Fabric Notes, scribd 50357247) are quoted by traders; dress sateen 40 x 40 /
# 135 x 86 is common practice (middle of 130-140 x 72-100). Knits: T-shirt single jersey Ne 30,
# 14 wales x 18 courses per cm, which agrees with Munden 1959 (3.8 / l, 5.0 / l, l = 0.27 cm);
# 1x1 rib Ne 30, 11 x 15 and 2x2 rib cuff Ne 20, 10 x 14, common practice.
PLAIN_CLOTH = _woven("plain cloth", (32, 32), (68, 68))
DRILL = _woven("drill", (20, 16), (108, 56))
SATEEN = _woven("dress sateen", (40, 40), (135, 86))
T_SHIRT = _knitted("T-shirt single jersey", 30, 14, 18)
FINE_RIB = _knitted("1x1 rib", 30, 11, 15)
CUFF_RIB = _knitted("2x2 rib cuff", 20, 10, 14)
# Felt has no yarn; the count is that of the roving it is matted from and changes nothing.
FELT = _knitted("felt", 30, 0, 0)


# Herringbone 16 x 16 / 64 x 56 and hopsack 20 x 20 / 76 x 64 are common practice (no source at
# hand). Rib weaves take poplin's setting, 40 x 40 / 133 x 72 (woven_constructions.csv), with the
# denser system floating.
HERRINGBONE = _woven("herringbone suiting", (16, 16), (64, 56))
HOPSACK = _woven("hopsack", (20, 20), (76, 64))
REP = _woven("rep", (40, 40), (133, 72))


def _turned(usual: Construction) -> Construction:
    """The same cloth with warp and weft exchanged."""
    return Construction(
        cloth=usual.cloth,
        first_tex=usual.second_tex,
        first_per_cm=usual.second_per_cm,
        second_tex=usual.first_tex,
        second_per_cm=usual.first_per_cm,
    )


_USUAL: Mapping[str, Construction] = MappingProxyType(
    {
        "plain": PLAIN_CLOTH,
        "draft": PLAIN_CLOTH,
        "twill": DRILL,
        "satin": SATEEN,
        "sateen": _turned(SATEEN),
        "herringbone": HERRINGBONE,
        "basket": HOPSACK,
        "crepe": PLAIN_CLOTH,
        "jersey": T_SHIRT,
        "felt": FELT,
    }
)


def construction(structure: Structure) -> Construction:
    """Return what a tailor would take when the recipe leaves counts and densities open."""
    if isinstance(structure, Rib):
        return FINE_RIB if structure.face == structure.back == 1 else CUFF_RIB
    if isinstance(structure, RepWeave):
        return REP if structure.system == "warp" else _turned(REP)
    return _USUAL[structure.kind]
