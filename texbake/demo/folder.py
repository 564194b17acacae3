"""Where the demo's recipes lie, and how a user gets a copy of them to play with."""

from importlib import resources
from pathlib import Path
from typing import Final

from texbake.deliver.trouble import told
from texbake.errors import UserError

BUDGET: Final = "budget.yaml"  # beside the recipes, for `texbake check`


def demo_folder() -> Path:
    """Return the folder of the shipped recipes, meshes in ``meshes`` beside them.

    An installed wheel has them inside the package; a checkout in ``recipes`` at its top.
    """
    inside = Path(str(resources.files("texbake.demo"))) / "recipes"
    return inside if inside.is_dir() else Path(__file__).resolve().parents[2] / "recipes"


def demo_files() -> list[Path]:
    """Return the files of the demo, from its folder on: recipes, meshes, the budget."""
    folder = demo_folder()
    recipes = [path for path in sorted(folder.glob("*.yaml")) if path.name != BUDGET]
    found = [*recipes, *sorted(folder.glob("meshes/*.obj")), folder / BUDGET]
    return [path.relative_to(folder) for path in found]


def copy_demo(target: Path) -> list[Path]:
    """Copy the recipes, their meshes and the budget to a folder of the user's.

    Parameters
    ----------
    target : Path
        Made if it is not there. A file that is there already and the same is left alone.

    Returns
    -------
    list of Path
        Where the files are now: recipes first, then meshes, then the budget.

    Raises
    ------
    UserError
        If a file of the same name is there with other contents. Nothing is copied then.
    MachineError
        If the disk is full or may not be written to.
    """
    source = demo_folder()
    with told(target):
        wanted = {target / name: (source / name).read_bytes() for name in demo_files()}
        there = [path for path in wanted if path.exists()]
        changed = [
            path for path in there if not path.is_file() or path.read_bytes() != wanted[path]
        ]
    if changed:
        names = ", ".join(path.relative_to(target).as_posix() for path in changed)
        raise UserError(
            f"not the demo's own files: {names}",
            fix="copy the demo to another folder, or move those files away",
            path=target,
        )
    for path, data in wanted.items():
        if path not in there:
            _place(path, data)
    return list(wanted)


def _place(path: Path, data: bytes) -> None:
    """Write a file under another name first, so that it is never half there."""
    part = path.with_name(f"{path.name}.part")
    with told(path):
        path.parent.mkdir(parents=True, exist_ok=True)
        part.write_bytes(data)
        part.replace(path)
