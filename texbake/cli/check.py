"""`check`: a garment and its sets against a budget."""

import json
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from texbake.cli.terms import (
    Json,
    NoCache,
    Out,
    Progress,
    Quiet,
    RecipePath,
    Size,
    store_of,
)

if TYPE_CHECKING:
    from texbake.advice import Finding
    from texbake.check import Checked

_MOST = 3  # places told of one finding


def check(
    recipe: RecipePath,
    *,
    out: Out = Path("out"),
    budget: Annotated[
        Path | None,
        typer.Option("--budget", metavar="YAML", help="Limits; recipes/budget.yaml has them all."),
    ] = None,
    size: Size = None,
    colourway: Annotated[
        list[str] | None, typer.Option("--colourway", metavar="NAME", help="Only this; repeatable.")
    ] = None,
    no_cache: NoCache = False,
    quiet: Quiet = False,
    as_json: Json = False,
) -> None:
    """Check mesh, layout, sets and colourways against a budget; exit code 1 if anything is over.

    Example: texbake check recipes/ferry-vest.yaml --budget recipes/budget.yaml
    """
    from texbake.check import check_recipe

    progress = Progress(shown=not quiet)
    try:
        checked = check_recipe(
            recipe,
            out=out,
            budget=budget,
            size_px=size,
            colourways=colourway or (),
            report=progress,
            store=store_of(no_cache=no_cache),
        )
    finally:
        progress.clear()
    if as_json:
        typer.echo(json.dumps(_plain(checked), indent=2))
    elif not quiet:
        _print(checked)
    if checked.findings:
        raise typer.Exit(1)


def _plain(checked: "Checked") -> dict[str, object]:
    """Everything that was found, as plain values."""
    from texbake.advice import as_plain

    return {
        "garment": checked.garment,
        "findings": [as_plain(one) for one in checked.findings],
        "notes": list(checked.notes),
        "triangles": checked.triangles,
        "layout": None if checked.layout is None else asdict(checked.layout),
        "sets": {name: dict(figures) for name, figures in checked.sets.items()},
    }


def _print(checked: "Checked") -> None:
    """Print findings as mistakes are told: where, what, and what to do; the same of many once."""
    alike: dict[tuple[str, str], list[Finding]] = {}
    for one in checked.findings:
        alike.setdefault((one.what, one.fix), []).append(one)
    for (what, fix), places in alike.items():
        where = [_place(one) for one in places]
        more = f" and {len(where) - _MOST} more" if len(where) > _MOST else ""
        typer.echo(f"{', '.join(where[:_MOST])}{more}: {what}\n  fix: {fix}")
    for sentence in checked.notes:
        typer.echo(f"note: {sentence}", err=True)
    count, sets = len(alike), len(checked.sets)
    found = "nothing over its limit" if not count else f"{count} finding{'s' * (count != 1)}"
    seen = f"{checked.triangles} triangles, {sets} set{'s' * (sets != 1)} looked into"
    typer.echo(f"{checked.garment}: {found} ({seen})")


def _place(one: "Finding") -> str:
    """File, and line if it has one."""
    return f"{one.path}" if one.line is None else f"{one.path}:{one.line}"
