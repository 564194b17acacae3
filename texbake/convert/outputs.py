"""Writing the pictures of one conversion: whole, at once, and never over a file of the user's."""

import os
import threading
from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np

from texbake.arrays import bands
from texbake.convert.mark import Mark, add_mark, read_mark
from texbake.convert.values import Samples
from texbake.deliver.png import write_png_rows
from texbake.deliver.trouble import told
from texbake.errors import UserError

_CHUNK: Final = 1 << 22  # texels that are made at a time
_ROWS: Final = 64  # a chunk's rows are a multiple of those of a tile, and of PNG's bands

Rows = Callable[[slice], Samples]


@dataclass(frozen=True, slots=True, kw_only=True)
class Output:
    """One picture to write: where, its mark, and whether its green is turned over."""

    path: Path
    mark: Mark
    flip_green: bool = False


def write_outputs(
    outputs: Sequence[Output],
    rows: Rows,
    shape: tuple[int, ...],
    bits: int,
    *,
    report: Callable[[float], None] | None = None,
) -> None:
    """Write pictures of the same rows, each on a thread of its own.

    Parameters
    ----------
    outputs : sequence of Output
    rows : callable
        Makes a run of rows, (R, W) or (R, W, 3); asked for from top to bottom, once each.
    shape : (int, int, int)
        Height, width and channels.
    bits : 8 or 16
    report : callable, optional
        Told the share that is done.

    Raises
    ------
    MachineError
        If one cannot be written. No file has changed then.
    """
    shared = Shared(rows, shape, len(outputs), report)
    parts = [out.path.with_name(f".{out.path.name}.part-{os.getpid()}") for out in outputs]
    with _folders([out.path.parent for out in outputs]):
        try:
            with ThreadPoolExecutor(len(outputs)) as pool:
                jobs = [
                    pool.submit(_write, out, part, shared, number, shape, bits)
                    for number, (out, part) in enumerate(zip(outputs, parts, strict=True))
                ]
            for job in jobs:
                job.result()
            for out, part in zip(outputs, parts, strict=True):
                with told(out.path):
                    part.replace(out.path)
        finally:
            for part in parts:
                with suppress(OSError):
                    part.unlink(missing_ok=True)


def _write(
    out: Output, part: Path, shared: "Shared", number: int, shape: tuple[int, ...], bits: int
) -> None:
    """Write one picture to its temporary name, down to the disk."""
    try:
        with told(out.path), part.open("w+b") as file:
            made = shared.rows_for(number)
            take = (lambda band: _turned(made(band))) if out.flip_green else made
            write_png_rows(file, take, shape, bits=bits)
            add_mark(file, out.mark)
            file.flush()
            os.fsync(file.fileno())
    finally:
        shared.leave(number)


def _turned(rows: Samples) -> Samples:
    """Return codes with green as its maximum less its value."""
    rows = rows.copy()
    np.invert(rows[..., 1], out=rows[..., 1])
    return rows


class Shared:
    """Rows that several writers take, made once, a chunk at a time.

    A writer may be one chunk ahead of the others, so that no more than two are in memory.
    """

    def __init__(
        self,
        make: Rows,
        shape: tuple[int, ...],
        writers: int,
        report: Callable[[float], None] | None,
    ) -> None:
        self.make, self.report = make, report
        count = max(_ROWS, _CHUNK // shape[1] // _ROWS * _ROWS)
        self.chunks = list(bands(shape[0], count))
        self.at = [-1] * writers
        self.latest, self.held = -1, np.empty(0)
        self.moved = threading.Condition()

    def rows_for(self, number: int) -> Rows:
        """Return what gives one writer its rows, band by band."""
        chunk, samples = slice(0, 0), np.empty(0)

        def rows(band: slice) -> Samples:
            nonlocal chunk, samples
            if band.stop > chunk.stop:
                chunk, samples = self._next(number)
            return samples[band.start - chunk.start : band.stop - chunk.start]

        return rows

    def leave(self, number: int) -> None:
        """Have nobody wait for a writer any more."""
        with self.moved:
            self.at[number] = len(self.chunks)
            self.moved.notify_all()

    def _next(self, number: int) -> tuple[slice, Samples]:
        """Return a writer's next chunk; make it if no other writer has."""
        with self.moved:
            wanted = self.at[number] + 1
            if wanted > self.latest:
                self.moved.wait_for(lambda: min(self.at) >= wanted - 1)
                self.held = self.make(self.chunks[wanted])
                self.latest = wanted
                if self.report is not None:
                    self.report((wanted + 1) / len(self.chunks))
            self.at[number] = wanted
            self.moved.notify_all()
            return self.chunks[wanted], self.held


@contextmanager
def _folders(folders: Sequence[Path]) -> Iterator[None]:
    """Make folders with their parents, and take back those made if what follows fails."""
    missing = [p for folder in folders for p in (folder, *folder.parents) if not p.exists()]
    try:
        for folder in folders:
            with told(folder):
                folder.mkdir(parents=True, exist_ok=True)
        yield
    except BaseException:
        for folder in sorted(set(missing), key=lambda p: -len(p.parts)):
            with suppress(OSError):
                folder.rmdir()
        raise


def refuse(targets: Mapping[Path, Path]) -> None:
    """Complain if a picture would take the place of what it is made from, or of a stranger's.

    Parameters
    ----------
    targets : mapping of Path to Path
        Pictures to write, and what each is made from.

    Raises
    ------
    UserError
    """
    for target, source in targets.items():
        if not target.exists():
            continue
        for other in targets.values():
            if target.samefile(other):
                raise UserError(
                    f"{target.name} would be written over {other}, which is read",
                    fix="choose another name with -o",
                    path=source,
                )
        if not target.is_file() or read_mark(target) is None:
            raise UserError(
                "a file that was not made by this command is there already",
                fix="choose another name with -o, or move that file away",
                path=target,
            )
