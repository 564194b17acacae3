"""Processes that work on one garment's sets take turns, for the moments when folders change places.

Writing a set takes as long as it takes, in a hidden folder of the process's own; only looking at
what is there and the swap must not meet another's. The lock is the system's own on the folder above
(flock), so nothing is left behind by a process that is killed. Windows has none on folders, nor do
some network file systems have one: there two bakes of one set at the same time may still end with a
complaint, but with a whole set.
"""

import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path


@contextmanager
def in_turn(place: Path, *, shared: bool = False) -> Iterator[None]:
    """Wait until no other process swaps sets in the folder above, and keep them from it.

    Parameters
    ----------
    place : Path
        The folder of a set. If there is no folder above, there is nothing to wait for.
    shared : bool
        For who only looks: several may, at a time.
    """
    if sys.platform == "win32":
        yield
        return
    import fcntl

    try:
        above = os.open(place.parent, os.O_RDONLY)
    except OSError:
        yield
        return
    try:
        with suppress(OSError):
            fcntl.flock(above, fcntl.LOCK_SH if shared else fcntl.LOCK_EX)
        yield
    finally:
        os.close(above)
