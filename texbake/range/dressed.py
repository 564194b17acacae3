"""The maps of every colourway: of the set that is there and of now, or of a small bake.

What colourways share is done once: sets that differ in colours alone are read albedo by albedo,
and those that must be baked are baked together, a lot at a time.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Final

from texbake.arrays import bands
from texbake.batch.parts import Common, parts_of, still_of, undyed_key
from texbake.deliver import Record, file_state, read_record, set_folder, told
from texbake.lots import lot_size, render_lot
from texbake.maps import MapArrays, eight_bits
from texbake.prepared import Prepared, Report, redress
from texbake.recipe import Recipe
from texbake.view import read_albedo, read_set

QUICK_PX: Final = 512  # of bakes that are made for small views alone


@dataclass(frozen=True, slots=True, kw_only=True)
class Baked:
    """A set that is there and of now."""

    folder: Path
    record: Record


def find_baked(recipes: Mapping[str, Recipe], out: Path, common: Common) -> dict[str, Baked]:
    """Find the sets that show what the recipe says now, at whatever size, and can be read back.

    A record that cannot be read, or a file that is not as it was written, is no such set: the
    colourway is then baked small.

    Raises
    ------
    MachineError
        If a file cannot be read.
    """
    found = {}
    for name, recipe in recipes.items():
        folder = set_folder(out, recipe.garment, name)
        with told(folder):
            record = read_record(folder) if folder.is_dir() else None
            if record is None or not still_of(record, recipe, name, common):
                continue
            if not record.can_be_read:
                continue
            if all(file_state(folder, entry) == "whole" for entry in record.maps):
                found[name] = Baked(folder=folder, record=record)
    return found


def read_each(names: Sequence[str], baked: Mapping[str, Baked]) -> Iterator[MapArrays]:
    """Read sets one after the other; of those that differ in colours alone, the albedo only."""
    key, last = "", None
    for name in names:
        one = baked[name]
        own = f"{undyed_key(one.record.parts)} {one.record.size_px}"
        if last is None or own != key:
            key, last = own, read_set(one.folder)
        else:
            last = replace(last, albedo=read_albedo(one.folder, one.record))
        yield last


def bake_each(
    names: Sequence[str],
    recipes: Mapping[str, Recipe],
    ready: Prepared,
    common: Common,
    *,
    threads: int | None,
    report: Report,
) -> Iterator[tuple[str, MapArrays]]:
    """Bake colourways small, those that differ in colours alone together."""
    lots: dict[str, list[str]] = {}
    for name in names:
        parts = parts_of(recipes[name], name, common, ready.garment.panels)
        lots.setdefault(undyed_key(parts), []).append(name)
    for lot in lots.values():
        for part in bands(len(lot), lot_size(ready.recipe.size_px)):
            some = [redress(ready, recipes[name]) for name in lot[part]]
            first, more = render_lot(some, threads=threads, report=report)
            albedos = (first.albedo, *more)
            for name, albedo in zip(lot[part], albedos, strict=True):
                yield name, eight_bits(replace(first, albedo=albedo))
