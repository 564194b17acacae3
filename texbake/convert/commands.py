"""What the command line asks, as it was typed, turned into work; and its results into text."""

from collections.abc import Sequence
from pathlib import Path
from typing import Any, cast

from texbake.convert.from_height import Asked, convert_heights
from texbake.convert.from_normal import (
    AskedHeight,
    flip_greens,
    inspect_files,
    recover_heights,
    sentences,
)
from texbake.convert.many import Made, Report, Say
from texbake.convert.scale import AskedScale
from texbake.convert.values import EDGES, KERNELS, MOST_SMOOTH, Bits, Edge, Green, Kernel
from texbake.errors import UserError
from texbake.recipe.mistake import advice


def normal(
    paths: Sequence[Path],
    *,
    scale: AskedScale,
    green: str = "both",
    edge: str | None = None,
    kernel: str = "true",
    smooth: float = 0.0,
    mend: bool = False,
    bits: int = 8,
    dither: bool = False,
    flip_green: bool = False,
    out: Path | None = None,
    threads: int | None = None,
    report: Report,
    say: Say,
) -> tuple[Made, ...]:
    """Do what ``texbake normal`` is asked.

    Raises
    ------
    UserError
        For a word or a number that is none that is allowed; and see `convert_heights`.
    """
    if flip_green:
        if scale != AskedScale() or mend or smooth:
            raise UserError(
                "--flip-green only turns green over; it takes no scale, --mend or --smooth",
                fix="leave those out, or leave out --flip-green if these are height maps",
            )
        return flip_greens(paths, out=out, threads=threads, report=report, say=say)
    _check("--green", green, ("up", "down", "both"))
    _check("--kernel", kernel, KERNELS)
    _check("--bits", str(bits), ("8", "16"))
    if not 0.0 <= smooth <= MOST_SMOOTH:
        raise UserError(
            f"--smooth is {smooth:g}", fix=f"give texels, 0 to {MOST_SMOOTH:g}, as in --smooth 1"
        )
    asked = Asked(
        greens=("up", "down") if green == "both" else (cast("Green", green),),
        scale=scale,
        edge=_edge(edge),
        kernel=cast("Kernel", kernel),
        smooth_texels=smooth,
        mend=mend,
        bits=cast("Bits", bits),
        dither=dither,
    )
    return convert_heights(paths, asked, out=out, threads=threads, report=report, say=say)


def height(
    paths: Sequence[Path],
    *,
    scale: AskedScale,
    green: str | None = None,
    edge: str | None = None,
    out: Path | None = None,
    threads: int | None = None,
    report: Report,
    say: Say,
) -> tuple[Made, ...]:
    """Do what ``texbake height`` is asked.

    Raises
    ------
    UserError
        For a word that is none that is allowed; and see `recover_heights`.
    """
    if green is not None:
        _check("--green", green, ("up", "down"))
    asked = AskedHeight(scale=scale, green=cast("Green | None", green), edge=_edge(edge))
    return recover_heights(paths, asked, out=out, threads=threads, report=report, say=say)


def _edge(word: str | None) -> Edge | None:
    """Return an edge as it is."""
    if word is not None:
        _check("--edge", word, EDGES)
    return cast("Edge | None", word)


def _check(option: str, word: str, known: Sequence[str]) -> None:
    """Raise UserError for a word that is not known."""
    if word not in known:
        allowed = f"allowed: {', '.join(known)}"
        raise UserError(f"{option}: {word!r} is not known", fix=advice(word, known, allowed))


def made_lines(made: Made) -> tuple[str, ...]:
    """Return what to print of one picture."""
    files = ", ".join(str(path) for path in made.files)
    return (f"{made.source}: {'; '.join(made.facts)}", f"  {files}")


def made_json(made: Made) -> dict[str, Any]:
    """Return what there is to know of one picture, for JSON."""
    return {
        "source": made.source.as_posix(),
        "files": [path.as_posix() for path in made.files],
        "facts": list(made.facts),
        "notes": list(made.notes),
        "steepest_deg": made.steepest_deg,
        "depth_mm": made.depth_mm,
        "texel_mm": made.texel_mm,
    }


def inspected(paths: Sequence[Path]) -> list[tuple[tuple[str, ...], dict[str, Any]]]:
    """Look at normal maps; return for each what to print, and the same for JSON.

    Raises
    ------
    UserError
        See `inspect_files`.
    """
    return [
        ((f"{path}:", *(f"  {line}" for line in sentences(seen))), seen.as_json(path))
        for path, seen in inspect_files(paths)
    ]
