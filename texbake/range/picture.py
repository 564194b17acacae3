"""The range on one picture: cards in even rows, each a dressed view, a name, and its colours.

Cards have one size, and so have the gaps and the margins. The number of columns is what brings the
whole nearest to the shape of a sheet of paper and leaves little of the last row empty.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from texbake.arrays import U8
from texbake.chart import look
from texbake.chart.look import Pen
from texbake.range.values import Card, Main
from texbake.sheet.words import plain_text

MOST_ON_ONE: Final = 120  # cards on one picture: 12 columns, and still fit for a screen
FEW: Final = 12  # so many or fewer have large cards
_SHAPE: Final = math.sqrt(2.0)  # of paper (ISO 216), lying
_EMPTY: Final = 1.0  # how much an empty last row counts against the shape (by eye, no source)
_FLOOR: Final = 1.15  # how much higher than the garment a view is, with floor and margins
_SMALLEST: Final = 0.7  # of the type of names: smaller is not read any more
_MOST_LINES: Final = 3  # of colours on a card


@dataclass(frozen=True, slots=True, kw_only=True)
class Sizes:
    """Lengths of a picture, px."""

    view: tuple[int, int]
    gap: int
    margin: int
    name: int
    small: int

    @property
    def line(self) -> int:
        """From one line of colours to the next."""
        return round(1.5 * self.small)

    def card(self, lines: int) -> tuple[int, int]:
        """Width and height of a card with so many lines of colours."""
        below = round(1.6 * self.name) + self.line * lines
        return self.view[0], self.view[1] + below


_LARGE: Final = Sizes(view=(480, 600), gap=44, margin=72, name=34, small=24)
_USUAL: Final = Sizes(view=(300, 375), gap=30, margin=60, name=25, small=19)


def sizes_for(count: int) -> Sizes:
    """Return the lengths for so many cards."""
    return _LARGE if count <= FEW else _USUAL


def view_size(count: int, shape: float) -> tuple[int, int]:
    """Return width and height of the dressed views.

    Parameters
    ----------
    count : int
        Of cards.
    shape : float
        Height of the garment over its width. Views are as high as it needs, from 3 : 4, lying, to
        4 : 5, standing.
    """
    wide, high = sizes_for(count).view
    return wide, round(min(max(shape * _FLOOR, 0.75), high / wide) * wide)


def columns_for(count: int, cell_px: tuple[int, int]) -> int:
    """Return how many columns show so many cells best."""

    def badness(columns: int) -> float:
        rows = -(-count // columns)
        shape = columns * cell_px[0] / (rows * cell_px[1])
        empty = (rows * columns - count) / columns
        return abs(math.log(shape / _SHAPE)) + _EMPTY * empty

    return min(range(1, count + 1), key=lambda columns: (badness(columns), columns))


def range_picture(garment: str, cards: Sequence[Card], *, number: int = 1, count: int = 1) -> U8:
    """Set cards on one picture.

    Parameters
    ----------
    garment : str
        The title.
    cards : sequence of Card
        At least one, in order; views of one size.
    number, count : int
        Which of how many pictures this is.

    Returns
    -------
    (H, W, 3) uint8
        sRGB, row 0 at the top.
    """
    from PIL import Image, ImageDraw

    view = cards[0].view.shape[1], cards[0].view.shape[0]
    sizes = replace(_LARGE if view[0] == _LARGE.view[0] else _USUAL, view=view)
    shared = _in_all(cards)
    own = [[main for main in card.entry.mains if main not in shared] for card in cards]
    lines = max(min(len(mains), _MOST_LINES) for mains in own)
    wide, high = sizes.card(lines)
    step = wide + sizes.gap, high + sizes.gap
    columns = columns_for(len(cards), step)
    rows = -(-len(cards) // columns)
    head = round(2.6 * sizes.name)
    width = 2 * sizes.margin + columns * step[0] - sizes.gap
    height = 2 * sizes.margin + head + rows * step[1] - sizes.gap
    image = Image.new("RGB", (width, height), look.PAPER)
    pen = Pen(ImageDraw.Draw(image), 1)
    part = f", {number} of {count}" if count > 1 else ""
    told = f"{len(cards)} colourway{'s' if len(cards) > 1 else ''}{part}"
    _draw_head(pen, sizes, garment, [told, *_said(shared)], width)
    for k, (card, mains) in enumerate(zip(cards, own, strict=True)):
        row, column = divmod(k, columns)
        left, top = sizes.margin + column * step[0], sizes.margin + head + row * step[1]
        image.paste(Image.fromarray(card.view), (left, top))
        _draw_words(pen, sizes, card.entry.name, mains, (left, top + sizes.view[1]))
    return np.asarray(image, np.uint8).copy()


def _in_all(cards: Sequence[Card]) -> list[Main]:
    """Return the colours that are the same on all of several cards: they need be told only once."""
    several = {card.entry.mains for card in cards}
    if len(several) < 2:
        return []
    return [main for main in cards[0].entry.mains if all(main in mains for mains in several)]


def _said(shared: Sequence[Main]) -> list[str]:
    """Say which colours all have."""
    return [f"in all: {', '.join(f'{main.fabric} {main.hex}' for main in shared)}"] * bool(shared)


def _draw_head(pen: Pen, sizes: Sizes, garment: str, told: Sequence[str], width: int) -> None:
    """Write the garment's name, and on the right what there is: as much of it as there is room."""
    base, title = sizes.margin + round(1.1 * sizes.name), round(1.5 * sizes.name)
    room = width - 2 * sizes.margin
    name = _held(pen, garment, title, room)
    pen.text((sizes.margin, base), name, title, anchor="ls")
    room -= round(pen.width_px(name, title)) + 2 * sizes.gap
    for count in range(len(told), 0, -1):
        words = plain_text("; ".join(told[:count]))
        if pen.width_px(words, sizes.name) <= room:
            pen.text((width - sizes.margin, base), words, sizes.name, look.FOG, anchor="rs")
            return


def _draw_words(
    pen: Pen, sizes: Sizes, name: str, mains: Sequence[Main], at: tuple[int, int]
) -> None:
    """Write a name and a line for each fabric below a view; long names smaller."""
    left, top = at
    base = top + round(1.25 * sizes.name)
    fit = sizes.view[0] / max(pen.width_px(plain_text(name), sizes.name), 1.0)
    size = min(float(sizes.name), max(_SMALLEST * sizes.name, math.floor(fit * sizes.name)))
    pen.text((left, base), _held(pen, name, size, sizes.view[0]), size, anchor="ls")
    for k, main in enumerate(mains[:_MOST_LINES]):
        more = len(mains) - k if k == _MOST_LINES - 1 and len(mains) > _MOST_LINES else 0
        middle = base + round(0.35 * sizes.name) + sizes.line * (k + 0.5)
        _draw_colour(pen, sizes, main, (left, middle), more)


def _draw_colour(pen: Pen, sizes: Sizes, main: Main, at: tuple[float, float], more: int) -> None:
    """Draw a colour, its value, and whose it is; or how many there are more."""
    left, middle = at
    if more:
        pen.text((left, middle), f"and {more} more", sizes.small, look.FOG)
        return
    red, green, blue = bytes.fromhex(main.hex[1:])
    fill = (red, green, blue)
    rim = look.mix(fill, look.NAVY, 0.35)
    half = 0.5 * sizes.small
    pen.box(left, middle - half, left + 2 * half, middle + half, fill, rim)
    start = left + 1.5 * sizes.small
    pen.text((start, middle), main.hex, sizes.small)
    start += pen.width_px("#000000 ", sizes.small) + 0.3 * sizes.small
    of = _held(pen, main.fabric, sizes.small, left + sizes.view[0] - start)
    pen.text((start, middle), of, sizes.small, look.FOG)


def _held(pen: Pen, text: str, size_px: float, room_px: float) -> str:
    """Return text in letters that there are, cut off so that it fits."""
    text = plain_text(text)
    if pen.width_px(text, size_px) <= room_px:
        return text
    while text and pen.width_px(f"{text}...", size_px) > room_px:
        text = text[:-1]
    return f"{text}..."
