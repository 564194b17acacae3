"""Many pictures in one call: several at a time, or one on all threads, with progress."""

import os
import threading
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from texbake.convert.inputs import Source
from texbake.convert.pictures import picture_size
from texbake.errors import MachineError, UserError, UserErrors

# Pictures of more texels are done one after the other, each on all threads.
_LARGE: Final = 1 << 24

Report = Callable[[str, float], None]
Share = Callable[[float], None]


@dataclass(frozen=True, slots=True, kw_only=True)
class Made:
    """What came of one picture.

    Attributes
    ----------
    source : Path
    files : tuple of Path
    facts : tuple of str
        What was done, a sentence each.
    notes : tuple of str
        What the user should know.
    steepest_deg : float or None
        The steepest angle of a normal map that came out.
    depth_mm, texel_mm : float or None
        From black to white, and the size of a texel, if they are known.
    """

    source: Path
    files: tuple[Path, ...]
    facts: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    steepest_deg: float | None = None
    depth_mm: float | None = None
    texel_mm: float | None = None


Say = Callable[[Made], None]
Work = Callable[[Source, int, Share], Made]


def silent(_stage: str, _share: float) -> None:
    """Report nothing."""


def mute(_made: Made) -> None:
    """Say nothing."""


def each(
    sources: Sequence[Source],
    work: Work,
    *,
    threads: int | None,
    report: Report,
    say: Say,
) -> tuple[Made, ...]:
    """Work on all pictures.

    Parameters
    ----------
    sources : sequence of Source
    work : callable
        Works on one picture, with a number of threads, and tells the share that is done.
    threads : int or None
        All cores if None.
    report : callable
        Told "convert" and the share of all.
    say : callable
        Told what came of each, in order, when all are done.

    Returns
    -------
    tuple of Made

    Raises
    ------
    UserError
        For those that failed, after all others are done.
    MachineError
        As soon as there is one.
    """
    threads = threads or os.cpu_count() or 1
    shares = _Shares(len(sources), report)
    done: dict[Source, Made] = {}
    failed: dict[Source, UserError] = {}

    def one(source: Source, workers: int) -> None:
        try:
            done[source] = work(source, workers, shares.teller(source))
        except MachineError:
            raise
        except UserError as error:
            failed[source] = error

    small, large = _sorted(sources, failed)
    with ThreadPoolExecutor(threads) as pool:
        jobs = [pool.submit(one, source, max(1, threads // len(small))) for source in small]
        try:
            for job in jobs:
                job.result()
        finally:
            pool.shutdown(wait=True, cancel_futures=True)
    for source in large:
        one(source, threads)
    made = tuple(done[source] for source in sources if source in done)
    for entry in made:
        say(entry)
    errors = [failed[source] for source in sources if source in failed]
    if errors:
        raise errors[0] if len(errors) == 1 else UserErrors(errors)
    return made


def _sorted(
    sources: Sequence[Source], failed: dict[Source, UserError]
) -> tuple[list[Source], list[Source]]:
    """Return small pictures and large ones; what cannot be opened goes to ``failed``."""
    small: list[Source] = []
    large: list[Source] = []
    for source in sources:
        try:
            height, width = picture_size(source.path)
        except MachineError:
            raise
        except UserError as error:
            failed[source] = error
            continue
        (large if height * width > _LARGE else small).append(source)
    return small, large


class _Shares:
    """The shares of all pictures that are done, as one."""

    def __init__(self, count: int, report: Report) -> None:
        self.count, self.report = count, report
        self.share: dict[Source, float] = {}
        self.lock = threading.Lock()

    def teller(self, source: Source) -> Share:
        """Return what one picture's share is told to."""

        def tell(share: float) -> None:
            with self.lock:
                self.share[source] = share
                self.report("convert", sum(self.share.values()) / self.count)

        return tell
