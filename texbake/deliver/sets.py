"""From maps to a set of files in a folder, all or nothing."""

import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from types import MappingProxyType
from typing import BinaryIO, Final

from texbake.deliver.archive import ZIP, write_zip, zip_key, zip_name
from texbake.deliver.files import Last, Writer, Written, deliver_files
from texbake.deliver.pictures import Picture, pictures
from texbake.deliver.png import Sink
from texbake.deliver.record import ExtraFile, MapFile, Record
from texbake.errors import UserError
from texbake.maps import MapArrays
from texbake.recipe.delivery_values import Delivery

_NOTHING: Final[Mapping[str, Writer]] = MappingProxyType({})
_NO_COPIES: Final[Mapping[str, "Copy"]] = MappingProxyType({})
_AT_ONCE: Final = 6  # copies
_NO_KEYS: Final[Mapping[str, str]] = MappingProxyType({})
_NO_SIZES: Final[Mapping[int, MapArrays]] = MappingProxyType({})
_EVERYTHING: Final = Delivery()


@dataclass(frozen=True, slots=True, kw_only=True)
class Copy:
    """A file that is there already and goes into a set as it is: where, and a record's line for it.

    It is copied, not linked: who paints over one colourway's map in place must not change another.
    """

    path: Path
    entry: MapFile | ExtraFile

    def write(self, out: Sink) -> None:
        """Write its bytes, and see that they are those of the record."""
        found = hashlib.sha256()
        with self.path.open("rb") as file:
            while data := file.read(1 << 20):
                found.update(data)
                out.write(data)
        if found.hexdigest() != self.entry.sha256:
            raise UserError(
                "this file was changed while it was copied into another set",
                fix="let no other program write there, and bake again",
                path=self.path,
            )


def deliver_set(
    folder: Path,
    *,
    maps: MapArrays | None,
    names: Mapping[str, str],
    record: Record,
    extras: Mapping[str, Writer] = _NOTHING,
    extra_keys: Mapping[str, str] = _NO_KEYS,
    copies: Mapping[str, Copy] = _NO_COPIES,
    delivery: Delivery = _EVERYTHING,
    smaller: Mapping[int, MapArrays] = _NO_SIZES,
    zipped: bool = False,
    threads: int = 1,
) -> Record:
    """Write a set's maps, what is made from them, and its record, all or nothing.

    The earlier set goes as a whole: also an extra that the new one has not.

    Parameters
    ----------
    folder : Path
        Made if it is not there. Files in it that are not Texbake's stay.
    maps : MapArrays or None
        None if all maps are copies.
    names : mapping of str to str
        File name of every map and extra by its key, as `naming.file_names` and `extra_names` give
        them.
    record : Record
        Without ``maps`` and ``extras``: those are added here.
    extras : mapping of str to callable
        What writes each further file, by its kind. Begun before the maps, as they take longest.
    extra_keys : mapping of str to str
        What the record says each of ``extras`` was made from.
    copies : mapping of str to Copy
        Maps and extras that are not encoded but copied, by their key or kind.
    delivery : Delivery
        Which files the maps get.
    smaller : mapping of int to MapArrays
        The maps at every smaller size that ``delivery`` asks for, px.
    zipped : bool
        Write the whole set as one zip too.
    threads : int
        Files that are made and compressed at a time, >= 1.

    Returns
    -------
    Record
        As it was written.

    Raises
    ------
    UserError
        If a file would be overwritten that is not Texbake's, or was changed since it was baked;
        if the earlier record is damaged.
    MachineError
        If the disk is full, read-only, or the like. The earlier set is then as it was.
    """
    shown: Mapping[str, Picture] = {}
    if maps is not None:
        bits = record.normal_bits
        shown = pictures(maps, delivery, smaller=smaller, normal_bits=bits)
    shown = {kind: picture for kind, picture in shown.items() if kind not in copies}
    writers = {names[kind]: write for kind, write in extras.items()}
    writers |= {names[kind]: picture.write for kind, picture in shown.items()}
    writers |= {names[kind]: copy.write for kind, copy in copies.items()}
    complete = record

    def finish(written: Mapping[str, Written]) -> bytes:
        nonlocal complete
        found: list[MapFile | ExtraFile] = [
            *(_entry(shown[key], names[key], written[names[key]]) for key in shown),
            *(replace(copy.entry, file=names[kind]) for kind, copy in copies.items()),
            *(_extra(k, names[k], written[names[k]], extra_keys.get(k, "")) for k in extras),
        ]
        complete = _listing(record, found)
        if zipped and archive in written:
            entry = _extra(ZIP, archive, written[archive], zip_key(complete))
            complete = _listing(record, [*found, entry])
        return complete.to_json().encode()

    def pack(out: BinaryIO, partial: Path, written: Mapping[str, Written]) -> None:
        finish(written)
        write_zip(out, partial, written, complete)

    archive = zip_name(record.garment, record.colourway)
    last: Mapping[str, Last] = {archive: pack} if zipped else {}

    # Copies wait for the disk, not for a core: six at a time take 7 ms, one after the other 32 ms,
    # and threads are enough for that.
    at_once = threads + min(len(copies), _AT_ONCE)
    deliver_files(folder, writers, finish, threads=at_once, fork=not copies, last=last)
    return complete


def _listing(record: Record, found: Sequence[MapFile | ExtraFile]) -> Record:
    """Return the record with its files, in order."""
    maps = [entry for entry in found if isinstance(entry, MapFile)]
    extras = [entry for entry in found if isinstance(entry, ExtraFile)]
    return replace(
        record,
        maps=tuple(sorted(maps, key=lambda entry: (entry.map, -entry.width_px))),
        extras=tuple(sorted(extras, key=lambda entry: entry.kind)),
    )


def _extra(kind: str, name: str, written: Written, key: str) -> ExtraFile:
    """Return the record's line for one further file."""
    return ExtraFile(
        kind=kind, file=name, sha256=written.sha256, file_bytes=written.file_bytes, key=key
    )


def _entry(picture: Picture, name: str, written: Written) -> MapFile:
    """Return the record's line for one map."""
    height, width, channels = picture.shape
    return MapFile(
        map=picture.name,
        file=name,
        sha256=written.sha256,
        file_bytes=written.file_bytes,
        width_px=width,
        height_px=height,
        channels=channels,
        bits=picture.bits,
        colour_space="sRGB" if picture.srgb else "linear",
        convention=picture.convention,
        format=picture.format,
        holds=picture.holds,
        packed=picture.packed,
    )
