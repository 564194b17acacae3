"""The old layout from the record of the last bake, where its mesh file is lost."""

from collections.abc import Mapping
from pathlib import Path
from types import MappingProxyType
from typing import Final

import numpy as np

from texbake.carry.sheet import Sheet, sheet_of
from texbake.change.store import BEFORE, NAME, read_kept
from texbake.change.values import Kept
from texbake.deliver import read_record
from texbake.deliver.naming import RECORD_NAME
from texbake.errors import UserError
from texbake.garment.values import Mesh

SAME_UV: Final = 1e-6  # exporters write six digits
NO_SIZES: Final[Mapping[str, int]] = MappingProxyType({})


def recorded_sheet(path: Path) -> tuple[Sheet, Mapping[str, int]]:
    """Read the garment as it was last baked.

    Parameters
    ----------
    path : Path
        The folder of a garment's sets (OUT/GARMENT), that of one set, or a layout record itself:
        of the last bake, or of the mesh before (layout-before.json).

    Returns
    -------
    sheet : Sheet
    sizes : mapping of str to int
        Widths of the maps that the records list, by their files' names.

    Raises
    ------
    UserError
        If there is no layout record, or it is damaged.
    """
    places = [path / NAME, path.parent / NAME] if path.is_dir() else [path]
    record = next((place for place in places if place.is_file()), None)
    kept = None if record is None else read_kept(record)
    if record is None or kept is None:
        raise UserError(
            "there is no layout record in this folder",
            fix=f"name a mesh, or a folder that was baked into, OUT/GARMENT: it holds {NAME}",
            path=path,
        )
    return sheet_of(_mesh(kept, record)), MappingProxyType(_sizes(record.parent))


def is_record(path: Path) -> bool:
    """Say whether a path is of a layout record, or of a folder that may hold one."""
    return path.is_dir() or path.name in {NAME, BEFORE}


def same_layout(old: Sheet, new: Sheet) -> bool:
    """Say whether two meshes have the same faces with the same UVs."""
    a, b = old.mesh, new.mesh
    if a.uv.shape != b.uv.shape or not np.allclose(a.uv, b.uv, rtol=0.0, atol=SAME_UV):
        return False
    return bool(np.array_equal(old.weld, new.weld))


def copied(old: Sheet, new: Sheet) -> tuple[str, ...]:
    """Say that nothing is to be carried, where the layouts are the same."""
    if not same_layout(old, new):
        return ()
    before = old.mesh.path.with_name(BEFORE)
    known = old.mesh.path.name == NAME and before.is_file()
    where = before if known else f"OUT/GARMENT/{BEFORE}"
    told = (
        "both layouts are the same, so pictures stay as they are; if the new one was baked "
        f"already, the one before it is --from {where}"
    )
    return (told,)


def _mesh(kept: Kept, path: Path) -> Mesh:
    """Return the mesh that a layout record keeps."""
    tags = np.array(kept.tag, np.int32)
    objects, groups, materials = zip(*kept.tags, strict=True)
    return Mesh(
        path=path,
        points_mm=kept.points_mm,
        faces=kept.faces,
        uv=kept.uv,
        polygon=np.arange(len(kept.faces), dtype=np.int32),
        object_of=tags,
        group_of=tags,
        material_of=tags,
        objects=objects,
        groups=groups,
        materials=materials,
        tile=(0, 0),  # what lay in other tiles was left out then too
        unit_mm=kept.unit_mm,
        up=kept.up,
    )


def _sizes(folder: Path) -> dict[str, int]:
    """Widths of the maps of all sets of a garment, by file name."""
    records = [read_record(place.parent) for place in sorted(folder.glob(f"*/{RECORD_NAME}"))]
    return {m.file: m.width_px for record in records if record is not None for m in record.maps}
