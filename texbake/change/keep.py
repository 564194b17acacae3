"""From a garment that was baked to what the layout record keeps of it."""

import re
from collections.abc import Iterable, Mapping
from dataclasses import replace

import numpy as np

from texbake.arrays import F64, I32
from texbake.change.values import Kept, KeptPanel, picks_of
from texbake.garment.known import Known
from texbake.garment.values import Garment, Mesh
from texbake.recipe.axes import from_y_up, to_y_up
from texbake.recipe.values import PanelRecipe


def keep(
    garment: Garment,
    entries: Mapping[str, PanelRecipe],
    *,
    name: str,
    mesh_digest: str,
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
    mesh_digest, mesh_key : str
        Digests of the mesh file, and of how it is read with it.
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
        mesh_digest=mesh_digest,
        mesh_key=mesh_key,
        unit_mm=mesh.unit_mm,
        up=mesh.up,
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


def as_read_now(kept: Kept, mesh: Mesh) -> Kept:
    """Return what was kept, of the same file, in the unit and axes that it is read with now."""

    def turned(points: F64) -> F64:
        in_file = from_y_up(points.reshape(-1, 3) / kept.unit_mm, kept.up)
        return np.asarray(to_y_up(in_file, mesh.up) * mesh.unit_mm).reshape(points.shape)

    panels = [replace(panel, sewn_mm=turned(panel.sewn_mm)) for panel in kept.panels]
    return replace(kept, points_mm=turned(kept.points_mm), panels=tuple(panels))


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
