"""Does what is planned for one set: bakes it, adds to it, or keeps it; and its record."""

import os
import time
from collections.abc import Collection, Iterator, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Literal, NamedTuple

from texbake import cloth
from texbake.arrays import bands
from texbake.batch.parts import Common, extra_keys
from texbake.batch.plan import Plan
from texbake.batch.program import texbake_version
from texbake.batch.remarks import texel_mm
from texbake.beside import KINDS, writers
from texbake.deliver import (
    ZIP,
    Copy,
    PanelNote,
    Record,
    Source,
    Writer,
    deliver_set,
    extra_names,
    file_names,
    file_state,
    replace_record,
    told,
    zip_name,
    zip_of,
)
from texbake.garment.values import Garment
from texbake.lots import lot_size, render_lot
from texbake.maps import MapArrays
from texbake.prepared import Prepared, Report, fabric_names
from texbake.sizes import at_sizes, shrinks


@dataclass(frozen=True, slots=True, kw_only=True)
class Done:
    """One set, as it is now.

    Attributes
    ----------
    colourway : str
    folder : Path
    seconds : float
        From the end of the set before, or of what all share.
    record : Record
    action : 'baked', 'added' or 'kept'
        What was done: all of it, only files beside the maps, or nothing.
    why : tuple of str
        What was missing or different, in words.
    added : tuple of str
        Kinds of the files that were added.
    first : bool
        Whether there was no set before.
    """

    colourway: str
    folder: Path
    seconds: float
    record: Record
    action: Literal["baked", "added", "kept"] = "baked"
    why: tuple[str, ...] = ()
    added: tuple[str, ...] = ()
    first: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Work:
    """What the sets of one run have in common.

    Attributes
    ----------
    recipe, mesh : Source
        The files, as records name them.
    common : Common
    threads : int or None
    report : callable
    """

    recipe: Source
    mesh: Source
    common: Common
    threads: int | None
    report: Report


@dataclass(frozen=True, slots=True, kw_only=True)
class Donor:
    """A set whose maps, all but the albedo, are also those of others."""

    folder: Path
    record: Record

    @property
    def copies(self) -> dict[str, Copy]:
        """Its files, by map."""
        return {
            self.record.key_of(entry): Copy(path=self.folder / entry.file, entry=entry)
            for entry in self.record.maps
            if not entry.is_coloured
        }

    @property
    def whole(self) -> bool:
        """Whether they are as they were written."""
        entries = (copy.entry for copy in self.copies.values())
        return all(file_state(self.folder, entry) == "whole" for entry in entries)


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Order:
    """One colourway that is to be baked: its plan, ready, and what its maps depend on."""

    plan: Plan
    ready: Prepared
    parts: dict[str, str]


class Baked(NamedTuple):
    """The maps of one colourway: as baked, and at smaller sizes, px."""

    maps: MapArrays
    smaller: Mapping[int, MapArrays]


def bake_lot(orders: Sequence[Order], work: Work, donor: Donor | None) -> Iterator[Done]:
    """Bake and deliver colourways that differ in colours alone.

    Their albedos are baked together, some at a time. The files of all other maps are written once
    and then copied: they are taken from ``donor``, if there is a set with the very same ones.
    """
    sizes = shrinks(orders[0].ready)
    for part in bands(len(orders), lot_size(orders[0].plan.recipe.size_px)):
        start = time.perf_counter()
        some = orders[part]
        arrays, more = render_lot(
            [order.ready for order in some], threads=work.threads, report=work.report
        )
        small = at_sizes(arrays, more, sizes, threads=work.threads or os.cpu_count() or 1)
        maps = [
            Baked(replace(arrays, albedo=albedo), own)
            for albedo, own in zip((arrays.albedo, *more), small, strict=True)
        ]
        for order, record in _delivered(some, maps, work, donor):
            donor = donor or Donor(folder=order.plan.folder, record=record)
            now = time.perf_counter()
            yield Done(
                colourway=order.plan.colourway,
                folder=order.plan.folder,
                seconds=now - start,
                record=record,
                why=order.plan.why,
                first=order.plan.record is None,
            )
            start = now


def _delivered(
    orders: Sequence[Order], maps: Sequence[Baked], work: Work, donor: Donor | None
) -> Iterator[tuple[Order, Record]]:
    """Write sets: the first by itself if others are to copy its files, the rest side by side.

    A set that is mostly copies has one file to encode, so a core for each. Those with pictures
    beside the maps are made one at a time, on all cores: pictures take memory.
    """
    if donor is None:
        record = _deliver_one(orders[0], maps[0], work, None)
        yield orders[0], record
        donor = Donor(folder=orders[0].plan.folder, record=record)
        orders, maps = orders[1:], maps[1:]
    pictures = any(order.plan.extras for order in orders)
    side = 1 if pictures else work.threads or os.cpu_count() or 1
    with ThreadPoolExecutor(side) as pool:
        jobs = [
            pool.submit(_deliver_one, order, own, work, donor)
            for order, own in zip(orders, maps, strict=True)
        ]
        try:
            for done, (order, job) in enumerate(zip(orders, jobs, strict=True)):
                work.report("write", done / len(jobs))
                yield order, job.result()
        finally:
            pool.shutdown(cancel_futures=True)  # who stops a batch does not wait for its rest


def _deliver_one(order: Order, baked: Baked, work: Work, donor: Donor | None) -> Record:
    """Write the set of one colourway."""
    plan, built, recipe = order.plan, order.ready.garment, order.ready.recipe
    maps = baked.maps
    record = Record(
        texbake=texbake_version(),
        garment=recipe.garment,
        colourway=plan.colourway,
        recipe=work.recipe,
        mesh=work.mesh,
        size_px=recipe.size_px,
        gutter_px=recipe.gutter_px,
        seed=recipe.seed,
        normal_bits=recipe.normal_bits,
        height_lo_mm=maps.height_lo_mm,
        height_hi_mm=maps.height_hi_mm,
        panels=_panel_notes(order.ready),
        parts=order.parts,
    )
    extras = writers(recipe, built, maps, record, kinds=plan.extras, threads=work.threads)
    return deliver_set(
        plan.folder,
        maps=maps,
        names=names_of(plan, fabric_names(recipe, built)),
        record=record,
        extras=extras,
        extra_keys=extra_keys(record, work.common),
        copies={} if donor is None else donor.copies,
        delivery=recipe.delivery,
        smaller=baked.smaller,
        zipped=ZIP in plan.extras,
        threads=work.threads or 2,
    )


def add_one(plan: Plan, record: Record, garment: Garment | None, work: Work) -> Done:
    """Make what is missing beside the maps of a set, from its maps as they are.

    The garment is needed for pictures and the GLB only.
    """
    start = time.perf_counter()
    from texbake.view import read_set

    recipe, folder = plan.recipe, plan.folder
    bare = replace(record, recipe=work.recipe, mesh=work.mesh, maps=(), extras=())
    work.report("view", 0.0)
    threads = work.threads
    kinds = [kind for kind in plan.extras if kind in KINDS]
    extras: Mapping[str, Writer] = {}
    if kinds and garment is not None:
        extras = writers(recipe, garment, read_set(folder), bare, kinds=kinds, threads=threads)
    with told(folder):
        copies = _copies(folder, record, extras)
    work.report("write", 0.0)
    written = deliver_set(
        folder,
        maps=None,
        names={
            **extra_names(recipe.file_name, recipe.garment, plan.colourway),
            **{kind: copy.entry.file for kind, copy in copies.items()},
        },
        record=bare,
        extras=extras,
        extra_keys=extra_keys(bare, work.common),
        copies=copies,
        zipped=ZIP in plan.extras,
        threads=threads or 2,
    )
    return Done(
        colourway=plan.colourway,
        folder=folder,
        seconds=time.perf_counter() - start,
        record=written,
        action="added",
        why=plan.why,
        added=plan.extras,
    )


def _copies(folder: Path, record: Record, new: Mapping[str, object]) -> dict[str, Copy]:
    """Return what of a set stays: its maps, and the extras that are whole and not made anew."""
    found = {
        record.key_of(entry): Copy(path=folder / entry.file, entry=entry) for entry in record.maps
    }
    for entry in record.extras:
        if entry.kind not in {*new, ZIP} and file_state(folder, entry) == "whole":
            found[entry.kind] = Copy(path=folder / entry.file, entry=entry)
    return found


def keep_one(plan: Plan, record: Record, work: Work) -> Done:
    """Keep a set; its record follows where recipe or mesh have another name or other comments."""
    start = time.perf_counter()
    now = replace(record, recipe=work.recipe, mesh=work.mesh)
    if now != record and zip_of(record) is not None:  # the record is in it
        return replace(add_one(replace(plan, extras=(ZIP,)), record, None, work), action="kept")
    if now != record:
        replace_record(plan.folder, record, now)
    return Done(
        colourway=plan.colourway,
        folder=plan.folder,
        seconds=time.perf_counter() - start,
        record=now,
        action="kept",
    )


def names_of(plan: Plan, worn: Collection[str]) -> dict[str, str]:
    """File name of every map of a set, and of what goes beside them; ``worn``: names of fabrics."""
    recipe, colourway = plan.recipe, plan.colourway
    holes = any(cloth.has_holes(recipe.fabrics[name]) for name in set(worn))
    pattern, garment = recipe.file_name, recipe.garment
    return {
        **file_names(
            pattern,
            garment,
            colourway,
            holes=holes,
            delivery=recipe.delivery,
            size_px=recipe.size_px,
        ),
        **extra_names(pattern, garment, colourway),
        **({ZIP: zip_name(garment, colourway)} if ZIP in plan.extras else {}),
    }


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
