"""From recipes to jobs.

A job is a share of one recipe's colourways. What they have in common (garment, layout, cloth, all
maps but the albedo) is done once a job, so jobs are not single colourways: at most as many as are
baked together anyway, and no fewer than four unless the recipe has fewer.
"""

from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Final

from texbake.batch import chosen
from texbake.errors import UserError
from texbake.lots import MOST
from texbake.many.job import Job, Order
from texbake.recipe import Recipe, load

LEAST: Final = 4


def split(
    recipes: Sequence[Path], order: Order, colourways: Sequence[str] = (), *, workers: int = 1
) -> tuple[tuple[Job, ...], tuple[UserError, ...]]:
    """Make jobs of recipes.

    Parameters
    ----------
    recipes : sequence of Path
    order : Order
    colourways : sequence of str
        Names; all of them if empty.
    workers : int
        How many jobs can run at the same time; 1: a job for each recipe.

    Returns
    -------
    jobs : tuple of Job
        In the order of the recipes.
    errors : tuple of UserError
        Recipes that cannot be read, and those that would write over each other's sets.
    """
    jobs: list[Job] = []
    errors: list[UserError] = []
    taken: dict[str, Path] = {}
    for path in recipes:
        try:
            wanted = chosen(load(path), colourways, order.size_px)
            _refuse_twice(next(iter(wanted.values())), path, taken)
        except UserError as error:
            errors.append(error)
            continue
        jobs += _shares(path, order, list(wanted), workers)
    return tuple(jobs), tuple(errors)


def _refuse_twice(recipe: Recipe, path: Path, taken: dict[str, Path]) -> None:
    """Refuse a second recipe of a garment: its sets would go where the first one's are."""
    name = recipe.garment.casefold()  # as some systems' folders are one in capitals and in small
    if name in taken:
        raise UserError(
            f"garment: '{recipe.garment}' is also the garment of {taken[name]}",
            fix="give one of them another name, or bake them one by one into other folders: --out",
            path=path,
            line=recipe.lines.get("garment"),
        )
    taken[name] = path


def _shares(path: Path, order: Order, names: list[str], workers: int) -> Iterator[Job]:
    """Share the colourways of a recipe evenly among jobs."""
    if workers == 1 or order.update_recipe:  # which must see all of a garment's sets
        yield Job(recipe=path, order=order, colourways=tuple(names))
        return
    most = min(MOST, max(LEAST, -(-len(names) // workers)))
    count = -(-len(names) // most)
    for k in range(count):
        part = names[k * len(names) // count : (k + 1) * len(names) // count]
        yield Job(recipe=path, order=order, colourways=tuple(part))
