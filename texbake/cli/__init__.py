"""The command line: parse, call, print. The only package that prints or exits.

Exit codes: 0 done, 1 a check found faults, 2 the user's input is wrong, 3 the machine failed. Each
group of commands is a module; a command is registered here, in the order that ``--help`` shows.
"""

import os
import sys
import threading
from collections.abc import Callable
from contextlib import suppress

import typer

from texbake.cli.bake import bake, demo
from texbake.cli.cache import cache
from texbake.cli.carry import carry
from texbake.cli.check import check
from texbake.cli.convert import height, inspect, normal
from texbake.cli.look import panels, show
from texbake.cli.range import show_range
from texbake.cli.start import new, show_version
from texbake.cli.swatch import swatch
from texbake.errors import MachineError, UserError

__all__ = ["app", "guarded", "main", "program"]

_AT_EXIT = frozenset(
    ("bdb", "coverage", "cProfile", "distributed", "multiprocessing", "profile", "trace")
)

app = typer.Typer(
    name="texbake",
    help="Bake matched texture maps of sewn cloth from a YAML recipe and a garment mesh.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
)
app.command()(bake)
app.command()(check)
app.command()(panels)
app.command()(show)
app.command(name="range")(show_range)
app.command()(swatch)
app.command()(new)
app.command()(demo)
app.command()(carry)
app.command()(normal)
app.command()(height)
app.command()(inspect)
app.command()(cache)
app.command(name="version")(show_version)


def main() -> None:
    """Run the command line; turn what the user can mend into a message and an exit code."""
    sys.exit(guarded(app))


def program() -> None:
    """Be the program ``texbake``: `main`, and then end at once.

    Python would first take all its modules apart, 75 ms, for memory that the system takes back
    anyway. It still does where others may have left something to be done.
    """
    try:
        main()
    except SystemExit as ended:
        others = not _AT_EXIT.isdisjoint(sys.modules) or threading.active_count() > 1
        if not others and isinstance(ended.code, int | None):
            with suppress(OSError):  # whom the words were for has gone: Python tells
                for stream in (sys.stdout, sys.stderr):
                    if stream is not None:  # closed before it began
                        stream.flush()
                os._exit(ended.code or 0)
        raise


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
