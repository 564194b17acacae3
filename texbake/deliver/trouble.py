"""What the machine refuses, told with the place and the cure."""

import errno
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from types import MappingProxyType
from typing import Final

from texbake.errors import MachineError

_FULL: Final = (
    "the disk is full",
    "free some space, or deliver to a folder on another disk; the earlier set is as it was",
)
_DENIED: Final = (
    "writing is not permitted",
    "close programs that have the files open, and allow yourself to write to the folder",
)
_NO_FOLDER: Final = (
    "a file stands where a folder is needed",
    "rename that file or move it away, or deliver to another folder",
)
_CURES: Final[Mapping[int, tuple[str, str]]] = MappingProxyType(
    {
        errno.ENOSPC: _FULL,
        errno.EDQUOT: _FULL,
        errno.EACCES: _DENIED,
        errno.EPERM: _DENIED,
        errno.ENOENT: ("there is no such folder", "make it first, or name another"),
        errno.EROFS: ("the disk is read-only", "deliver to a folder that can be written to"),
        errno.ENOTDIR: _NO_FOLDER,
        errno.EEXIST: _NO_FOLDER,
        errno.ENAMETOOLONG: (
            "the path is too long",
            "use shorter names, or a folder nearer the top",
        ),
    }
)


@contextmanager
def told(path: Path) -> Iterator[None]:
    """Turn an OSError into a MachineError that names ``path``, where the user looks for it."""
    try:
        yield
    except OSError as error:
        raise machine_error(error, path) from error


def machine_error(error: OSError, path: Path) -> MachineError:
    """Return the complaint about a failed file operation on ``path``."""
    reason = error.strerror or str(error)
    what, fix = _CURES.get(
        error.errno or 0, (f"the disk failed: {reason}", "check the disk, then bake again")
    )
    return MachineError(what, fix=fix, path=path)
