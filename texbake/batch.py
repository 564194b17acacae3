"""Bakes every set that a recipe asks for and delivers it."""

import hashlib
import math
import time
from collections import Counter
from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path

import numpy as np

from texbake import cloth
from texbake.bake import Prepared, Report, fabric_names, prepare, redress, render
from texbake.beside import KINDS, writers
from texbake.deliver import (
    PanelNote,
    Record,
    Source,
    check_place,
    deliver_set,
    extra_names,
    file_names,
    set_folder,
)
from texbake.errors import UserError
from texbake.garment.raw import listed
from texbake.recipe import Fabric, Project, Recipe, load
from texbake.recipe.mistake import nearest

SIZES = tuple(2**k for k in range(4, 15))
FINE_TEXELS = 2.0  # a yarn of fewer texels is not seen as one (Nyquist: two samples to a period)
SHOWN_TEXELS = 4.0  # what `scale` is proposed for
MOST_SCALE = 100.0  # the greatest that a recipe may say


@dataclass(frozen=True, slots=True, kw_only=True)
class Done:
    """One set that was baked.

    Attributes
    ----------
    colourway : str
    folder : Path
    seconds : float
        From the end of the set before, or of what all share.
    record : Record
    """

    colourway: str
    folder: Path
    seconds: float
    record: Record


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
    stages = report or _silent
    shared = prepare(next(iter(wanted.values())), report=stages)
    # All are dressed before any is baked: what is wrong with the last is told before the first.
    ready = {name: redress(shared, recipe) for name, recipe in wanted.items()}
    for sentence in dict.fromkeys(s for one in ready.values() for s in remarks(one)):
        told(sentence)
    target = Path("out") if out is None else out
    for name, one in ready.items():
        check_place(set_folder(target, one.recipe.garment, name), _names(one, name).values())
    sources = (_source(path), _source(shared.recipe.mesh))
    return tuple(
        _bake_one(one, name, target, sources, threads, stages, beside)
        for name, one in ready.items()
    )


def _silent(_stage: str, _share: float) -> None:
    """Report nothing."""


def _silent_note(_sentence: str) -> None:
    """Note nothing."""


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
                f"the recipe has: {', '.join(project.colourways)}",
                path=project.recipe.path,
                line=project.recipe.lines.get("colourways"),
            )
    names = [n for n in project.colourways if not colourways or n in colourways]
    recipes = {name: project.colourways[name] for name in names}
    if size_px is None:
        return recipes
    size_px = checked_size(size_px)
    return {name: replace(recipe, size_px=size_px) for name, recipe in recipes.items()}


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


def _bake_one(
    ready: Prepared,
    name: str,
    out: Path,
    sources: tuple[Source, Source],
    threads: int | None,
    report: Report,
    beside: Collection[str],
) -> Done:
    """Bake and deliver one colourway."""
    start = time.perf_counter()
    recipe = ready.recipe
    folder = set_folder(out, recipe.garment, name)
    names = _names(ready, name)
    arrays = render(ready, recipe, threads=threads, report=report)
    record = Record(
        texbake=texbake_version(),
        garment=recipe.garment,
        colourway=name,
        recipe=sources[0],
        mesh=sources[1],
        size_px=recipe.size_px,
        gutter_px=recipe.gutter_px,
        seed=recipe.seed,
        normal_bits=recipe.normal_bits,
        height_lo_mm=arrays.height_lo_mm,
        height_hi_mm=arrays.height_hi_mm,
        panels=_panel_notes(ready),
    )
    report("view", 0.0)
    extras = writers(ready, arrays, record, kinds=beside, threads=threads)
    report("write", 0.0)
    written = deliver_set(
        folder, maps=arrays, names=names, record=record, extras=extras, threads=threads or 2
    )
    return Done(colourway=name, folder=folder, seconds=time.perf_counter() - start, record=written)


def _names(ready: Prepared, colourway: str) -> dict[str, str]:
    """File name of every map of a set, and of what goes beside them."""
    pattern, garment = ready.recipe.file_name, ready.recipe.garment
    holes = any(cloth.has_holes(wear.fabric) for wear in ready.wears)
    return {
        **file_names(pattern, garment, colourway, holes=holes),
        **extra_names(pattern, garment, colourway),
    }


def texbake_version() -> str:
    """Version of the installed package; "0" when run from a bare checkout."""
    try:
        return version("texbake")
    except PackageNotFoundError:
        return "0"


def _source(path: Path) -> Source:
    """Name and hash of an input file."""
    return Source(name=path.name, sha256=hashlib.sha256(path.read_bytes()).hexdigest())


def _panel_notes(shared: Prepared) -> tuple[PanelNote, ...]:
    """What the record says of each panel."""
    return tuple(
        PanelNote(
            name=panel.name,
            area_mm2=panel.area_mm2,
            stretch_rms=panel.stretch_rms,
            stretch_max=panel.stretch_max,
            texels_per_cm=10.0 / max(_texel_mm(shared, panel_index), 1e-9),
        )
        for panel_index, panel in enumerate(shared.garment.panels)
    )


def _texel_mm(shared: Prepared, panel: int) -> float:
    """Mean size of a panel's texels on the cloth, mm."""
    faces = shared.garment.panels[panel].faces
    return float(np.median(shared.layout.texel_mm[faces])) if len(faces) else 0.0


def remarks(shared: Prepared) -> tuple[str, ...]:
    """What a user should know before looking at the maps: a sentence each.

    What was met in the mesh, islands that share texels, and yarns too fine to be seen.
    """
    return (*shared.garment.notes, *_shared_texels(shared), *_fine_yarns(shared))


def _shared_texels(shared: Prepared) -> list[str]:
    """Panels that lie over each other or over themselves, each stack of them told once."""
    stack = list(range(len(shared.garment.panels)))
    texels: Counter[int] = Counter()
    for overlap in shared.layout.overlaps:
        a, b = (stack[k] for k in overlap.panels)
        stack = [min(a, b) if k == max(a, b) else k for k in stack]
    for overlap in shared.layout.overlaps:
        texels[stack[overlap.panels[0]]] += overlap.texels
    told = []
    for first, count in sorted(texels.items()):
        names = [p.name for k, p in zip(stack, shared.garment.panels, strict=True) if k == first]
        whom = f"panel '{names[0]}' lies over itself"
        if len(names) > 1:
            whom = f"panels {listed([repr(name) for name in names], 8)} share texels"
        told.append(f"{whom} ({count} texels): they are baked once, from the first")
    return told


def _fine_yarns(shared: Prepared) -> list[str]:
    """Fabrics whose yarns are too fine for the texels of all panels that wear them."""
    names = fabric_names(shared.recipe, shared.garment)
    found = []
    for name in dict.fromkeys(names):
        fabric = shared.recipe.fabrics[name]
        sizes = [_texel_mm(shared, k) for k, worn in enumerate(names) if worn == name]
        texel = min(size for size in sizes)
        pitch = cloth.yarn_mm(fabric)
        if texel > 0.0 and pitch / texel < FINE_TEXELS and cloth.has_yarns(fabric):
            found.append(
                f"fabric '{name}': its yarns are {pitch / texel:.2g} texels apart, too fine to be "
                f"seen; {_cure(shared.recipe, fabric, SHOWN_TEXELS * texel / pitch)}"
            )
    return found


def _cure(recipe: Recipe, fabric: Fabric, grown: float) -> str:
    """Say which scale would show a fabric's yarns, in two digits, rounded up; or that none does."""
    step = 10.0 ** (math.floor(math.log10(fabric.scale * grown)) - 1)
    scale = math.ceil(fabric.scale * grown / step) * step
    if scale > MOST_SCALE:
        return "no scale would show them: bake at a larger size"
    # What stands in the recipe as a phrase (`fabric: plain`) has no place for a scale.
    where = "" if f"fabrics.{fabric.name}" in recipe.lines else "described under fabrics, "
    return f"{where}scale: {scale:g} would show them, {SHOWN_TEXELS:g} texels apart"
