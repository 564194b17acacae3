"""Bakes every set that a recipe asks for and delivers it."""

import hashlib
from collections.abc import Callable, Collection, Sequence
from pathlib import Path

from texbake.bake import NOTHING, Report, prepare, redress, silent
from texbake.batch.choose import chosen
from texbake.batch.one import Done, bake_one, names_of
from texbake.batch.remarks import remarks
from texbake.beside import KINDS
from texbake.deliver import Source, check_place, set_folder
from texbake.recipe import fingerprint, load
from texbake.store import Store


def bake_recipe(
    path: Path,
    *,
    out: Path | None = None,
    size_px: int | None = None,
    colourways: Sequence[str] = (),
    threads: int | None = None,
    report: Report | None = None,
    note: Callable[[str], None] | None = None,
    beside: Collection[str] = KINDS,
    store: Store = NOTHING,
) -> tuple[Done, ...]:
    """Bake a recipe's sets.

    Parameters
    ----------
    path : Path
        The recipe.
    out : Path, optional
        Where the sets go, as ``OUT/GARMENT/COLOURWAY``; ``out`` beside the recipe's working
        folder if not given.
    size_px : int, optional
        Stands for the recipe's own size; a power of two from 16 to 16384.
    colourways : sequence of str
        Names; all of them if empty.
    threads : int, optional
        All cores if not given. The bytes are the same for any.
    report : callable, optional
        Told each stage and the share done.
    note : callable, optional
        Told what the user should know of the garment, a sentence at a time.
    beside : collection of str
        What goes beside the maps, of "view", "sheet" and "glb"; all three if not given.
    store : Store
        Where slow steps are kept for the next bake; nowhere if not given.

    Returns
    -------
    tuple of Done
        In the order of the recipe.

    Raises
    ------
    UserError
        For anything wrong with the recipe or the mesh; nothing is written then.
    MachineError
        If a set cannot be written; earlier sets stay as they were.
    """
    project = load(path)
    wanted = chosen(project, colourways, size_px)
    told = note or _silent_note
    stages = report or silent
    shared = prepare(next(iter(wanted.values())), report=stages, store=store)
    # All are dressed before any is baked: what is wrong with the last is told before the first.
    ready = {name: redress(shared, recipe) for name, recipe in wanted.items()}
    for sentence in dict.fromkeys(s for one in ready.values() for s in remarks(one)):
        told(sentence)
    target = Path("out") if out is None else out
    for name, one in ready.items():
        check_place(set_folder(target, one.recipe.garment, name), names_of(one, name).values())
    recipe = shared.recipe
    sources = (
        Source(name=path.name, sha256=fingerprint(recipe)),
        Source(name=recipe.mesh.name, sha256=hashlib.sha256(recipe.mesh.read_bytes()).hexdigest()),
    )
    return tuple(
        bake_one(one, name, target, sources, threads, stages, beside) for name, one in ready.items()
    )


def _silent_note(_sentence: str) -> None:
    """Note nothing."""
