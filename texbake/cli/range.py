"""`range`: all colourways at a glance."""

from pathlib import Path
from typing import Annotated

import typer

from texbake.cli.terms import NoCache, Out, Quiet, RecipePath, Threads, store_of, telling


def show_range(
    recipe: RecipePath,
    *,
    out: Out = Path("out"),
    colourway: Annotated[
        list[str] | None, typer.Option("--colourway", metavar="NAME", help="Only this; repeatable.")
    ] = None,
    sort: Annotated[
        str, typer.Option("--sort", metavar="ORDER", help="hue, lightness or listed.")
    ] = "hue",
    picture: Annotated[
        Path | None, typer.Option("--picture", metavar="PNG", help="Where the picture goes.")
    ] = None,
    page: Annotated[
        Path | None, typer.Option("--page", metavar="HTML", help="Where the page goes.")
    ] = None,
    threads: Threads = None,
    no_cache: NoCache = False,
    quiet: Quiet = False,
) -> None:
    """Draw all colourways on one picture, and as a page to search and to copy values from.

    Sets that are baked are shown as they are; the others are baked small, for this alone. The page
    is one file that loads nothing from anywhere.

    Example: texbake range recipes/ferry-vest.yaml --sort lightness
    """
    from texbake.range import draw_range, places, write_range

    with telling(quiet=quiet) as (progress, note):
        drawn = draw_range(
            recipe,
            out=out,
            colourways=colourway or [],
            sort=sort,
            threads=threads,
            report=progress,
            note=note,
            first=lambda garment: places(garment, picture, page),
            store=store_of(no_cache),
        )
        written = write_range(drawn, picture=picture, page=page, sort=sort)
    if not quiet:
        for what, path in written:
            typer.echo(f"{what}: {path}")
