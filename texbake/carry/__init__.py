"""Painted pictures from one UV layout of a garment to another, through space."""

from texbake.carry.resample import carry_picture
from texbake.carry.route import Route, route
from texbake.carry.sheet import Sheet, read_sheet, sheet_of
from texbake.carry.way import Way, way_between

__all__ = [
    "Route",
    "Sheet",
    "Way",
    "carry_picture",
    "read_sheet",
    "route",
    "sheet_of",
    "way_between",
]
