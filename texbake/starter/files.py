"""Reading a mesh for its first recipe, and writing that."""

import os
from dataclasses import replace
from pathlib import Path
from types import MappingProxyType

import numpy as np

from texbake.deliver import machine_error
from texbake.errors import UserError
from texbake.garment.build import build_garment
from texbake.garment.read import read_mesh
from texbake.garment.values import Mesh
from texbake.recipe.axes import UNIT_MM
from texbake.recipe.values import Colour, Fabric, Plain, Recipe, Yarn
from texbake.starter.text import starter_recipe


def bare_recipe(mesh: Path, *, size_px: int = 1024) -> Recipe:
    """Return a recipe that says nothing of a mesh: all islands are panels, the unit is usual.

    Islands in other UV tiles than (0, 0) are left out, with a note, as if it named the tile.

    Parameters
    ----------
    mesh : Path
        Its name stands for the recipe's in messages.
    size_px : int
    """
    yarn = Yarn(count_tex=20.0, per_cm=24.0, colour=Colour((0.5, 0.5, 0.5)))
    cloth = Fabric(name="plain", structure=Plain(), warp=yarn, weft=yarn)
    return Recipe(
        path=mesh,
        garment=mesh.stem,
        mesh=mesh.resolve(),
        fabrics=MappingProxyType({"plain": cloth}),
        fabric="plain",
        size_px=size_px,
        lines=MappingProxyType({"tile": 1}),
    )


def write_starter(mesh: Path, recipe: Path | None = None) -> Path:
    """Write a first recipe for a mesh.

    Parameters
    ----------
    mesh : Path
    recipe : Path, optional
        Where it goes; ``NAME.yaml`` in the working folder if not given.

    Returns
    -------
    Path
        Where it went.

    Raises
    ------
    UserError
        If the mesh cannot be used, or a file of the recipe's name is there already.
    MachineError
        If a file cannot be read or written.
    """
    path = Path(f"{mesh.stem}.yaml") if recipe is None else recipe
    if path.exists():
        raise _taken(path)
    _refuse_ending(mesh)
    read = _read(mesh)
    text = starter_recipe(
        build_garment(read, path=mesh),
        name=mesh.stem,
        mesh=_seen_from(path.parent, mesh),
        unit_mm=usual_unit_mm(mesh),
    )
    try:
        with path.open("x", encoding="utf-8", newline="\n") as file:
            file.write(text)
    except FileExistsError:
        raise _taken(path) from None
    except OSError as error:
        raise machine_error(error, path) from error
    return path


def usual_unit_mm(mesh: Path) -> float:
    """Return what one unit is if nothing else is said: by content, as the reader does.

    Raises
    ------
    MachineError
        If the file cannot be read.
    """
    try:
        with mesh.open("rb") as file:
            start = file.read(64).removeprefix(b"\xef\xbb\xbf").lstrip()
    except OSError as error:
        raise machine_error(error, mesh) from error
    return UNIT_MM[".glb" if start.startswith((b"glTF", b"{")) else ".obj"]


def _refuse_ending(mesh: Path) -> None:
    """Refuse a name that no recipe could write, whatever is in the file."""
    if mesh.suffix.lower() not in UNIT_MM:
        fix = f"give it a name that ends in one of {', '.join(UNIT_MM)}"
        raise UserError(f"{mesh.name!r} has no ending of a mesh file", fix=fix, path=mesh)


def _read(mesh: Path) -> Mesh:
    """Read a mesh; one that lies in several UV tiles is taken for the first of them."""
    whole = read_mesh(mesh, unit_mm=None, up="y", tile=None)
    side = np.diff(whole.uv, axis=1)
    flat = side[:, 0, 0] * side[:, 1, 1] == side[:, 0, 1] * side[:, 1, 0]
    low, high = whole.uv.min(axis=1), whole.uv.max(axis=1)
    outside = ((low >= 1.0) | (high <= 0.0)).any(axis=1)
    return replace(whole, tile=(0, 0)) if bool((outside & ~flat).any()) else whole


def _taken(path: Path) -> UserError:
    fix = "choose another name with --recipe, or move that file away"
    return UserError("a file of this name is there already", fix=fix, path=path)


def _seen_from(folder: Path, mesh: Path) -> str:
    """Return the mesh's path as a recipe in ``folder`` writes it."""
    try:
        return Path(os.path.relpath(mesh, folder)).as_posix()
    except ValueError:  # on another drive
        return mesh.resolve().as_posix()
