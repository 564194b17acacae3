"""A set on one sheet: dressed views, cloth, and all maps, to be looked at and handed on."""

from texbake.sheet.page import VIEWS_PX, WIDTH_PX, sheet_picture

__all__ = ["VIEWS_PX", "WIDTH_PX", "sheet_picture"]
