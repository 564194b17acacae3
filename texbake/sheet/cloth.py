"""What the sheet tells of the cloth: a piece of each fabric as baked, its yarns, the thread."""

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from texbake.arrays import U8
from texbake.chart import look
from texbake.chart.look import Pen
from texbake.chart.sheet import Spot, Square, spots
from texbake.deliver.record import Record
from texbake.garment.values import Garment
from texbake.recipe.values import Colour, Recipe
from texbake.sheet.words import Dye, dyes, fabric_words, plain_text, thread_colours

PIECE_PX: Final = (512, 168)  # width and height of a piece of cloth
_LEAST_ZOOM: Final = 2
_GRID_PX: Final = 512  # islands are measured on a grid this fine
_CHIP: Final = 28
_LINE, _CHIPS, _SPACE = 28, 40, 46  # from line to line, row of chips to the next, and below a card
_BARS_MM: Final = (1, 2, 5, 10, 20, 50, 100, 200, 500)

Paste = Callable[[U8, float, float], None]


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Piece:
    """Cloth as it is baked, with a length to tell its size by.

    Attributes
    ----------
    picture : (168, 512, 3) uint8
        sRGB.
    bar_px : float
    bar_mm : int
        What so many pixels are on the cloth; 0 where that is not known.
    """

    picture: U8
    bar_px: float
    bar_mm: int


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Card:
    """One thing told: a name, lines, colours, and perhaps a piece of cloth."""

    name: str
    lines: tuple[str, ...] = ()
    dyes: tuple[Dye, ...] = ()
    piece: Piece | None = None

    @property
    def height_px(self) -> int:
        """How far down the next card stands."""
        cloth = 0 if self.piece is None else PIECE_PX[1] + 14
        chips = 0 if not self.dyes else 14 + _CHIPS * -(-len(self.dyes) // 2)
        return cloth + 30 + _LINE * len(self.lines) + chips + _SPACE


def cards(
    garment: Garment, albedo: U8, *, recipe: Recipe, worn: Sequence[str], record: Record
) -> list[Card]:
    """Return a card for each fabric that is worn, one for thread, and one for the garment.

    Parameters
    ----------
    garment : Garment
    albedo : (N, N, 3) uint8
    recipe : Recipe
    worn : sequence of str
        Name of the fabric of each panel.
    record : Record
        For the panels' texels per cm.
    """
    square = Square(left=0.0, top=0.0, side=float(_GRID_PX))
    roomy = sorted(spots(garment, square, (_GRID_PX, _GRID_PX)), key=lambda spot: -spot.room_px)
    found = []
    for name, fabric in recipe.fabrics.items():
        if name in worn:
            spot = next((one for one in roomy if worn[one.panel] == name), None)
            piece = None if spot is None else _piece(albedo, spot, record)
            words = fabric_words(fabric)
            found.append(Card(name=name, lines=words, dyes=tuple(dyes(fabric)), piece=piece))
    return [*found, *_thread(recipe), _whole(garment, record)]


def _piece(albedo: U8, spot: Spot, record: Record) -> Piece:
    """Cut a piece from the roomiest place of a fabric, enlarged if there is little room."""
    wide, high = PIECE_PX
    room = spot.room_px * len(albedo) / _GRID_PX
    zoom = max(_LEAST_ZOOM, math.ceil(0.5 * math.hypot(wide, high) / max(room, 0.5)))
    size = math.ceil(wide / zoom), math.ceil(high / zoom)
    column, row = (
        min(max(round(at * len(albedo) / _GRID_PX - side / 2), 0), max(len(albedo) - side, 0))
        for at, side in zip(spot.middle.tolist(), size, strict=True)
    )
    cut = albedo[row : row + size[1], column : column + size[0]]
    enlarged = np.repeat(np.repeat(cut, zoom, axis=0), zoom, axis=1)[:high, :wide]
    short = [(0, high - len(enlarged)), (0, wide - enlarged.shape[1]), (0, 0)]
    picture = np.pad(enlarged, short, mode="edge")  # of maps smaller than the piece
    per_cm = record.panels[spot.panel].texels_per_cm if spot.panel < len(record.panels) else 0.0
    px_per_mm = zoom * per_cm / 10.0
    mm = max((mm for mm in _BARS_MM if mm * px_per_mm <= 0.4 * wide), default=0)
    return Piece(picture=picture, bar_px=mm * px_per_mm, bar_mm=mm if per_cm else 0)


def _thread(recipe: Recipe) -> Iterator[Card]:
    """Tell the sewing threads, if the recipe names any."""
    colours = thread_colours(recipe)
    if colours:
        yield Card(
            name="Thread", dyes=tuple(Dye(colour=colour, said=colour.hex) for colour in colours)
        )


def _whole(garment: Garment, record: Record) -> Card:
    """Tell how large the garment is, and what it is cut from."""
    used = garment.mesh.points_mm[garment.mesh.faces].reshape(-1, 3)
    size = " x ".join(f"{side / 10.0:.0f}" for side in np.ptp(used, axis=0).tolist())
    panels = record.panels
    area = sum(panel.area_mm2 for panel in panels) / 1e6
    count = f"{len(panels)} {'panel' if len(panels) == 1 else 'panels'}"
    dense = sorted(panel.texels_per_cm for panel in panels) or [0.0]
    least, most = (f"{value:.3g}" for value in (dense[0], dense[-1]))
    texels = least if least == most else f"{least} to {most}"
    lines = (f"{size} cm", f"{count}, {area:.2f} m2 of cloth", f"{texels} texels per cm")
    return Card(name="Garment", lines=lines)


def draw_card(pen: Pen, paste: Paste, card: Card, left: float, top: float) -> None:
    """Draw a card, as wide as its piece of cloth."""
    y = top
    if card.piece is not None:
        paste(card.piece.picture, left, y)
        _draw_bar(pen, card.piece, left, y + PIECE_PX[1])
        y += PIECE_PX[1] + 14
    y += 26
    pen.text((left, y), held(pen, card.name, 30, PIECE_PX[0]), 30, anchor="ls")
    for line in card.lines:
        y += _LINE
        pen.text((left, y + 4), line, 20, look.FOG, anchor="ls")
    y += 18 + 4
    for k, dye in enumerate(card.dyes):
        row, column = divmod(k, 2)
        _draw_chip(pen, dye, left + column * PIECE_PX[0] / 2, y + row * _CHIPS)


def _draw_bar(pen: Pen, piece: Piece, left: float, bottom: float) -> None:
    """Draw a length on a plate in the lower left corner of a piece of cloth."""
    if not piece.bar_mm:
        return
    told = f"{piece.bar_mm / 10:g} cm" if piece.bar_mm >= 10 else f"{piece.bar_mm} mm"
    wide = piece.bar_px + pen.width_px(told, 18) + 36
    pen.box(left, bottom - 32, left + wide, bottom, look.PAPER, look.PAPER)
    y = bottom - 14.0
    start, end = left + 1.0, left + 1.0 + piece.bar_px
    pen.line(np.array([[start, y], [end, y]]), look.NAVY, 3)
    for x in (start, end):
        pen.line(np.array([[x, y - 8.0], [x, y + 8.0]]), look.NAVY, 3)
    pen.text((end + 12, y), told, 18, anchor="lm")


def _draw_chip(pen: Pen, dye: Dye, left: float, top: float) -> None:
    """Draw a colour and what bears it."""
    fill = rgb(dye.colour)
    rim = look.mix(fill, look.NAVY, 0.35)
    pen.box(left, top, left + _CHIP, top + _CHIP, fill, rim)
    pen.text((left + _CHIP + 12, top + _CHIP / 2), dye.said, 20, anchor="lm")


def held(pen: Pen, text: str, size_px: float, room_px: float) -> str:
    """Return text in letters that there are, cut off so that it fits."""
    text = plain_text(text)
    if pen.width_px(text, size_px) <= room_px:
        return text
    while text and pen.width_px(text + "...", size_px) > room_px:
        text = text[:-1]
    return text + "..."


def rgb(colour: Colour) -> look.Rgb:
    """Return a colour in 8 bits."""
    r, g, b = (round(channel * 255.0) for channel in colour.srgb)
    return r, g, b
