"""Structures as a mill calls them (``twill 2/1 Z``), and what a tailor would order them with."""

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from texbake.recipe.mistake import WrongValueError, advice, shown
from texbake.recipe.units import TEX_NE
from texbake.recipe.values import Draft, Felt, Jersey, Plain, Rib, Satin, Structure, Twill

WEAVES = r"^\s*(plain|twill\s+\d{1,3}/\d{1,3}(\s+[SZ])?|satin\s+\d{1,3}/\d{1,3})\s*$"
KNITS = r"^\s*(single jersey|rib\s+\d{1,3}x\d{1,3})\s*$"
WEAVE_WORDS = "plain, twill 2/1 Z, twill 2/2 S, satin 5/2"
KNIT_WORDS = "single jersey, rib 1x1, rib 2x2"
_TWILL_MAX, _SATIN_MAX, _RIB_MAX = 16, 32, 16


def parse_weave(text: str) -> Plain | Twill | Satin:
    """Return the weave that a phrase names.

    Raises
    ------
    WrongValueError
        No such weave, or its numbers do not make one.

    >>> parse_weave("twill 2/1")
    Twill(over=2, under=1, direction='Z', kind='twill')
    """
    words = " ".join(text.split())
    if words == "plain":
        return Plain()
    if found := re.fullmatch(r"twill (\d{1,3})/(\d{1,3})(?: ([SZ]))?", words):
        return _twill(words, int(found[1]), int(found[2]), found[3])
    if found := re.fullmatch(r"satin (\d{1,3})/(\d{1,3})", words):
        return _satin(words, int(found[1]), int(found[2]))
    fix = advice(words, WEAVE_WORDS.split(", "), f"write a weave: {WEAVE_WORDS}, or draw a draft")
    raise WrongValueError(f"{shown(text)} is no weave", fix=fix)


def _twill(words: str, over: int, under: int, direction: str | None) -> Twill:
    if min(over, under) < 1 or over + under > _TWILL_MAX:
        fix = (
            f"over and under are at least 1 each and at most {_TWILL_MAX} together, as in twill 2/1"
        )
        raise WrongValueError(f"{words!r} cannot be woven", fix=fix)
    return Twill(over=over, under=under, direction="S" if direction == "S" else "Z")


def _satin(words: str, ends: int, move: int) -> Satin:
    if not 5 <= ends <= _SATIN_MAX:
        fix = f"a satin has 5 to {_SATIN_MAX} ends (ISO 3572), as in satin 5/2"
        raise WrongValueError(f"{words!r} has {ends} ends", fix=fix)
    moves = [m for m in range(2, ends - 1) if math.gcd(m, ends) == 1]
    if move not in moves:
        rule = "ISO 3572: move and ends share no divisor, 1 < move < ends - 1"
        right = f"for {ends} ends write a move of {', '.join(map(str, moves))}"
        fix = f"{right} ({rule})" if moves else f"no move suits {ends} ends, take 5 or 8 ({rule})"
        raise WrongValueError(f"{words!r} does not bind evenly", fix=fix)
    return Satin(ends=ends, move=move)


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
    if re.match(r"(plain|twill|satin)\b", words):
        return parse_weave(words)
    phrases = [*WEAVE_WORDS.split(", "), *KNIT_WORDS.split(", "), "felt"]
    fix = advice(words, phrases, f"write a structure: {', '.join(phrases)}")
    raise WrongValueError(f"{shown(text)} is no structure", fix=fix)


def parse_draft(rows: object) -> Draft:
    """Return a drawn weave; the rows come top row first, as drawn, and are kept bottom first.

    Raises
    ------
    WrongValueError
        Not rows of x and . of one length, or a yarn that nothing binds.
    """
    if not isinstance(rows, list) or not rows or len(rows) > 64:
        fix = 'list 1 to 64 rows, the top one first, as in ["x.", ".x"]'
        raise WrongValueError(f"{shown(rows)} is no draft", fix=fix)
    for k, row in enumerate(rows):
        _check_row(row, rows[0], k)
    _check_bound(rows)
    return Draft(rows=tuple(reversed(rows)))


def _check_row(row: object, first: object, k: int) -> None:
    if not isinstance(row, str) or not re.fullmatch(r"[x.]{1,64}", row):
        fix = "a row is 1 to 64 of: x (warp on top) and . (weft on top)"
        raise WrongValueError(f"{shown(row)} is no row of a draft", fix=fix, at=(k,))
    if isinstance(first, str) and len(row) != len(first):
        what = f"row {row!r} has {len(row)} ends, the first row has {len(first)}"
        raise WrongValueError(what, fix="draw all rows equally long", at=(k,))


def _check_bound(rows: list[str]) -> None:
    """Refuse a yarn that floats for ever: it would fall out of the cloth."""
    for k, row in enumerate(rows):
        if len(set(row)) == 1:
            what = f"row {row!r}: this pick floats along its whole length"
            raise WrongValueError(what, fix="put at least one x and one . in each row", at=(k,))
    for k, column in enumerate(zip(*rows, strict=True)):
        if len(set(column)) == 1:
            what = f"column {k + 1} is all {column[0]!r}: this end floats along its whole length"
            raise WrongValueError(what, fix="put at least one x and one . in each column")


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


_USUAL: Mapping[str, Construction] = MappingProxyType(
    {
        "plain": PLAIN_CLOTH,
        "draft": PLAIN_CLOTH,
        "twill": DRILL,
        "satin": SATEEN,
        "jersey": T_SHIRT,
        "felt": FELT,
    }
)


def construction(structure: Structure) -> Construction:
    """Return what a tailor would take when the recipe leaves counts and densities open."""
    if isinstance(structure, Rib):
        return FINE_RIB if structure.face == structure.back == 1 else CUFF_RIB
    return _USUAL[structure.kind]
