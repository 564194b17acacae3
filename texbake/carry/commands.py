"""What the command line asks, as it was typed, turned into work; and its results into text."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any, cast, get_args

from texbake.carry.coding import Green, Kind
from texbake.carry.last import NO_SIZES, copied, is_record, recorded_sheet
from texbake.carry.resample import Report
from texbake.carry.run import Asked, Say, carry_files
from texbake.carry.sheet import Sheet, read_sheet
from texbake.carry.way import way_between
from texbake.change.store import BEFORE
from texbake.convert.many import Made
from texbake.errors import UserError
from texbake.layout.build import SIZES_PX
from texbake.recipe import load
from texbake.recipe.mistake import advice
from texbake.recipe.units import LENGTH
from texbake.recipe.values import Up

RECIPES = (".yaml", ".yml")
_MOST_GUTTER = 256


def asked(*, kind: str | None, green: str | None, size: int | None, gutter: int) -> Asked:
    """Check what is asked of all pictures.

    Raises
    ------
    UserError
        For a word or a number that is none that is allowed.
    """
    if kind is not None:
        _check("--kind", kind, get_args(Kind))
    if green is not None:
        _check("--green", green, get_args(Green))
    low, high = SIZES_PX
    if size is not None and not low <= size <= high:
        raise UserError(f"--size is {size}", fix=f"give {low} to {high} texels, as in --size 2048")
    if gutter > _MOST_GUTTER:
        raise UserError(f"--gutter is {gutter}", fix=f"give 0 to {_MOST_GUTTER} texels")
    return Asked(
        kind=cast("Kind | None", kind),
        green=cast("Green | None", green),
        size_px=size,
        gutter_px=gutter,
    )


def sheet(
    path: Path, *, option: str, unit: str | None, up: str, uv_set: int
) -> tuple[Sheet, Mapping[str, int]]:
    """Read one of the two meshes, the mesh of a recipe as the recipe says, or what was baked last.

    Parameters
    ----------
    path : Path
    option : str
        "from" or "to", for messages.
    unit : str or None
        A word that recipes know; None: by the format.
    up : str
        The axis that points up.
    uv_set : int

    Returns
    -------
    sheet : Sheet
    sizes : mapping of str to int
        Widths of pictures by name, where a record has them.

    Raises
    ------
    UserError
        For a word that is not known, a mesh that cannot be used, or a faulty recipe.
    """
    if option == "from" and is_record(path):
        return recorded_sheet(path)
    return _sheet(path, option, unit, up, uv_set), NO_SIZES


def _sheet(path: Path, option: str, unit: str | None, up: str, uv_set: int) -> Sheet:
    """Read a mesh, or that of a recipe."""
    if path.suffix.lower() in RECIPES:
        recipe = next(iter(load(path).colourways.values()))
        if not recipe.mesh.exists():
            raise _lost(recipe.mesh, option)
        return read_sheet(
            recipe.mesh,
            unit_mm=recipe.mesh_unit_mm,
            up=recipe.up,
            uv_set=recipe.uv_set,
            tile=recipe.tile if "tile" in recipe.lines else None,
        )
    if not path.exists():
        raise _lost(path, option)
    _check(f"--{option}-up", up, get_args(Up))
    if unit is not None:
        _check(f"--{option}-unit", unit, tuple(LENGTH.units))
    unit_mm = None if unit is None else LENGTH.units[unit]
    return read_sheet(path, unit_mm=unit_mm, up=cast("Up", up), uv_set=uv_set)


def _lost(path: Path, option: str) -> UserError:
    """Return the complaint about a mesh that is not there."""
    from texbake.garment.read import missing_cure

    cure = missing_cure(path)
    if option == "from":
        cure += "; if it is lost, name the folder of its sets, OUT/GARMENT, or once the new layout "
        cure += f"is baked, OUT/GARMENT/{BEFORE}"
    return UserError(f"--{option}: there is no such file", fix=cure, path=path)


def carry(
    pictures: Sequence[Path],
    old: tuple[Sheet, Mapping[str, int]],
    new: tuple[Sheet, Mapping[str, int]],
    what: Asked,
    *,
    out: Path,
    threads: int,
    report: Report,
    say: Say,
) -> tuple[Made, ...]:
    """Do what ``texbake carry`` is asked, with what `sheet` gave; see `carry_files`."""
    report("match", 0.0)
    way = way_between(old[0], new[0])
    what = replace(what, sizes=old[1], notes=copied(old[0], new[0]))
    return carry_files(pictures, way, what, out=out, threads=threads, report=report, say=say)


def _check(option: str, word: str, known: Sequence[str]) -> None:
    """Raise UserError for a word that is not known."""
    if word not in known:
        allowed = f"allowed: {', '.join(known)}"
        raise UserError(f"{option}: {word!r} is not known", fix=advice(word, known, allowed))


def as_json(made: Made) -> dict[str, Any]:
    """Return what there is to know of one picture, for JSON."""
    return {
        "source": made.source.as_posix(),
        "file": made.files[0].as_posix(),
        "facts": list(made.facts),
        "notes": list(made.notes),
    }
