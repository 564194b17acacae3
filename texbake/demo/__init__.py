"""The demo: three garments of the Lantern Bay ferry uniform, and the recipes that bake them."""

from texbake.demo.garments import GARMENTS, write_meshes

__all__ = ["GARMENTS", "write_meshes"]
