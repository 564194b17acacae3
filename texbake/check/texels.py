"""The maps of a set against the budget: colours that cloth has, normals that are normals."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

from numpy.typing import NDArray

from texbake.advice import Finding
from texbake.arrays import F64
from texbake.check import maps
from texbake.check.budget import Budget
from texbake.check.maps import Cover, Covers
from texbake.check.sets import Set
from texbake.deliver import MapFile, told
from texbake.errors import UserError
from texbake.maps import to_eight


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Texels:
    """What was found in a set's maps.

    Attributes
    ----------
    findings : tuple of Finding
    mean : (P, 3) float64 or None
        Mean colour of each panel, linear light; None where there is no albedo to be read.
    figures : dict of str to float
        By rule, for those who want to see how near a limit is.
    """

    findings: tuple[Finding, ...]
    mean: F64 | None
    figures: dict[str, float]


Told = tuple[tuple[Finding, ...], dict[str, float]]
# What was found in maps, by kind and digest: colourways share what colour does not touch.
Memory = dict[tuple[str, str], Told]


def look_into(one: Set, covers: Covers, budget: Budget, memory: Memory) -> Texels:
    """Look into the maps of a set.

    Parameters
    ----------
    one : Set
        With a record.
    covers : Covers
        Of its garment, by the size of a map.
    budget : Budget
    memory : Memory
        Added to; the same map, to the byte, is looked into once.
    """
    found: list[Finding] = []
    figures: dict[str, float] = {}
    mean = None
    for entry in _largest_last(one.maps):
        cover = covers.at(entry.width_px)
        try:
            if entry.map == "albedo":
                seen, mean = _albedo(one, entry, cover, budget)
            else:
                seen = _once(one, entry, cover, budget, memory)
        except UserError as error:
            seen = (Finding(rule="damaged", what=error.what, fix=error.fix),), {}
        found += [replace(finding, path=one.folder / entry.file) for finding in seen[0]]
        figures |= seen[1]
    return Texels(findings=tuple(found), mean=mean, figures=figures)


def _largest_last(maps: Sequence[MapFile]) -> list[MapFile]:
    """Return the files that hold one map as codes; figures are those of the largest size."""
    plain = [entry for entry in maps if entry.holds == "codes" and not entry.packed]
    return sorted(plain, key=lambda entry: entry.width_px)


def _once(
    one: Set,
    entry: MapFile,
    cover: Cover,
    budget: Budget,
    memory: Memory,
) -> Told:
    """Look into a map that colours do not touch, unless the same one was looked into already."""
    if one.states[entry.file] != "whole":
        return _other(one, entry, cover, budget)
    known = entry.map, entry.sha256
    if known not in memory:
        memory[known] = _other(one, entry, cover, budget)
    return memory[known]


def _read(one: Set, entry: MapFile) -> NDArray[Any]:
    """Read a map; what it has of channels must be what the record says."""
    path = one.folder / entry.file
    with told(path):
        image = maps.read_map(path, entry.width_px)
    deep = 1 if image.ndim == 2 else image.shape[2]
    if (deep, image.itemsize * 8) != (entry.channels, entry.bits):
        what = f"the map has {deep} channels of {image.itemsize * 8} bits"
        fix = f"it should have {entry.channels} of {entry.bits}: bake the recipe again"
        raise UserError(what, fix=fix, path=path)
    return image


def _albedo(one: Set, entry: MapFile, cover: Cover, budget: Budget) -> tuple[Told, F64]:
    """Look into an albedo map; metal may have any colour."""
    known = [(other.map, other.width_px, other.holds) for other in one.maps]
    wanted = ("metal", entry.width_px, "codes")
    metal = to_eight(_read(one, one.maps[known.index(wanted)])) if wanted in known else None
    seen = maps.albedo(
        to_eight(_read(one, entry)), metal, cover, budget.albedo_low, budget.albedo_high
    )
    numbers = {
        "albedo_darkest": seen.darkest,
        "albedo_lightest": seen.lightest,
        "albedo_outside": max(seen.under, seen.over),
    }
    rows = (
        (seen.under, f"under {_percent(budget.albedo_low)}", f"{_percent(seen.darkest)}, lighten"),
        (seen.over, f"over {_percent(budget.albedo_high)}", f"{_percent(seen.lightest)}, darken"),
    )
    found = [
        Finding(
            rule="albedo_outside",
            what=f"{_percent(share)} of the texels have a luminance {side}, which no cloth has; "
            f"{_percent(budget.albedo_outside)} may",
            fix=f"it goes to {cure} those colours in the recipe",
            value=share,
            limit=budget.albedo_outside,
        )
        for share, side, cure in rows
        if share > budget.albedo_outside
    ]
    return (tuple(found), numbers), seen.mean


def _other(one: Set, entry: MapFile, cover: Cover, budget: Budget) -> Told:
    """Look into a normal or height map; of others a whole file is enough.

    Green-down normals are green-up ones turned over, as long as nobody touches them.
    """
    whole = one.states[entry.file] == "whole"
    if entry.map == "normal-up" or (entry.map == "normal-down" and not whole):
        return _normals(maps.normals(_read(one, entry), cover), budget)
    if entry.map == "height":
        return _height(maps.height_used(_read(one, entry), cover), budget)
    if not whole:
        _read(one, entry)
    return (), {}


def _normals(seen: maps.Normals, budget: Budget) -> Told:
    """Judge a normal map."""
    found = []
    if seen.off > budget.normal_length:
        found.append(
            Finding(
                rule="normal_length",
                what=f"lengths of normals are off 1 by up to {seen.off:.2g}, over "
                f"{budget.normal_length:g}",
                fix="save it without scaling, painting or colour management; or bake it again",
                value=seen.off,
                limit=budget.normal_length,
            )
        )
    tilt, limit = math.degrees(seen.tilt_rad), math.degrees(budget.normal_tilt_rad)
    if tilt > limit:
        found.append(
            Finding(
                rule="normal_tilt",
                what=f"the mean of all normals leans by {tilt:.2g} deg, over {limit:.2g}",
                fix="the garment is lit as if it lay askew: save it without colour management, or "
                "bake it again",
                value=tilt,
                limit=limit,
                unit="deg",
            )
        )
    return tuple(found), {"normal_length": seen.off, "normal_tilt": tilt}


def _height(used: float, budget: Budget) -> Told:
    """Judge a height map."""
    found = []
    if used < budget.height_used:
        found.append(
            Finding(
                rule="height_used",
                what=f"{_percent(used)} of the height map's codes are used, under "
                f"{_percent(budget.height_used)}",
                fix="look for one place that is far higher than all others, as a high fold or cord",
                value=used,
                limit=budget.height_used,
            )
        )
    return tuple(found), {"height_used": used}


def _percent(share: float) -> str:
    return f"{100 * share:.3g} %"
