"""Which files of a folder are Texbake's: those the record lists, as long as nobody changed them.

A map that was painted over or replaced since it was baked is its maker's, and is never deleted
or written over.
"""

import hashlib
from collections.abc import Iterable
from pathlib import Path

from texbake.deliver.naming import RECORD_NAME
from texbake.deliver.record import Record
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
    same = (m.file for m in record.files if _holds(folder / m.file, m.file_bytes, m.sha256))
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


def _holds(path: Path, size: int, sha256: str) -> bool:
    """Say whether a file still holds what was written to it."""
    if not path.is_file() or path.is_symlink() or path.stat().st_size != size:
        return False
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest() == sha256
