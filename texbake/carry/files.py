"""Pictures from files, and carried ones into files: whole, and never over a file of the user's."""

import os
from collections.abc import Mapping, Sequence
from contextlib import suppress
from pathlib import Path
from typing import BinaryIO, Final

import numpy as np

from texbake.arrays import U8, U16
from texbake.carry.kinds import Known
from texbake.carry.tiff import is_ours, write_tiff
from texbake.convert.mark import Mark, add_mark, read_mark
from texbake.convert.pictures import picture_size, read_samples
from texbake.deliver.png import write_png_rows
from texbake.deliver.trouble import told
from texbake.errors import UserError, UserErrors
from texbake.layout.build import SIZES_PX

PNG: Final = (".png",)
TIFF: Final = (".tif", ".tiff")


def targets(paths: Sequence[Path], out: Path) -> Mapping[Path, Path]:
    """Say where each picture goes.

    Parameters
    ----------
    paths : sequence of Path
    out : Path
        For one picture its new name, if it ends in .png, .tif or .tiff; else a folder, where
        pictures keep their names. What is neither PNG nor TIFF becomes a PNG.

    Raises
    ------
    UserError
        If names are of another kind, or equal.
    """
    suffix = out.suffix.lower()
    if suffix in PNG + TIFF and not out.is_dir():
        if len(paths) > 1:
            fix = f"name a folder, as in -o {out.with_suffix('')}"
            raise UserError(f"-o: {len(paths)} pictures cannot all become {out.name}", fix=fix)
        return {paths[0]: out}
    if suffix in {".jpg", ".jpeg", ".exr", ".bmp", ".tga", ".webp"} and not out.is_dir():
        fix = f"name it {out.with_suffix('.png').name} or {out.with_suffix('.tif').name}"
        raise UserError(f"-o: pictures are written as PNG or TIFF, not {suffix}", fix=fix)
    plan: dict[Path, Path] = {}
    taken: dict[str, Path] = {}
    for path in paths:
        kept = path.suffix.lower() in PNG + TIFF
        name = path.name if kept else f"{path.stem}.png"
        if name.casefold() in taken:
            raise UserError(
                f"{taken[name.casefold()]} and {path} would give files of the same name",
                fix="carry them one at a time",
            )
        taken[name.casefold()] = path
        plan[path] = out / name
    return plan


def refuse(plan: Mapping[Path, Path], also: Sequence[Path] = ()) -> None:
    """Complain if a picture would take the place of what is read, or of a stranger's.

    Parameters
    ----------
    plan : mapping of Path to Path
        Pictures to read, and where each goes.
    also : sequence of Path
        Other files that are read.
    """
    for target in plan.values():
        if not target.exists():
            continue
        for other in (*plan, *also):
            if other.exists() and target.samefile(other):
                raise UserError(
                    f"{target.name} would be written over {other}, which is read",
                    fix="choose another name or folder with -o",
                    path=target,
                )
        if not target.is_file() or not _ours(target):
            raise UserError(
                "a file that was not made by this command is there already",
                fix="choose another name or folder with -o, or move that file away",
                path=target,
            )


def _ours(path: Path) -> bool:
    """Say whether a picture was carried, or made by another command of ours, and not repainted."""
    with told(path):
        if path.suffix.lower() in TIFF:
            with path.open("rb") as file:
                return is_ours(file)
        return read_mark(path) is not None


def checked_sizes(paths: Sequence[Path], sizes: Mapping[str, int]) -> Mapping[Path, int]:
    """Return the width of each picture; complain about all that cannot be carried, at once.

    Parameters
    ----------
    paths : sequence of Path
    sizes : mapping of str to int
        Widths by file name, as a record has them.

    Raises
    ------
    UserError
        If one cannot be read, is not square, is too small or too large, or of another size than
        was recorded.
    """
    widths: dict[Path, int] = {}
    wrong: list[UserError] = []
    for path in paths:
        try:
            widths[path] = _square(path, picture_size(path), sizes.get(path.name))
        except UserError as error:
            wrong.append(error)
    if wrong:
        raise wrong[0] if len(wrong) == 1 else UserErrors(wrong)
    return widths


def _square(path: Path, size: tuple[int, int], recorded: int | None) -> int:
    """Return a picture's width, if it can be carried."""
    height, width = size
    if height != width:
        raise UserError(
            f"it is {width} x {height}; a picture of a UV layout is square",
            fix="paint on a square picture, or crop this one to the square that shows u and v 0..1",
            path=path,
        )
    low, high = SIZES_PX
    if not low <= width <= high:
        fix = f"sizes from {low} to {high} texels can be carried"
        raise UserError(f"it is {width} texels wide", fix=fix, path=path)
    if recorded is not None and recorded != width:
        raise UserError(
            f"it is {width} texels wide, but the record says {recorded}",
            fix="name the mesh it was painted on with --from instead, if it was resized on purpose",
            path=path,
        )
    return width


def read_codes(path: Path) -> U8 | U16:
    """Read a picture as codes with all its channels, (H, W, C).

    Raises
    ------
    UserError
        If it cannot be read, or holds floats.
    """
    samples, key = read_samples(path)
    if samples.dtype not in (np.uint8, np.uint16):
        raise UserError(
            "its samples are floats, which cannot be carried",
            fix="save it with 8 or 16 bits, as PNG or TIFF",
            path=path,
        )
    if isinstance(key, (int, tuple)):
        there = samples != np.asarray(key, samples.dtype)
        there = there if samples.ndim == 2 else there.any(axis=2)
        alpha = np.where(there, np.iinfo(samples.dtype).max, 0).astype(samples.dtype)
        samples = np.dstack([samples, alpha])
    return samples[..., None] if samples.ndim == 2 else samples


def write_codes(target: Path, image: U8 | U16, known: Known) -> None:
    """Write a carried picture, with what it is.

    Raises
    ------
    MachineError
        If it cannot be written. What was there before is then as it was.
    """
    part = target.with_name(f".{target.name}.part-{os.getpid()}")
    with told(target):
        target.parent.mkdir(parents=True, exist_ok=True)
        try:
            with part.open("w+b") as file:
                if target.suffix.lower() in TIFF:
                    write_tiff(file, image)
                else:
                    _write_png(file, image, known)
                file.flush()
                os.fsync(file.fileno())
            part.replace(target)
        finally:
            with suppress(OSError):
                part.unlink(missing_ok=True)


def _write_png(file: BinaryIO, image: U8 | U16, known: Known) -> None:
    """Write a PNG and its mark."""
    bits = image.itemsize * 8
    write_png_rows(
        file, lambda band: image[band], image.shape, bits=bits, srgb=known.kind == "colour"
    )
    kind = f"normal-{known.green}" if known.kind == "normal" else f"carried-{known.kind}"
    add_mark(file, Mark(kind=kind))
