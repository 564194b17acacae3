"""Notes on colours that a screen cannot show: what stands for each, and how far off it is."""

from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Final

from texbake.recipe.colours import lost_in_gamut
from texbake.recipe.messages import At, dotted
from texbake.recipe.tree import Node, walk

MOST_TOLD: Final = 12
LEAST_TOLD: Final = 0.05  # dE00: what rounds to 0.0 is rounding of the text, not a loss


def notes_on(places: Iterable[tuple[str, Node]], path: Path) -> tuple[str, ...]:
    """Say which colours of a recipe lie outside sRGB.

    Parameters
    ----------
    places : iterable of (str, Node)
        Values of the recipe, each with the words for where it is.
    path : Path
        The recipe.

    Returns
    -------
    tuple of str
        A sentence for each colour, at most a dozen; then one for the rest.
    """
    told: dict[str, float] = {}
    for where, node in places:
        for at, text, below in _texts(node):
            lost = lost_in_gamut(text)
            if lost is None:
                continue
            colour, apart = lost
            if apart < LEAST_TOLD:
                continue
            place = ".".join(part for part in (where, dotted(at)) if part)
            sentence = (
                f"{(below.source or path).name}:{below.line}: {place}: a screen cannot show "
                f"{text.strip()}; it becomes {colour.hex}, dE00 {apart:.1f} off"
            )
            told.setdefault(sentence, apart)
    sentences = list(told)
    rest = sentences[MOST_TOLD:]
    if rest:
        worst = max(told[one] for one in rest)
        more = f"{len(rest)} more colours that a screen cannot show, dE00 {worst:.1f} off at most"
        sentences[MOST_TOLD:] = [more]
    return tuple(sentences)


def _texts(node: Node) -> Iterator[tuple[At, str, Node]]:
    """Give every text below a node that may be a colour, keys of melanges too."""
    for at, below in walk(node):
        if isinstance(below.value, str):
            yield at, below.value, below
        if at and isinstance(at[-1], str):
            yield at[:-1], at[-1], below
