"""Which colourways of a recipe, and at what size."""

from collections.abc import Mapping, Sequence
from dataclasses import replace

from texbake.errors import UserError
from texbake.recipe import Project, Recipe
from texbake.recipe.mistake import nearest

MOST_TOLD = 20
SIZES = tuple(2**k for k in range(4, 15))


def chosen(
    project: Project, colourways: Sequence[str], size_px: int | None
) -> Mapping[str, Recipe]:
    """Return the colourways asked for, all if none is, at the size asked for.

    Raises
    ------
    UserError
        For a colourway that the recipe has not, or a size that no texture has.
    """
    for name in colourways:
        if name not in project.colourways:
            near = nearest(name, project.colourways)
            raise UserError(
                f"there is no colourway '{name}'",
                fix=f"{f'did you mean {near!r}? ' if near else ''}"
                f"the recipe has: {_listed(project)}",
                path=project.recipe.path,
                line=project.recipe.lines.get("colourways"),
            )
    names = [n for n in project.colourways if not colourways or n in colourways]
    recipes = {name: project.colourways[name] for name in names}
    if size_px is None:
        return recipes
    size_px = checked_size(size_px)
    return {name: replace(recipe, size_px=size_px) for name, recipe in recipes.items()}


def _listed(project: Project) -> str:
    """Name the colourways, of thousands a few."""
    names = list(project.colourways)
    more = f" and {len(names) - MOST_TOLD} more" if len(names) > MOST_TOLD else ""
    return f"{', '.join(names[:MOST_TOLD])}{more}"


def checked_size(size_px: int) -> int:
    """Return a size of textures as it is.

    Raises
    ------
    UserError
        If it is no power of two from 16 to 16384.
    """
    if size_px not in SIZES:
        near = min(SIZES, key=lambda s: abs(s - size_px))
        raise UserError(
            f"--size: {size_px} is no size of a texture",
            fix=f"the nearest is {near}; allowed: power of two, {SIZES[0]} to {SIZES[-1]}",
        )
    return size_px
