"""What several commands share: their arguments and options, and the line of progress."""

import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from texbake.errors import UserError

if TYPE_CHECKING:
    from texbake.store import Store

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
NoCache = Annotated[
    bool, typer.Option("--no-cache", help="Work all out anew; keep nothing for the next time.")
]
Threads = Annotated[int | None, typer.Option("--threads", min=1, help="All cores if not given.")]


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


def store_of(no_cache: bool) -> "Store":
    """Where slow steps are kept."""
    from texbake.store import Store, default_folder

    return Store() if no_cache else Store(folder=default_folder())


class Progress:
    """One line on the error stream that says how far the work is; silent where none looks."""

    def __init__(self, *, shown: bool) -> None:
        self.shown = shown and sys.stderr is not None and sys.stderr.isatty()
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


@contextmanager
def telling(*, quiet: bool) -> Iterator[tuple[Progress, Callable[[str], None]]]:
    """Give what shows progress and what prints notes; the line of progress is empty afterwards."""
    progress = Progress(shown=not quiet)

    def note(sentence: str) -> None:
        if not quiet:
            progress.clear()
            typer.echo(f"note: {sentence}", err=True)

    try:
        yield progress, note
    finally:
        progress.clear()
