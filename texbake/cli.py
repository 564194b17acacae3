"""The command line: parse, call, print. The only module that prints or exits.

Exit codes: 0 done, 2 the user's input is wrong, 3 the machine failed.
"""

import json
import sys
import time
from collections.abc import Callable, Collection, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from texbake.errors import MachineError, UserError

if TYPE_CHECKING:
    from texbake.convert.many import Made

app = typer.Typer(
    name="texbake",
    help="Bake matched texture maps of sewn cloth from a YAML recipe and a garment mesh.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
)

RecipePath = Annotated[Path, typer.Argument(metavar="RECIPE", help="The recipe, a YAML file.")]
MeshPath = Annotated[Path, typer.Argument(metavar="MESH", help="OBJ, glTF, GLB or PLY with UVs.")]
Out = Annotated[
    Path, typer.Option("--out", metavar="FOLDER", help="Sets go to FOLDER/GARMENT/COLOURWAY.")
]
Quiet = Annotated[bool, typer.Option("--quiet", help="Print nothing but errors.")]
Json = Annotated[bool, typer.Option("--json", help="Print the result as JSON.")]
MapsOnly = Annotated[
    bool, typer.Option("--maps-only", help="No view, no sheet and no GLB beside the maps.")
]
KINDS = ("view", "sheet", "glb")


def _pixels(text: str) -> int:
    """Read a number of texels."""
    try:
        return int(text)
    except ValueError:
        fix = "write a power of two, 16 to 16384, as in --size 1024"
        raise UserError(f"--size: {text!r} is no whole number", fix=fix) from None


Size = Annotated[
    int | None,
    typer.Option("--size", metavar="PX", parser=_pixels, help="Stands for the recipe's size."),
]


RECIPES = (".yaml", ".yml")


class Progress:
    """One line on the error stream that says how far the work is; silent where none looks."""

    def __init__(self, *, shown: bool) -> None:
        self.shown = shown and sys.stderr.isatty()
        self.last = 0.0

    def __call__(self, stage: str, share: float) -> None:
        """Show a stage and its share, ten times a second at most."""
        now = time.monotonic()
        if not self.shown or (0.0 < share < 1.0 and now - self.last < 0.1):
            return
        self.last = now
        bar = "#" * round(24 * share)
        sys.stderr.write(f"\r{stage:<8} [{bar:<24}] {share:4.0%}")
        sys.stderr.flush()

    def clear(self) -> None:
        """Leave the line empty."""
        if self.shown:
            sys.stderr.write("\r" + " " * 44 + "\r")
            sys.stderr.flush()


@app.command()
def bake(
    recipe: RecipePath,
    *,
    out: Out = Path("out"),
    size: Size = None,
    colourway: Annotated[
        list[str] | None, typer.Option("--colourway", metavar="NAME", help="Only this; repeatable.")
    ] = None,
    threads: Annotated[
        int | None, typer.Option("--threads", min=1, help="All cores if not given.")
    ] = None,
    maps_only: MapsOnly = False,
    quiet: Quiet = False,
    as_json: Json = False,
) -> None:
    """Bake a recipe's map sets: albedo, roughness, metal, both normals, height, occlusion.

    Beside the maps of each colourway go a picture of the dressed garment, a sheet of all maps, and
    a GLB that any viewer opens.

    Example: texbake bake recipes/ferry-vest.yaml --size 1024
    """
    beside = () if maps_only else KINDS
    _bake(recipe, out, size, colourway or [], threads, beside, quiet=quiet, as_json=as_json)


def _bake(
    recipe: Path,
    out: Path,
    size: int | None,
    colourway: list[str],
    threads: int | None,
    beside: Collection[str],
    *,
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


@app.command()
def panels(
    mesh: Annotated[
        Path, typer.Argument(metavar="MESH|RECIPE", help="A mesh, or a recipe with its panels.")
    ],
    *,
    picture: Annotated[
        Path | None, typer.Option("--picture", metavar="PNG", help="Where the picture goes.")
    ] = None,
    size: Size = None,
    as_json: Json = False,
) -> None:
    """List a garment's panels, and draw them: numbers, grain, seams and hems.

    Example: texbake panels recipes/meshes/ferry-vest.obj --picture panels.png
    """
    from texbake import chart
    from texbake.bake import read_garment
    from texbake.batch import checked_size, chosen
    from texbake.layout import lay_out
    from texbake.recipe import load
    from texbake.starter import bare_recipe

    where = picture or Path(f"{mesh.stem}-panels.png")
    if where.suffix.lower() != ".png":
        fix = f"name it {where.with_suffix('.png').name}"
        raise UserError("--picture: a picture of panels is a PNG", fix=fix, path=where)
    if mesh.suffix.lower() in RECIPES:
        recipe = next(iter(chosen(load(mesh), [], size).values()))
    else:
        recipe = bare_recipe(mesh, size_px=1024 if size is None else checked_size(size))
    garment = read_garment(recipe)
    layout = lay_out(garment, recipe.size_px, gutter_px=0)
    rows = chart.panel_rows(garment, layout)
    chart.write_picture(where, chart.picture(garment, layout))
    if as_json:
        typer.echo(json.dumps(chart.as_json(rows), indent=2))
        return
    typer.echo(chart.table(rows))
    for sentence in garment.notes:
        typer.echo(f"note: {sentence}", err=True)
    typer.echo(f"picture: {where}")


@app.command()
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
    threads: Annotated[
        int | None, typer.Option("--threads", min=1, help="All cores if not given.")
    ] = None,
    quiet: Quiet = False,
) -> None:
    """Draw the garment in its cloth: the baked set, or a quick bake where there is none.

    Example: texbake show recipes/ferry-vest.yaml --view front --view three-quarter
    """
    from texbake.chart import write_picture
    from texbake.showing import show_recipe

    progress = Progress(shown=not quiet)

    def note(sentence: str) -> None:
        if not quiet:
            progress.clear()
            typer.echo(f"note: {sentence}", err=True)

    try:
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
        )
    finally:
        progress.clear()
    where = picture or Path(shown.name)
    write_picture(where, shown.picture)
    if not quiet:
        typer.echo(f"picture: {where}")


@app.command()
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


@app.command()
def demo(
    folder: Annotated[
        Path, typer.Argument(metavar="FOLDER", help="Where recipes and meshes go.")
    ] = Path("ferry-uniform"),
    *,
    out: Out = Path("out"),
    size: Size = None,
    maps_only: MapsOnly = False,
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
            _bake(path, out, size, [], None, beside, quiet=quiet, as_json=False)


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
Threads = Annotated[int | None, typer.Option("--threads", min=1, help="All cores if not given.")]
Width = Annotated[
    str | None, typer.Option("--width", metavar="LENGTH", help="The whole picture, as in 20cm.")
]


@app.command()
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


@app.command()
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


@app.command()
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


@app.command(name="version")
def show_version() -> None:
    """Print the version."""
    from texbake.batch import texbake_version

    typer.echo(texbake_version())


def main() -> None:
    """Run the command line; turn what the user can mend into a message and an exit code."""
    sys.exit(guarded(app))


def guarded(run: Callable[[], object]) -> int:
    """Run and return the exit code."""
    try:
        run()
    except MachineError as error:
        typer.echo(f"{error}", err=True)
        return 3
    except UserError as error:
        typer.echo(f"{error}", err=True)
        return 2
    except MemoryError:
        typer.echo("out of memory\n  fix: bake at a smaller size: --size 2048", err=True)
        return 3
    return 0


if __name__ == "__main__":
    main()
