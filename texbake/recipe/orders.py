"""The order of colours in a warp or weft, as it is written: ``navy 8 fog 4``.

A sett that turns round, as a tartan's does, marks the two colours where it turns with a stroke:
``navy/24 fog 4 red/6`` goes from navy to red and back, and neither turning stripe is doubled.
"""

import re
from collections.abc import Mapping

from texbake.recipe.colours import parse_colour
from texbake.recipe.mistake import WrongValueError, advice, shown
from texbake.recipe.values import Colour, Order

_ENTRY = r"([^\s,/]+)(\s*/\s*|\s+)(\d{1,3})"
_PLAIN = _ENTRY.replace("(", "(?:")
ORDERS = rf"^\s*{_PLAIN}((\s*,\s*|\s+){_PLAIN})*\s*$"
ORDER_WORDS = "navy 8 white 4; or a sett that turns round: navy/24 white 4 red/6"
_MOST = 1200

Turns = tuple[tuple[str, int], ...]


def parse_order(text: str) -> Turns:
    """Return the stripes of one repeat: a word for the colour and a number of yarns each.

    Raises
    ------
    WrongValueError
        Not of the form, too long, or a sett that turns at one end only.

    >>> parse_order("navy/4 fog 2 red/6")
    (('navy', 4), ('fog', 2), ('red', 6), ('fog', 2))
    """
    if not re.match(ORDERS, text):
        raise WrongValueError(f"{shown(text)} is no order of colours", fix=f"write {ORDER_WORDS}")
    entries = re.findall(_ENTRY, text)
    turns = [(word, int(number)) for word, _, number in entries]
    pivots = [k for k, (_, stroke, _) in enumerate(entries) if "/" in stroke]
    if pivots and (pivots != [0, len(turns) - 1] or len(turns) < 2):
        fix = "put / in the first and the last entry, as in navy/24 white 4 red/6"
        raise WrongValueError(f"{shown(text)} does not turn at both ends", fix=fix)
    if pivots:
        turns += turns[-2:0:-1]
    count = sum(number for _, number in turns)
    if min(number for _, number in turns) < 1 or count > _MOST:
        fix = f"each stripe has at least 1 yarn, all together at most {_MOST}"
        raise WrongValueError(f"{shown(text)} cannot be woven: {count} yarns", fix=fix)
    return tuple(turns)


def order_of(turns: Turns, named: Mapping[str, Colour]) -> Order:
    """Return the order with its colours: names first, then what any colour may be written as.

    Raises
    ------
    WrongValueError
        A word that is no colour.
    """
    words = list(dict.fromkeys(word for word, _ in turns))
    slots = tuple(words.index(word) for word, number in turns for _ in range(number))
    return Order(slots=slots, colours=tuple(_colour(word, named) for word in words))


def _colour(word: str, named: Mapping[str, Colour]) -> Colour:
    if word in named:
        return named[word]
    try:
        return parse_colour(word)
    except WrongValueError as error:
        fix = advice(word, named, "name it under the fabric's colours, or write #rrggbb")
        raise WrongValueError(f"{word!r} is no colour of this fabric", fix=fix) from error
