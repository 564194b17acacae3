"""What has to be done for each set, and why: by the record of what is there.

Nothing is written here, and no mesh is rebuilt: files are read and hashed, that is all, so that a
bake with nothing to do returns at once.
"""

import os
from collections.abc import Collection, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType
from typing import Final, Literal

from texbake.batch.parts import Common, extra_keys, parts_of
from texbake.batch.reasons import reasons
from texbake.deliver import (
    ZIP,
    FileState,
    Record,
    file_state,
    in_turn,
    read_record,
    set_folder,
    told,
    zip_key,
)
from texbake.recipe import Recipe

Action = Literal["bake", "add", "keep"]
_TOLD: Final[Mapping[FileState, str]] = MappingProxyType(
    {
        "missing": "is missing",
        "damaged": "is damaged",
        "changed": "was changed since it was baked",
    }
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """What has to be done for one set.

    Attributes
    ----------
    colourway : str
    recipe : Recipe
        The colourway's own.
    folder : Path
    action : 'bake', 'add' or 'keep'
        Bake all of it; only make files that go beside the maps; or nothing.
    why : tuple of str
        What is missing or differs, in words; empty for what is kept.
    extras : tuple of str
        Kinds of files beside the maps that have to be made, of "view", "sheet", "glb" and "zip".
    record : Record or None
        Of the set that is there.
    """

    colourway: str
    recipe: Recipe
    folder: Path
    action: Action
    why: tuple[str, ...] = ()
    extras: tuple[str, ...] = ()
    record: Record | None = None


def plan_sets(
    wanted: Mapping[str, Recipe],
    out: Path,
    common: Common,
    *,
    beside: Collection[str],
    anew: bool = False,
) -> tuple[Plan, ...]:
    """Look at the sets that are there, and say what has to be done.

    Parameters
    ----------
    wanted : mapping of str to Recipe
        By colourway; all of one garment.
    out : Path
    common : Common
    beside : collection of str
        What is to go beside the maps.
    anew : bool
        Bake all, whatever is there.

    Returns
    -------
    tuple of Plan
        In the order of ``wanted``.

    Raises
    ------
    UserError
        If a record is damaged, or of a newer Texbake.
    MachineError
        If a file cannot be read.
    """

    def one(name: str) -> Plan:
        folder = set_folder(out, wanted[name].garment, name)
        also = {ZIP} if wanted[name].zipped else set()
        return _plan(wanted[name], name, folder, common, sorted({*beside, *also}), anew=anew)

    with ThreadPoolExecutor(os.cpu_count()) as pool:
        return tuple(pool.map(one, wanted))


def _plan(
    recipe: Recipe, name: str, folder: Path, common: Common, beside: Sequence[str], *, anew: bool
) -> Plan:
    """Say what has to be done for one set."""
    with told(folder), in_turn(folder, shared=True):
        record = read_record(folder) if folder.is_dir() else None
        states = {} if record is None else _states(folder, record)
    action: Action = "bake"
    extras = tuple(beside)
    why = _why(recipe, name, common, record, states)
    if anew and record is not None:
        why = ["all were asked for"]
    if not why and record is not None:
        extras, why = _missing(record, common, states, beside)
        action = "add" if extras else "keep"
        if {*extras} - {ZIP} and not record.can_be_read:
            action, extras = "bake", tuple(beside)
    return Plan(
        colourway=name,
        recipe=recipe,
        folder=folder,
        action=action,
        why=tuple(why),
        extras=extras,
        record=record,
    )


def _states(folder: Path, record: Record) -> dict[str, FileState]:
    """What has become of each file of a set."""
    return {entry.file: file_state(folder, entry) for entry in record.files}


def _why(
    recipe: Recipe,
    name: str,
    common: Common,
    record: Record | None,
    states: Mapping[str, FileState],
) -> list[str]:
    """Say why the maps of a set have to be baked; nothing if they need not."""
    if record is None:
        return ["it is not there yet"]
    if not record.parts:
        return ["its record does not say what it was baked from"]
    parts = parts_of(recipe, name, common, record.panels)
    lost = [e.file for e in record.maps if states[e.file] != "whole"]
    return [*reasons(record, parts, recipe), *(f"{file} {_TOLD[states[file]]}" for file in lost)]


def _missing(
    record: Record, common: Common, states: Mapping[str, FileState], beside: Sequence[str]
) -> tuple[tuple[str, ...], list[str]]:
    """Say what has to be added beside the maps of a set, and why."""
    there = {entry.kind: entry for entry in record.extras}
    keys = {**extra_keys(record, common), ZIP: zip_key(record)}
    why: dict[str, str] = {}
    for kind in sorted({*beside, *({ZIP} & there.keys())}, key=lambda kind: (kind == ZIP, kind)):
        entry = there.get(kind)
        if entry is None:
            why[kind] = f"{kind} is not there yet"
        elif states[entry.file] != "whole":
            why[kind] = f"{entry.file} {_TOLD[states[entry.file]]}"
        elif entry.key != keys[kind] or (kind == ZIP and why):
            why[kind] = f"{kind} is made otherwise now"
    return tuple(why), list(why.values())
