"""Bakes every set that a recipe asks for and delivers it; what nothing changed is kept."""

from texbake.batch.choose import checked_size, chosen
from texbake.batch.door import Meant, meant
from texbake.batch.one import Done
from texbake.batch.plan import Plan
from texbake.batch.program import texbake_version
from texbake.batch.run import bake_recipe, plan_recipe

__all__ = [
    "Done",
    "Meant",
    "Plan",
    "bake_recipe",
    "checked_size",
    "chosen",
    "meant",
    "plan_recipe",
    "texbake_version",
]
