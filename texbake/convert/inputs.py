"""Which pictures to read, and what the pictures made from them are called."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from texbake.convert.mark import read_mark
from texbake.convert.pictures import SUFFIXES
from texbake.deliver import read_record
from texbake.deliver.naming import fault_of
from texbake.deliver.trouble import told
from texbake.errors import UserError

# Ends of the names of normal maps that a bake or this command wrote.
NORMALS: Final = ("normal-up", "normal-down")


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """A picture to read, and the name of what is made from it.

    Attributes
    ----------
    path : Path
    base : Path
        Without what tells the kind, and without an ending.
    exact : Path or None
        The name of a file that the user gave.
    """

    path: Path
    base: Path
    exact: Path | None = None

    def named(self, kind: str, *, alone: bool) -> Path:
        """Return where the picture of a kind goes; ``alone``: nothing else is made of this."""
        if alone and self.exact is not None:
            return self.exact
        return self.base.with_name(f"{self.base.name}_{kind}.png")


def sources(paths: Sequence[Path], out: Path | None, *, normals: bool) -> tuple[Source, ...]:
    """Return the pictures to read, those in folders too, and what to call what is made of them.

    Parameters
    ----------
    paths : sequence of Path
        Pictures and folders. Of a folder, and of those in it, height maps are taken, or normal
        maps: of a baked set those of its record, else by name. Of a pair of normal maps that
        differ in green, the green-up one is taken.
    out : Path, optional
        The name for one picture; for several, or if it is a folder or ends like one, the folder.
    normals : bool
        Take normal maps from folders, not height maps.

    Raises
    ------
    UserError
        If there is nothing to read, or two would get the same name.
    """
    found: list[tuple[Path, Path]] = []  # with the place below the folder that was named
    for path in paths:
        if path.is_dir():
            inside = _inside(path, normals=normals)
            found += [(one, one.relative_to(path)) for one in inside]
        else:
            found.append((path, Path(path.name)))
    one = len(found) == 1 and not (len(paths) == 1 and paths[0].is_dir())
    exact = out if one and out is not None and _is_file_name(out) else None
    named = tuple(
        Source(path=p, base=_base(p, place, out, one=one), exact=exact) for p, place in found
    )
    _refuse_twins(named)
    return named


def _inside(folder: Path, *, normals: bool) -> list[Path]:
    """Return the pictures of a folder and of those in it, in order."""
    with told(folder):
        files = sorted(p for p in folder.rglob("*") if p.suffix.lower() in SUFFIXES)
        wanted = [p for p in files if p.is_file() and _is_wanted(p, normals=normals)]
    ups = {str(p.with_suffix("")) for p in wanted}
    wanted = [p for p in wanted if str(_other_of_pair(p)) not in ups]
    if not wanted:
        kind = "normal maps" if normals else "height maps"
        raise UserError(
            f"there are no {kind} in this folder",
            fix=f"name one, or a folder with {kind}: {', '.join(SUFFIXES)}",
            path=folder,
        )
    return wanted


def _other_of_pair(path: Path) -> Path | None:
    """Return the green-up map that a green-down one is the twin of, without its ending."""
    up, down = NORMALS
    if not path.stem.endswith(down):
        return None
    return path.with_name(path.stem.removesuffix(down) + up)


def _is_wanted(path: Path, *, normals: bool) -> bool:
    """Say whether a picture in a folder is of the kind to read."""
    if path.name.startswith("."):
        return False
    mark = read_mark(path)
    if mark is not None:
        return mark.kind.startswith("normal") == normals
    try:
        record = read_record(path.parent)
    except UserError:
        record = None
    if record is not None:
        wanted = ("normal-up",) if normals else ("height",)
        return any(m.file == path.name and m.map in wanted for m in record.maps)
    return path.stem.endswith(NORMALS) == normals


def _base(path: Path, place: Path, out: Path | None, *, one: bool) -> Path:
    """Return where what is made of a picture goes, without what tells the kind."""
    if out is None:
        return path.with_suffix("")
    if not one or out.is_dir() or str(out).endswith(("/", "\\")):
        return out / place.with_suffix("")
    base = out.with_suffix("") if _is_file_name(out) else out
    fault = fault_of(base.name)
    if fault is not None:
        raise UserError(
            f"-o: {base.name!r} cannot be used for files: {fault}",
            fix="use letters, digits, '-', '_' and '.', starting with a letter or digit",
        )
    return base


def _is_file_name(out: Path) -> bool:
    """Say whether a name is that of a file, with its ending."""
    return out.suffix.lower() == ".png" and not out.is_dir()


def _refuse_twins(named: Sequence[Source]) -> None:
    """Complain if two pictures would give files of the same name, on some system."""
    seen: dict[str, Path] = {}
    for source in named:
        key = str(source.base).casefold()
        if key in seen:
            raise UserError(
                f"{seen[key]} and {source.path} would give files of the same name",
                fix="convert them one at a time, with -o",
            )
        seen[key] = source.path
