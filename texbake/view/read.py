"""Maps read back from the folder of a baked set, by its record."""

from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from texbake.arrays import U8, U16
from texbake.deliver import RECORD_NAME, Record, read_record, told
from texbake.deliver.naming import OPACITY, PICTURED
from texbake.errors import UserError
from texbake.maps import MapArrays, eight_bits, to_eight

_DELIVER = "bake the recipe with delivery: everything"
_BAKE = "bake the recipe again, and show it then"


def read_set(folder: Path) -> MapArrays:
    """Read the maps of a set as they were baked; but height and normals, in 8 bits.

    Parameters
    ----------
    folder : Path
        Of one colourway: with ``record.json`` and the files that it names.

    Returns
    -------
    MapArrays

    Raises
    ------
    UserError
        If there is no set, a map is missing or damaged, or sizes differ.
    MachineError
        If a file cannot be read.
    """
    with told(folder):
        record = read_record(folder)
    if record is None:
        raise UserError(
            f"there is no {RECORD_NAME}: nothing was baked here", fix=_BAKE, path=folder
        )
    by_name = {name: _read_map(folder, record, name) for name in PICTURED}
    if record.as_baked(OPACITY) is not None:
        by_name[OPACITY] = _read_map(folder, record, OPACITY)
    shape = by_name["albedo"].shape[:2]
    for name, image in by_name.items():
        if image.shape[:2] != shape:
            sizes = " and ".join(f"{s[1]} x {s[0]}" for s in (shape, image.shape[:2]))
            raise UserError(f"maps of {sizes} px do not go together", fix=_BAKE, path=folder / name)
    found = MapArrays(
        albedo=by_name["albedo"],
        roughness=by_name["roughness"],
        metal=by_name["metal"],
        occlusion=by_name["occlusion"],
        height=by_name["height"],
        normal_up=by_name["normal-up"],
        opacity=by_name.get(OPACITY),
        height_lo_mm=record.height_lo_mm,
        height_hi_mm=record.height_hi_mm,
    )
    return eight_bits(found)


def read_albedo(folder: Path, record: Record) -> U8:
    """Read the albedo alone, (H, W, 3) uint8: all that differs between some sets.

    Raises
    ------
    UserError, MachineError
        As for `read_set`.
    """
    return to_eight(_read_map(folder, record, "albedo"))


def _read_map(folder: Path, record: Record, name: str) -> NDArray[Any]:
    """Read one map as the record describes it."""
    entry = record.as_baked(name)
    if entry is None:
        what = f"the set has no map '{name}' of {record.size_px} px as PNG"
        raise UserError(what, fix=_DELIVER, path=folder / RECORD_NAME)
    path = folder / entry.file
    if not path.is_file():
        raise UserError("this map of the set is missing", fix=_BAKE, path=path)
    with told(path):
        image = read_png(path)
    deep = 1 if image.ndim == 2 else image.shape[2]
    if (deep, image.itemsize * 8) != (entry.channels, entry.bits):
        what = f"it has {deep} channels of {image.itemsize * 8} bits"
        fix = f"it should have {entry.channels} of {entry.bits}: {_BAKE}"
        raise UserError(what, fix=fix, path=path)
    return image


def read_png(path: Path) -> U8 | U16:
    """Read a PNG, grey or RGB, of 8 or 16 bits.

    Parameters
    ----------
    path : Path

    Returns
    -------
    (H, W) or (H, W, 3) uint8 or uint16

    Raises
    ------
    UserError
        If it is no such PNG, or damaged.
    OSError
        If the file cannot be read.
    """
    from PIL.PngImagePlugin import PngImageFile  # heavy: only where it is used

    try:
        with PngImageFile(path) as image:
            kind = image.mode
            if image.tile and image.tile[0].args == "RGB;16B":
                return _read_deep(path)
            pixels = np.asarray(image)
    except (OSError, SyntaxError, ValueError, EOFError) as error:
        if isinstance(error, OSError) and error.errno is not None:  # the disk, not the picture
            raise
        raise UserError(f"it cannot be read as a map: {error}", fix=_BAKE, path=path) from error
    if kind not in {"L", "RGB", "I;16"}:
        raise UserError(f"its pixels are of kind {kind}: it is no map", fix=_BAKE, path=path)
    return pixels


def _read_deep(path: Path) -> U16:
    """Read RGB of 16 bits, which Pillow can only bring down to 8.

    It is read twice: once for the bytes that Pillow keeps, and once as if the bytes of each sample
    were the other way round, for those that it drops.
    """
    from PIL.PngImagePlugin import PngImageFile

    halves = []
    for order in ("RGB;16B", "RGB;16L"):
        with PngImageFile(path) as image:
            image.tile = [tile._replace(args=order) for tile in image.tile]
            halves.append(np.asarray(image).astype(np.uint16))
    high, low = halves
    high <<= 8
    high |= low
    return high
