"""`normal`, `height` and `inspect`: pictures to pictures."""

import json
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from texbake.cli.terms import Json, Progress, Quiet, Threads

if TYPE_CHECKING:
    from texbake.convert.many import Made

Pictures = Annotated[
    list[Path], typer.Argument(metavar="PICTURE...", help="PNG, TIFF, PGM or EXR; or folders.")
]
Name = Annotated[
    Path | None,
    typer.Option("-o", "--out", metavar="NAME", help="Beside each picture if not given."),
]
Green = Annotated[
    str | None,
    typer.Option("--green", metavar="up|down", help="Up: glTF, OpenGL. Down: DirectX."),
]
Edge = Annotated[
    str | None,
    typer.Option(
        "--edge", metavar="wrap|mirror|hold", help="Past the borders; hold: slopes go on."
    ),
]
Texel = Annotated[
    str | None, typer.Option("--texel", metavar="LENGTH", help="One texel, as in 0.1mm.")
]
Width = Annotated[
    str | None, typer.Option("--width", metavar="LENGTH", help="The whole picture, as in 20cm.")
]


def normal(
    heights: Pictures,
    *,
    out: Name = None,
    green: Green = "both",
    depth: Annotated[
        str | None, typer.Option("--depth", metavar="LENGTH", help="From black to white: 2mm.")
    ] = None,
    texel: Texel = None,
    width: Width = None,
    strength: Annotated[
        float | None, typer.Option("--strength", help="By eye: depth in % of the longer side.")
    ] = None,
    edge: Edge = None,
    kernel: Annotated[
        str,
        typer.Option("--kernel", metavar="true|even|short", help="How slopes are taken."),
    ] = "true",
    smooth: Annotated[
        float, typer.Option("--smooth", metavar="TEXELS", help="A Gaussian first, for noise.")
    ] = 0.0,
    mend: Annotated[
        bool, typer.Option("--mend", help="Take out stair-steps of few levels.")
    ] = False,
    bits: Annotated[int, typer.Option("--bits", help="8 or 16.")] = 8,
    dither: Annotated[bool, typer.Option("--dither", help="Against bands of colour.")] = False,
    flip_green: Annotated[
        bool, typer.Option("--flip-green", help="The pictures are normal maps: turn green over.")
    ] = False,
    threads: Threads = None,
    quiet: Quiet = False,
    as_json: Json = False,
) -> None:
    """Turn height maps into normal maps, green up and green down.

    Example: texbake normal brick.png --depth 6mm --width 1m --edge wrap
    """
    from texbake.convert import commands
    from texbake.convert.scale import AskedScale

    scale = AskedScale(depth=depth, texel=texel, width=width, strength=strength)
    with _telling(quiet=quiet, as_json=as_json) as (progress, say):
        commands.normal(
            heights,
            scale=scale,
            green=green or "both",
            edge=edge,
            kernel=kernel,
            smooth=smooth,
            mend=mend,
            bits=bits,
            dither=dither,
            flip_green=flip_green,
            out=out,
            threads=threads,
            report=progress,
            say=say,
        )


def height(
    normals: Pictures,
    *,
    out: Name = None,
    texel: Texel = None,
    width: Width = None,
    green: Green = None,
    edge: Edge = None,
    threads: Threads = None,
    quiet: Quiet = False,
    as_json: Json = False,
) -> None:
    """Recover height maps of 16 bits from normal maps.

    Example: texbake height brick_normal-up.png --width 1m
    """
    from texbake.convert import commands
    from texbake.convert.scale import AskedScale

    with _telling(quiet=quiet, as_json=as_json) as (progress, say):
        commands.height(
            normals,
            scale=AskedScale(texel=texel, width=width),
            green=green,
            edge=edge,
            out=out,
            threads=threads,
            report=progress,
            say=say,
        )


@contextmanager
def _telling(*, quiet: bool, as_json: bool) -> Iterator[tuple[Progress, Callable[["Made"], None]]]:
    """Give what is told of pictures, and print it."""
    from texbake.convert import commands

    progress = Progress(shown=not quiet)
    made: list[Made] = []
    try:
        yield progress, made.append
    finally:
        progress.clear()
        if as_json:
            typer.echo(json.dumps({"pictures": [commands.made_json(m) for m in made]}, indent=2))
        for one in [] if quiet or as_json else made:
            for line in commands.made_lines(one):
                typer.echo(line)
            for note in one.notes:
                typer.echo(f"note: {one.source.name}: {note}", err=True)


def inspect(normals: Pictures, *, as_json: Json = False) -> None:
    """Say of normal maps which way green points, how long vectors are, and if they wrap.

    Example: texbake inspect brick_normal.png
    """
    from texbake.convert import commands

    seen = commands.inspected(normals)
    if as_json:
        typer.echo(json.dumps({"pictures": [data for _, data in seen]}, indent=2))
        return
    for lines, _ in seen:
        for line in lines:
            typer.echo(line)
