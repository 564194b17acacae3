"""`bake` of many recipes: side by side on this machine, or on a cluster."""

import json
import logging
from collections.abc import Callable, Sequence
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING

import typer

from texbake.cli.terms import Progress
from texbake.errors import UserError

if TYPE_CHECKING:
    from texbake.batch import Done
    from texbake.many import Order, Outcome

Line = Callable[["Done"], str]
Entry = Callable[["Done"], dict[str, object]]


def bake_many(
    recipes: Sequence[Path],
    errors: Sequence[UserError],
    order: "Order",
    colourways: Sequence[str],
    *,
    jobs: int | None,
    cluster: str | None,
    quiet: bool,
    as_json: bool,
    line: Line,
    entry: Entry,
) -> None:
    """Bake recipes, and say what came of each as soon as it is done; complain at the end.

    Raises
    ------
    UserErrors, MachineErrors
        All that went wrong, when everything else is done.
    """
    if jobs is not None and cluster is not None:
        fix = "leave --jobs out: a cluster does as many at a time as its workers have threads"
        raise UserError("--jobs is for this machine, not for a cluster", fix=fix)
    from texbake.many import Trouble, failure
    from texbake.many.job import troubles_of

    progress = Progress(shown=not quiet)
    count = 0
    noted: set[str] = set()

    def tell(outcome: "Outcome", total: int) -> None:
        nonlocal count
        count += 1
        progress.clear()
        if not quiet and not as_json:
            _say(outcome, line, noted)
        progress("jobs", count / total)

    try:
        if cluster is None:
            outcomes, more = _here(recipes, order, colourways, jobs, progress, tell)
        else:
            outcomes, more = _there(recipes, order, colourways, cluster, tell)
    finally:
        progress.clear()
    troubles: list[Trouble] = [one for e in (*errors, *more) for one in troubles_of(e)]
    troubles += [one for outcome in outcomes for one in outcome.troubles]
    wrong = failure(list(dict.fromkeys(troubles)))
    if as_json:
        typer.echo(json.dumps(_as_json(outcomes, troubles, entry), indent=2))
    if wrong is not None:
        raise wrong


Told = Callable[["Outcome", int], None]
Result = tuple[tuple["Outcome", ...], tuple[UserError, ...]]


def _here(
    recipes: Sequence[Path],
    order: "Order",
    colourways: Sequence[str],
    jobs: int | None,
    progress: Progress,
    tell: Told,
) -> Result:
    """Bake on this machine: one recipe after the other, or several at a time."""
    from texbake.many import run_here, split

    todo, errors = split(recipes, order, colourways)
    side = jobs or 1
    outcomes = run_here(
        todo,
        side=side,
        tell=lambda outcome: tell(outcome, len(todo)),
        report=progress if side == 1 else None,
    )
    return outcomes, errors


def _there(
    recipes: Sequence[Path], order: "Order", colourways: Sequence[str], address: str, tell: Told
) -> Result:
    """Bake on a cluster. What Dask logs of lost connections is told in our own words."""
    from texbake.cluster import run_on_cluster

    with suppress(ImportError):  # that it is not there is told by the next call
        import distributed  # noqa: F401 - it sets up its loggers as it loads

        for name in list(logging.root.manager.loggerDict):
            if name.startswith("distributed"):
                logging.getLogger(name).setLevel(logging.CRITICAL)
    return run_on_cluster(recipes, order, address, colourways=colourways, tell=tell)


def _say(outcome: "Outcome", line: Line, noted: set[str]) -> None:
    """Say what came of a job; what several jobs of a recipe note, once."""
    for sentence in outcome.notes:
        told = f"note: {outcome.job.recipe}: {sentence}"
        if told not in noted:
            noted.add(told)
            typer.echo(told, err=True)
    for one in outcome.done:
        typer.echo(line(one))


def _as_json(
    outcomes: Sequence["Outcome"], troubles: Sequence[object], entry: Entry
) -> dict[str, object]:
    """Return all that came of it, for scripts."""
    from dataclasses import asdict

    notes = dict.fromkeys(f"{o.job.recipe}: {note}" for o in outcomes for note in o.notes)
    return {
        "sets": [
            {"recipe": outcome.job.recipe.as_posix(), **entry(one)}
            for outcome in outcomes
            for one in outcome.done
        ],
        "notes": list(notes),
        "errors": [asdict(one) for one in troubles],  # type: ignore[call-overload]  # Trouble
    }
