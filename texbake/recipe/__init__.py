"""Recipes: YAML to frozen values, all mistakes at once, each with its line and its cure."""

from texbake.recipe.axes import default_unit_mm, to_y_up
from texbake.recipe.checks import check_panels
from texbake.recipe.document import json_schema, reference_markdown
from texbake.recipe.reading import load, loads
from texbake.recipe.values import (
    Colour,
    Draft,
    Fabric,
    Felt,
    HemRecipe,
    Jersey,
    Melange,
    PanelRecipe,
    Plain,
    Project,
    Recipe,
    Rib,
    Satin,
    SeamRecipe,
    Stitching,
    Structure,
    Thread,
    Twill,
    Yarn,
)

__all__ = [
    "Colour",
    "Draft",
    "Fabric",
    "Felt",
    "HemRecipe",
    "Jersey",
    "Melange",
    "PanelRecipe",
    "Plain",
    "Project",
    "Recipe",
    "Rib",
    "Satin",
    "SeamRecipe",
    "Stitching",
    "Structure",
    "Thread",
    "Twill",
    "Yarn",
    "check_panels",
    "default_unit_mm",
    "json_schema",
    "load",
    "loads",
    "reference_markdown",
    "to_y_up",
]
