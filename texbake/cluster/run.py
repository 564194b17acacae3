"""Sends jobs to a Dask scheduler and waits for what comes of them.

Dask does what it is good at: it hands jobs to whichever worker is free, and those of a worker that
died to another. That is safe, as a set is swapped in whole and one that is there is kept: a job
done again goes on where it was. What is added here are clear words when something is wrong with
the cluster, and an end to waiting for one that is gone.
"""

import queue
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from texbake.cluster.check import answering, check_cluster, gone, missing_dask
from texbake.cluster.worker import do_there, program_here
from texbake.errors import MachineError, UserError
from texbake.many.job import Job, Order, Outcome, Trouble
from texbake.many.split import split

if TYPE_CHECKING:
    from distributed import Client, Future

ANSWER_S: Final = 10.0  # so long a scheduler may take to answer
GONE_S: Final = 30.0  # after so long without one, or without any worker, it is given up
RETRIES: Final = 2  # of a job that fails by no fault of the recipe
_ADDRESS: Final = "write the address that it printed when it was started, as tcp://HOST:8786"
_TICK_S: Final = 0.5


def run_on_cluster(
    recipes: Sequence[Path],
    order: Order,
    address: str,
    *,
    colourways: Sequence[str] = (),
    tell: Callable[[Outcome, int], None],
) -> tuple[tuple[Outcome, ...], tuple[UserError, ...]]:
    """Bake recipes on the workers of a scheduler.

    Parameters
    ----------
    recipes : sequence of Path
        Seen by all workers at the same path, and so are their meshes and ``order.out``.
    order : Order
    address : str
        Of the scheduler, as ``tcp://HOST:8786``.
    colourways : sequence of str
        Names; all of them if empty.
    tell : callable
        Told each outcome as soon as it is there, and of how many jobs it is one.

    Returns
    -------
    outcomes : tuple of Outcome
        In the order of the jobs.
    errors : tuple of UserError
        Of recipes that make no job.

    Raises
    ------
    UserError
        If there is no Dask here, or a worker does not see the files.
    MachineError
        If nothing answers at the address, workers lack this Texbake, or all are gone on the way.
        Sets that were done are kept by the next bake.
    """
    there = [Path(path).resolve() for path in recipes]
    abroad = replace(order, out=order.out.resolve())
    with _client(address) as client:
        probe, errors = split(there, abroad, colourways)
        if not probe:
            return (), errors
        workers = check_cluster(client, address, probe, abroad.out)
        jobs, _ = split(there, abroad, colourways, workers=workers)
        return _gather(client, address, jobs, order.out, tell), errors


@contextmanager
def _client(address: str) -> "Iterator[Client]":
    """Connect to a scheduler, and let go of it and of all that it still does for us."""
    try:
        from distributed import Client
    except ImportError as error:
        raise missing_dask(error) from None
    try:
        client = Client(address, timeout=ANSWER_S, set_as_default=False)
    except ValueError as error:
        what = f"--cluster: {address!r} is no address of a scheduler ({_first_line(error)})"
        raise UserError(what, fix=_ADDRESS) from None
    except OSError as error:  # TimeoutError is one
        what = f"--cluster: no Dask scheduler answers at {address} ({_first_line(error)})"
        raise MachineError(what, fix=_ADDRESS) from None
    try:
        yield client
    finally:
        client.close(timeout=ANSWER_S)


def _gather(
    client: "Client",
    address: str,
    jobs: Sequence[Job],
    out: Path,
    tell: Callable[[Outcome, int], None],
) -> tuple[Outcome, ...]:
    """Send jobs, and take what comes back, in whatever order."""
    program = program_here()
    ready: queue.SimpleQueue[Future] = queue.SimpleQueue()
    sent: dict[str, int] = {}
    futures = []
    with answering(address):
        for k, job in enumerate(jobs):
            future = client.submit(do_there, job, program, pure=False, retries=RETRIES)
            sent[future.key] = k
            futures.append(future)
    for future in futures:
        future.add_done_callback(ready.put)
    found: dict[int, Outcome] = {}
    watch = _Watch(client, address)
    while len(found) < len(jobs):
        try:
            future = ready.get(timeout=_TICK_S)
        except queue.Empty:
            watch.look()
            continue
        number = sent[future.key]
        if future.status in {"cancelled", "lost"}:  # as all are when the scheduler is gone
            raise watch.gone()
        found[number] = _here(_outcome(future, jobs[number]), out)
        tell(found[number], len(jobs))
    return tuple(found[k] for k in range(len(jobs)))


def _outcome(future: "Future", job: Job) -> Outcome:
    """Return what came of a job; a bug is raised as it was there."""
    from distributed import KilledWorker

    if future.status != "error":
        done: Outcome = future.result()
        return done
    error = future.exception()
    if isinstance(error, KilledWorker):
        lost = Trouble(
            what=f"{error.allowed_failures + 1} workers died, one after the other, at this recipe",
            fix="look at the workers' own words; most often memory: a smaller --size needs less",
            path=str(job.recipe),
            machine=True,
        )
        return Outcome(job=job, troubles=(lost,))
    raise error


def _here(outcome: Outcome, out: Path) -> Outcome:
    """Name the folders as they were asked for."""
    done = tuple(
        replace(one, folder=out / one.record.garment / one.colourway) for one in outcome.done
    )
    return replace(outcome, done=done)


class _Watch:
    """Sees whether anybody is still working."""

    def __init__(self, client: "Client", address: str) -> None:
        self._client, self._address = client, address
        self._seen = time.monotonic()
        self._lacks = ""

    def look(self) -> None:
        """Give a cluster up that has been gone for long.

        Raises
        ------
        MachineError
        """
        self._lacks = self._lack()
        now = time.monotonic()
        if not self._lacks:
            self._seen = now
        elif now - self._seen > GONE_S:
            raise self.gone()

    def gone(self) -> MachineError:
        """Say what is gone."""
        return gone(self._lacks or "the scheduler", self._address)

    def _lack(self) -> str:
        """Name what is missing; nothing if all is well."""
        if self._client.status != "running":
            return "the scheduler"
        try:
            workers: Any = self._client.nthreads()
        except OSError:
            return "the scheduler"
        return "" if workers else "the last worker"


def _first_line(error: BaseException) -> str:
    """Return what an error says, in short."""
    return str(error).strip().split("\n", 1)[0][:200] or type(error).__name__
