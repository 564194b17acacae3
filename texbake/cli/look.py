"""`panels` and `show`: pictures of a garment's pieces and of the garment dressed."""

import json
from pathlib import Path
from typing import Annotated

import typer

from texbake.cli.terms import (
    RECIPES,
    Json,
    NoCache,
    Out,
    Quiet,
    RecipePath,
    Size,
    Threads,
    store_of,
    telling,
)
from texbake.errors import UserError


def panels(
    mesh: Annotated[
        Path, typer.Argument(metavar="MESH|RECIPE", help="A mesh, or a recipe with its panels.")
    ],
    *,
    picture: Annotated[
        Path | None, typer.Option("--picture", metavar="PNG", help="Where the picture goes.")
    ] = None,
    out: Out = Path("out"),
    size: Size = None,
    as_json: Json = False,
) -> None:
    """List a garment's panels, and draw them: numbers, grain, seams and hems.

    Of a recipe whose UVs changed since the bake, panels are where their cloth lies now.

    Example: texbake panels recipes/meshes/ferry-vest.obj --picture panels.png
    """
    from texbake import advice, chart
    from texbake.batch import checked_size, chosen, meant
    from texbake.layout import lay_out
    from texbake.prepared import read_garment
    from texbake.recipe import load
    from texbake.starter import bare_recipe

    where = picture or Path(f"{mesh.stem}-panels.png")
    if where.suffix.lower() != ".png":
        fix = f"name it {where.with_suffix('.png').name}"
        raise UserError("--picture: a picture of panels is a PNG", fix=fix, path=where)
    if mesh.suffix.lower() in RECIPES:
        now = meant(chosen(load(mesh), [], size), out)
        recipe, garment = now.first, now.garment()
    else:
        recipe = bare_recipe(mesh, size_px=1024 if size is None else checked_size(size))
        garment = read_garment(recipe)
    layout = lay_out(garment, recipe.size_px, gutter_px=0)
    rows = chart.panel_rows(garment, layout)
    chart.write_picture(where, chart.picture(garment, layout))
    figures = advice.measure(garment, layout, gutter_px=recipe.gutter_px)
    found = advice.judge(figures, mesh=recipe.mesh, recipe=recipe.path)
    if as_json:
        typer.echo(json.dumps(chart.as_json(rows, figures, found), indent=2))
        return
    typer.echo(chart.table(rows, figures))
    for one in found:
        typer.echo(f"advice: {one.what}; {one.fix}")
    for sentence in garment.notes:
        typer.echo(f"note: {sentence}", err=True)
    typer.echo(f"picture: {where}")


def show(
    recipe: RecipePath,
    *,
    out: Out = Path("out"),
    colourway: Annotated[
        str | None, typer.Option("--colourway", metavar="NAME", help="The first if not given.")
    ] = None,
    view: Annotated[
        list[str] | None,
        typer.Option(
            "--view",
            metavar="VIEW",
            help="front, back, left, right or three-quarter; repeatable: side by side.",
        ),
    ] = None,
    size: Annotated[
        tuple[int, int], typer.Option("--size", metavar="WIDTH HEIGHT", help="In pixels.")
    ] = (1200, 900),
    near: Annotated[
        str | None, typer.Option("--near", metavar="PANEL", help="A hand's breadth of its cloth.")
    ] = None,
    picture: Annotated[
        Path | None, typer.Option("--picture", metavar="PNG", help="Where the picture goes.")
    ] = None,
    threads: Threads = None,
    no_cache: NoCache = False,
    quiet: Quiet = False,
) -> None:
    """Draw the garment in its cloth: the baked set, or a quick bake where there is none.

    Example: texbake show recipes/ferry-vest.yaml --view front --view three-quarter
    """
    from texbake.chart import write_picture
    from texbake.showing import show_recipe

    with telling(quiet=quiet) as (progress, note):
        shown = show_recipe(
            recipe,
            out=out,
            colourway=colourway,
            views=tuple(view or ("front", "back")),
            size=size,
            near=near,
            threads=threads,
            report=progress,
            note=note,
            store=store_of(no_cache),
        )
    where = picture or Path(shown.name)
    write_picture(where, shown.picture)
    if not quiet:
        typer.echo(f"picture: {where}")
