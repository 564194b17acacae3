"""A wrong value, before anybody knows its line."""

import difflib
from collections.abc import Iterable


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

    A phrase is also known by one of its words.

    >>> nearest("Widht", ["width", "length"]), nearest("jersy", ["single jersey", "felt"])
    ('width', 'single jersey')
    """
    whole = {w.lower(): w for w in words}
    parts = {part: w for w in whole.values() for part in w.lower().split() if len(part) > 3}
    for known in (whole, parts):
        near = difflib.get_close_matches(word.lower(), known, n=1, cutoff=0.6)
        if near:
            return known[near[0]]
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
