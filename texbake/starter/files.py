"""Reading a mesh for its first recipe, and writing that."""

import os
from pathlib import Path
from types import MappingProxyType

from texbake.deliver import machine_error
from texbake.errors import UserError
from texbake.garment.build import build_garment
from texbake.garment.read import read_mesh
from texbake.recipe.axes import default_unit_mm
from texbake.recipe.values import Colour, Fabric, Plain, Recipe, Yarn
from texbake.starter.text import starter_recipe


def bare_recipe(mesh: Path, *, size_px: int = 1024) -> Recipe:
    """Return a recipe that says nothing of a mesh: all islands are panels, the unit is usual.

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
        If the file cannot be written.
    """
    path = Path(f"{mesh.stem}.yaml") if recipe is None else recipe
    if path.exists():
        raise _taken(path)
    read = read_mesh(mesh, unit_mm=None, up="y", tile=(0, 0))
    text = starter_recipe(
        build_garment(read, path=mesh),
        name=mesh.stem,
        mesh=_seen_from(path.parent, mesh),
        unit_mm=default_unit_mm(mesh),
    )
    try:
        with path.open("x", encoding="utf-8", newline="\n") as file:
            file.write(text)
    except FileExistsError:
        raise _taken(path) from None
    except OSError as error:
        raise machine_error(error, path) from error
    return path


def _taken(path: Path) -> UserError:
    fix = "choose another name with --recipe, or move that file away"
    return UserError("a file of this name is there already", fix=fix, path=path)


def _seen_from(folder: Path, mesh: Path) -> str:
    """Return the mesh's path as a recipe in ``folder`` writes it."""
    try:
        return Path(os.path.relpath(mesh, folder)).as_posix()
    except ValueError:  # on another drive
        return mesh.resolve().as_posix()
