"""Replacing a folder at once, so that it is always whole: the earlier set or the new one.

The new set is written to a hidden folder beside the old one. Then the old folder is renamed, the
new one takes its name, what is not Texbake's moves over, and the rest of the old one goes. At
every moment one of the two holds all; whatever a stopped process left is put right by `recover`
before the next bake. The hidden names end in the process's number, so that two bakes at a time
do not take each other's for left-overs.
"""

import os
import re
import shutil
import sys
from contextlib import suppress
from pathlib import Path

from texbake.deliver.naming import RECORD_NAME
from texbake.deliver.owned import owned_files


def partial_of(place: Path) -> Path:
    """Return the hidden folder in which this process writes a set."""
    return place.with_name(f".{place.name}.partial-{os.getpid()}")


def _old_of(place: Path) -> Path:
    """Return the hidden name of the earlier set while it is being replaced."""
    return place.with_name(f".{place.name}.old-{os.getpid()}")


def swap_in(partial: Path, place: Path, owned: frozenset[str]) -> None:
    """Let a written folder take the place of another, with what is not ours moved over.

    Parameters
    ----------
    partial : Path
        The new set, whole; beside ``place``.
    place : Path
        The folder to replace, or nothing.
    owned : frozenset of str
        Names in ``place`` that may go. Everything else there is kept.

    Raises
    ------
    OSError
        Then ``place`` is as it was, and ``partial`` is there still.
    """
    if not place.exists():
        partial.rename(place)
        return
    old = _old_of(place)
    moved: list[str] = []
    place.rename(old)
    try:
        partial.rename(place)
        for name in sorted(entry.name for entry in old.iterdir() if entry.name not in owned):
            _move(old / name, place / name)
            moved.append(name)
    except BaseException:
        if place.exists():
            for name in moved:
                (place / name).rename(old / name)
            place.rename(partial)
        old.rename(place)
        raise
    _remove(old, owned)


def recover(place: Path) -> None:
    """Put right what dead processes left beside a folder.

    A folder written in part is removed. An earlier set that was renamed and not replaced gets its
    name back; one that was replaced gives up what is not Texbake's, and goes.

    Raises
    ------
    OSError
        If the parent folder cannot be read, or the earlier set cannot be renamed.
    """
    pattern = re.compile(rf"\.{re.escape(place.name)}\.(partial|old)-([0-9]+)")
    for entry in sorted(place.parent.iterdir()):
        match = pattern.fullmatch(entry.name)
        if match is None or _is_another_alive(int(match[2])):
            continue
        if match[1] == "partial":
            shutil.rmtree(entry, ignore_errors=True)
        elif not place.exists():
            entry.rename(place)
        else:
            _give_up(entry, place)


def _give_up(old: Path, place: Path) -> None:
    """Move what is not ours out of a replaced set, and remove the rest; what clashes stays."""
    owned = owned_files(old)
    for entry in sorted(old.iterdir()):
        if entry.name not in owned and not (place / entry.name).exists():
            entry.rename(place / entry.name)
    _remove(old, owned)


def _move(source: Path, target: Path) -> None:
    """Rename, but never over something."""
    if target.exists():
        raise FileExistsError(f"{target} exists")
    source.rename(target)


def _remove(old: Path, owned: frozenset[str]) -> None:
    """Remove our files and the folder, the record last; what cannot go is left for `recover`."""
    with suppress(OSError):
        for name in sorted(owned, key=lambda name: (name == RECORD_NAME, name)):
            (old / name).unlink(missing_ok=True)
        old.rmdir()


def _is_another_alive(pid: int) -> bool:
    """Say whether a process of that number runs, other than this one."""
    if pid == os.getpid():
        return False
    if sys.platform == "win32":  # there signal 0 would end the process; open files cannot go there
        return False
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return False
    except PermissionError:
        return True
    return True
