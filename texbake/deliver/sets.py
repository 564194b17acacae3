"""From maps to a set of files in a folder, all or nothing."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Literal

from texbake.arrays import U8, U16
from texbake.deliver.files import Written, deliver_files
from texbake.deliver.png import Sink, write_png
from texbake.deliver.record import MapFile, Record
from texbake.maps import MapArrays


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
    return dict(sorted(by_name.items(), key=lambda item: (-item[1].image.nbytes, item[0])))


def deliver_set(
    folder: Path, *, maps: MapArrays, names: Mapping[str, str], record: Record, threads: int = 1
) -> Record:
    """Write a set's maps and its record, in place of the earlier set, all or nothing.

    Parameters
    ----------
    folder : Path
        Made if it is not there. Files in it that are not Texbake's stay.
    maps : MapArrays
    names : mapping of str to str
        File name of every map, as `naming.file_names` gives it.
    record : Record
        Without ``maps``: those are added here.
    threads : int
        Maps that are compressed at a time, >= 1.

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
    shown = pictures(maps)
    complete = record

    def finish(written: Mapping[str, Written]) -> bytes:
        nonlocal complete
        entries = [_entry(kind, names[kind], shown[kind], written[names[kind]]) for kind in shown]
        complete = replace(record, maps=tuple(sorted(entries, key=lambda entry: entry.map)))
        return complete.to_json().encode()

    writers = {names[kind]: picture.write for kind, picture in shown.items()}
    deliver_files(folder, writers, finish, threads=threads)
    return complete


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
