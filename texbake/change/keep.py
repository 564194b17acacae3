"""From a garment that was baked to what the layout record keeps of it."""

import re
from collections.abc import Iterable, Mapping

import numpy as np

from texbake.arrays import F64, I32
from texbake.change.values import Kept, KeptPanel, picks_of
from texbake.garment.known import Known
from texbake.garment.values import Garment, Mesh
from texbake.recipe.values import PanelRecipe


def keep(
    garment: Garment,
    entries: Mapping[str, PanelRecipe],
    *,
    name: str,
    mesh_key: str,
    size_px: int,
    known: Known | None = None,
    made_by: Mapping[str, str] | None = None,
) -> Kept:
    """Return what the layout record keeps.

    Parameters
    ----------
    garment : Garment
        As it was baked.
    entries : mapping of name to PanelRecipe
        The recipe's ``panels`` as they are written in the file.
    name : str
        Of the garment.
    mesh_key : str
        Digest of the mesh.
    size_px : int
    known : Known, optional
        Panels that were known before.
    made_by : mapping of panel to entry, optional
        Which entry made each panel, where that was decided by the cloth.
    """
    mesh = garment.mesh
    tag, tags = face_tags(mesh)
    panels = [
        KeptPanel(
            name=panel.name,
            entry=(made_by or {}).get(panel.name)
            or (None if panel.line is None else entry_of(panel.name, entries)),
            islands=panel.islands,
            sewn_mm=_sewn_to_itself(garment, number),
        )
        for number, panel in enumerate(garment.panels)
    ]
    return Kept(
        garment=name,
        mesh_name=mesh.path.name,
        mesh_key=mesh_key,
        size_px=size_px,
        points_mm=mesh.points_mm,
        faces=mesh.faces,
        uv=mesh.uv,
        island=garment.island,
        panel=garment.panel,
        tag=tag,
        tags=tags,
        panels=tuple(panels),
        known=_known_faces(garment, known),
        entries={key: picks_of(entry) for key, entry in sorted(entries.items())},
    )


def entry_of(panel: str, entries: Iterable[str]) -> str | None:
    """Return the entry that a panel's name comes from: its own, or that of NAME-1, NAME-2 ...

    >>> entry_of("lining-2", ["lining", "front"]), entry_of("front", ["front"])
    ('lining', 'front')
    """
    word = re.sub(r"-[1-9]\d*$", "", panel)
    return next((name for name in (panel, word) if name in entries), None)


def face_tags(mesh: Mesh) -> tuple[I32, tuple[tuple[str, str, str], ...]]:
    """Return the object, group and material of each face, as a number into a table."""
    rows = np.stack([mesh.object_of, mesh.group_of, mesh.material_of], axis=1)
    table, tag = np.unique(rows, axis=0, return_inverse=True)
    names = tuple(
        (mesh.objects[o], mesh.groups[g], mesh.materials[m]) for o, g, m in table.tolist()
    )
    return tag.ravel().astype(np.int32), names


def _known_faces(garment: Garment, known: Known | None) -> I32:
    """Return the panel of the garment of each face whose panel was known; -1 elsewhere."""
    if known is None:
        return np.full(len(garment.panel), -1, np.int32)
    number = {panel.name: k for k, panel in enumerate(garment.panels)}
    there = np.array([*(number.get(panel.name, -1) for panel in known.panels), -1], np.int32)
    return np.asarray(there[known.face])


def _sewn_to_itself(garment: Garment, panel: int) -> F64:
    """Edges (E, 2, 3) where a panel meets itself and is not one cloth.

    Both sides of glued edges are the same corners of the pattern plane, to the bit.
    """
    mine = [c for c in garment.chains if c.panels == (panel, panel)]
    apart = [(c.pattern_mm[0] != c.pattern_mm[1]).any(axis=(1, 2)) for c in mine]
    edges = [c.points_mm[a] for c, a in zip(mine, apart, strict=True)]
    return np.concatenate([np.zeros((0, 2, 3)), *edges])
