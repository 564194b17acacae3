"""The change as a picture: the old layout and the new one, the same panel in the same colour."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from texbake.arrays import F64, I32, I64, U8
from texbake.change.describe import Row
from texbake.chart import look
from texbake.chart.look import Pen, Rgb
from texbake.chart.sheet import SAME_UV, Square

WIDTH_PX, MARGIN_PX, TOP_PX = 1800, 48, 92
TIMES = 2
LINE_PX, COLUMN_PX = 24, 820
OPEN: Rgb = look.SEAMS[0]
_MOST_ROWS = 120  # lines of the legend; the rest is counted
_NUMBER = (9.0, 20.0)  # least and greatest size of numbers, px


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Half:
    """One of the two layouts.

    Attributes
    ----------
    title : str
    uv : (F, 3, 2) float64
    owner : (F,) int32
        Row of the legend for each face; -1 for one that is not drawn, -2 for one that is open.
    island : (F,) int32
    texels_per_cm : sequence of float
        Per row of the legend.
    """

    title: str
    uv: F64
    owner: I32
    island: I32
    texels_per_cm: Sequence[float]


def draw_change(before: Half, now: Half, rows: Sequence[Row], title: str) -> U8:
    """Draw two layouts side by side, and what happened to each panel under them.

    Parameters
    ----------
    before, now : Half
    rows : sequence of Row
        What the numbers mean, from 1.
    title : str

    Returns
    -------
    (H, 1800, 3) uint8
        sRGB.
    """
    from PIL import Image, ImageDraw

    side = (WIDTH_PX - 3 * MARGIN_PX) // 2
    columns = 1 if len(rows) <= 10 else 2
    shown = rows[:_MOST_ROWS]
    deep = -(-len(shown) // columns)
    low = TOP_PX + side + 34
    height = low + (deep + (len(shown) < len(rows))) * LINE_PX + MARGIN_PX
    image = Image.new("RGB", (WIDTH_PX * TIMES, height * TIMES), look.PAPER)
    pen = Pen(ImageDraw.Draw(image), TIMES)
    pen.text((MARGIN_PX, 32), _fitted(pen, title, 24, WIDTH_PX - 2 * MARGIN_PX), 24)
    for k, half in enumerate((before, now)):
        square = Square(left=MARGIN_PX + k * (side + MARGIN_PX), top=TOP_PX, side=side)
        pen.text((square.left, TOP_PX - 18), _fitted(pen, half.title, 15, side), 15, look.FOG)
        _draw_half(pen, half, square)
    for k, row in enumerate(shown):
        column, line = divmod(k, deep)
        at = MARGIN_PX + column * (COLUMN_PX + MARGIN_PX), low + line * LINE_PX
        _draw_row(pen, k, row, at, COLUMN_PX if columns == 2 else WIDTH_PX - 2 * MARGIN_PX)
    if len(shown) < len(rows):
        text = f"and {len(rows) - len(shown)} panels more"
        pen.text((MARGIN_PX, low + deep * LINE_PX + 8), text, 13, look.FOG)
    return np.asarray(image.reduce(TIMES), np.uint8).copy()


def _colour(owner: int) -> Rgb:
    return look.mix(OPEN, look.WHITE, 0.55) if owner < 0 else look.panel_colour(owner)


def _draw_half(pen: Pen, half: Half, square: Square) -> None:
    """Draw one layout: cloth, borders, numbers."""
    left, top, side = square.left, square.top, square.side
    pen.box(left, top, left + side, top + side, look.SHEET, look.mix(look.GRID, look.FOG, 0.4))
    for k in (1, 2, 3):
        at = k * side / 4
        pen.line(np.array([[left + 1, top + at], [left + side - 1, top + at]]), look.GRID, 0.5)
        pen.line(np.array([[left + at, top + 1], [left + at, top + side - 1]]), look.GRID, 0.5)
    faces = np.flatnonzero(half.owner != -1)
    corners = square.px(half.uv[faces]) * pen.times
    for face, corner in zip(faces[::-1].tolist(), corners[::-1], strict=True):
        fill = _colour(int(half.owner[face]))  # the lower face wins, as in the bake
        pen.draw.polygon(corner.ravel().tolist(), fill=fill, outline=fill)
    for edge, inner in _rims(half, faces, square):
        pen.line(edge, OPEN if inner else look.NAVY, 2.0 if inner else 1.0)
    for owner, island, middle, room in _spots(half, faces, square):
        _draw_label(pen, half, (owner, island), middle, room)


def _draw_label(pen: Pen, half: Half, of: tuple[int, int], middle: F64, room: float) -> None:
    """Write a panel's number in a disc, its island and its texels beneath, as far as they fit."""
    owner, island = of
    text = "?" if owner < 0 else str(owner + 1)
    least, most = _NUMBER
    size = min(most, max(least, 0.42 * room))
    radius = max(0.78 * size, 0.5 * pen.width_px(text, size) + 2.2)
    x, y = middle.tolist()
    if radius <= room:
        pen.disc(middle, radius, look.WHITE, OPEN if owner < 0 else look.NAVY)
        pen.text((x, y), text, size, anchor="mm")
    elif room >= 4.0:
        pen.text((x, y), text, least, anchor="mm", halo=_colour(owner))
    lines = [f"island {island}"]
    if owner >= 0:
        lines.append(f"{half.texels_per_cm[owner]:.3g} texels/cm")
    for k, line in enumerate(lines):
        low = radius + 9 + 14 * k
        if pen.width_px(line, 11.5) <= 2.0 * room and low + 7 <= 1.1 * room:
            pen.text((x, y + low), line, 11.5, anchor="mm", halo=_colour(owner))


def _draw_row(pen: Pen, number: int, row: Row, at: tuple[float, float], room: float) -> None:
    """Write one line of the legend."""
    x, y = at
    pen.box(x, y, x + 30, y + 18, _colour(number), look.mix(_colour(number), look.NAVY, 0.5))
    pen.text((x + 15, y + 9), str(number + 1), 12, anchor="mm")
    name = _fitted(pen, row.name, 14, 0.3 * room)
    pen.text((x + 40, y + 9), name, 14)
    start = max(50 + pen.width_px(name, 14), 190.0)
    words = ", ".join(row.words)
    if row.texels_per_cm > 0.0 and not any("texels/cm" in word for word in row.words):
        words += f", {row.texels_per_cm:.3g} texels/cm"
    colour = look.FOG if row.words == ("same",) else look.NAVY
    pen.text((x + start, y + 9), _fitted(pen, words, 13, room - start), 13, colour)


def _rims(half: Half, faces: I64, square: Square) -> list[tuple[F64, bool]]:
    """Edges where an island ends, or inside it (True) where one panel meets another."""
    uv = half.uv[faces]
    whole = np.rint(uv.reshape(-1, 2) / SAME_UV).astype(np.int64)
    place = np.concatenate([whole, np.repeat(half.island[faces], 3)[:, None]], axis=1)
    vertex = np.unique(place, axis=0, return_inverse=True)[1].reshape(-1, 3)
    ends = np.stack([vertex, np.roll(vertex, -1, axis=1)], axis=2).reshape(-1, 2)
    line = np.stack([uv, np.roll(uv, -1, axis=1)], axis=2).reshape(-1, 2, 2)
    _, first, edge, count = np.unique(
        np.sort(ends, axis=1), axis=0, return_index=True, return_inverse=True, return_counts=True
    )
    owner = np.repeat(half.owner[faces], 3)
    mixed = np.zeros(len(first), np.bool_)
    mixed[edge.ravel()[owner != owner[first][edge.ravel()]]] = True
    px = square.px(line[first])
    return [(px[k], bool(mixed[k])) for k in np.flatnonzero((count == 1) | mixed).tolist()]


def _spots(half: Half, faces: I64, square: Square) -> list[tuple[int, int, F64, float]]:
    """Roomiest place of each panel on each island: panel, island, pixel, room in px."""
    from PIL import Image, ImageDraw
    from scipy import ndimage

    pairs = np.stack([half.owner[faces], half.island[faces]], axis=1)
    table, region = np.unique(pairs, axis=0, return_inverse=True)
    side = int(square.side)
    image = Image.new("I", (side, side), -1)
    draw = ImageDraw.Draw(image)
    flat = Square(left=0.0, top=0.0, side=float(side)).px(half.uv[faces])
    for k in range(len(faces) - 1, -1, -1):
        draw.polygon(flat[k].ravel().tolist(), fill=int(region.ravel()[k]))
    seen = np.asarray(image, np.int32)
    inside = np.pad(seen, 1, constant_values=-1)
    middle = inside[1:-1, 1:-1]
    own = seen >= 0
    for other in (inside[:-2, 1:-1], inside[2:, 1:-1], inside[1:-1, :-2], inside[1:-1, 2:]):
        own &= middle == other
    room = np.asarray(ndimage.distance_transform_edt(own))
    numbers = np.unique(seen[seen >= 0])
    if not len(numbers):
        return []
    best = ndimage.maximum_position(room, seen, numbers)
    offset = np.array([square.left + 0.5, square.top + 0.5])
    return [
        (int(table[n, 0]), int(table[n, 1]), offset + np.array([at[1], at[0]]), float(room[at]))
        for n, at in zip(numbers.tolist(), best, strict=True)
    ]


def _fitted(pen: Pen, text: str, size_px: float, room_px: float) -> str:
    """Shorten text until it fits."""
    if pen.width_px(text, size_px) <= room_px:
        return text
    while text and pen.width_px(f"{text}...", size_px) > room_px:
        text = text[:-1]
    return f"{text}..."
