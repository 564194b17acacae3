"""`swatch`: a fabric alone."""

import json
from pathlib import Path
from typing import Annotated

import typer

from texbake.cli.terms import Json, Progress, Quiet, Size, Threads


def swatch(
    fabric: Annotated[
        str, typer.Argument(metavar="FABRIC", help="Of the recipe, or one that Texbake brings.")
    ],
    *,
    recipe: Annotated[
        Path | None, typer.Option("--recipe", metavar="RECIPE", help="The recipe that has it.")
    ] = None,
    width: Annotated[
        str, typer.Option("--width", metavar="LENGTH", help="About: whole repeats are taken.")
    ] = "10cm",
    size: Size = None,
    scale: Annotated[
        float | None,
        typer.Option("--scale", metavar="NUMBER", help="Times life size; 1 is cloth as it is."),
    ] = None,
    colourway: Annotated[
        str | None, typer.Option("--colourway", metavar="NAME", help="The first if not given.")
    ] = None,
    out: Annotated[
        Path, typer.Option("--out", metavar="FOLDER", help="FOLDER/swatches/FABRIC/COLOURWAY.")
    ] = Path("out"),
    threads: Threads = None,
    maps_only: Annotated[
        bool, typer.Option("--maps-only", help="No pictures beside the maps.")
    ] = False,
    quiet: Quiet = False,
    as_json: Json = False,
) -> None:
    """Bake a square of one fabric that tiles: all maps, and pictures flat and in folds.

    The cloth is as it comes from the mill: finishes belong to a sewn garment. Its sides are whole
    repeats, so texels are not quite square; the sizes in mm are told, and stand in the record.

    Example: texbake swatch denim --width 10cm
    """
    from texbake.swatch import as_json as json_of
    from texbake.swatch import bake_swatch, lines, notes

    progress = Progress(shown=not quiet)
    try:
        done = bake_swatch(
            fabric,
            recipe=recipe,
            colourway=colourway,
            width=width,
            size_px=size,
            scale=scale,
            out=out,
            pictures=not maps_only,
            threads=threads,
            report=progress,
        )
    finally:
        progress.clear()
    if as_json:
        typer.echo(json.dumps(json_of(done), indent=2))
    elif not quiet:
        for note in notes(done):
            typer.echo(f"note: {note}", err=True)
        for line in lines(done):
            typer.echo(line)
