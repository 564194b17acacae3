"""Texbake: matched texture maps of sewn cloth, from a YAML recipe and a garment mesh.

The names below are the public library; each loads its part at the first use, so that importing
Texbake costs nothing.
"""

from importlib import import_module
from typing import TYPE_CHECKING, Any

from texbake.errors import MachineError, UserError, UserErrors

if TYPE_CHECKING:
    from texbake.bake import render
    from texbake.batch import Done, bake_recipe
    from texbake.garment.values import Chain, Garment, Mesh, Panel
    from texbake.layout.values import Layout
    from texbake.maps.values import MapArrays
    from texbake.prepared import Prepared, prepare, read_garment
    from texbake.recipe.reading import load as load_recipe
    from texbake.recipe.values import Project, Recipe
    from texbake.showing import show_recipe
    from texbake.view.picture import show_picture
    from texbake.view.read import read_set

_HOMES = {
    "Chain": "texbake.garment.values",
    "Done": "texbake.batch",
    "Garment": "texbake.garment.values",
    "Layout": "texbake.layout.values",
    "MapArrays": "texbake.maps.values",
    "Mesh": "texbake.garment.values",
    "Panel": "texbake.garment.values",
    "Prepared": "texbake.bake",
    "Project": "texbake.recipe.values",
    "Recipe": "texbake.recipe.values",
    "bake_recipe": "texbake.batch",
    "load_recipe": "texbake.recipe.reading",
    "prepare": "texbake.bake",
    "read_garment": "texbake.bake",
    "read_set": "texbake.view.read",
    "render": "texbake.bake",
    "show_picture": "texbake.view.picture",
    "show_recipe": "texbake.showing",
}

__all__ = [
    "Chain",
    "Done",
    "Garment",
    "Layout",
    "MachineError",
    "MapArrays",
    "Mesh",
    "Panel",
    "Prepared",
    "Project",
    "Recipe",
    "UserError",
    "UserErrors",
    "bake_recipe",
    "load_recipe",
    "prepare",
    "read_garment",
    "read_set",
    "render",
    "show_picture",
    "show_recipe",
]


def __getattr__(name: str) -> Any:  # noqa: ANN401 - whatever the name stands for
    """Load a public name where it lives."""
    if name not in _HOMES:
        raise AttributeError(f"module 'texbake' has no attribute '{name}'")
    home = import_module(_HOMES[name])
    return getattr(home, "load" if name == "load_recipe" else name)
