"""Which files of a folder are Texbake's: those the record lists, as long as nobody changed them.

A map that was painted over or replaced since it was baked is its maker's, and is never deleted
or written over. What is left of a file that was cut short or damaged on the disk is nobody's work:
it counts as Texbake's still.
"""

import hashlib
import struct
import zlib
from collections.abc import Iterable
from pathlib import Path
from typing import BinaryIO, Literal

from texbake.deliver.exr import MAGIC, whole_exr
from texbake.deliver.naming import RECORD_NAME
from texbake.deliver.record import ExtraFile, MapFile, Record
from texbake.deliver.tiff import whole_tiff
from texbake.errors import UserError


def read_record(folder: Path) -> Record | None:
    """Read the record of a set; None if there is none.

    Raises
    ------
    UserError
        If it is damaged, or of a newer Texbake.
    OSError
        If it cannot be read.
    """
    path = folder / RECORD_NAME
    try:
        data = path.read_bytes()
    except FileNotFoundError:
        return None
    return Record.from_json(data.decode("utf-8", errors="replace"), path=path)


def owned_files(folder: Path) -> frozenset[str]:
    """Return the names in a folder that are Texbake's and unchanged, with the record's own.

    Raises
    ------
    UserError
        If the record is damaged, or of a newer Texbake.
    OSError
        If a file cannot be read.
    """
    record = read_record(folder)
    if record is None:
        return frozenset()
    states = {entry.file: file_state(folder, entry) for entry in record.files}
    same = (name for name, state in states.items() if state in {"whole", "damaged"})
    return frozenset({RECORD_NAME, *same})


def refuse_clashes(folder: Path, names: Iterable[str], owned: frozenset[str]) -> None:
    """Complain if a file to be written would take the place of one that is not ours.

    Names are compared without case, as some file systems do.

    Raises
    ------
    UserError
        With the file's path.
    """
    if not folder.exists():
        return
    taken = {e.name.casefold(): e.name for e in folder.iterdir() if e.name not in owned}
    for name in sorted(names):
        found = taken.get(name.casefold())
        if found is None:
            continue
        changed = RECORD_NAME in owned
        raise UserError(
            "a file of this name is there that Texbake did not write"
            + (", or it was changed since" if changed else ""),
            fix="move it away, rename it, or delete it, then bake again",
            path=folder / found,
        )


FileState = Literal["whole", "missing", "damaged", "changed"]


def file_state(folder: Path, entry: MapFile | ExtraFile) -> FileState:
    """Say what has become of a file since it was written.

    Parameters
    ----------
    folder : Path
        Of the set.
    entry : MapFile or ExtraFile
        The record's line for it.

    Returns
    -------
    str
        ``whole``: as it was written. ``missing``. ``damaged``: empty, or a file of a set's formats
        that is cut short, or a PNG whose check sums fail, as disks and broken copies leave them.
        ``changed``: anything else, so somebody's work.

    Raises
    ------
    OSError
        If it cannot be read.
    """
    path = folder / entry.file
    if path.is_symlink():
        return "changed"
    if not path.exists():
        return "missing"
    if not path.is_file():
        return "changed"
    size = path.stat().st_size
    with path.open("rb") as file:
        if size == entry.file_bytes:
            if hashlib.file_digest(file, "sha256").hexdigest() == entry.sha256:
                return "whole"
            file.seek(0)
        return "damaged" if _broken(file, size) else "changed"


def _broken(file: BinaryIO, size: int) -> bool:
    """Say whether a file is empty, or a PNG, TIFF, EXR, zip or GLB that is not whole."""
    start = file.read(12)
    if start.startswith(b"\x89PNG\r\n\x1a\n"):
        file.seek(8)
        return not _chunks_hold(file)
    if start.startswith((b"II*\0", MAGIC)):
        whole = whole_tiff if start[:1] == b"I" else whole_exr
        return not whole(file, size)
    if start.startswith(b"PK\x03\x04"):
        import zipfile  # 5 ms: only where there is one

        return not zipfile.is_zipfile(file)
    if start.startswith(b"glTF"):  # a header of 12 bytes ends in the length of the whole
        return len(start) < 12 or struct.unpack_from("<I", start, 8)[0] > size
    return size == 0


def _chunks_hold(file: BinaryIO) -> bool:
    """Say whether a PNG's chunks are whole, down to the last (PNG 1.2, section 3.2)."""
    while len(head := file.read(8)) == 8:
        length, kind = struct.unpack(">I4s", head)
        data = file.read(length)
        if file.read(4) != struct.pack(">I", zlib.crc32(data, zlib.crc32(kind))):
            return False
        if kind == b"IEND":
            return True
    return False
