"""Height to normal and back: a converter whose scale is physical and whose error is known."""

from texbake.convert.inspection import Inspection, inspect
from texbake.convert.integrate import normal_to_height
from texbake.convert.normal import flip_green, height_to_normal

__all__ = [
    "Inspection",
    "flip_green",
    "height_to_normal",
    "inspect",
    "normal_to_height",
]
