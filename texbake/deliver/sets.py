"""From maps to a set of files in a folder, all or nothing."""

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from types import MappingProxyType
from typing import Final, Literal

from texbake.arrays import U8, U16
from texbake.deliver.files import Writer, Written, deliver_files
from texbake.deliver.png import Sink, write_png
from texbake.deliver.record import ExtraFile, MapFile, Record
from texbake.errors import UserError
from texbake.maps import MapArrays

_NOTHING: Final[Mapping[str, Writer]] = MappingProxyType({})
_NO_COPIES: Final[Mapping[str, "Copy"]] = MappingProxyType({})
_AT_ONCE: Final = 6  # copies
_NO_KEYS: Final[Mapping[str, str]] = MappingProxyType({})


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


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Picture:
    """One map to deliver: its image, and how it is to be understood."""

    image: U8 | U16
    srgb: bool = False
    convention: Literal["green-up", "green-down"] | None = None

    def write(self, out: Sink) -> None:
        """Write it as PNG."""
        down = self.convention == "green-down"
        write_png(out, self.image, srgb=self.srgb, flip_green=down)


def pictures(maps: MapArrays) -> Mapping[str, Picture]:
    """Return every map of a set by its name, the largest first: so threads end together."""
    by_name = {
        "albedo": Picture(image=maps.albedo, srgb=True),
        "roughness": Picture(image=maps.roughness),
        "metal": Picture(image=maps.metal),
        "normal-up": Picture(image=maps.normal_up, convention="green-up"),
        "normal-down": Picture(image=maps.normal_up, convention="green-down"),
        "height": Picture(image=maps.height),
        "occlusion": Picture(image=maps.occlusion),
    }
    if maps.opacity is not None:
        by_name["opacity"] = Picture(image=maps.opacity)
    return dict(sorted(by_name.items(), key=lambda item: (-item[1].image.nbytes, item[0])))


def deliver_set(
    folder: Path,
    *,
    maps: MapArrays | None,
    names: Mapping[str, str],
    record: Record,
    extras: Mapping[str, Writer] = _NOTHING,
    extra_keys: Mapping[str, str] = _NO_KEYS,
    copies: Mapping[str, Copy] = _NO_COPIES,
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
        File name of every map and extra, as `naming.file_names` and `extra_names` give them.
    record : Record
        Without ``maps`` and ``extras``: those are added here.
    extras : mapping of str to callable
        What writes each further file, by its kind. Begun before the maps, as they take longest.
    extra_keys : mapping of str to str
        What the record says each of ``extras`` was made from.
    copies : mapping of str to Copy
        Maps and extras that are not encoded but copied, by their kind.
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
    shown = {} if maps is None else pictures(maps)
    shown = {kind: picture for kind, picture in shown.items() if kind not in copies}
    writers = {names[kind]: write for kind, write in extras.items()}
    writers |= {names[kind]: picture.write for kind, picture in shown.items()}
    writers |= {names[kind]: copy.write for kind, copy in copies.items()}
    complete = record

    def finish(written: Mapping[str, Written]) -> bytes:
        nonlocal complete
        found: list[MapFile | ExtraFile] = [
            *(_entry(kind, names[kind], shown[kind], written[names[kind]]) for kind in shown),
            *(replace(copy.entry, file=names[kind]) for kind, copy in copies.items()),
            *(_extra(k, names[k], written[names[k]], extra_keys.get(k, "")) for k in extras),
        ]
        complete = replace(
            record,
            maps=tuple(sorted((e for e in found if isinstance(e, MapFile)), key=lambda e: e.map)),
            extras=tuple(
                sorted((e for e in found if isinstance(e, ExtraFile)), key=lambda e: e.kind)
            ),
        )
        return complete.to_json().encode()

    # Copies wait for the disk, not for a core: six at a time take 7 ms, one after the other 32 ms.
    deliver_files(folder, writers, finish, threads=threads + min(len(copies), _AT_ONCE))
    return complete


def _extra(kind: str, name: str, written: Written, key: str) -> ExtraFile:
    """Return the record's line for one further file."""
    return ExtraFile(
        kind=kind, file=name, sha256=written.sha256, file_bytes=written.file_bytes, key=key
    )


def _entry(kind: str, name: str, picture: Picture, written: Written) -> MapFile:
    """Return the record's line for one map."""
    image = picture.image
    return MapFile(
        map=kind,
        file=name,
        sha256=written.sha256,
        file_bytes=written.file_bytes,
        width_px=image.shape[1],
        height_px=image.shape[0],
        channels=1 if image.ndim == 2 else image.shape[2],
        bits=image.itemsize * 8,
        colour_space="sRGB" if picture.srgb else "linear",
        convention=picture.convention,
    )
