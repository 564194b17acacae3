"""`bake` and `demo`: recipes to map sets."""

import json
from collections.abc import Collection
from pathlib import Path
from typing import Annotated

import typer

from texbake.cli.terms import (
    KINDS,
    Json,
    MapsOnly,
    NoCache,
    Out,
    Progress,
    Quiet,
    RecipePath,
    Size,
    Threads,
    store_of,
)


def bake(
    recipe: RecipePath,
    *,
    out: Out = Path("out"),
    size: Size = None,
    colourway: Annotated[
        list[str] | None, typer.Option("--colourway", metavar="NAME", help="Only this; repeatable.")
    ] = None,
    threads: Threads = None,
    maps_only: MapsOnly = False,
    no_cache: NoCache = False,
    quiet: Quiet = False,
    as_json: Json = False,
) -> None:
    """Bake a recipe's map sets: albedo, roughness, metal, both normals, height, occlusion.

    Beside the maps of each colourway go a picture of the dressed garment, a sheet of all maps, and
    a GLB that any viewer opens.

    Example: texbake bake recipes/ferry-vest.yaml --size 1024
    """
    beside = () if maps_only else KINDS
    _bake(
        recipe,
        out,
        size,
        colourway or [],
        threads,
        beside,
        no_cache=no_cache,
        quiet=quiet,
        as_json=as_json,
    )


def _bake(
    recipe: Path,
    out: Path,
    size: int | None,
    colourway: list[str],
    threads: int | None,
    beside: Collection[str],
    *,
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
            store=store_of(no_cache),
        )
    finally:
        progress.clear()
    if as_json:
        sets = [
            {
                "colourway": one.colourway,
                "folder": one.folder.as_posix(),
                "files": [entry.file for entry in one.record.maps],
                "seconds": round(one.seconds, 3),
            }
            for one in done
        ]
        typer.echo(json.dumps({"sets": sets, "notes": notes}, indent=2))
    elif not quiet:
        for one in done:
            typer.echo(
                f"{one.colourway}: {len(one.record.maps)} maps of {one.record.size_px} px "
                f"in {one.seconds:.1f} s: {one.folder}"
            )


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
    from texbake.demo import copy_demo

    for path in copy_demo(folder):
        if path.suffix == ".yaml":
            if not quiet:
                typer.echo(f"{path}")
            beside = () if maps_only else KINDS
            _bake(path, out, size, [], None, beside, no_cache=no_cache, quiet=quiet, as_json=False)
