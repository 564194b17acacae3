"""The old layout from the record of the last bake, where its mesh file is lost."""

from collections.abc import Mapping
from pathlib import Path
from types import MappingProxyType
from typing import Final

import numpy as np

from texbake.carry.sheet import Sheet, sheet_of
from texbake.change.store import NAME, read_kept
from texbake.change.values import Kept
from texbake.deliver import read_record
from texbake.deliver.naming import RECORD_NAME
from texbake.errors import UserError
from texbake.garment.values import Mesh

NO_SIZES: Final[Mapping[str, int]] = MappingProxyType({})


def recorded_sheet(path: Path) -> tuple[Sheet, Mapping[str, int]]:
    """Read the garment as it was last baked.

    Parameters
    ----------
    path : Path
        The folder of a garment's sets (OUT/GARMENT), that of one set, or the layout record itself.

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
    folder = path if path.is_dir() else path.parent
    there = [place for place in (folder, folder.parent) if (place / NAME).is_file()]
    kept = read_kept(there[0] / NAME) if there else None
    if kept is None:
        raise UserError(
            "there is no layout record in this folder",
            fix=f"name a mesh, or a folder that was baked into, OUT/GARMENT: it holds {NAME}",
            path=path,
        )
    return sheet_of(_mesh(kept, there[0] / NAME)), MappingProxyType(_sizes(there[0]))


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
