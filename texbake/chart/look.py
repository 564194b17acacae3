"""Colours, type and lines of the chart. Colours are sRGB, 8 bits.

The uniform's own: deep navy to write and outline, fog grey for what is beside the point, lantern
amber and buoy red among the seams, on paper that is not quite white.
"""

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from texbake.arrays import F64

if TYPE_CHECKING:
    from PIL.ImageDraw import ImageDraw
    from PIL.ImageFont import FreeTypeFont, ImageFont

Rgb = tuple[int, int, int]

PAPER: Final[Rgb] = (247, 243, 234)
SHEET: Final[Rgb] = (254, 252, 247)
GRID: Final[Rgb] = (236, 230, 217)
NAVY: Final[Rgb] = (31, 47, 70)
FOG: Final[Rgb] = (122, 130, 136)
WHITE: Final[Rgb] = (255, 255, 255)

# Soft, and no two that follow each other alike.
CLOTH: Final[tuple[Rgb, ...]] = (
    (205, 222, 234),
    (243, 223, 184),
    (209, 228, 201),
    (241, 210, 204),
    (222, 214, 236),
    (203, 230, 226),
    (247, 219, 197),
    (226, 230, 190),
    (212, 218, 224),
    (238, 212, 226),
    (232, 224, 212),
    (196, 216, 212),
)
SEAMS: Final[tuple[Rgb, ...]] = (
    (197, 52, 44),
    (30, 99, 178),
    (222, 141, 22),
    (25, 133, 82),
    (131, 70, 168),
    (0, 141, 158),
    (203, 56, 133),
    (122, 82, 45),
    (116, 130, 20),
    (74, 84, 160),
)


def panel_colour(panel: int) -> Rgb:
    """Return the fill of a panel."""
    return CLOTH[panel % len(CLOTH)]


def seam_colour(chain: int) -> Rgb:
    """Return the line colour of a seam."""
    return SEAMS[chain % len(SEAMS)]


def mix(a: Rgb, b: Rgb, share: float) -> Rgb:
    """Return ``a`` with a share of ``b`` in it."""
    r, g, c = (round(x + (y - x) * share) for x, y in zip(a, b, strict=True))
    return r, g, c


def letters(number: int) -> str:
    """Count in letters, from 0.

    >>> [letters(k) for k in (0, 25, 26, 701, 702)]
    ['A', 'Z', 'AA', 'ZZ', 'AAA']
    """
    out = ""
    number += 1
    while number:
        number, rest = divmod(number - 1, 26)
        out = chr(ord("A") + rest) + out
    return out


@dataclass(frozen=True, slots=True)
class Pen:
    """Draws at ``times`` the picture's size; all lengths given are the picture's own px."""

    draw: "ImageDraw"
    times: int

    def font(self, size_px: float) -> "FreeTypeFont | ImageFont":
        """Return the built-in typeface at a size."""
        from PIL import ImageFont

        return ImageFont.load_default(size=size_px * self.times)

    def width_px(self, text: str, size_px: float) -> float:
        """Return how wide text is."""
        return float(self.draw.textlength(text, font=self.font(size_px))) / self.times

    def text(
        self,
        at: tuple[float, float],
        text: str,
        size_px: float,
        colour: Rgb = NAVY,
        *,
        anchor: str = "lm",
        halo: Rgb | None = None,
    ) -> None:
        """Write text; a halo keeps lines off it."""
        place = (at[0] * self.times, at[1] * self.times)
        font = self.font(size_px)
        if halo is None:
            self.draw.text(place, text, fill=colour, font=font, anchor=anchor)
        else:
            stroke = max(1, round(0.18 * size_px * self.times))
            self.draw.text(
                place,
                text,
                fill=colour,
                font=font,
                anchor=anchor,
                stroke_width=stroke,
                stroke_fill=halo,
            )

    def line(self, points: F64, colour: Rgb, width_px: float) -> None:
        """Draw an open line with round bends."""
        width = max(1, round(width_px * self.times))
        flat = (points * self.times).ravel().tolist()
        self.draw.line(flat, fill=colour, width=width, joint="curve" if width > 2 else None)

    def dashes(
        self, points: F64, colour: Rgb, width_px: float, on_px: float, off_px: float
    ) -> None:
        """Draw a line in dashes that go round bends."""
        for part in dashed(points, on_px, off_px):
            self.line(part, colour, width_px)

    def dots(self, points: F64, colour: Rgb, radius_px: float, step_px: float) -> None:
        """Draw a line in dots."""
        for part in dashed(points, step_px / 2, step_px / 2):
            self.disc(part[0], radius_px, colour)

    def disc(self, at: F64, radius_px: float, fill: Rgb, rim: Rgb | None = None) -> None:
        """Draw a disc."""
        x, y, r = at[0] * self.times, at[1] * self.times, radius_px * self.times
        width = 0 if rim is None else max(1, round(1.4 * self.times))
        self.draw.ellipse((x - r, y - r, x + r, y + r), fill=fill, outline=rim, width=width)

    def box(
        self, left: float, top: float, right: float, bottom: float, fill: Rgb, rim: Rgb
    ) -> None:
        """Draw an upright rectangle."""
        sides = tuple(v * self.times for v in (left, top, right, bottom))
        self.draw.rectangle(sides, fill=fill, outline=rim, width=self.times)

    def arrow(self, middle: F64, direction: F64, half_px: float, colour: Rgb) -> None:
        """Draw a grain line: a straight line with a head at either end."""
        tip = direction * half_px
        head = min(9.0, 0.3 * half_px)
        self.line(np.stack([middle - tip * 0.97, middle + tip * 0.97]), colour, 1.3)
        across = np.array([-direction[1], direction[0]]) * head * 0.36
        for end in (1.0, -1.0):
            point = middle + end * tip
            back = point - end * direction * head
            corners = np.stack([point, back + across, back - across]) * self.times
            self.draw.polygon(corners.ravel().tolist(), fill=colour)


def dashed(points: F64, on_px: float, off_px: float) -> list[F64]:
    """Cut a line (N, 2) into dashes, which begin and end with half a gap.

    The lengths are stretched so that a whole number fits; a line too short for one is one dash.
    """
    step = np.hypot(*np.diff(points, axis=0).T)
    arc = np.concatenate([[0.0], np.cumsum(step)])
    total = float(arc[-1])
    count = max(1, round(total / (on_px + off_px)))
    fit = total / count
    if total <= 0.0 or not math.isfinite(total):
        return []
    gap = 0.5 * fit * off_px / (on_px + off_px)
    return [_piece(points, arc, k * fit + gap, (k + 1) * fit - gap) for k in range(count)]


def _piece(points: F64, arc: F64, start: float, stop: float) -> F64:
    """Return the part of a line between two arc lengths."""
    inner = points[(arc > start) & (arc < stop)]
    ends = [
        np.array([np.interp(at, arc, points[:, 0]), np.interp(at, arc, points[:, 1])])
        for at in (start, stop)
    ]
    return np.concatenate([ends[0][None], inner, ends[1][None]])
