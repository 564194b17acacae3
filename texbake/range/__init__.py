"""The range at a glance: all colourways of a garment on one picture, and as a page to search."""

from texbake.range.files import places, write_range
from texbake.range.order import SORTS
from texbake.range.run import MOST, Drawn, draw_range

__all__ = ["MOST", "SORTS", "Drawn", "draw_range", "places", "write_range"]
