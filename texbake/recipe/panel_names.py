"""The names of panels in seams, hems and prints, checked once the mesh is read."""

import re
from collections.abc import Iterable

from texbake.errors import UserError, UserErrors
from texbake.recipe.mistake import advice
from texbake.recipe.values import Recipe


def check_panels(recipe: Recipe, names: Iterable[str]) -> None:
    """Check the panels that seams, hems and prints name, once the mesh has told which there are.

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
