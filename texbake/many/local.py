"""Jobs on this machine, side by side on threads.

Threads, not processes: numpy and the PNG encoder let go of the interpreter lock, and a process
first has to load everything anew. Measured on two cores, three demo recipes at 1024, two jobs of
one thread each: maps only 10 to 12 s on threads, 14 to 17 s in processes, 11 to 13 s one after the
other on both cores; with pictures 33, 44 and 40 s (``python -m tests.benchmarks.many``).
"""

import os
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor, as_completed
from dataclasses import replace

from texbake.many.job import Job, Outcome, do
from texbake.prepared import Report


def run_here(
    jobs: Sequence[Job],
    *,
    side: int,
    tell: Callable[[Outcome], None],
    report: Report | None = None,
) -> tuple[Outcome, ...]:
    """Do jobs, several at a time; what goes wrong with one does not stop the others.

    Parameters
    ----------
    jobs : sequence of Job
    side : int
        How many at a time. The cores are shared among them, if the order does not say otherwise.
    tell : callable
        Told each outcome as soon as it is there.
    report : callable, optional
        Told each stage of each job; of use for one at a time only.

    Returns
    -------
    tuple of Outcome
        In the order of the jobs.
    """
    cores = max(1, (os.cpu_count() or 1) // min(side, max(len(jobs), 1)))
    with ThreadPoolExecutor(side) as pool:
        running = {
            pool.submit(do, with_threads(job, cores), report=report): k
            for k, job in enumerate(jobs)
        }
        found: dict[int, Outcome] = {}
        try:
            for future in as_completed(running):
                found[running[future]] = future.result()
                tell(found[running[future]])
        finally:
            pool.shutdown(cancel_futures=True)  # who stops a batch does not wait for its rest
    return tuple(found[k] for k in range(len(jobs)))


def with_threads(job: Job, threads: int) -> Job:
    """Return a job that says on how many threads it runs."""
    if job.order.threads is not None:
        return job
    return replace(job, order=replace(job.order, threads=threads))
