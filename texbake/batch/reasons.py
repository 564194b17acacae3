"""Why a set has to be baked again, in words: what its record says against what is there now."""

from collections.abc import Mapping
from types import MappingProxyType
from typing import Final

from texbake.batch.parts import COLOURS
from texbake.batch.program import texbake_version
from texbake.deliver import Record
from texbake.recipe import Recipe

# In the order in which they are told: what changes most comes first.
_WORDS: Final[Mapping[str, str]] = MappingProxyType(
    {
        "mesh": "the mesh changed",
        "mesh_options": "unit, axis, UV set or tile of the mesh changed",
        "panels": "how panels are found or laid changed",
        "known": "which cloth is which panel changed",
        "worn": "panels wear other fabrics",
        "name": "the set is of another garment or colourway",
        "file_name": "files are named otherwise",
        "delivery": "other files are delivered",
    }
)
_ENTRIES: Final[Mapping[str, str]] = MappingProxyType(
    {"seams": "seam", "hems": "hem", "details": "detail", "creases": "crease", "prints": "print"}
)


def reasons(record: Record, parts: Mapping[str, str], recipe: Recipe) -> list[str]:
    """Say in words which parts of a set are not what they were.

    Parameters
    ----------
    record : Record
        Of the set that is there.
    parts : mapping of str to str
        Digests, as they are now.
    recipe : Recipe
        The colourway's own, as it is now.

    Returns
    -------
    list of str
        Empty if all parts are equal.
    """
    old = record.parts
    differ = [name for name in sorted({*old, *parts}) if old.get(name) != parts.get(name)]
    if {"mesh", "mesh_options", "panels", "known"} & set(differ):
        differ = [name for name in differ if name != "worn"]  # names of panels may be others now
    if "mesh" in differ:
        differ = [name for name in differ if name not in {"panels", "known"}]
    values = {
        "size": f"the size is {recipe.size_px} px, was {record.size_px}",
        "gutter": f"the gutter is {recipe.gutter_px} px, was {record.gutter_px}",
        "seed": f"the seed is {recipe.seed}, was {record.seed}",
        "normal_bits": f"normals have {recipe.normal_bits} bits, had {record.normal_bits}",
        "texbake": _program(record.texbake),
    }
    words = {**_WORDS, **values}
    plain = [words[name] for name in words if name in differ]
    entries = [_entry(name, old, parts) for name in differ if name not in words]
    return [*plain, *dict.fromkeys(word for word in entries if word)]


def _program(before: str) -> str:
    """Say how the program differs."""
    now = texbake_version()
    return "Texbake itself changed" if now == before else f"Texbake is {now}, was {before}"


def _entry(name: str, old: Mapping[str, str], new: Mapping[str, str]) -> str:
    """Say how a fabric, or an entry of sewing, differs; nothing if its other part says it."""
    whole = name.removesuffix(COLOURS)
    kind, _, which = whole.partition(".")
    what = whole
    if kind == "fabrics":
        what = f"fabric '{which}'"
    elif which.isdecimal():
        what = f"{_ENTRIES.get(kind, kind)} {int(which) + 1}"
    if whole not in old:
        return f"{what} is new"
    if whole not in new:
        return f"{what} is gone"
    if name == whole:
        return f"{what} changed"
    return "" if old[whole] != new[whole] else f"colours of {what} changed"
