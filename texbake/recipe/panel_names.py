"""The names of panels in sewing, creases and prints, checked once the mesh is read."""

import re
from collections.abc import Iterable

from texbake.errors import UserError, UserErrors
from texbake.recipe.crease_values import CreasePlace
from texbake.recipe.mistake import advice
from texbake.recipe.values import DetailRecipe, Recipe


def check_panels(recipe: Recipe, names: Iterable[str]) -> None:
    """Check the panels that sewing, creases and prints name, once the mesh has told them.

    Parameters
    ----------
    recipe : Recipe
    names : iterable of str
        Every panel, those of the recipe and those that the mesh gave.

    Raises
    ------
    UserErrors
        One for each name that is none, with its line and the nearest right one.
    """
    panels = list(dict.fromkeys(names))
    # A panel that is found in several pieces is NAME-1, NAME-2 ...; NAME means them all.
    good = {"all", "both", *panels, *(re.sub(r"-[1-9]\d*$", "", name) for name in panels)}
    used: list[tuple[str, tuple[str, ...]]]
    used = [(f"seams.{k}.between", s.between) for k, s in enumerate(recipe.seams)]
    used += [(f"seams.{k}.side", (s.side,)) for k, s in enumerate(recipe.seams)]
    used += [(f"hems.{k}.on", h.on) for k, h in enumerate(recipe.hems)]
    used += [(f"prints.{k}.on", p.on) for k, p in enumerate(recipe.prints)]
    for k, detail in enumerate(recipe.details):
        used += _places(f"details.{k}", detail)
    for k, place in enumerate(() if recipe.creases is None else recipe.creases.places):
        used += _places(f"creases.places.{k}", place)
    errors = []
    for at, wanted in used:
        for k, name in enumerate(wanted):
            if name not in good:
                line = recipe.lines.get(f"{at}.{k}", recipe.lines.get(at))
                fix = advice(name, panels, f"panels: {', '.join(panels)}")
                what = f"{at}: there is no panel {name!r}"
                errors.append(UserError(what, fix=fix, path=recipe.path, line=line))
    if errors:
        raise UserErrors(sorted(errors, key=lambda e: e.line or 0))


def _places(at: str, entry: DetailRecipe | CreasePlace) -> list[tuple[str, tuple[str, ...]]]:
    """Names of panels in an entry that lies at a point, on edges or along seams."""
    panel = () if entry.panel is None else (entry.panel,)
    named = (("on", entry.on), ("between", entry.between), ("panel", panel))
    return [(f"{at}.{key}", names or ()) for key, names in named]
