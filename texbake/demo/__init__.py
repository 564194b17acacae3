"""The demo: three garments of the Lantern Bay ferry uniform, and the recipes that bake them."""

from texbake.demo.folder import BUDGET, copy_demo, demo_files, demo_folder

__all__ = ["BUDGET", "copy_demo", "demo_files", "demo_folder"]
