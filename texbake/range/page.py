"""The range as a page: one file that needs nothing else, to search, to sort and to copy from.

Style and script are ours and stand in the file, pictures are written into it, and the page tells
the browser to load nothing from anywhere (Content Security Policy, level 3): a range that is not
public yet stays where it is.
"""

import base64
import hashlib
import io
from collections.abc import Iterator
from html import escape
from importlib.resources import files
from typing import Final

from texbake.arrays import U8
from texbake.range.order import SORTS, ordered
from texbake.range.run import Drawn
from texbake.range.values import Card, Entry

VIEW_PX: Final = (300, 375)  # the largest view of a page
_QUALITY: Final = 88  # of JPEG; about 10 kB a view (by eye, no source)
_SORTS: Final = (("hue", "by hue"), ("lightness", "by lightness"), ("listed", "as listed"))


def range_page(drawn: Drawn, sort: str = "hue") -> str:
    """Write a range as one HTML page.

    Parameters
    ----------
    drawn : Drawn
    sort : 'hue', 'lightness' or 'listed'
        The order that the page opens with; a reader may change it.

    Returns
    -------
    str
        To be written as UTF-8. The same range gives the same text.
    """
    style, script = _own("page.css"), _own("page.js")
    seal = base64.b64encode(hashlib.sha256(script.encode()).digest()).decode()
    policy = (
        f"default-src 'none'; img-src data:; style-src 'unsafe-inline'; script-src 'sha256-{seal}'"
    )
    ranks = _ranks(drawn)
    title = escape(f"{drawn.garment}: the range")
    options = "".join(
        f'<option value="{key}"{" selected" if key == sort else ""}>{said}</option>'
        for key, said in _SORTS
    )
    return "\n".join(
        (
            '<!doctype html>\n<html lang="en">\n<head>\n<meta charset="utf-8">',
            f'<meta http-equiv="Content-Security-Policy" content="{policy}">',
            '<meta name="generator" content="texbake range">',
            '<meta name="viewport" content="width=device-width, initial-scale=1">',
            f"<title>{title}</title>\n<style>\n{style}</style>\n</head>\n<body>",
            f"<header>\n<h1>{escape(drawn.garment)}</h1>",
            '<label>Search <input id="search" type="search" autocomplete="off"',
            'placeholder="name, #value, fabric"></label>',
            f'<label>Sorted <select id="sort" autocomplete="off">{options}</select></label>',
            f'<output id="told">{len(drawn.cards)} colourways</output>\n</header>\n<main>',
            *(_article(card, ranks[card.entry.name]) for card in drawn.cards),
            '</main>\n<p id="none" hidden>No colourway has all these words.</p>',
            f"<script>{script}</script>\n</body>\n</html>\n",
        )
    )


def _own(name: str) -> str:
    """Read a file of the page."""
    return files("texbake.range").joinpath(name).read_text(encoding="utf-8")


def _ranks(drawn: Drawn) -> dict[str, dict[str, int]]:
    """Place of every colourway in every order."""
    by_name = {card.entry.name: card.entry for card in drawn.cards}
    listed = [by_name[name] for name in drawn.listed]
    ranks: dict[str, dict[str, int]] = {name: {} for name in by_name}
    for sort in SORTS:
        for rank, entry in enumerate(ordered(listed, sort)):
            ranks[entry.name][sort] = rank
    return ranks


def _article(card: Card, ranks: dict[str, int]) -> str:
    """Write one colourway."""
    entry = card.entry
    data = " ".join(f'data-{sort}="{rank}"' for sort, rank in ranks.items())
    name = escape(entry.name)
    height, width = card.view.shape[:2]
    return "\n".join(
        (
            f'<article data-words="{escape(_words(entry))}" {data}>',
            f'<img alt="{name}" width="{width}" height="{height}" src="{_inlined(card.view)}">',
            f'<h2><button type="button" data-copy="{name}" title="Copy the name">',
            f"{name}</button></h2>",
            "<ul>",
            *_items(entry),
            "</ul>\n</article>",
        )
    )


def _items(entry: Entry) -> Iterator[str]:
    """Write its colours, each with a button."""
    for value in entry.values:
        of = escape(f"{value.of} {value.share}".strip())
        yield (
            f'<li><svg aria-hidden="true" viewBox="0 0 1 1"><path d="M0 0h1v1H0z" '
            f'fill="{value.hex}"/></svg>'
            f'<button type="button" data-copy="{value.hex}" title="Copy {value.hex}, {of}">'
            f"{value.hex}</button><span>{of}</span></li>"
        )


def _words(entry: Entry) -> str:
    """All that a search may find it by."""
    return " ".join((entry.name, *(f"{value.of} {value.hex}" for value in entry.values)))


def _inlined(view: U8) -> str:
    """Write a view into a data URL, as JPEG; large ones smaller."""
    from PIL import Image

    image = Image.fromarray(view)
    image.thumbnail(VIEW_PX, Image.Resampling.LANCZOS)
    out = io.BytesIO()
    image.save(out, "JPEG", quality=_QUALITY, subsampling=0)
    return "data:image/jpeg;base64," + base64.b64encode(out.getvalue()).decode()
