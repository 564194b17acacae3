"""The user's own recipe file, changed because they asked for it, whole or not at all."""

import os
import shutil
from dataclasses import dataclass
from pathlib import Path

from texbake.change.last import Last
from texbake.change.rewrite import rewritten, updated
from texbake.deliver import told
from texbake.errors import UserError
from texbake.garment.values import Garment

_BOM = b"\xef\xbb\xbf"


@dataclass(frozen=True, slots=True, kw_only=True)
class Renewal:
    """A change of a recipe's file that is ready to be made.

    Attributes
    ----------
    path : Path
    before, after : bytes
        What is in the file, and what will be.
    last : Last
        What is to be remembered then.
    told : tuple of str
        What the user should know.
    """

    path: Path
    before: bytes
    after: bytes
    last: Last
    told: tuple[str, ...]


def renewal(last: Last, garment: Garment) -> Renewal:
    """Work out how a recipe's file has to change, so that it finds the panels by itself.

    Raises
    ------
    UserError
        If it cannot be changed safely.
    MachineError
        If it cannot be read.
    """
    path = last.written.path
    with told(path):
        before = path.read_bytes()
    mark = _BOM if before.startswith(_BOM) else b""
    text = before.removeprefix(_BOM).decode()
    new, left = rewritten(last, garment, text)
    if new == text:
        said = f"{path.name} says already where its panels are"
        return Renewal(path=path, before=before, after=before, last=last, told=(*left, said))
    return Renewal(
        path=path,
        before=before,
        after=mark + new.encode(),
        last=updated(last, garment, new),
        told=(*left, f"{path.name} names its panels by the islands that they are now"),
    )


def carry_out(change: Renewal) -> None:
    """Write a recipe's file.

    Raises
    ------
    UserError
        If it was changed in the meantime.
    MachineError
        If it cannot be written; it is then as it was.
    """
    if change.after == change.before:
        return
    path = change.path.resolve()
    part = path.with_name(f".{path.name}.part")
    with told(change.path):
        if path.read_bytes() != change.before:
            raise UserError(
                "--update-recipe: the recipe was changed while it was baked, and was left alone",
                fix="bake again with --update-recipe",
                path=change.path,
            )
        with part.open("wb") as file:
            file.write(change.after)
            file.flush()
            os.fsync(file.fileno())
        shutil.copymode(path, part)
        part.replace(path)
