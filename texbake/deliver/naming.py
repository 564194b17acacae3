"""Names of sets and files, which must do on every system.

Each set lies in ``OUT/GARMENT/COLOURWAY/``; its files are named by the recipe's pattern.
"""

import re
from collections.abc import Iterable, Mapping
from pathlib import Path
from string import Formatter
from typing import Final

from texbake.errors import UserError
from texbake.recipe.delivery_values import ENDINGS, Delivery

MAPS: Final = (
    "albedo",
    "roughness",
    "metal",
    "normal-up",
    "normal-down",
    "height",
    "occlusion",
)
# What pictures are made of; green-down normals are green-up ones turned over.
PICTURED: Final = tuple(name for name in MAPS if name != "normal-down")
OPACITY: Final = "opacity"  # only in sets with a cloth that has holes
# Pictures made from the maps, named by the same pattern; and the whole garment in one file.
PICTURES: Final = ("view", "sheet")
RECORD_NAME: Final = "record.json"
_FIELDS: Final = ("garment", "colourway", "map", "size")
_EVERYTHING: Final = Delivery()

# What Windows forbids, a superset of what others do ("Naming Files, Paths, and Namespaces",
# learn.microsoft.com): these characters, device names, and a dot or a space at the end.
_FORBIDDEN: Final = re.compile(r'[<>:"/\\|?*\x00-\x1f]')
_DEVICE: Final = re.compile(r"(con|prn|aux|nul|com[0-9]|lpt[0-9])(\..*)?", re.IGNORECASE)
_LONGEST: Final = 200  # of 255 bytes that common file systems allow, with room for our suffixes


def fault_of(name: str) -> str | None:
    """Say what keeps a name from being a file's or a folder's on some system; None if nothing."""
    found = _FORBIDDEN.search(name)
    faults = (
        (not name, "it is empty"),
        (found is not None, f"it has the character {found.group() if found else None!r}"),
        (name.startswith((".", " ")), f"it starts with {name[:1]!r}"),
        (name.endswith((".", " ")), f"it ends with {name[-1:]!r}"),
        (_DEVICE.fullmatch(name) is not None, "it is the name of a device on Windows"),
        (len(name.encode()) > _LONGEST, f"it has {len(name.encode())} bytes, over {_LONGEST}"),
    )
    return next((fault for wrong, fault in faults if wrong), None)


def set_folder(out: Path, garment: str, colourway: str) -> Path:
    """Return the folder of a colourway's set.

    Raises
    ------
    UserError
        If a name cannot be a folder's on every system.
    """
    for what, name in (("garment", garment), ("colourway", colourway)):
        _check(what, name)
    return out / garment / colourway


def file_names(
    pattern: str,
    garment: str,
    colourway: str,
    *,
    holes: bool = False,
    delivery: Delivery = _EVERYTHING,
    size_px: int = 1024,
) -> Mapping[str, str]:
    """Return the file name of every map, by its key: see `key_of_map`.

    Parameters
    ----------
    pattern : str
        With the fields ``{garment}``, ``{colourway}``, ``{map}`` and ``{size}``; the ending is
        added.
    holes : bool
        The set has an opacity map.
    delivery : Delivery
        Which maps there are.
    size_px : int
        That the set is baked at.

    Raises
    ------
    UserError
        If the pattern has other fields or none for the map, or gives two maps one name, or one
        that cannot be a file's on every system.
    """
    fields = _fields(pattern)
    wrong = [field for field in fields if field not in _FIELDS]
    if wrong or "map" not in fields:
        found = f"the field {{{wrong[0]}}}" if wrong else "no field {map}"
        raise UserError(
            f"the file name pattern {pattern!r} has {found}",
            fix="use {garment}, {colourway}, {map} and {size}; {map} is needed to tell the files "
            "apart",
        )
    names: dict[str, str] = {}
    for size in delivery.sizes_px(size_px):
        for kind in delivery.names(holes=holes):
            name = _map_name(pattern, garment, colourway, kind, size)
            names[key_of_map(kind, size, size_px)] = name + ENDINGS[delivery.format_of(kind)]
    _refuse_doubles(pattern, names)
    return names


def key_of_map(name: str, size_px: int, full_px: int) -> str:
    """Return what a map is known by in its set: its name, and its size if that is a smaller one.

    >>> key_of_map("albedo", 1024, 1024), key_of_map("albedo", 256, 1024)
    ('albedo', 'albedo@256')
    """
    return name if size_px == full_px else f"{name}@{size_px}"


def _refuse_doubles(pattern: str, names: Mapping[str, str]) -> None:
    """Complain if two maps would have one name, where capitals do not count."""
    seen: dict[str, str] = {}
    for key, name in names.items():
        first = seen.setdefault(name.casefold(), key)
        if first != key:
            raise UserError(
                f"the file name pattern {pattern!r} gives {first} and {key} one name, {name}",
                fix="put {size} in, and give packed maps other names",
            )


def extra_names(
    pattern: str, garment: str, colourway: str, pictures: Iterable[str] = PICTURES
) -> Mapping[str, str]:
    """Return the names of what is delivered beside the maps: "glb", and pictures by their kind.

    Parameters
    ----------
    pattern : str
        As for `file_names`, which has checked it.
    pictures : iterable of str
        What stands in the pattern's place for the map.

    Raises
    ------
    UserError
        If a name cannot be a file's on every system.
    """
    plain = re.sub(r"[-_]?\{size\}", "", pattern).lstrip("-_")  # pictures have one size
    names = {k: _map_name(plain, garment, colourway, k, 0) + ".png" for k in pictures}
    _check("garment and colourway", f"{garment}_{colourway}.glb")
    return {"glb": f"{garment}_{colourway}.glb", **names}


def _map_name(pattern: str, garment: str, colourway: str, kind: str, size_px: int) -> str:
    """Return the file name of a map or picture, without ending."""
    name = pattern.format(garment=garment, colourway=colourway, map=kind, size=size_px)
    _check("map", name)
    return name


def _fields(pattern: str) -> list[str]:
    """Return the fields of a pattern; what is no plain field (a format, an index) whole."""
    try:
        parsed = list(Formatter().parse(pattern))
    except ValueError as error:
        raise UserError(
            f"the file name pattern {pattern!r} cannot be read: {error}",
            fix="close every brace: {garment}, {colourway}, {map}, {size}",
        ) from error
    fields = []
    for _, field, form, turned in parsed:
        if field is not None:
            fields.append(field + (f"!{turned}" if turned else "") + (f":{form}" if form else ""))
    return fields


def _check(what: str, name: str) -> None:
    """Raise UserError if the name cannot be used on some system."""
    fault = fault_of(name)
    if fault is not None:
        raise UserError(
            f"{what} name {name!r} cannot be used for files: {fault}",
            fix="use letters, digits, '-', '_' and '.', starting with a letter or digit",
        )
