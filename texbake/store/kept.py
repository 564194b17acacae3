"""The cache folder: entries named by the hash of everything that they follow from.

An entry never goes stale, since other input has another name; this package's own source is part of
every name. It is written beside and moved into place, so two processes may share a folder. One that
is damaged or was made by another machine is worked out anew. The folder has a bound: the entries
that were not used for longest go first.
"""

import hashlib
import os
import sys
import tempfile
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any, Final, TypeVar

import numpy as np

from texbake.store.pack import DamagedError, pack, unpack

T = TypeVar("T")

MOST_BYTES: Final = 1 << 30  # some thirty garments at 4096; a laptop's disk does not notice it
_SUFFIX: Final = ".kept"
_SHARE: Final = 4  # an entry above a quarter of the bound would drive out all others


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """A kept value: what it is ("garment", "layout", "cloth", "stitch"), its file and size."""

    kind: str
    path: Path
    size: int
    used: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Store:
    """A cache folder; without a folder, nothing is kept."""

    folder: Path | None = None
    most_bytes: int = MOST_BYTES

    def keep(self, kind: str, parts: tuple[object, ...], make: Callable[[], T]) -> T:
        """Return what ``make`` gives, from the folder if it is there.

        Parameters
        ----------
        kind : str
            A word for what it is, in lower case letters.
        parts : tuple
            All that the value follows from: arrays, bytes, or values whose ``repr`` says all.
        make : callable
            Its value can be packed.
        """
        if self.folder is None:
            return make()
        path = self.folder / f"{kind}-{_digest(parts)}{_SUFFIX}"
        with suppress(OSError, DamagedError):
            found: T = unpack(path.read_bytes())
            os.utime(path)
            return found
        made = make()
        self._put(path, pack(made))
        return made

    def entries(self) -> list[Entry]:
        """All that is kept, the longest unused first."""
        found = []
        with suppress(OSError):
            for path in [] if self.folder is None else self.folder.glob(f"*-*{_SUFFIX}"):
                with suppress(OSError):  # another process may have cleared it just now
                    stat = path.stat()
                    kind = path.name.partition("-")[0]
                    entry = Entry(kind=kind, path=path, size=stat.st_size, used=stat.st_mtime)
                    found.append(entry)
        return sorted(found, key=lambda entry: (entry.used, entry.path.name))

    def clear(self) -> int:
        """Take out every entry; return the number of bytes."""
        return sum(_removed(entry) for entry in self.entries())

    def _put(self, path: Path, data: bytes) -> None:
        """Write an entry and keep the bound. What cannot be written is not kept."""
        if len(data) * _SHARE > self.most_bytes:
            return
        with suppress(OSError):
            path.parent.mkdir(parents=True, exist_ok=True)
            handle, name = tempfile.mkstemp(suffix=".part", dir=path.parent)
            try:
                with os.fdopen(handle, "wb") as file:
                    file.write(data)
                Path(name).replace(path)
            except OSError:
                Path(name).unlink(missing_ok=True)
                raise
            self._trim()

    def _trim(self) -> None:
        """Take out the longest unused entries above the bound."""
        entries = self.entries()
        over = sum(entry.size for entry in entries) - self.most_bytes
        for entry in entries:
            if over <= 0:
                return
            over -= _removed(entry)


def _removed(entry: Entry) -> int:
    """Take out an entry; return how many bytes that freed."""
    try:
        entry.path.unlink()
    except OSError:  # cleared by another process, or open in one on Windows
        return 0
    return entry.size


def default_folder() -> Path | None:
    """The user's cache folder for Texbake; ``TEXBAKE_CACHE`` names another, or "off" for none."""
    named = os.environ.get("TEXBAKE_CACHE")
    if named:
        return None if named == "off" else Path(named)
    home = Path.home()
    if sys.platform == "win32":
        local = os.environ.get("LOCALAPPDATA") or home / "AppData" / "Local"
        return Path(local) / "texbake" / "cache"
    if sys.platform == "darwin":
        return home / "Library" / "Caches" / "texbake"
    return Path(os.environ.get("XDG_CACHE_HOME") or home / ".cache") / "texbake"


def _digest(parts: tuple[object, ...]) -> str:
    """SHA-256 of the parts and of this package's source, 32 hex digits."""
    total = hashlib.sha256(source_mark())
    for part in parts:
        data = _bytes(part)
        total.update(len(data).to_bytes(8, "little"))
        total.update(data)
    return total.hexdigest()[:32]


def _bytes(part: object) -> Any:  # noqa: ANN401  # any buffer
    if isinstance(part, bytes):
        return part
    if isinstance(part, np.ndarray):
        head = f"{part.dtype.str}{part.shape}".encode()
        return head + np.ascontiguousarray(part).tobytes()
    return repr(part).encode()


@cache
def source_mark() -> bytes:
    """A mark that changes with any module of this package or version of numpy.

    Names, sizes and times of the files, not their text: reading them all would cost what the cache
    spares.
    """
    root = Path(__file__).resolve().parents[1]
    marks = [np.__version__]
    for path in sorted(root.rglob("*.py")):
        stat = path.stat()
        marks.append(f"{path.relative_to(root).as_posix()} {stat.st_size} {stat.st_mtime_ns}")
    return hashlib.sha256("\n".join(marks).encode()).digest()
