"""`carry`: painted pictures from the old UV layout to the new."""

import json
import os
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from texbake.cli.terms import Json, Progress, Quiet, Size, Threads

if TYPE_CHECKING:
    from texbake.convert.many import Made

Pictures = Annotated[
    list[Path], typer.Argument(metavar="PICTURE...", help="PNG or TIFF, of 8 or 16 bits.")
]


def carry(
    pictures: Pictures,
    *,
    old: Annotated[
        Path,
        typer.Option(
            "--from",
            metavar="OLD",
            help="The mesh painted on, its recipe, or OUT/GARMENT of its last bake.",
        ),
    ],
    new: Annotated[
        Path, typer.Option("--to", metavar="NEW", help="The mesh as it is now, or its recipe.")
    ],
    out: Annotated[
        Path, typer.Option("-o", "--out", metavar="NAME", help="The new picture, or a folder.")
    ],
    kind: Annotated[
        str | None,
        typer.Option(
            "--kind",
            metavar="colour|data|normal",
            help="What the names do not tell, or tell wrong.",
        ),
    ] = None,
    green: Annotated[
        str | None,
        typer.Option("--green", metavar="up|down", help="Of normals. glTF: up. DirectX: down."),
    ] = None,
    size: Size = None,
    gutter: Annotated[
        int, typer.Option("--gutter", metavar="PX", min=0, help="Texels round each island.")
    ] = 16,
    from_unit: Annotated[
        str | None, typer.Option("--from-unit", metavar="UNIT", help="mm, cm, m or in.")
    ] = None,
    to_unit: Annotated[
        str | None, typer.Option("--to-unit", metavar="UNIT", help="By the format if not given.")
    ] = None,
    from_up: Annotated[
        str, typer.Option("--from-up", metavar="AXIS", help="Axis that points up: y, z, -x ...")
    ] = "y",
    to_up: Annotated[
        str, typer.Option("--to-up", metavar="AXIS", help="Axis that points up: y, z, -x ...")
    ] = "y",
    from_uv_set: Annotated[
        int, typer.Option("--from-uv-set", metavar="N", min=0, help="glTF: TEXCOORD_N.")
    ] = 0,
    to_uv_set: Annotated[
        int, typer.Option("--to-uv-set", metavar="N", min=0, help="glTF: TEXCOORD_N.")
    ] = 0,
    threads: Threads = None,
    quiet: Quiet = False,
    as_json: Json = False,
) -> None:
    """Bring painted pictures from a garment's old UV layout to its new one, through space.

    Example: texbake carry logo_albedo.png --from old/vest.obj --to vest.obj -o carried
    """
    from texbake.carry import commands

    asked = commands.asked(kind=kind, green=green, size=size, gutter=gutter)
    progress = Progress(shown=not quiet)
    made: list[Made] = []
    try:
        progress("meshes", 0.0)
        there = commands.sheet(old, option="from", unit=from_unit, up=from_up, uv_set=from_uv_set)
        here = commands.sheet(new, option="to", unit=to_unit, up=to_up, uv_set=to_uv_set)
        commands.carry(
            pictures,
            there,
            here,
            asked,
            out=out,
            threads=threads or os.cpu_count() or 1,
            report=progress,
            say=made.append,
        )
    finally:
        progress.clear()
        if as_json:
            typer.echo(json.dumps({"pictures": [commands.as_json(m) for m in made]}, indent=2))
        _tell([] if quiet or as_json else made)


def _tell(made: "list[Made]") -> None:
    """Print what came of the pictures; notes that all share come once."""
    for one in made:
        typer.echo(f"{one.source}: {'; '.join(one.facts)}")
        typer.echo(f"  {one.files[0]}")
    told: dict[str, list[str]] = {}
    for one in made:
        for note in one.notes:
            told.setdefault(note, []).append(one.source.name)
    for note, names in told.items():
        where = "" if len(names) == len(made) else f"{', '.join(names)}: "
        typer.echo(f"note: {where}{note}", err=True)
