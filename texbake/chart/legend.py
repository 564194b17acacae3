"""Title and legend of the chart: what the numbers, letters and lines of the picture mean."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from texbake.arrays import F64
from texbake.chart import look
from texbake.chart.look import Pen, Rgb
from texbake.chart.rows import PanelRow
from texbake.garment.values import Garment

_ENTRY, _SHORT = 34.0, 20.0  # height of a panel's entry, px: in two lines, in one
_SEAM = 20.0  # height of a seam's
_MOST_TALL = 40  # panels with two lines each; of more, each has one
_MOST_SEAMS = 60
_COLUMN = 290.0


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Page:
    """What the legend tells, and between which columns of pixels."""

    rows: Sequence[PanelRow]
    garment: Garment
    size_px: int
    letter: Mapping[int, str]
    left: float
    right: float

    @property
    def tall(self) -> bool:
        """Panels have two lines each."""
        return len(self.rows) <= _MOST_TALL

    @property
    def seams(self) -> list[int]:
        """Chains that bear letters, as many as are listed."""
        return list(self.letter)[:_MOST_SEAMS]

    def columns(self, count: int) -> tuple[int, float]:
        """Return how deep columns of ``count`` entries are, and how wide each is, px."""
        room = self.right - self.left
        columns = max(1, min(count, int(room // _COLUMN)))
        return -(-count // columns), room / columns


def height_px(page: Page) -> float:
    """Return how high the legend is."""
    entries = page.columns(len(page.rows))[0] * (_ENTRY if page.tall else _SHORT)
    seams = page.columns(len(page.seams))[0] * _SEAM + 14 if page.seams else 0.0
    more = 20 if len(page.letter) > _MOST_SEAMS else 0
    return entries + seams + 40 + more


def write_title(pen: Pen, page: Page, top: float) -> None:
    """Write what the picture shows."""
    mesh = page.garment.mesh
    used = mesh.points_mm[mesh.faces].reshape(-1, 3)
    box = " x ".join(_cm(side) for side in np.ptp(used, axis=0).tolist())
    area = sum(row.area_cm2 for row in page.rows)
    cloth = f"{area / 1e4:.2f} m2" if area >= 1e3 else f"{area:.3g} cm2"
    told = f"{box} cm, {_many(len(page.rows), 'panel')}, {cloth} of cloth; "
    told += f"texels at {page.size_px} px"
    room = page.right - page.left - pen.width_px(told, 14) - 20
    pen.text((page.left, top + 14), _fitted(pen, mesh.path.name, 24, room), 24)
    pen.text((page.right, top + 15), told, 14, look.FOG, anchor="rm")


def write(pen: Pen, page: Page, top: float) -> None:
    """Write the legend."""
    _write_key(pen, page, top + 6)
    top += 40
    deep, step = page.columns(len(page.rows))
    high = _ENTRY if page.tall else _SHORT
    entry = _write_tall if page.tall else _write_short
    for k, row in enumerate(page.rows):
        column, line = divmod(k, deep)
        entry(pen, row, look.panel_colour(k), page.left + column * step, top + line * high, step)
    top += deep * high + 14
    deep, step = page.columns(len(page.seams))
    for k, chain in enumerate(page.seams):
        column, line = divmod(k, deep)
        _write_seam(pen, page, chain, page.left + column * step, top + line * _SEAM, step)
    rest = len(page.letter) - len(page.seams)
    if rest:
        words = f"and {_many(rest, 'seam')} more"
        pen.text((page.left, top + deep * _SEAM + 7), words, 12, look.FOG)


def _write_tall(pen: Pen, row: PanelRow, fill: Rgb, left: float, top: float, room: float) -> None:
    """Write a panel in two lines."""
    _chip(pen, row, fill, left, top, 26.0)
    pen.text((left + 34, top + 6), _fitted(pen, row.name, 15, room - 44), 15)
    facts = f"{_size(row)} mm, {row.texels_per_cm:.3g} texels/cm"
    if row.mirrored != "no":
        facts += ", mirrored" if row.mirrored == "yes" else ", part mirrored"
    pen.text((left + 34, top + 22), _fitted(pen, facts, 12, room - 44), 12, look.FOG)


def _write_short(pen: Pen, row: PanelRow, fill: Rgb, left: float, top: float, room: float) -> None:
    """Write a panel in one line."""
    _chip(pen, row, fill, left, top, 16.0)
    name = _fitted(pen, row.name, 12, 0.5 * room)
    pen.text((left + 36, top + 8), name, 12)
    facts = f"{_size(row)} mm, {row.texels_per_cm:.3g} /cm"
    start = 44 + pen.width_px(name, 12)
    pen.text((left + start, top + 8), _fitted(pen, facts, 11, room - start - 8), 11, look.FOG)


def _chip(pen: Pen, row: PanelRow, fill: Rgb, left: float, top: float, high: float) -> None:
    """Draw a panel's number on its colour."""
    rim = look.mix(fill, look.NAVY, 0.5)
    wide = max(high, 28.0 if high < 20.0 else 26.0)
    pen.box(left, top, left + wide, top + high, fill, rim)
    text = str(row.number)
    size = 11.0 if high < 20.0 or len(text) > 2 else 14.0
    pen.text((left + wide / 2, top + high / 2), text, size, anchor="mm")


def _write_seam(pen: Pen, page: Page, chain: int, left: float, top: float, room: float) -> None:
    seam = page.garment.chains[chain]
    first, second = (page.garment.panels[k].name for k in seam.panels)
    at = np.array([left + 13, top + 7])
    draw_letter(pen, at, page.letter[chain], look.seam_colour(chain))
    pair = f"{first} to itself" if seam.panels[0] == seam.panels[1] else f"{first} - {second}"
    told = f"{pair}, {_mm(seam.length_mm)} mm"
    pen.text((left + 34, top + 7), _fitted(pen, told, 12, room - 44), 12)


def draw_letter(pen: Pen, at: F64, letter: str, colour: Rgb) -> None:
    """Draw the letter of a seam in a disc of its colour."""
    pen.disc(at, 7.5, colour)
    size = 10.5 if len(letter) == 1 else 8.0
    pen.text((float(at[0]), float(at[1])), letter, size, look.WHITE, anchor="mm")


def _write_key(pen: Pen, page: Page, y: float) -> None:
    """Show each kind of line with its name."""
    x = page.left
    for kind, words in (
        ("seam", "seam: both sides in one colour"),
        ("hem", "hem: open edge"),
        ("cut", "cut in UV only"),
        ("grain", "grain, lengthwise"),
        ("number", "number of the island"),
    ):
        _sample(pen, kind, np.array([[x, y], [x + 40.0, y]]))
        pen.text((x + 48, y), words, 13, look.FOG)
        x += 48 + pen.width_px(words, 13) + 30


def _sample(pen: Pen, kind: str, line: F64) -> None:
    if kind == "seam":
        pen.line(line, look.SEAMS[0], 3.2)
    elif kind == "hem":
        pen.dashes(line, look.NAVY, 1.2, 6.0, 4.0)
    elif kind == "cut":
        pen.dots(line, look.FOG, 0.8, 4.5)
    elif kind == "grain":
        pen.arrow(line.mean(axis=0), np.array([1.0, 0.0]), 20.0, look.NAVY)
    else:
        middle = line.mean(axis=0)
        pen.disc(middle, 9.0, look.WHITE, look.NAVY)
        pen.text((middle[0], middle[1]), "3", 11, anchor="mm")


def _fitted(pen: Pen, text: str, size_px: float, room_px: float) -> str:
    """Shorten text until it fits."""
    if pen.width_px(text, size_px) <= room_px:
        return text
    while text and pen.width_px(f"{text}...", size_px) > room_px:
        text = text[:-1]
    return f"{text}..."


def _many(count: int, word: str) -> str:
    return f"{count} {word}{'' if count == 1 else 's'}"


def _size(row: PanelRow) -> str:
    return f"{_mm(row.width_mm)} x {_mm(row.length_mm)}"


def _mm(length: float) -> str:
    return f"{length:.0f}" if length >= 10.0 else f"{length:.2g}"


def _cm(length_mm: float) -> str:
    return f"{length_mm / 10:.0f}" if length_mm >= 100.0 else f"{length_mm / 10:.2g}"
