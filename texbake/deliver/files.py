"""Writing the files of one folder, all or nothing."""

import hashlib
import os
import shutil
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType
from typing import BinaryIO, Final

import numpy as np

from texbake.arrays import U8
from texbake.deliver.naming import RECORD_NAME
from texbake.deliver.owned import owned_files, read_record, refuse_clashes
from texbake.deliver.png import Sink
from texbake.deliver.record import Record
from texbake.deliver.swap import partial_of, recover, swap_in
from texbake.deliver.trouble import told
from texbake.deliver.turns import in_turn
from texbake.hands import divide, sheet

Writer = Callable[[Sink], None]
# What is written when all else is: to a file that can seek, from the folder, by what was written.
Last = Callable[[BinaryIO, Path, Mapping[str, "Written"]], None]
_NOTHING: Final[Mapping[str, Last]] = MappingProxyType({})
_KNOWN: Final = 32 + 8  # bytes of a digest and a number


@dataclass(frozen=True, slots=True, kw_only=True)
class Written:
    """A file that was written: the SHA-256 of its bytes, and how many."""

    sha256: str
    file_bytes: int


def deliver_files(
    folder: Path,
    files: Mapping[str, Writer],
    finish: Callable[[Mapping[str, Written]], bytes],
    *,
    threads: int = 1,
    fork: bool = True,
    last: Mapping[str, Last] = _NOTHING,
) -> None:
    """Write files and a record, in place of those written here before, all or nothing.

    Parameters
    ----------
    folder : Path
        Made if it is not there, with its parents. Files in it that are not Texbake's stay.
    files : mapping of str to callable
        By name: what writes the file's bytes. Started in this order.
    finish : callable
        Gives the record's bytes, from what was written, by name.
    threads : int
        Files that are written at a time, >= 1.
    fork : bool
        Whether processes may write them, which is worth it where much is worked out.
    last : mapping of str to callable
        By name: what writes a file that is made from the others.

    Raises
    ------
    UserError
        If a file would be overwritten that is not Texbake's, or was changed since it was baked;
        if the earlier record is damaged.
    MachineError
        If the disk is full, read-only, or the like. The folder is then as it was.
    """
    place = folder.resolve() if folder.is_symlink() else folder
    with _parents_of(place):
        with told(folder), in_turn(place):
            recover(place)
            _owned(place, [*files, *last])
        partial = partial_of(place)
        try:
            with told(folder):
                partial.mkdir()
            written = dict(_write_all(partial, folder, files, threads=threads, fork=fork))
            for name, pack in last.items():
                written[name] = _write_last(partial, folder, name, pack, dict(written))
            _write(partial, folder, RECORD_NAME, lambda out: _put(out, finish(written)))
            with told(folder), in_turn(place):  # anew: much may have happened since
                swap_in(partial, place, _owned(place, [*files, *last]))
        finally:
            shutil.rmtree(partial, ignore_errors=True)


def replace_record(folder: Path, before: Record, now: Record) -> None:
    """Write the record of a set anew, at once, and leave all else as it is.

    Parameters
    ----------
    folder : Path
        Of a set, which is there.
    before, now : Record
        If the record is not ``before`` any more, another bake has replaced the set: it stays.

    Raises
    ------
    MachineError
        If the disk is full, read-only, or the like. The record is then as it was.
    """
    place = folder.resolve() if folder.is_symlink() else folder
    partial = partial_of(place)
    data = now.to_json().encode()
    try:
        with told(folder):
            partial.mkdir()
        _write(partial, folder, RECORD_NAME, lambda out: _put(out, data))
        with told(folder / RECORD_NAME), in_turn(place):
            if read_record(place) == before:
                (partial / RECORD_NAME).replace(place / RECORD_NAME)
    finally:
        shutil.rmtree(partial, ignore_errors=True)


@contextmanager
def _parents_of(place: Path) -> Iterator[None]:
    """Make the folders above, and take those made back if what follows fails."""
    missing = [parent for parent in place.parents if not parent.exists()]
    try:
        with told(place.parent):
            place.parent.mkdir(parents=True, exist_ok=True)
        yield
    except BaseException:
        with suppress(OSError):
            for parent in missing:
                parent.rmdir()
        raise


def _owned(place: Path, files: Iterable[str]) -> frozenset[str]:
    """Return which files may be replaced; complain at once if one is to be that may not."""
    owned = owned_files(place)
    refuse_clashes(place, files, owned)
    return owned


def _write_all(
    partial: Path, folder: Path, files: Mapping[str, Writer], *, threads: int, fork: bool
) -> Mapping[str, Written]:
    """Write all files, some at a time; after a failure those that have not begun are left."""
    names = list(files)
    known: U8 = sheet((max(len(names), 1), _KNOWN), np.uint8)

    def turn(number: int) -> None:
        name = names[number]
        written = _write(partial, folder, name, files[name])
        data = bytes.fromhex(written.sha256) + written.file_bytes.to_bytes(8)
        known[number] = np.frombuffer(data, np.uint8)

    divide(len(names), turn, workers=threads, fork=fork)
    return {name: _read(data.tobytes()) for name, data in zip(names, known, strict=False)}


def _read(data: bytes) -> Written:
    """What a process tells of a file that it wrote."""
    return Written(sha256=data[:-8].hex(), file_bytes=int.from_bytes(data[-8:]))


def _write(partial: Path, folder: Path, name: str, write: Writer) -> Written:
    """Write one file, down to the disk; complaints name the place where it will be."""
    with told(folder / name), (partial / name).open("xb") as file:
        counted = _Counted(file)
        write(counted)
        file.flush()
        os.fsync(file.fileno())
    return Written(sha256=counted.digest.hexdigest(), file_bytes=counted.file_bytes)


def _write_last(
    partial: Path, folder: Path, name: str, pack: Last, written: Mapping[str, Written]
) -> Written:
    """Write a file that is made from the others, down to the disk."""
    with told(folder / name), (partial / name).open("x+b") as file:
        pack(file, partial, written)
        file.flush()
        os.fsync(file.fileno())
        file_bytes = file.seek(0, os.SEEK_END)
        file.seek(0)
        sha256 = hashlib.file_digest(file, "sha256").hexdigest()
    return Written(sha256=sha256, file_bytes=file_bytes)


def _put(out: Sink, data: bytes) -> None:
    """Write bytes that are there already."""
    out.write(data)


class _Counted:
    """Passes bytes on to a file, with their digest and number."""

    def __init__(self, file: BinaryIO) -> None:
        self.file = file
        self.digest = hashlib.sha256()
        self.file_bytes = 0

    def write(self, data: bytes, /) -> None:
        """Write all of ``data``."""
        self.file.write(data)
        self.digest.update(data)
        self.file_bytes += len(data)
