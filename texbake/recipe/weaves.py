"""Weaves as a mill calls them: ``twill 2/1 Z``, ``basket 2x2``, ``herringbone 2/2 8``."""

import math
import re

from texbake.recipe.mistake import WrongValueError, advice, shown
from texbake.recipe.values import (
    Basket,
    Crepe,
    Draft,
    Herringbone,
    Plain,
    RepWeave,
    Sateen,
    Satin,
    Twill,
    Weave,
)

_N = r"\d{1,3}"
WEAVES = (
    rf"^\s*(plain|crepe|twill\s+{_N}/{_N}(\s+[SZ])?|(satin|sateen)\s+{_N}/{_N}"
    rf"|basket\s+{_N}x{_N}|(warp|weft)\s+rib\s+{_N}/{_N}|herringbone\s+{_N}/{_N}\s+{_N})\s*$"
)
WEAVE_WORDS = (
    "plain, twill 2/1 Z, twill 2/2 S, satin 5/2, sateen 5/2, basket 2x2, warp rib 2/2, "
    "weft rib 2/2, herringbone 2/2 8, crepe"
)
FIRST_WORDS = ("twill", "satin", "sateen", "basket", "warp", "weft", "herringbone")
_TWILL_MAX, _SATIN_MAX, _GROUP_MAX, _TURN = 16, 32, 8, (2, 32)


def parse_weave(text: str) -> Weave:
    """Return the weave that a phrase names.

    Raises
    ------
    WrongValueError
        No such weave, or its numbers do not make one.

    >>> parse_weave("twill 2/1")
    Twill(over=2, under=1, direction='Z', kind='twill')
    """
    words = " ".join(text.split())
    if words in {"plain", "crepe"}:
        return Plain() if words == "plain" else Crepe()
    if found := re.fullmatch(r"twill (\d{1,3})/(\d{1,3})(?: ([SZ]))?", words):
        over, under = _diagonal(words, found[1], found[2])
        return Twill(over=over, under=under, direction="S" if found[3] == "S" else "Z")
    if found := re.fullmatch(r"(satin|sateen) (\d{1,3})/(\d{1,3})", words):
        ends, move = _satin(words, found[1], int(found[2]), int(found[3]))
        return (Satin if found[1] == "satin" else Sateen)(ends=ends, move=move)
    if found := re.fullmatch(r"basket (\d{1,3})x(\d{1,3})", words):
        ends, picks = _group(words, found[1], found[2], "basket 2x2")
        return Basket(ends=ends, picks=picks)
    if found := re.fullmatch(r"(warp|weft) rib (\d{1,3})/(\d{1,3})", words):
        over, under = _group(words, found[2], found[3], "warp rib 2/2")
        return RepWeave(system="warp" if found[1] == "warp" else "weft", over=over, under=under)
    if found := re.fullmatch(r"herringbone (\d{1,3})/(\d{1,3}) (\d{1,3})", words):
        over, under = _diagonal(words, found[1], found[2])
        return Herringbone(over=over, under=under, turn=_turn(words, int(found[3])))
    fix = advice(words, WEAVE_WORDS.split(", "), f"write a weave: {WEAVE_WORDS}, or draw a draft")
    raise WrongValueError(f"{shown(text)} is no weave", fix=fix)


def _diagonal(words: str, *numbers: str) -> tuple[int, int]:
    over, under = map(int, numbers)
    if min(over, under) < 1 or over + under > _TWILL_MAX:
        fix = (
            f"over and under are at least 1 each and at most {_TWILL_MAX} together, as in twill 2/1"
        )
        raise WrongValueError(f"{words!r} cannot be woven", fix=fix)
    return over, under


def _turn(words: str, ends: int) -> int:
    least, most = _TURN
    if not least <= ends <= most:
        fix = f"the last number is the ends of one bone, {least} to {most}: herringbone 2/2 8"
        raise WrongValueError(f"{words!r} turns after {ends} ends", fix=fix)
    return ends


def _group(words: str, first: str, second: str, example: str) -> tuple[int, int]:
    a, b = int(first), int(second)
    if not (1 <= a <= _GROUP_MAX and 1 <= b <= _GROUP_MAX):
        fix = f"numbers go from 1 to {_GROUP_MAX}, as in {example}"
        raise WrongValueError(f"{words!r} cannot be woven", fix=fix)
    return a, b


def _satin(words: str, name: str, ends: int, move: int) -> tuple[int, int]:
    if not 5 <= ends <= _SATIN_MAX:
        fix = f"a {name} has 5 to {_SATIN_MAX} ends (ISO 3572), as in {name} 5/2"
        raise WrongValueError(f"{words!r} has {ends} ends", fix=fix)
    moves = [m for m in range(2, ends - 1) if math.gcd(m, ends) == 1]
    if move not in moves:
        rule = "ISO 3572: move and ends share no divisor, 1 < move < ends - 1"
        right = f"for {ends} ends write a move of {', '.join(map(str, moves))}"
        fix = f"{right} ({rule})" if moves else f"no move suits {ends} ends, take 5 or 8 ({rule})"
        raise WrongValueError(f"{words!r} does not bind evenly", fix=fix)
    return ends, move


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
