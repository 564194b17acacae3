"""From a mesh to a garment: weld, islands, panels, pattern planes, seams and hems."""

from collections.abc import Mapping, Sequence
from pathlib import Path

import numpy as np

from texbake.arrays import F64, I32, Bool
from texbake.garment.chains import find_chains
from texbake.garment.edges import Edges, pair_edges, welded_points
from texbake.garment.health import check
from texbake.garment.islands import islands
from texbake.garment.known import Known, keep_sewn
from texbake.garment.lay import Flat, lay_flat
from texbake.garment.panels import Plan, plan_panels
from texbake.garment.pieces import glue
from texbake.garment.values import Garment, Mesh, Panel
from texbake.garment.weld import weld
from texbake.recipe.values import PanelRecipe


def build_garment(
    mesh: Mesh,
    panels: Mapping[str, PanelRecipe] | None = None,
    *,
    path: Path | None = None,
    known: Known | None = None,
) -> Garment:
    """Rebuild the garment as it is sewn, in mm.

    Parameters
    ----------
    mesh : Mesh
    panels : mapping of name to PanelRecipe, optional
        What a recipe says of panels; islands it leaves over get default names.
    path : Path, optional
        The recipe file, for messages.
    known : Known, optional
        Panels that need not be looked for: they come first, and ``panels`` speaks of the rest.

    Returns
    -------
    Garment

    Raises
    ------
    UserError
        If the mesh cannot be used, or the recipe's panels do not fit it (all of them at once).
    """
    welded = weld(mesh.points_mm, mesh.faces)
    island = islands(welded, mesh.uv)
    usable, notes = check(mesh, island, weld=welded)
    plans, cloth = _planned(mesh, island, usable, panels or {}, path, known)
    panel = np.where(usable, cloth, -1).astype(np.int32)
    points = welded_points(mesh.points_mm, mesh.faces, welded)
    area = _areas(points, welded)
    edges = pair_edges(points, welded, mesh.uv, island, cloth, area)
    glued = glue(points, welded, edges, island, cloth)
    lost: tuple[str, ...] = ()
    if known is not None:
        glued, lost = keep_sewn(known, glued, points, welded, edges)
    flat = lay_flat(
        points,
        welded,
        edges,
        glued,
        cloth,
        [plan.name for plan in plans],
        [plan.grain_rad for plan in plans],
    )
    chains = find_chains(points, welded, edges, flat.glued, island, panel, cloth, flat.pattern_mm)
    return Garment(
        mesh=mesh,
        weld=welded,
        island=island,
        panel=panel,
        panels=_panels(plans, panel, area, flat),
        pattern_mm=flat.pattern_mm,
        chains=chains,
        notes=(*mesh.notes, *notes, *_notes(edges), *_lost_seams(lost), *flat.notes),
    )


def _planned(
    mesh: Mesh,
    island: I32,
    usable: Bool,
    panels: Mapping[str, PanelRecipe],
    path: Path | None,
    known: Known | None,
) -> tuple[tuple[Plan, ...], I32]:
    """Return the panels, and the panel of each face (F,); those that are known come first."""
    if known is None:
        plans = plan_panels(mesh, island, usable, panels, path=path)
        return plans, _cloth(plans, island)
    there = [k for k in range(len(known.panels)) if (usable & (known.face == k)).any()]
    number = np.full(len(known.panels) + 1, -1, np.int32)
    number[there] = np.arange(len(there))
    first = tuple(
        Plan(
            name=known.panels[k].name,
            islands=tuple(np.unique(island[usable & (known.face == k)]).tolist()),
            grain_rad=known.panels[k].grain_rad,
            line=known.panels[k].line,
        )
        for k in there
    )
    rest = usable & (known.face < 0)
    names = tuple(plan.name for plan in first)
    others = plan_panels(mesh, island, rest, panels, path=path, taken=names) if rest.any() else ()
    left = _cloth(others, island)
    own = np.where(known.face >= 0, number[known.face], -1)
    cloth = np.where(known.face >= 0, own, np.where(left >= 0, left + len(first), -1))
    return (*first, *others), cloth.astype(np.int32)


def _lost_seams(names: Sequence[str]) -> list[str]:
    return [
        f"panel '{name}' was sewn to itself or had a slit, and the mesh has no edges there any "
        "more: it is laid flat by its UVs now"
        for name in names
    ]


def _cloth(plans: tuple[Plan, ...], island: I32) -> I32:
    """Return the panel of each face (F,), also of faces without area in UV; -1 for none."""
    of = np.full(int(island.max(initial=-1)) + 1, -1, np.int32)
    for number, plan in enumerate(plans):
        of[list(plan.islands)] = number
    return np.asarray(of[island])


def _areas(points_mm: F64, welded: I32) -> F64:
    a, b, c = (points_mm[welded[:, i]] for i in range(3))
    return np.asarray(0.5 * np.linalg.norm(np.cross(b - a, c - a), axis=1))


def _panels(plans: tuple[Plan, ...], panel: I32, area_mm2: F64, flat: Flat) -> tuple[Panel, ...]:
    found = []
    for number, plan in enumerate(plans):
        faces = np.flatnonzero(panel == number).astype(np.int32)
        found.append(
            Panel(
                name=plan.name,
                islands=plan.islands,
                faces=faces,
                area_mm2=float(area_mm2[faces].sum()),
                stretch_rms=flat.stretch_rms[number],
                stretch_max=flat.stretch_max[number],
                line=plan.line,
            )
        )
    return tuple(found)


def _notes(edges: Edges) -> list[str]:
    turned = int(edges.turned.sum())
    if turned == 0:
        return []
    return [f"{turned} {'face is' if turned == 1 else 'faces are'} wound against the panel's rest"]
