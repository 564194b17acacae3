"""From a mesh to a garment: weld, islands, panels, pattern planes, seams and hems."""

from collections.abc import Mapping
from pathlib import Path

import numpy as np

from texbake.arrays import F64, I32
from texbake.garment.chains import find_chains
from texbake.garment.edges import Edges, pair_edges, welded_points
from texbake.garment.health import check
from texbake.garment.islands import islands
from texbake.garment.lay import Flat, lay_flat
from texbake.garment.panels import Plan, plan_panels
from texbake.garment.pieces import glue
from texbake.garment.values import Garment, Mesh, Panel
from texbake.garment.weld import weld
from texbake.recipe.values import PanelRecipe


def build_garment(
    mesh: Mesh, panels: Mapping[str, PanelRecipe] | None = None, *, path: Path | None = None
) -> Garment:
    """Rebuild the garment as it is sewn, in mm.

    Parameters
    ----------
    mesh : Mesh
    panels : mapping of name to PanelRecipe, optional
        What a recipe says of panels; islands it leaves over get default names.
    path : Path, optional
        The recipe file, for messages.

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
    plans = plan_panels(mesh, island, usable, panels or {}, path=path)
    cloth = _cloth(plans, island)
    panel = np.where(usable, cloth, -1).astype(np.int32)
    points = welded_points(mesh.points_mm, mesh.faces, welded)
    area = _areas(points, welded)
    edges = pair_edges(points, welded, mesh.uv, island, cloth, area)
    flat = lay_flat(
        points,
        welded,
        edges,
        glue(points, welded, edges, island, cloth),
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
        notes=(*mesh.notes, *notes, *_notes(edges), *flat.notes),
    )


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
