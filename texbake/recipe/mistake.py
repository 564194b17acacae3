"""A wrong value, before anybody knows its line."""

import difflib
from collections.abc import Iterable

_ALIKE = 0.6  # as difflib's own
_UNIT_NAMES = {
    **dict.fromkeys(("inch", "inches", '"', "\u2033"), "in"),
    **dict.fromkeys(("metre", "metres", "meter", "meters"), "m"),
    **dict.fromkeys(("centimetre", "centimetres", "centimeter", "centimeters"), "cm"),
    **dict.fromkeys(("millimetre", "millimetres", "millimeter", "millimeters"), "mm"),
    **dict.fromkeys(("degree", "degrees", "\u00b0"), "deg"),
    **dict.fromkeys(("percent", "per cent"), "%"),
}


class WrongValueError(ValueError):
    """What is wrong with a value and how to cure it; the reader of the recipe adds the line.

    Parameters
    ----------
    what : str
        What is wrong, with the value that was found.
    fix : str
        What to do, with the values that are allowed.
    at : tuple of int or str
        Where inside the value, for a list: the reader adds it to the value's own place.
    """

    def __init__(self, what: str, *, fix: str, at: tuple[int | str, ...] = ()) -> None:
        super().__init__(what)
        self.what, self.fix, self.at = what, fix, at


def nearest(word: str, words: Iterable[str]) -> str | None:
    """Return the word that looks most like ``word``, or None; upper and lower case are one.

    A phrase is also known by one of its words, a unit by its name. Of equals the first counts.

    >>> nearest("Widht", ["width", "length"]), nearest("jersy", ["single jersey", "felt"])
    ('width', 'single jersey')
    >>> nearest("inches", ["mm", "in"]), nearest("401", ["301", "none"])
    ('in', None)
    """
    word = word.strip().lower()
    whole = {w.lower(): w for w in words}
    if _UNIT_NAMES.get(word) in whole:
        return whole[_UNIT_NAMES[word]]
    if word.isdigit():
        return None  # another number is another thing, however alike they look
    parts: dict[str, str] = {}
    for phrase in whole.values():
        for part in phrase.lower().split():
            if len(part) > 3:
                parts.setdefault(part, phrase)
    for known in (whole, parts):
        alike = [difflib.SequenceMatcher(None, w, word).ratio() for w in known]
        if max(alike, default=0.0) >= _ALIKE:
            return list(known.values())[alike.index(max(alike))]
    return None


def advice(word: str, words: Iterable[str], allowed: str) -> str:
    """Return the cure for a wrong word: the nearest right one, then all that are allowed.

    >>> advice("widht", ["width", "length"], "a hem has: width, length")
    "did you mean 'width'? a hem has: width, length"
    """
    near = nearest(word, words)
    return allowed if near is None else f"did you mean {near!r}? {allowed}"


def shown(value: object) -> str:
    """Return a value as a recipe writes it, short enough for a message.

    >>> shown(True), shown("x" * 3), shown({})
    ('true', "'xxx'", 'a mapping')
    """
    match value:
        case None:
            return "nothing"
        case bool():
            return "true" if value else "false"
        case dict():
            return "a mapping"
        case list():
            return "a list"
        case str() if len(value) > 60:
            return repr(value[:57] + "...")
        case _:
            return repr(value)
