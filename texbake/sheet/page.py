"""The sheet itself: where everything stands, and how it is set.

Four columns as wide as a tile. Above, the dressed views take three of them and the cloth the
fourth; below stand the maps, and in the last field how to read them. Without views the cloth lies
across the page. The height follows from what there is to show.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from texbake.arrays import F32, U8
from texbake.chart import look
from texbake.chart.look import Pen
from texbake.colour import srgb_codes, srgb_decode
from texbake.deliver.record import PanelNote, Record
from texbake.garment.values import Garment
from texbake.maps import MapArrays, to_eight
from texbake.recipe.values import Recipe
from texbake.sheet.cloth import Card, cards, draw_card, held
from texbake.sheet.tiles import TILE_PX, Tile, stencil_of, tiles
from texbake.sheet.words import plain_text

if TYPE_CHECKING:
    from PIL.Image import Image

WIDTH_PX: Final = 2400
_COLUMNS: Final = 4
_GAP: Final = 44
_MARGIN: Final = (WIDTH_PX - _COLUMNS * TILE_PX - (_COLUMNS - 1) * _GAP) // 2
_STEP: Final = TILE_PX + _GAP
_RIGHT: Final = WIDTH_PX - _MARGIN
# Room for the views, 4 : 3; a picture of another size is fitted in.
VIEWS_PX: Final = (3 * TILE_PX + 2 * _GAP, 1218)
_HEAD: Final = 150  # from the title's top to what follows its rule
_CAPTION: Final = 112  # below a tile, with the gap to the next row
_TITLE, _LEAST_TITLE = 76.0, 40.0  # size of the title, and the least one, px
_BARS_CM: Final = (0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 50, 100, 200, 500)


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class _Sheet:
    """What the steps share: the picture, and a pen on it."""

    image: "Image"
    pen: Pen

    def paste(self, picture: U8, left: float, top: float) -> None:
        """Lay a picture on the sheet."""
        from PIL import Image

        self.image.paste(Image.fromarray(picture), (round(left), round(top)))


def sheet_picture(
    garment: Garment,
    maps: MapArrays,
    *,
    recipe: Recipe,
    worn: Sequence[str],
    record: Record,
    views: U8 | None = None,
    title: str | None = None,
) -> U8:
    """Set a colourway on one sheet. At 2048 px it takes about 0.8 s.

    Parameters
    ----------
    garment : Garment
    maps : MapArrays
    recipe : Recipe
        The colourway's own, for its cloth and thread.
    worn : sequence of str
        Name of the fabric of each of the garment's panels.
    record : Record
        For names, sizes, and texels per cm of each panel; its files are not needed.
    views : (H, W, 3) uint8, optional
        The dressed garment, sRGB; best of `VIEWS_PX`, else it is fitted in.
    title : str, optional
        The garment's name if not given.

    Returns
    -------
    (H, WIDTH_PX, 3) uint8
        sRGB, row 0 at the top.
    """
    from PIL import Image, ImageDraw

    shown = list(tiles(maps, stencil_of(garment)))
    about = cards(garment, to_eight(maps.albedo), recipe=recipe, worn=worn, record=record)
    fitted = None if views is None else _fitted(views)
    top = _MARGIN + _HEAD
    if fitted is None:
        places, bottom = _across(about, top)
    else:
        places, bottom = _down(about, top, 3 * _STEP)
        bottom = max(bottom, top + len(fitted))
    below = bottom + _GAP + 12
    height = round(below + 2 * (TILE_PX + _CAPTION)) + _MARGIN - 40
    image = Image.new("RGB", (WIDTH_PX, height), look.PAPER)
    sheet = _Sheet(image=image, pen=Pen(ImageDraw.Draw(image), 1))
    _draw_head(sheet.pen, record, title or record.garment)
    if fitted is not None:
        sheet.paste(fitted, _MARGIN + (VIEWS_PX[0] - fitted.shape[1]) / 2, top)
    for card, (left, y) in zip(about, places, strict=True):
        draw_card(sheet.pen, sheet.paste, card, left, y)
    _draw_maps(sheet, shown, below, record)
    return np.asarray(image, np.uint8).copy()


def _down(
    about: Sequence[Card], top: float, across: float
) -> tuple[list[tuple[float, float]], float]:
    """Place cards below each other; return the places, and where the last one ends."""
    places: list[tuple[float, float]] = []
    y = top
    for card in about:
        places.append((_MARGIN + across, y))
        y += card.height_px
    return places, y - _GAP


def _across(about: Sequence[Card], top: float) -> tuple[list[tuple[float, float]], float]:
    """Place cards in four columns, each in the shortest."""
    low = [top] * _COLUMNS
    places: list[tuple[float, float]] = []
    for card in about:
        column = min(range(_COLUMNS), key=lambda k: (low[k], k))
        places.append((_MARGIN + column * _STEP, low[column]))
        low[column] += card.height_px
    return places, max(low) - _GAP


def _fitted(views: U8) -> U8:
    """Fit a picture into the room for views, resampled in linear light."""
    from PIL import Image

    share = min(VIEWS_PX[0] / views.shape[1], VIEWS_PX[1] / views.shape[0])
    if share == 1.0:
        return views
    size = max(1, round(views.shape[1] * share)), max(1, round(views.shape[0] * share))
    table = srgb_decode(np.arange(256, dtype=np.float32) * np.float32(1.0 / 255.0))
    planes = [
        np.asarray(
            Image.fromarray(np.take(table, views[..., k])).resize(size, Image.Resampling.LANCZOS)
        )
        for k in range(3)
    ]
    linear: F32 = np.ascontiguousarray(np.stack(planes, axis=-1), np.float32)
    return srgb_codes(linear)


def _draw_head(pen: Pen, record: Record, title: str) -> None:
    """Write title, colourway and what was baked, and rule them off."""
    base = _MARGIN + 46
    told = f"{record.size_px} px, gutter {record.gutter_px} px, seed {record.seed}"
    made = held(pen, f"Texbake {record.texbake}, from {record.recipe.name}", 24, 2 * TILE_PX)
    pen.text((_RIGHT, base - 32), told, 24, look.FOG, anchor="rs")
    pen.text((_RIGHT, base), made, 24, look.FOG, anchor="rs")
    room = _RIGHT - _MARGIN - max(pen.width_px(told, 24), pen.width_px(made, 24)) - 3 * _GAP
    name, colourway = held(pen, title, _LEAST_TITLE, room), plain_text(record.colourway)
    wide = pen.width_px(f"{name} {colourway}", _TITLE)
    size = max(_LEAST_TITLE, min(_TITLE, _TITLE * room / wide))
    pen.text((_MARGIN - 3, base), name, size, anchor="ls")
    start = pen.width_px(name, size) + 0.34 * size
    colourway = held(pen, colourway, size, room - start)
    pen.text((_MARGIN + start, base), colourway, size, look.FOG, anchor="ls")
    rule = np.array([[_MARGIN, base + 36.0], [_RIGHT, base + 36.0]])
    pen.line(rule, look.NAVY, 2)


def _draw_maps(sheet: _Sheet, shown: Sequence[Tile], top: float, record: Record) -> None:
    """Draw the tiles in two rows, with captions, and the field that explains them."""
    pen = sheet.pen
    for k, tile in enumerate(shown):
        row, column = divmod(k, _COLUMNS)
        left, y = _MARGIN + column * _STEP, top + row * (TILE_PX + _CAPTION)
        sheet.paste(tile.picture, left, y)
        below = y + TILE_PX
        pen.text((left, below + 38), tile.name, 30, anchor="ls")
        pen.text((left + TILE_PX, below + 38), tile.said, 20, look.FOG, anchor="rs")
        pen.text((left, below + 68), tile.meaning, 20, look.FOG, anchor="ls")
    left, y = _MARGIN + 3 * _STEP, top + TILE_PX + _CAPTION
    _draw_scale(pen, left, y, record)


def _draw_scale(pen: Pen, left: float, top: float, record: Record) -> None:
    """Draw bars of the cloth's length on the tiles, and say what the tiles show."""
    y = top + 24
    pen.text((left, y), "Scale", 30, anchor="ls")
    y += 46
    for panel in _extremes(record.panels):
        px_per_cm = panel.texels_per_cm * TILE_PX / record.size_px
        cm = max((c for c in _BARS_CM if c * px_per_cm <= 0.5 * TILE_PX), default=_BARS_CM[0])
        _draw_bar(pen, left, y, cm * px_per_cm)
        pen.text((left + cm * px_per_cm + 18, y), f"{cm:g} cm", 22, anchor="lm")
        told = f"{panel.texels_per_cm:.3g} texels per cm"
        room = TILE_PX - pen.width_px(f"on , {told}", 20)
        told = f"on {held(pen, panel.name, 20, room)}, {told}"
        pen.text((left, y + 40), told, 20, look.FOG, anchor="ls")
        y += 92
    for line in (
        "Thin lines are the borders of islands in UV;",
        "what lies between them is left blank here.",
        "Albedo is reduced in linear light, and relief",
        "too fine for these tiles is seen as roughness.",
    ):
        pen.text((left, y), line, 20, look.FOG, anchor="ls")
        y += 30


def _extremes(panels: Sequence[PanelNote]) -> list[PanelNote]:
    """The largest panel; and the one of most different density, if that is a tenth or more."""
    real = [panel for panel in panels if panel.texels_per_cm > 0.0]
    if not real:
        return []
    largest = max(real, key=lambda panel: panel.area_mm2)
    other = max(real, key=lambda panel: abs(np.log(panel.texels_per_cm / largest.texels_per_cm)))
    apart = abs(np.log(other.texels_per_cm / largest.texels_per_cm))
    return [largest] if apart < 0.1 else [largest, other]


def _draw_bar(pen: Pen, left: float, y: float, length: float) -> None:
    """Draw a scale bar with a tick at either end."""
    pen.line(np.array([[left, y], [left + length, y]]), look.NAVY, 4)
    for x in (left, left + length):
        pen.line(np.array([[x, y - 11.0], [x, y + 11.0]]), look.NAVY, 4)
