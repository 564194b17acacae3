"""Shows a garment in its cloth, from the set that was baked, or from a quick small bake."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from texbake.arrays import U8
from texbake.bake import render
from texbake.batch import chosen, meant
from texbake.batch.parts import Common, still_of
from texbake.deliver import read_record, set_folder
from texbake.maps import MapArrays, eight_bits
from texbake.prepared import NOTHING, Report, prepare, silent
from texbake.recipe import Recipe, load
from texbake.store import Store
from texbake.view import SIZE_PX, VIEWS, check_views, panel_to_show, read_set, show_picture

QUICK_PX = 1024  # of a bake that is made for one picture only


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Shown:
    """A picture, and the name that its file should have.

    Attributes
    ----------
    name : str
        ``GARMENT_COLOURWAY_view.png``, or ``GARMENT_COLOURWAY_near-PANEL.png``.
    picture : (H, W, 3) uint8
        sRGB.
    """

    name: str
    picture: U8


def show_recipe(
    path: Path,
    *,
    out: Path | None = None,
    colourway: str | None = None,
    views: Sequence[str] = VIEWS,
    size: tuple[int, int] = SIZE_PX,
    near: str | None = None,
    threads: int | None = None,
    report: Report | None = None,
    note: Callable[[str], None] | None = None,
    store: Store = NOTHING,
) -> Shown:
    """Draw a colourway of a recipe, dressed.

    Parameters
    ----------
    path : Path
        The recipe.
    out : Path, optional
        Where its sets are, ``out`` if not given.
    colourway : str, optional
        The first if not given.
    views, size, near
        As for `texbake.view.show_picture`.
    report, note : callable, optional
        Told each stage; told that a bake had to be made.
    store : Store
        Where slow steps are kept; nowhere if not given.

    Raises
    ------
    UserError
        For anything wrong with recipe, mesh, views, size or panel.
    """
    project = load(path)
    wanted = chosen(project, () if colourway is None else (colourway,), None)
    if near is None:
        check_views(views, size)
    where = out or Path("out")
    now = meant(wanted, where)
    name, recipe = next(iter(now.recipes.items()))
    maps, garment = _baked(where, name, recipe, now.common), None
    if not isinstance(maps, MapArrays):
        quick = replace(recipe, size_px=min(recipe.size_px, QUICK_PX))
        if note is not None:
            note(f"colourway '{name}' {maps}: baked at {quick.size_px} px for this picture only")
        ready = prepare(
            quick,
            report=report or silent,
            store=store,
            mesh=now.last.mesh,
            known=now.last.known,
        )
        if near is not None:
            panel_to_show(ready.garment, near)  # complains before the bake, not after it
        maps, garment = eight_bits(render(ready, quick, threads=threads)), ready.garment
    if garment is None:
        garment = now.garment(store)
    picture = show_picture(garment, maps, views=views, size=size, near=near, threads=threads)
    kind = "view" if near is None else f"near-{near}"
    return Shown(name=f"{recipe.garment}_{name}_{kind}.png", picture=picture)


def _baked(out: Path, name: str, recipe: Recipe, common: Common) -> MapArrays | str:
    """Return the maps of a set, if it is there and of this recipe and mesh as they are now.

    Else what keeps it from being shown.
    """
    other = "is not baked as the recipe has it now"
    folder = set_folder(out, recipe.garment, name)
    record = read_record(folder) if folder.is_dir() else None
    if record is None or not recipe.mesh.is_file():
        return other
    if not still_of(record, recipe, name, common):
        return other
    if not record.can_be_read:
        return "is not delivered with every map as PNG, at the size that was baked"
    return read_set(folder)
