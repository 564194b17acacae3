"""Bakes every set that a recipe asks for and delivers it."""

from texbake.batch.choose import checked_size, chosen
from texbake.batch.one import Done, texbake_version
from texbake.batch.run import bake_recipe

__all__ = ["Done", "bake_recipe", "checked_size", "chosen", "texbake_version"]
