"""The sets that are there: whole, of now, and within sizes."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from texbake.advice import Finding
from texbake.batch.parts import Common, parts_of
from texbake.batch.reasons import reasons
from texbake.check.budget import Budget
from texbake.deliver import FileState, MapFile, Record, file_state, read_record, set_folder, told
from texbake.errors import UserError
from texbake.recipe import Recipe

_MOST: Final = 3  # reasons told of a set
_BAKE: Final = "bake the recipe again"


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Set:
    """A colourway's set as it lies there.

    Attributes
    ----------
    name : str
    recipe : Recipe
        The colourway's own.
    folder : Path
    record : Record or None
        None: it is not baked, or its record cannot be read.
    states : mapping of str to FileState
        Of every file that the record names.
    fault : UserError or None
        What is wrong with the record.
    """

    name: str
    recipe: Recipe
    folder: Path
    record: Record | None
    states: Mapping[str, FileState]
    fault: UserError | None = None

    @property
    def maps(self) -> tuple[MapFile, ...]:
        """Those that can be looked into."""
        there = () if self.record is None else self.record.maps
        return tuple(entry for entry in there if self.states[entry.file] in {"whole", "changed"})


def find_set(recipe: Recipe, name: str, out: Path) -> Set:
    """Look at a colourway's set.

    Raises
    ------
    MachineError
        If a file cannot be read.
    """
    folder = set_folder(out, recipe.garment, name)
    record, fault = None, None
    states: dict[str, FileState] = {}
    with told(folder):
        try:
            record = read_record(folder) if folder.is_dir() else None
        except UserError as error:
            fault = error
        if record is not None:
            states = {entry.file: file_state(folder, entry) for entry in record.files}
    return Set(name=name, recipe=recipe, folder=folder, record=record, states=states, fault=fault)


def judge_set(one: Set, common: Common, budget: Budget) -> Iterator[Finding]:
    """Say what is missing, damaged, stale or too large in a set."""
    if one.fault is not None:
        yield Finding(rule="damaged", what=one.fault.what, fix=one.fault.fix, path=one.fault.path)
    elif one.record is None and not budget.missing:
        yield Finding(
            rule="missing",
            what=f"colourway '{one.name}' is not baked",
            fix=f"bake it: texbake bake {one.recipe.path} --colourway {one.name}; or write "
            "missing: allowed into the budget, to check the rest before",
            path=one.folder,
        )
    if one.record is not None:
        yield from _files(one, budget)
        yield from _stale(one, one.record, common, budget)
        yield from _sizes(one, one.record, budget)


def _files(one: Set, budget: Budget) -> Iterator[Finding]:
    """Files that are not as they were baked."""
    rules: dict[FileState, tuple[str, str, bool]] = {
        "missing": ("this file of the set is missing", _BAKE, budget.missing),
        "damaged": ("this file of the set is damaged", _BAKE, False),
        "changed": (
            "this file was changed since it was baked: the set may no longer match",
            f"{_BAKE}; or write changed: allowed into the budget, if it was you",
            budget.changed,
        ),
    }
    for file, state in one.states.items():
        if state != "whole" and not rules[state][2]:
            what, fix, _ = rules[state]
            yield Finding(rule=state, what=what, fix=fix, path=one.folder / file)


def _stale(one: Set, record: Record, common: Common, budget: Budget) -> Iterator[Finding]:
    """Say why a set is not of the recipe and the mesh as they are now."""
    if budget.stale:
        return
    why = ["its record does not say what it was baked from"]
    if record.parts:
        now = parts_of(one.recipe, one.name, common, record.panels)
        # Another Texbake may bake other maps, but those that are there are of this recipe.
        now["texbake"] = record.parts.get("texbake", now["texbake"])
        why = reasons(record, now, one.recipe)
    if why:
        more = f" and {len(why) - _MOST} more" if len(why) > _MOST else ""
        yield Finding(
            rule="stale",
            what=f"the set is not of now: {'; '.join(why[:_MOST])}{more}",
            fix=_BAKE,
            path=one.folder,
        )


def _sizes(one: Set, record: Record, budget: Budget) -> Iterator[Finding]:
    """Maps of too many texels, files and sets of too many bytes."""
    widest = max((max(m.width_px, m.height_px) for m in record.maps), default=0)
    if widest > budget.map_size:
        yield Finding(
            rule="map_size",
            what=f"its maps are {widest} px wide, over {budget.map_size}",
            fix=f"bake with size: {budget.map_size}",
            value=float(widest),
            limit=float(budget.map_size),
            unit="px",
            path=one.folder,
        )
    there = {file: _bytes(one.folder / file) for file in one.states}
    smaller = f"bake at a smaller size than {record.size_px} px"
    for file, size in there.items():
        if size > budget.file_size:
            yield _too_large("file_size", size, budget.file_size, smaller, one.folder / file)
    total = sum(there.values())
    if total > budget.set_size:
        fix = f"{smaller}, or leave out what goes beside the maps (--maps-only)"
        yield _too_large("set_size", total, budget.set_size, fix, one.folder)


def _bytes(path: Path) -> int:
    """Size of a file, 0 if it is not there."""
    return path.stat().st_size if path.is_file() else 0


def _too_large(rule: str, size: int, limit: int, fix: str, path: Path) -> Finding:
    return Finding(
        rule=rule,
        what=f"{size / 1e6:.4g} MB, over {limit / 1e6:.4g} MB",
        fix=fix,
        value=float(size),
        limit=float(limit),
        unit="bytes",
        path=path,
    )
