"""Structures as a mill calls them (``twill 2/1 Z``), and what a tailor would order them with."""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from texbake.recipe.knits import (
    KNIT_FIRST,
    KNIT_WORDS,
    NET_WORDS,
    PILE_WORDS,
    SKIN_WORDS,
    parse_knit,
    parse_net,
    parse_pile,
    parse_skin,
)
from texbake.recipe.mistake import WrongValueError, advice, shown
from texbake.recipe.units import TEX_NE
from texbake.recipe.values import Chart, Felt, RepWeave, Rib, Structure
from texbake.recipe.weaves import FIRST_WORDS, WEAVE_WORDS, parse_weave


def parse_structure(text: str) -> Structure:
    """Return the structure that any phrase names: a weave, a knit, ``felt``, ``corduroy`` ...

    Raises
    ------
    WrongValueError
        No such structure, or its numbers do not make one.
    """
    words = " ".join(text.split())
    if words == "felt":
        return Felt()
    first = words.split(" ")[0]
    if first in KNIT_FIRST:
        return parse_knit(words)
    if first in {"fleece", "corduroy", "towelling"}:
        return parse_pile(words)
    if words in SKIN_WORDS.split(", "):
        return parse_skin(words)
    if words in NET_WORDS.split(", "):
        return parse_net(words)
    if first in {"plain", "crepe", *FIRST_WORDS}:
        return parse_weave(words)
    known = (WEAVE_WORDS, KNIT_WORDS, "felt", PILE_WORDS, SKIN_WORDS, NET_WORDS)
    phrases = ", ".join(known).split(", ")
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
# 1x1 rib Ne 30: 10 face wales and as many back wales, 15 courses per cm (knit_numbers.csv, E16-E18,
# "from memory"); 2x2 rib cuff Ne 20, three and a half ribs x 14, common practice.
PLAIN_CLOTH = _woven("plain cloth", (32, 32), (68, 68))
DRILL = _woven("drill", (20, 16), (108, 56))
SATEEN = _woven("dress sateen", (40, 40), (135, 86))
T_SHIRT = _knitted("T-shirt single jersey", 30, 14, 18)
FINE_RIB = _knitted("1x1 rib", 30, 20, 15)
CUFF_RIB = _knitted("2x2 rib cuff", 20, 14, 14)
# Felt has no yarn; the count is that of the roving it is matted from and changes nothing.
FELT = _knitted("felt", 30, 0, 0)
# Interlock E22-E28 and three-thread fleece E18-E20: knit_numbers.csv, "from memory". Moss, purl and
# charts are those of a fine jumper, the cable that of a heavy one; common practice, no source.
INTERLOCK = _knitted("interlock", 40, 15, 17)
TERRY = _knitted("French terry", 28, 12, 16)
JUMPER = _knitted("fine-gauge jumper", 10, 8, 11)
# Courses of purl draw together: it is as short as its ridges let it (common practice, no source).
PURL = _knitted("purl jumper", 10, 8, 15)
CABLED = _knitted("cabled jumper", 4, 5, 7)
EYELET = _knitted("eyelet sports knit", 30, 14, 18)
TULLE = _knitted("tulle", 100, 0, 0)


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
        "chart": JUMPER,
        "interlock": INTERLOCK,
        "cable": CABLED,
        "terry": TERRY,
        "eyelet": EYELET,
        "tulle": TULLE,
    }
)


def construction(structure: Structure) -> Construction:
    """Return what a tailor would take when the recipe leaves counts and densities open."""
    if isinstance(structure, Rib):
        return FINE_RIB if structure.face == structure.back == 1 else CUFF_RIB
    if isinstance(structure, RepWeave):
        return REP if structure.system == "warp" else _turned(REP)
    if isinstance(structure, Chart) and _is_purl(structure):
        return PURL
    return _USUAL.get(structure.kind, FELT)  # pile and skins: as felt, without a yarn


def _is_purl(chart: Chart) -> bool:
    """Whole courses of face loops and whole courses of back loops, by turns."""
    courses = [set(row) for row in chart.rows]
    return {"k"} in courses and {"p"} in courses and all(len(loops) == 1 for loops in courses)
