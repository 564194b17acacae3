"""Knits, pile, skins and nets as a mill calls them: ``rib 2x2``, ``corduroy 11``, ``tulle``."""

import re

from texbake.recipe.mistake import WrongValueError, advice, shown
from texbake.recipe.values import (
    Cable,
    Chart,
    Coated,
    Corduroy,
    Eyelet,
    Fleece,
    Interlock,
    Jersey,
    Knit,
    Leather,
    Net,
    Pile,
    Rib,
    Skin,
    Terry,
    Towelling,
    Tulle,
)

_N = r"\d{1,3}"
KNITS = (
    r"^\s*(single\s+jersey(\s+back)?|interlock|moss|purl|french\s+terry\s+back"
    rf"|rib\s+{_N}x{_N}|cable\s+{_N}x{_N})\s*$"
)
KNIT_WORDS = (
    "single jersey, single jersey back, rib 1x1, rib 2x2, interlock, moss, purl, cable 3x3, "
    "french terry back"
)
PILES = r"^\s*(fleece|corduroy(\s+\d{1,2}(\.\d)?)?|towelling)\s*$"
PILE_WORDS = "fleece, corduroy 11, towelling"
SKINS, SKIN_WORDS = r"^\s*(leather|coated)\s*$", "leather, coated"
NETS, NET_WORDS = r"^\s*(tulle|eyelet)\s*$", "tulle, eyelet"
KNIT_FIRST = ("single", "jersey", "rib", "interlock", "moss", "purl", "cable", "french")
_RIB_MAX, _CABLE_MAX, _CHART_MAX = 16, 6, 32
_CORDUROY = (1.0, 30.0)


def parse_knit(text: str) -> Knit:
    """Return the knit that a phrase names.

    Raises
    ------
    WrongValueError
        No such knit, or its numbers do not make one.

    >>> parse_knit("rib 2x2")
    Rib(face=2, back=2, kind='rib')
    """
    words = " ".join(text.split())
    named: dict[str, Knit] = {
        "single jersey": Jersey(),
        "single jersey back": Jersey(side="back"),
        "interlock": Interlock(),
        "moss": Chart(rows=("kp", "pk")),
        "purl": Chart(rows=("k", "p")),
        "french terry back": Terry(),
    }
    if words in named:
        return named[words]
    if found := re.fullmatch(r"(rib|cable) (\d{1,3})x(\d{1,3})", words):
        first, second = int(found[2]), int(found[3])
        return _rib(words, first, second) if found[1] == "rib" else _cable(words, first, second)
    fix = advice(words, KNIT_WORDS.split(", "), f"write a knit: {KNIT_WORDS}")
    raise WrongValueError(f"{shown(text)} is no knit", fix=fix)


def _rib(words: str, face: int, back: int) -> Rib:
    if not (1 <= face <= _RIB_MAX and 1 <= back <= _RIB_MAX):
        fix = f"a rib has 1 to {_RIB_MAX} wales each way, as in rib 2x2"
        raise WrongValueError(f"{words!r} cannot be knitted", fix=fix)
    return Rib(face=face, back=back)


def _cable(words: str, over: int, under: int) -> Cable:
    """Cross in as many courses as the cable has wales, and two more: usual in patterns."""
    if over != under or not 1 <= over <= _CABLE_MAX:
        fix = f"both strands have the same 1 to {_CABLE_MAX} wales, as in cable 3x3"
        raise WrongValueError(f"{words!r} cannot be knitted", fix=fix)
    return Cable(strand=over, every=2 * over + 2)


def parse_chart(rows: object) -> Chart:
    """Return a drawn knit; the rows come top row first, as drawn, and are kept bottom first.

    Raises
    ------
    WrongValueError
        Not rows of k and p of one length.
    """
    if not isinstance(rows, list) or not 1 <= len(rows) <= _CHART_MAX:
        fix = f'list 1 to {_CHART_MAX} rows, the top one first, as in ["kp", "pk"]'
        raise WrongValueError(f"{shown(rows)} is no chart", fix=fix)
    for k, row in enumerate(rows):
        if not isinstance(row, str) or not re.fullmatch(rf"[kp]{{1,{_CHART_MAX}}}", row):
            fix = f"a row is 1 to {_CHART_MAX} of: k (face loop) and p (back loop)"
            raise WrongValueError(f"{shown(row)} is no row of a chart", fix=fix, at=(k,))
        if len(row) != len(rows[0]):
            what = f"row {row!r} has {len(row)} wales, the first row has {len(rows[0])}"
            raise WrongValueError(what, fix="draw all rows equally long", at=(k,))
    return Chart(rows=tuple(reversed(rows)))


def parse_pile(text: str) -> Pile:
    """Return the pile cloth that a phrase names.

    Raises
    ------
    WrongValueError
        No such cloth, or no such number of wales.

    >>> parse_pile("corduroy 14").words
    'corduroy 14'
    """
    words = " ".join(text.split())
    if words == "fleece":
        return Fleece()
    if words == "towelling":
        return Towelling()
    found = re.fullmatch(r"corduroy(?: (\d{1,2}(?:\.\d)?))?", words)
    if found is None:
        fix = advice(words, PILE_WORDS.split(", "), f"write one of: {PILE_WORDS}")
        raise WrongValueError(f"{shown(text)} is no pile cloth", fix=fix)
    wales = Corduroy().wales_per_inch if found[1] is None else float(found[1])
    if not _CORDUROY[0] <= wales <= _CORDUROY[1]:
        fix = "write 1 to 30 wales per inch, as in corduroy 11"
        raise WrongValueError(f"{words!r} cannot be woven", fix=fix)
    return Corduroy(wales_per_inch=wales)


def parse_skin(text: str) -> Skin:
    """Return the skin that a word names.

    Raises
    ------
    WrongValueError
        No such skin.
    """
    words = " ".join(text.split())
    if words in {"leather", "coated"}:
        return Leather() if words == "leather" else Coated()
    fix = advice(words, SKIN_WORDS.split(", "), f"write one of: {SKIN_WORDS}")
    raise WrongValueError(f"{shown(text)} is no skin", fix=fix)


def parse_net(text: str) -> Net:
    """Return the net that a word names.

    Raises
    ------
    WrongValueError
        No such net.
    """
    words = " ".join(text.split())
    if words in {"tulle", "eyelet"}:
        return Tulle() if words == "tulle" else Eyelet()
    fix = advice(words, NET_WORDS.split(", "), f"write one of: {NET_WORDS}")
    raise WrongValueError(f"{shown(text)} is no net", fix=fix)
