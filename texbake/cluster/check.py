"""Looks at a cluster before it is given work: what would fail in every job is told at once."""

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from tempfile import NamedTemporaryFile
from typing import TYPE_CHECKING

from texbake.cluster.worker import Program, Sight, look, other_program, program_here
from texbake.deliver import told
from texbake.errors import MachineError, UserError
from texbake.many.job import Job, Trouble, failure

if TYPE_CHECKING:
    from distributed import Client


def check_cluster(client: "Client", address: str, jobs: tuple[Job, ...], out: Path) -> int:
    """See that all workers have this Texbake, and see the recipes and the folder of the sets.

    Returns
    -------
    int
        How many jobs the workers can do at the same time.

    Raises
    ------
    UserError, MachineError
        For everything that they lack.
    """
    with answering(address):
        threads = dict(client.nthreads())
    with _mark(out) as mark, answering(address):
        files = (str(mark), *sorted({str(job.recipe) for job in jobs}))
        found = client.run(look, files, on_error="return")
    # One that died since is no worker any more.
    found = {where: sight for where, sight in found.items() if not isinstance(sight, OSError)}
    if not found:
        raise MachineError(
            f"--cluster: the scheduler at {address} has no workers",
            fix=f"start one on each machine: dask worker {address}",
        )
    here = program_here()
    wrong = failure([one for where in sorted(found) for one in _faults(where, found, here, mark)])
    if wrong is not None:
        raise wrong
    return sum(threads.get(where, 0) for where in found) or 1


@contextmanager
def answering(address: str) -> Iterator[None]:
    """Turn a lost connection to the scheduler into a complaint."""
    try:
        yield
    except OSError:  # CommClosedError and TimeoutError are
        raise gone("the scheduler", address) from None


def gone(what: str, address: str) -> MachineError:
    """Say what is gone."""
    return MachineError(
        f"--cluster: {what} at {address} is gone",
        fix="start it again, and bake again: sets that were done are kept",
    )


@contextmanager
def _mark(out: Path) -> Iterator[Path]:
    """Put a file into the folder of the sets for a moment: who sees it, sees the folder."""
    with told(out):
        out.mkdir(parents=True, exist_ok=True)
        file = NamedTemporaryFile(dir=out, prefix=".texbake-shared-")  # noqa: SIM115 - below
    with file:
        yield Path(file.name)


def _faults(
    where: str, found: Mapping[str, object], here: Program, mark: Path
) -> Iterator[Trouble]:
    """Say what one worker lacks. Dask brings errors of loading as texts in plain exceptions."""
    sight = found[where]
    if isinstance(sight, Sight):
        if sight.program != here:
            yield other_program(where, sight.program, here)
        for name in sight.unseen:
            yield _unseen(where, name, mark)
    else:
        yield Trouble(
            what=f"the worker at {where} cannot load Texbake ({sight})",
            fix="install the same Texbake there, as texbake[cluster], and start it again",
            machine=True,
        )


def _unseen(where: str, name: str, mark: Path) -> Trouble:
    """Say that a worker does not see a file."""
    seen = mark.parent if name == str(mark) else name
    return Trouble(
        what=f"the worker at {where} does not see {seen}",
        fix="put recipes, meshes and --out into a folder that all machines share, at the same path",
        machine=False,
    )


def missing_dask(error: ImportError) -> UserError:
    """Say that the extra is not installed."""
    return UserError(
        f"--cluster needs Dask, which is not installed here ({error})",
        fix='pip install "texbake[cluster]"',
    )
