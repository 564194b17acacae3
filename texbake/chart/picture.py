"""The UV layout as a picture: panels, grain, seams and hems, as a tailor marks them on paper.

Drawn at twice the size and reduced, which smooths every edge. What matters is drawn later:
cloth, the mesh's wires, borders, sewing, grain, and labels on top. A label that finds no room is
left out; the legend has what it would have said.
"""

import struct
import zlib
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from texbake.arrays import F64, U8
from texbake.chart import legend, look, sheet
from texbake.chart.look import Pen
from texbake.chart.rows import panel_rows
from texbake.errors import UserError
from texbake.garment.values import Garment
from texbake.layout.values import Layout

TIMES = 2
LEAST_PX, MOST_PX = 400, 6000
_MARK = b"Software\0Texbake"  # what our own pictures are known by
_IEND = 12  # bytes of the last chunk of a PNG
_LABEL = 7.5  # radius of the discs with the letters of seams, px
_LABEL_RUN, _LABEL_ROOM = 60.0, 11.0  # a seam's side at least so long, on an island so roomy
_NUMBER = (8.5, 18.0)  # least and greatest size of the numbers of islands, px
_NAME = (9.0, 20.0)  # the same of names


# Discs that labels lie in: x, y, radius, px.
Taken = list[tuple[float, float, float]]


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Drawing:
    """What the steps of the drawing share."""

    garment: Garment
    square: sheet.Square
    spots: dict[sheet.Part, sheet.Spot]
    runs: list[sheet.Run]
    letter: dict[int, str]


def picture(garment: Garment, layout: Layout, *, size_px: int = 1600) -> U8:
    """Draw the panels in UV, and a legend under them.

    Parameters
    ----------
    garment : Garment
    layout : Layout
        Of the size that texels are counted at.
    size_px : int
        Width of the picture, 400 to 6000; the height follows from the legend.

    Returns
    -------
    (H, size_px, 3) uint8
        sRGB, row 0 at the top.

    Raises
    ------
    ValueError
        For a width out of range.
    """
    from PIL import Image, ImageDraw

    if not LEAST_PX <= size_px <= MOST_PX:
        raise ValueError(f"size_px is {size_px}; it must be {LEAST_PX} to {MOST_PX}")
    margin = round(0.03 * size_px)
    top = margin + 44
    square = sheet.Square(left=margin, top=top, side=size_px - 2 * margin)
    rows = panel_rows(garment, layout)
    bottom = top + square.side
    drawing = _measure(garment, square, (round(bottom + margin), size_px))
    page = legend.Page(
        rows=rows,
        garment=garment,
        size_px=layout.size_px,
        letter=drawing.letter,
        left=margin,
        right=size_px - margin,
    )
    height = round(legend.height_px(page) + bottom + 34) + margin
    image = Image.new("RGB", (size_px * TIMES, height * TIMES), look.PAPER)
    pen = Pen(ImageDraw.Draw(image), TIMES)
    legend.write_title(pen, page, margin)
    _draw_sheet(pen, square)
    _draw_cloth(pen, drawing)
    _draw_sewing(pen, drawing)
    _draw_labels(pen, drawing)
    legend.write(pen, page, bottom + 34)
    return np.asarray(image.reduce(TIMES), np.uint8).copy()


def write_picture(path: Path, image: U8) -> None:
    """Write a picture as PNG, in place of an earlier one.

    Parameters
    ----------
    path : Path
    image : (H, W, 3) uint8
        sRGB.

    Raises
    ------
    UserError
        If a file of that name is there that is no such picture.
    MachineError
        If it cannot be written.
    """
    from texbake.deliver import encode_png, told

    with told(path):
        if path.exists() and _MARK not in path.read_bytes():
            fix = "choose another name with --picture, or move that file away"
            raise UserError(
                "a file that is no picture of ours is there already", fix=fix, path=path
            )
        data = encode_png(image, srgb=True)
        part = path.with_name(f"{path.name}.part")
        part.write_bytes(data[:-_IEND] + _chunk() + data[-_IEND:])
        part.replace(path)


def _chunk() -> bytes:
    """Return the tEXt chunk (PNG, third edition, 11.3.3.2) by which our pictures are known."""
    body = b"tEXt" + _MARK
    return struct.pack(">I", len(_MARK)) + body + struct.pack(">I", zlib.crc32(body))


def _measure(garment: Garment, square: sheet.Square, shape: tuple[int, int]) -> Drawing:
    """Find room for labels, and name the seams that are long enough to be told apart."""
    spots = {spot.part: spot for spot in sheet.spots(garment, square, shape)}
    runs = [run for run in sheet.runs(garment, square) if run.part in spots]
    long = sorted({run.chain for run in runs if _has_letter(run, spots[run.part])})
    letter = {chain: look.letters(k) for k, chain in enumerate(long)}
    return Drawing(garment=garment, square=square, spots=spots, runs=runs, letter=letter)


def _has_letter(run: sheet.Run, spot: sheet.Spot) -> bool:
    """Say whether a seam's letter would be readable on this side."""
    return run.kind == "seam" and run.length_px >= _LABEL_RUN and spot.room_px >= _LABEL_ROOM


def _draw_sheet(pen: Pen, square: sheet.Square) -> None:
    """Draw the UV square with quarter lines and its axes."""
    left, top, side = square.left, square.top, square.side
    pen.box(left, top, left + side, top + side, look.SHEET, look.mix(look.GRID, look.FOG, 0.4))
    for k in (1, 2, 3):
        at = k * side / 4
        across = np.array([[left + 1, top + at], [left + side - 1, top + at]])
        upright = np.array([[left + at, top + 1], [left + at, top + side - 1]])
        pen.line(across, look.GRID, 0.5)
        pen.line(upright, look.GRID, 0.5)
    low = top + side + 11
    pen.text((left, low), "u 0", 11, look.FOG)
    pen.text((left + side, low), "u 1", 11, look.FOG, anchor="rm")
    pen.text((left - 6, top + side - 6), "v 0", 11, look.FOG, anchor="rm")
    pen.text((left - 6, top + 7), "v 1", 11, look.FOG, anchor="rm")


def _draw_cloth(pen: Pen, drawing: Drawing) -> None:
    """Fill the panels, and draw wires and borders."""
    garment = drawing.garment
    corners = drawing.square.px(garment.mesh.uv)
    scaled = corners * pen.times
    for face in np.flatnonzero(garment.panel >= 0)[::-1].tolist():  # the lower face wins
        fill = look.panel_colour(int(garment.panel[face]))
        pen.draw.polygon(scaled[face].ravel().tolist(), fill=fill, outline=fill)
    wires = sheet.wires(garment)
    flat = corners.reshape(-1, 2)
    inner = flat[wires.inner]
    length = np.hypot(*(inner[:, 1] - inner[:, 0]).T)
    # Fine meshes would turn the panel grey: their wires are fainter.
    share = 0.2 * min(1.0, float(np.median(length)) / 16.0) if len(length) else 0.0
    for corner, edge in zip(wires.inner[:, 0].tolist(), inner, strict=True):
        base = look.panel_colour(int(garment.panel[corner // 3]))
        pen.line(edge, look.mix(base, look.NAVY, share), 0.5)
    for edge in flat[wires.rim]:
        pen.line(edge, look.NAVY, 1.0)


def _draw_sewing(pen: Pen, drawing: Drawing) -> None:
    """Draw cuts, hems and seams along the borders."""
    for kind in ("cut", "hem", "seam"):
        for run in drawing.runs:
            if run.kind == kind:
                _draw_run(pen, run, drawing.spots[run.part], run.chain)


def _draw_run(pen: Pen, run: sheet.Run, spot: sheet.Spot, chain: int) -> None:
    width = min(3.2, 0.4 + 0.16 * spot.room_px)
    if run.kind == "cut":
        base = look.panel_colour(spot.panel)
        pen.line(run.line, base, 1.4)
        pen.dots(run.line, look.FOG, 0.8, 4.5)
    elif run.kind == "hem":
        inset = min(6.0, 0.4 * spot.room_px)
        pen.dashes(run.inset(inset), look.NAVY, min(1.2, 0.5 * width), 6.0, 4.0)
    else:
        pen.line(run.inset(width / 2 + 0.6), look.seam_colour(chain), width)


def _draw_labels(pen: Pen, drawing: Drawing) -> None:
    """Draw grain, numbers and names, then letters where they still find room."""
    taken: Taken = []
    largest: dict[int, sheet.Spot] = {}
    for spot in drawing.spots.values():
        best = largest.setdefault(spot.panel, spot)
        if spot.room_px > best.room_px:
            largest[spot.panel] = spot
    for spot in drawing.spots.values():
        half = min(0.8 * spot.run_px, 0.16 * drawing.square.side)
        if half >= 20.0 and spot.room_px >= _NUMBER[0]:
            colour = look.mix(look.panel_colour(spot.panel), look.NAVY, 0.75)
            pen.arrow(spot.middle, spot.up, half, colour)
        low = _draw_number(pen, spot, taken)
        if largest[spot.panel] is spot:
            _draw_name(pen, drawing.garment.panels[spot.panel].name, spot, low, taken)
    for run in sorted(drawing.runs, key=lambda r: -r.length_px):
        if run.chain in drawing.letter and _has_letter(run, drawing.spots[run.part]):
            _draw_letter(pen, run, drawing.letter[run.chain], taken)


def _draw_number(pen: Pen, spot: sheet.Spot, taken: Taken) -> float:
    """Draw the island's number, in a disc if there is room; return how far down it reaches."""
    x, y = spot.middle.tolist()
    text, (least, most) = str(spot.island), _NUMBER
    size = min(most, max(least, 0.45 * spot.room_px))
    radius = max(0.78 * size, 0.5 * pen.width_px(text, size) + 2.2)
    if radius <= 0.9 * spot.room_px:
        pen.disc(spot.middle, radius, look.WHITE, look.NAVY)
        pen.text((x, y), text, size, anchor="mm")
    elif pen.width_px(text, least) <= 1.6 * spot.room_px:
        pen.text((x, y), text, least, anchor="mm", halo=look.panel_colour(spot.panel))
    taken.append((x, y, radius + 1))
    return radius


def _draw_name(pen: Pen, name: str, spot: sheet.Spot, low: float, taken: Taken) -> None:
    """Draw the panel's name under its number, as large as the island allows."""
    least, most = _NAME
    size = min(most, 0.3 * spot.room_px)
    wide = pen.width_px(name, size) if size >= least else 0.0
    if wide > 2.2 * spot.room_px:
        size *= 2.2 * spot.room_px / wide
    if size < least:
        return
    wide = pen.width_px(name, size)
    x, y = spot.middle[0], spot.middle[1] + low + 0.85 * size
    pen.text((x, y), name, size, anchor="mm", halo=look.panel_colour(spot.panel))
    taken += [(x + k * wide / 4, y, 0.6 * size) for k in (-2, -1, 0, 1, 2)]


def _draw_letter(pen: Pen, run: sheet.Run, text: str, taken: Taken) -> None:
    """Draw a seam's letter beside its middle, on the cloth; elsewhere along it if taken."""
    line = run.inset(_LABEL + 4.5)
    for share in (0.5, 0.4, 0.6, 0.3, 0.7, 0.2, 0.8):
        at = _along(line, share)
        x, y = at.tolist()
        if all(np.hypot(x - a, y - b) >= r + _LABEL for a, b, r in taken):
            legend.draw_letter(pen, at, text, look.seam_colour(run.chain))
            taken.append((x, y, _LABEL + 0.5))
            return


def _along(line: F64, share: float) -> F64:
    """Return the point at a share of a line's length."""
    arc = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(line, axis=0).T))])
    at = share * float(arc[-1])
    return np.array([np.interp(at, arc, line[:, 0]), np.interp(at, arc, line[:, 1])])
