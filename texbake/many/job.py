"""One job: some colourways of one recipe, baked as `bake_recipe` does it, wherever it runs.

A job and its outcome are plain values, so that they can be sent to other processes and machines.
What the user can mend comes back as a value too: only a bug is raised.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path

from texbake.batch import Done, bake_recipe
from texbake.errors import MachineError, MachineErrors, UserError, UserErrors
from texbake.prepared import Report
from texbake.store import Store, default_folder


@dataclass(frozen=True, slots=True, kw_only=True)
class Order:
    """What is wanted of every recipe; see `texbake.batch.bake_recipe`.

    Attributes
    ----------
    cached : bool
        Whether slow steps are kept, in the cache folder of whoever does the job.
    """

    out: Path
    size_px: int | None = None
    threads: int | None = None
    beside: tuple[str, ...] = ()
    anew: bool = False
    update_recipe: bool = False
    cached: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    """Some colourways of one recipe; none named: all."""

    recipe: Path
    order: Order
    colourways: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Trouble:
    """A `UserError`, or if ``machine`` a `MachineError`, as a value."""

    what: str
    fix: str
    path: str | None = None
    line: int | None = None
    machine: bool = False

    @property
    def error(self) -> UserError:
        """The error itself."""
        kind = MachineError if self.machine else UserError
        path = None if self.path is None else Path(self.path)
        return kind(self.what, fix=self.fix, path=path, line=self.line)


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """What came of a job.

    Attributes
    ----------
    job : Job
    done : tuple of Done
        Empty if it failed; sets that were done before it did are whole, and the next bake keeps
        them.
    notes : tuple of str
        What the user should know of the garment.
    troubles : tuple of Trouble
    """

    job: Job
    done: tuple[Done, ...] = ()
    notes: tuple[str, ...] = ()
    troubles: tuple[Trouble, ...] = ()


def do(job: Job, *, report: Report | None = None) -> Outcome:
    """Do a job here and now."""
    order, notes = job.order, list[str]()
    store = Store(folder=default_folder()) if order.cached else Store()
    try:
        done = bake_recipe(
            job.recipe,
            out=order.out,
            size_px=order.size_px,
            colourways=job.colourways,
            threads=order.threads,
            report=report,
            note=notes.append,
            beside=order.beside,
            anew=order.anew,
            update_recipe=order.update_recipe,
            store=store,
        )
    except UserError as error:
        return Outcome(job=job, notes=tuple(notes), troubles=troubles_of(error))
    except MemoryError:
        fix = "bake at a smaller size (--size 2048), or fewer at a time (--jobs 1)"
        lack = Trouble(what="out of memory", fix=fix, path=str(job.recipe), machine=True)
        return Outcome(job=job, notes=tuple(notes), troubles=(lack,))
    return Outcome(job=job, done=done, notes=tuple(notes))


def troubles_of(error: UserError) -> tuple[Trouble, ...]:
    """Return an error as values, one for each mistake that it tells of."""
    each: Iterable[UserError] = error.errors if isinstance(error, UserErrors) else (error,)
    return tuple(
        Trouble(
            what=one.what,
            fix=one.fix,
            path=None if one.path is None else str(one.path),
            line=one.line,
            machine=isinstance(one, MachineError) or isinstance(error, MachineError),
        )
        for one in each
    )


def failure(troubles: Sequence[Trouble]) -> UserError | None:
    """Return one error that tells of all, of the worst kind among them; None if there is none."""
    if not troubles:
        return None
    several = MachineErrors if any(one.machine for one in troubles) else UserErrors
    return several([one.error for one in troubles])
