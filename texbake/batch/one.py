"""Bakes one set and delivers it with its record."""

import time
from collections.abc import Collection
from dataclasses import dataclass
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path

from texbake import cloth
from texbake.bake import Prepared, Report, render
from texbake.batch.remarks import texel_mm
from texbake.beside import writers
from texbake.deliver import (
    PanelNote,
    Record,
    Source,
    deliver_set,
    extra_names,
    file_names,
    set_folder,
)


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


def bake_one(
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
    names = names_of(ready, name)
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


def names_of(ready: Prepared, colourway: str) -> dict[str, str]:
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


def _panel_notes(shared: Prepared) -> tuple[PanelNote, ...]:
    """What the record says of each panel."""
    return tuple(
        PanelNote(
            name=panel.name,
            area_mm2=panel.area_mm2,
            stretch_rms=panel.stretch_rms,
            stretch_max=panel.stretch_max,
            texels_per_cm=10.0 / max(texel_mm(shared, panel_index), 1e-9),
        )
        for panel_index, panel in enumerate(shared.garment.panels)
    )
