"""`new` and `version`."""

from pathlib import Path
from typing import Annotated

import typer

from texbake.cli.terms import RECIPES, MeshPath
from texbake.errors import UserError


def new(
    mesh: MeshPath,
    *,
    recipe: Annotated[
        Path | None, typer.Option("--recipe", metavar="YAML", help="Where it goes.")
    ] = None,
) -> None:
    """Write a starter recipe for a mesh, with every panel listed.

    Example: texbake new my-jacket.obj
    """
    from texbake.starter import write_starter

    if mesh.suffix.lower() in RECIPES:
        fix = "name the mesh; a recipe is baked with `texbake bake`"
        raise UserError("this is a recipe, not a mesh", fix=fix, path=mesh)
    where = write_starter(mesh, recipe)
    typer.echo(f"recipe: {where}")
    typer.echo(f"bake it: texbake bake {where}")


def show_version() -> None:
    """Print the version."""
    from texbake.batch import texbake_version

    typer.echo(texbake_version())
