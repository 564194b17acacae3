"""`bake` and `demo`: recipes to map sets."""

import json
from collections.abc import Collection, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from texbake.cli.many import bake_many
from texbake.cli.terms import (
    KINDS,
    Json,
    MapsOnly,
    NoCache,
    Out,
    Progress,
    Quiet,
    Size,
    Threads,
    store_of,
)
from texbake.errors import UserError

if TYPE_CHECKING:
    from texbake.batch import Done, Plan

MOST_REASONS = 4
NOTHING_CHANGED = "nothing changed"


def bake(
    recipes: Annotated[
        list[Path],
        typer.Argument(metavar="RECIPE", help="Recipes, and folders that recipes lie in."),
    ],
    *,
    out: Out = Path("out"),
    size: Size = None,
    colourway: Annotated[
        list[str] | None, typer.Option("--colourway", metavar="NAME", help="Only this; repeatable.")
    ] = None,
    threads: Threads = None,
    maps_only: MapsOnly = False,
    anew: Annotated[
        bool, typer.Option("--all", help="Also sets that nothing changed; else those are kept.")
    ] = False,
    dry_run: Annotated[
        bool, typer.Option("--dry-run", help="Say what would be done and why; write nothing.")
    ] = False,
    update_recipe: Annotated[
        bool,
        typer.Option(
            "--update-recipe",
            help="After a UV change, write into the recipe which islands its panels are now.",
        ),
    ] = False,
    zipped: Annotated[
        bool, typer.Option("--zip", help="Each set also as one zip, as delivery.zip does.")
    ] = False,
    jobs: Annotated[
        int | None,
        typer.Option("--jobs", min=1, help="So many recipes at a time; one if not given."),
    ] = None,
    cluster: Annotated[
        str | None,
        typer.Option("--cluster", metavar="ADDRESS", help="Send the work to this Dask scheduler."),
    ] = None,
    no_cache: NoCache = False,
    quiet: Quiet = False,
    as_json: Json = False,
) -> None:
    """Bake recipes' map sets: albedo, roughness, metal, both normals, height, occlusion.

    Beside the maps of each colourway go a picture of the dressed garment, a sheet of all maps, and
    a GLB that any viewer opens. Sets that are there already are kept, if nothing that they depend
    on has changed; so a bake that was stopped goes on where it was. Which files a set has is the
    recipe's `delivery`. After a UV change every panel
    keeps name and cloth, wherever it lies now, and what happened to it is told.

    What is wrong with one of many recipes does not stop the others; it is told at the end. A
    cluster needs texbake[cluster], the same Texbake on all workers, and a folder that all share.

    Example: texbake bake recipes/ferry-vest.yaml --size 1024
    """
    beside = (*(() if maps_only else KINDS), *(("zip",) if zipped else ()))
    names = colourway or []
    from texbake.many import Order, find_recipes

    found, errors = find_recipes(recipes)
    if dry_run:
        _dry_run(
            found,
            errors,
            out,
            size,
            names,
            beside,
            anew=anew,
            quiet=quiet,
            as_json=as_json,
            no_cache=no_cache,
        )
    elif len(found) == 1 and not errors and jobs is None and cluster is None:
        _bake(
            found[0],
            out,
            size,
            names,
            threads,
            beside,
            anew=anew,
            update_recipe=update_recipe,
            no_cache=no_cache,
            quiet=quiet,
            as_json=as_json,
        )
    else:
        order = Order(
            out=out,
            size_px=size,
            threads=threads,
            beside=beside,
            anew=anew,
            update_recipe=update_recipe,
            cached=not no_cache,
        )
        bake_many(
            found,
            errors,
            order,
            names,
            jobs=jobs,
            cluster=cluster,
            quiet=quiet,
            as_json=as_json,
            line=_line,
            entry=_as_json,
        )


def _dry_run(
    recipes: Sequence[Path],
    errors: Sequence[UserError],
    out: Path,
    size: int | None,
    colourway: list[str],
    beside: Collection[str],
    *,
    anew: bool,
    quiet: bool,
    as_json: bool,
    no_cache: bool,
) -> None:
    """Say what would be done for each set, and why."""
    from texbake.batch import plan_recipe
    from texbake.many import failure
    from texbake.many.job import troubles_of

    plans: list[Plan] = []
    notes: list[str] = []
    wrong = [one for error in errors for one in troubles_of(error)]
    for recipe in recipes:
        try:
            plans += plan_recipe(
                recipe,
                out=out,
                size_px=size,
                colourways=colourway,
                beside=beside,
                anew=anew,
                note=notes.append,
                store=store_of(no_cache),
            )
        except UserError as error:
            wrong += troubles_of(error)
    for sentence in () if quiet or as_json else notes:
        typer.echo(f"note: {sentence}", err=True)
    if plans:
        _tell_plans(plans, notes, as_json=as_json)
    failed = failure(wrong)
    if failed is not None:
        raise failed


def _tell_plans(plans: Sequence["Plan"], notes: Sequence[str], *, as_json: bool) -> None:
    """Print what would be done."""
    if as_json:
        sets = [
            {
                "colourway": plan.colourway,
                "folder": plan.folder.as_posix(),
                "action": plan.action,
                "why": plan.why,
                "beside": plan.extras,
            }
            for plan in plans
        ]
        typer.echo(json.dumps({"sets": sets, "notes": notes}, indent=2))
        return
    for plan in plans:
        what = {"bake": "to bake", "add": f"to add {_listed(plan.extras)}", "keep": "to keep"}
        why = _listed(plan.why, MOST_REASONS) or NOTHING_CHANGED
        typer.echo(f"{plan.colourway}: {what[plan.action]}: {why}: {plan.folder}")


def _bake(
    recipe: Path,
    out: Path,
    size: int | None,
    colourway: list[str],
    threads: int | None,
    beside: Collection[str],
    *,
    anew: bool,
    update_recipe: bool,
    no_cache: bool,
    quiet: bool,
    as_json: bool,
) -> None:
    """Bake one recipe and say what came of it."""
    from texbake.batch import bake_recipe

    progress = Progress(shown=not quiet)
    notes: list[str] = []

    def note(sentence: str) -> None:
        notes.append(sentence)
        if not quiet and not as_json:
            progress.clear()
            typer.echo(f"note: {sentence}", err=True)

    try:
        done = bake_recipe(
            recipe,
            out=out,
            size_px=size,
            colourways=colourway,
            threads=threads,
            report=progress,
            note=note,
            beside=beside,
            anew=anew,
            update_recipe=update_recipe,
            store=store_of(no_cache),
        )
    finally:
        progress.clear()
    if as_json:
        sets = [_as_json(one) for one in done]
        typer.echo(json.dumps({"sets": sets, "notes": notes}, indent=2))
    elif not quiet:
        for one in done:
            typer.echo(_line(one))


def _line(done: "Done") -> str:
    """Say what was done for a set, and where it is."""
    return f"{done.colourway}: {_told(done)}: {done.folder}"


def _listed(items: Sequence[str], most: int = 9) -> str:
    """Join the first few of a list."""
    shown = ", ".join(items[:most])
    return shown if len(items) <= most else f"{shown} and {len(items) - most} more"


def _told(done: "Done") -> str:
    """Say what was done for a set, and why."""
    if done.action == "kept":
        return f"kept, {NOTHING_CHANGED}"
    why = f" ({_listed(done.why, MOST_REASONS)})" if done.why else ""
    if done.action == "added":
        return f"added {_listed(done.added)} in {done.seconds:.1f} s{why}"
    sizes = sorted({entry.width_px for entry in done.record.maps}, reverse=True)
    told = " and ".join(filter(None, (", ".join(map(str, sizes[:-1])), str(sizes[-1]))))
    maps = f"{len(done.record.maps)} maps of {told} px in {done.seconds:.1f} s"
    return maps if done.first else maps + why


def _as_json(done: "Done") -> dict[str, object]:
    """Return what is told of a set, for scripts."""
    return {
        "colourway": done.colourway,
        "folder": done.folder.as_posix(),
        "files": [entry.file for entry in done.record.maps],
        "seconds": round(done.seconds, 3),
        "action": done.action,
        "why": done.why,
        "added": done.added,
    }


def demo(
    folder: Annotated[
        Path, typer.Argument(metavar="FOLDER", help="Where recipes and meshes go.")
    ] = Path("ferry-uniform"),
    *,
    out: Out = Path("out"),
    size: Size = None,
    maps_only: MapsOnly = False,
    no_cache: NoCache = False,
    quiet: Quiet = False,
) -> None:
    """Copy the uniform of the Lantern Bay ferry and bake its three garments.

    Example: texbake demo
    """
    from texbake.demo import BUDGET, copy_demo

    for path in copy_demo(folder):
        if path.suffix == ".yaml" and path.name != BUDGET:
            if not quiet:
                typer.echo(f"{path}")
            beside = () if maps_only else KINDS
            _bake(
                path,
                out,
                size,
                [],
                None,
                beside,
                anew=False,
                update_recipe=False,
                no_cache=no_cache,
                quiet=quiet,
                as_json=False,
            )
