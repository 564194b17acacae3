"""The command line as a user meets it, in this process: arguments in; code, words and files out."""

import io
import sys
from collections.abc import Mapping
from contextlib import redirect_stderr, redirect_stdout
from dataclasses import dataclass
from pathlib import Path
from unittest import mock

from tests.tube import Placing, upright, write_tube
from texbake.cli import main

# The four lines that must do.
SHORTEST = "garment: tube\nmesh: tube.obj\nfabric: plain\ncolour: '#3d5a6c'\n"


@dataclass(frozen=True, kw_only=True)
class Run:
    """What came of a command: exit code, standard output, error stream."""

    code: int
    out: str
    err: str

    @property
    def mistakes(self) -> list[tuple[str, str]]:
        """What is wrong (with its place) and the cure, of every mistake told."""
        lines = [line for line in self.err.splitlines() if not line.startswith("note: ")]
        assert len(lines) % 2 == 0, self.err
        assert all(line.startswith("  fix: ") for line in lines[1::2]), self.err
        cures = [line.removeprefix("  fix: ") for line in lines[1::2]]
        return list(zip(lines[::2], cures, strict=True))

    @property
    def notes(self) -> list[str]:
        return [
            line.removeprefix("note: ")
            for line in self.err.splitlines()
            if line.startswith("note: ")
        ]


def texbake(*words: object, beside: bool = False) -> Run:
    """Run `texbake WORDS` and let nothing but SystemExit end it.

    View, sheet and GLB take seconds, so a bake makes them only if they are asked for.
    """
    out, err = io.StringIO(), io.StringIO()
    code: object = None
    argv = ["texbake", *map(str, words)]
    if words and words[0] in {"bake", "demo"} and not beside:
        argv.append("--maps-only")
    with mock.patch.object(sys, "argv", argv), redirect_stdout(out), redirect_stderr(err):
        try:
            main()
        except SystemExit as stop:
            code = stop.code
    assert isinstance(code, int), code
    return Run(code=code, out=out.getvalue(), err=err.getvalue())


def tube_recipe(
    folder: Path, text: str = SHORTEST, placing: Placing = upright, **mesh: bool | float
) -> Path:
    """Write tube.obj and a recipe beside it."""
    write_tube(folder / "tube.obj", placing, **mesh)  # type: ignore[arg-type]
    recipe = folder / "tube.yaml"
    recipe.write_text(text, encoding="utf-8")
    return recipe


def everything(folder: Path) -> Mapping[str, bytes]:
    """Every file and folder below, hidden ones too, with what is in it."""
    return {
        path.relative_to(folder).as_posix(): path.read_bytes() if path.is_file() else b"(folder)"
        for path in sorted(folder.rglob("*"))
    }


def refused(folder: Path, *words: object, code: int = 2) -> list[tuple[str, str]]:
    """Run a command that must be refused and write nothing; return its mistakes and cures."""
    before = everything(folder)
    run = texbake(*words)
    assert run.code == code, run.err
    assert "Traceback" not in run.err
    assert run.out == ""
    assert everything(folder) == before
    assert run.mistakes
    return run.mistakes


def bake_refused(
    folder: Path, text: str = SHORTEST, *words: object, placing: Placing = upright
) -> tuple[str, str]:
    """Bake a tube by a recipe that has one mistake; return it, without the folder's name."""
    recipe = tube_recipe(folder, text, placing)
    mistakes = refused(folder, "bake", recipe, "--out", folder / "sets", *words)
    assert len(mistakes) == 1, mistakes
    ((what, fix),) = mistakes
    return what.replace(f"{folder}/", ""), fix.replace(f"{folder}/", "")
