"""What runs on a worker: a look at what it has, and jobs."""

import os
from dataclasses import dataclass
from pathlib import Path

from texbake.batch.program import beside_program, maps_program, texbake_version
from texbake.many.job import Job, Outcome, Trouble, do
from texbake.many.local import with_threads


@dataclass(frozen=True, slots=True, kw_only=True)
class Program:
    """Which Texbake there is: its version, and the digest of its code."""

    version: str
    digest: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Sight:
    """What a worker has and sees: its program, and of some files those that it cannot see."""

    program: Program
    unseen: tuple[str, ...]


def program_here() -> Program:
    """Say which Texbake runs here."""
    return Program(version=texbake_version(), digest=f"{maps_program()} {beside_program()}")


def look(files: tuple[str, ...]) -> Sight:
    """Say what this worker has and sees."""
    unseen = tuple(name for name in files if not Path(name).is_file())
    return Sight(program=program_here(), unseen=unseen)


def do_there(job: Job, program: Program) -> Outcome:
    """Do a job on a worker, if its Texbake is the one that asks; workers may come at any time."""
    from distributed import get_worker

    here = program_here()
    if here != program:
        where = get_worker().address
        return Outcome(job=job, troubles=(other_program(where, here, program, str(job.recipe)),))
    cores = (os.cpu_count() or 1) // max(1, get_worker().state.nthreads)
    return do(with_threads(job, max(1, cores)))


def other_program(where: str, there: Program, here: Program, path: str | None = None) -> Trouble:
    """Say that a worker has another Texbake: its maps would not be the ones of here."""
    also = " with other code" if there.version == here.version else ""
    return Trouble(
        what=f"the worker at {where} has Texbake {there.version}{also}, here is {here.version}",
        fix="install the same Texbake on all workers, and start them again",
        path=path,
        machine=True,
    )
