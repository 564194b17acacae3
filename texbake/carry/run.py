"""``texbake carry``, from files to files."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from types import MappingProxyType

import numpy as np

from texbake.arrays import I64, U8, U16
from texbake.carry.coding import Green, Kind
from texbake.carry.files import checked_sizes, read_codes, refuse, targets, write_codes
from texbake.carry.kinds import Known, recognise
from texbake.carry.resample import Report, carry_picture, silent
from texbake.carry.route import Route, route
from texbake.carry.way import Way
from texbake.convert.many import Made
from texbake.errors import MachineError, UserError, UserErrors
from texbake.garment.raw import counted
from texbake.layout.gutter import gutter
from texbake.maps.fill import fill_images

Say = Callable[[Made], None]


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """How pictures are to be carried.

    Attributes
    ----------
    kind : 'colour', 'data', 'normal' or None
        None: what each picture itself tells.
    green : 'up', 'down' or None
    size_px : int or None
        None: the size of each old picture.
    gutter_px : int
    sizes : mapping of str to int
        Widths by file name, as the record of a bake has them.
    notes : tuple of str
        What the user should know of every picture.
    """

    kind: Kind | None = None
    green: Green | None = None
    size_px: int | None = None
    gutter_px: int = 16
    sizes: Mapping[str, int] = field(default_factory=lambda: MappingProxyType({}))
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class _Track:
    """A route, and what the gutters of the new pictures repeat."""

    route: Route
    pairs: tuple[I64, I64]


def carry_files(
    paths: Sequence[Path],
    way: Way,
    asked: Asked,
    *,
    out: Path,
    threads: int = 1,
    report: Report = silent,
    say: Say,
) -> tuple[Made, ...]:
    """Carry pictures from files to files.

    Parameters
    ----------
    paths : sequence of Path
        Pictures in the old layout.
    way : Way
    asked : Asked
    out : Path
        The new picture's name; for several a folder.
    threads : int
        Speed only.
    report, say : callable
        Told how far it is, and what came of each picture.

    Raises
    ------
    UserError
        Before anything is done if a picture cannot be carried, for all of them at once; after the
        others are done for those in which it shows later.
    MachineError
        If one cannot be read or written.
    """
    plan = targets(paths, out)
    widths = checked_sizes(list(plan), asked.sizes)
    refuse(plan, (way.old.mesh.path, way.new.mesh.path))
    made: list[Made] = []
    failed: list[UserError] = []
    track: _Track | None = None
    # Pictures of one size after another: one route at a time is in memory.
    for path in sorted(plan, key=lambda p: widths[p]):
        if track is None or track.route.old_px != widths[path]:
            report("layout", 0.0)
            track = _track(way, widths[path], asked, threads)
        try:
            made.append(_carry(path, plan[path], track, asked, threads, report))
        except MachineError:
            raise
        except UserError as error:
            failed.append(error)
            continue
        say(made[-1])
    if failed:
        raise failed[0] if len(failed) == 1 else UserErrors(failed)
    return tuple(made)


def _track(way: Way, old_px: int, asked: Asked, threads: int) -> _Track:
    """Lay out both sizes."""
    new_px = old_px if asked.size_px is None else asked.size_px
    found = route(way, old_px=old_px, new_px=new_px, threads=threads)
    return _Track(route=found, pairs=gutter(found.face, asked.gutter_px))


def _carry(
    path: Path, target: Path, track: _Track, asked: Asked, threads: int, report: Report
) -> Made:
    """Carry one picture."""
    codes = read_codes(path)
    known = recognise(path, codes.shape[2], kind=asked.kind, green=asked.green)
    notes = [*asked.notes, *_notes(track.route)]
    if known.kind == "normal" and codes.shape[2] == 4:
        codes = codes[..., :3].copy()
        notes.append("its alpha channel is left out")
    image = carry_picture(
        track.route, codes, known.kind, green=known.green, threads=threads, report=report
    )
    del codes
    _fill(image, track, known)
    write_codes(target, image, known)
    return Made(
        source=path, files=(target,), facts=_facts(image, known, track.route), notes=tuple(notes)
    )


def _fill(image: U8 | U16, track: _Track, known: Known) -> None:
    """Write gutters and background."""
    flat = image[..., 0] if image.shape[2] == 1 else image
    fill_images([flat], track.route.face, track.pairs, unit=[known.kind == "normal"])


def _facts(image: U8 | U16, known: Known, way: Route) -> tuple[str, ...]:
    """What was done, a sentence each."""
    what = {"colour": "colour, in linear light", "data": "data"}.get(
        known.kind, f"normals, green {known.green}"
    )
    sizes = f"{way.old_px} px" if way.old_px == way.new_px else f"{way.old_px} to {way.new_px} px"
    return (f"{what} ({known.why})", f"{image.itemsize * 8} bits", sizes)


def _notes(way: Route) -> tuple[str, ...]:
    """What the user should know of a route."""
    notes = list(way.way.notes)
    if way.missing:
        told = counted(way.missing, "new texel shows", "new texels show")
        notes.append(
            f"{told} nothing of the old garment ({way.missing / _covered(way):.1%}): "
            "they are background"
        )
    if way.shared_old:
        told = counted(
            way.shared_old, "texel of the old picture is", "texels of the old picture are"
        )
        notes.append(f"{told} shared by islands: each takes what is painted there")
    if way.shared_new:
        told = counted(way.shared_new, "new texel is", "new texels are")
        notes.append(f"{told} shared by islands: the one first in the mesh is shown")
    return tuple(notes)


def _covered(way: Route) -> int:
    """Number of new texels that have a face, whether it was found or not."""
    return int(np.count_nonzero(way.face >= 0)) + way.missing
