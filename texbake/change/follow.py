"""Names and settings follow the cloth: a recipe, read for a mesh whose layout has changed.

A panel that was baked keeps its name, its place among the panels and its own seams, wherever its
cloth lies in UV now; its entry in the recipe gives cloth and grain as before. That holds as long as
the entry finds panels by the same words as then: an entry that was rewritten, or is new, is about
the mesh as it is now and counts before anything that was. So island numbers in a recipe that
nobody has touched mean the islands of the time they were written.
"""

import hashlib
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import TYPE_CHECKING

import numpy as np

from texbake.arrays import F64, I32, Bool
from texbake.change.keep import face_tags
from texbake.change.twins import Side
from texbake.change.values import Kept, KeptPanel, picks_of
from texbake.errors import UserError
from texbake.garment.health import check
from texbake.garment.islands import edge_groups, islands
from texbake.garment.known import Known, KnownPanel
from texbake.garment.panels import plan_panels
from texbake.garment.values import Mesh
from texbake.garment.weld import weld
from texbake.recipe.values import PanelRecipe, Recipe

if TYPE_CHECKING:  # a mesh that did not change needs neither
    from texbake.change.decide import Decision
    from texbake.change.overlap import Overlap

# Of the smaller garment: with less common surface it is another garment. By eye, no source.
LEAST_COMMON = 0.5


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Followed:
    """What a recipe means on the mesh as it is now, where panels are known.

    Attributes
    ----------
    known : Known
        Old panels on the mesh as it is now.
    made_by : mapping of panel to entry
        Which entry of the recipe gives a known panel its cloth.
    literal : frozenset of str
        Entries that are read as they stand.
    """

    known: Known
    made_by: Mapping[str, str]
    literal: frozenset[str]

    def apply(self, recipe: Recipe) -> Recipe:
        """Return a recipe (or a colourway of it) whose panels are the known ones and the rest."""
        panels = {name: e for name, e in recipe.panels.items() if name in self.literal}
        for panel in self.known.panels:
            entry = recipe.panels.get(self.made_by.get(panel.name, ""))
            panels[panel.name] = PanelRecipe(
                name=panel.name,
                fabric=None if entry is None else entry.fabric,
                grain_rad=panel.grain_rad,
                line=panel.line,
            )
        return replace(recipe, panels=MappingProxyType(panels))

    def digest(self) -> str:
        """Return a digest of which face is of which panel."""
        there = np.unique(self.known.face[self.known.face >= 0])
        number = np.full(len(self.known.panels) + 1, -1, "<i4")
        number[there] = np.arange(len(there))
        found = hashlib.sha256(number[self.known.face].tobytes())
        for k in there.tolist():
            found.update(b"\0" + self.known.panels[k].name.encode())
        return found.hexdigest()


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Comparison(Followed):
    """The same, with how it was found: the mesh is not the one that was baked last.

    Attributes
    ----------
    kept : Kept
        What was baked last.
    uv : (F, 3, 2) float64
    island : (F,) int32
        Of the mesh as it is now.
    free : (P,) bool
        Old panels whose names the recipe does not go on with.
    overlap : Overlap
    decision : Decision
    """

    kept: Kept
    uv: F64
    island: I32
    free: Bool
    overlap: "Overlap"
    decision: "Decision"


def replay(recipe: Recipe, kept: Kept) -> Followed:
    """Return what the record tells, for a mesh and a list of panels that did not change."""
    number = np.unique(kept.known[kept.known >= 0]).tolist()
    made_by = {kept.panels[k].name: kept.panels[k].entry for k in number}
    own = {name: entry for name, entry in made_by.items() if entry in recipe.panels}
    panels = [_known_panel(recipe, p.name, p.entry, p.sewn_mm) for p in kept.panels]
    literal = {p.entry for k, p in enumerate(kept.panels) if k not in number}
    return Followed(
        known=Known(panels=tuple(panels), face=kept.known),
        made_by=MappingProxyType({name: entry for name, entry in own.items() if entry}),
        literal=frozenset(name for name in literal if name and name in recipe.panels),
    )


def follow(recipe: Recipe, mesh: Mesh, kept: Kept) -> Comparison:
    """Find the panels that were baked on the mesh as it is now.

    Parameters
    ----------
    recipe : Recipe
        As its file has it.
    mesh : Mesh
        As it is now.
    kept : Kept
        What was baked last.

    Raises
    ------
    UserError
        For a mesh that cannot be baked or is another garment; for entries that match nothing.
    """
    welded = weld(mesh.points_mm, mesh.faces)
    from texbake.change.decide import Cloth, decide
    from texbake.change.overlap import measure

    island = islands(welded, mesh.uv)
    usable, _ = check(mesh, island, weld=welded)
    literal = frozenset(
        name for name, entry in recipe.panels.items() if kept.entries.get(name) != picks_of(entry)
    )
    plans = plan_panels(
        mesh, island, usable, {n: recipe.panels[n] for n in sorted(literal)}, path=recipe.path
    )
    settled = tuple(sorted(i for plan in plans if plan.line is not None for i in plan.islands))
    old, new = sides(kept, mesh, island, usable)
    count = int(island.max(initial=-1)) + 1
    overlap = measure(old, new, panels=len(kept.panels), islands=count)
    if overlap.share < LEAST_COMMON:
        raise _other_garment(recipe, kept, old, new, overlap)
    cloth = Cloth(
        corners_mm=new.corners_mm,
        weld=welded,
        island=island,
        area_mm2=face_areas(new.corners_mm),
        seams_mm=_seams(kept),
    )
    free = np.array([not _lives(panel, recipe, literal) for panel in kept.panels], np.bool_)
    decision = _without(decide(overlap, cloth, settled=settled), free)
    known, made_by = _known(recipe, mesh, island, usable, kept, decision, literal)
    return Comparison(
        kept=kept,
        uv=mesh.uv,
        island=island,
        known=known,
        made_by=made_by,
        literal=literal,
        free=free,
        overlap=overlap,
        decision=decision,
    )


def same_entries(recipe: Recipe, kept: Kept) -> bool:
    """Say whether the recipe finds its panels by the same words as in the last bake."""
    return {name: picks_of(entry) for name, entry in recipe.panels.items()} == dict(kept.entries)


def same_mesh(mesh: Mesh, kept: Kept) -> bool:
    """Say whether a mesh is the one that was baked last, whatever else its file says now."""
    tag, tags = face_tags(mesh)
    return (
        np.array_equal(mesh.points_mm, kept.points_mm)
        and np.array_equal(mesh.faces, kept.faces)
        and np.array_equal(mesh.uv, kept.uv)
        and np.array_equal(tag, kept.tag)
        and tags == kept.tags
    )


def face_areas(corners_mm: F64) -> F64:
    """Areas (F,) of triangles (F, 3, 3)."""
    normal = np.cross(corners_mm[:, 1] - corners_mm[:, 0], corners_mm[:, 2] - corners_mm[:, 0])
    return np.asarray(0.5 * np.linalg.norm(normal, axis=1))


def sides(kept: Kept, mesh: Mesh, island: I32, usable: Bool) -> tuple[Side, Side]:
    """Return what was and what is, ready to be compared."""
    tag, tags = face_tags(mesh)
    number = {name: k for k, name in enumerate(dict.fromkeys((*kept.tags, *tags)))}
    old = Side(
        corners_mm=kept.points_mm[kept.faces],
        uv=kept.uv,
        owner=kept.panel,
        tag=np.array([number[name] for name in kept.tags], np.int32)[kept.tag],
    )
    new = Side(
        corners_mm=mesh.points_mm[mesh.faces],
        uv=mesh.uv,
        owner=np.where(usable, island, -1).astype(np.int32),
        tag=np.array([number[name] for name in tags], np.int32)[tag],
    )
    return old, new


def _seams(kept: Kept) -> F64:
    """Edges (E, 2, 3) of the mesh that was baked where one panel meets another."""
    welded = weld(kept.points_mm, kept.faces)
    half, first = edge_groups(welded)
    panel = kept.panel[half // 3]
    bounds = first[:-1]
    many = np.diff(first) > 1
    low, high = np.minimum.reduceat(panel, bounds), np.maximum.reduceat(panel, bounds)
    one = half[bounds[many & (low != high)]]
    end = one - one % 3 + (one + 1) % 3
    flat = kept.points_mm[kept.faces].reshape(-1, 3)
    return np.stack([flat[one], flat[end]], axis=1)


def _lives(panel: KeptPanel, recipe: Recipe, literal: Collection[str]) -> bool:
    """Say whether an old panel goes on under its name."""
    if panel.name in literal:
        return False
    if panel.entry is None:
        return panel.name not in recipe.panels
    return panel.entry in recipe.panels and panel.entry not in literal


def _without(decision: "Decision", free: Bool) -> "Decision":
    """Leave out panels that the recipe does not go on with."""
    face = decision.face
    dropped = (face >= 0) & free[face]
    return replace(
        decision,
        face=np.where(dropped, -1, face).astype(np.int32),
        gone=tuple(p for p in decision.gone if not free[p]),
        doubts=tuple(d for d in decision.doubts if not all(free[p] for p in d.panels)),
    )


def _known(
    recipe: Recipe,
    mesh: Mesh,
    island: I32,
    usable: Bool,
    kept: Kept,
    decision: "Decision",
    literal: Collection[str],
) -> tuple[Known, Mapping[str, str]]:
    """Return the panels that are known, with new cloth that an entry of old ones finds."""
    made_by = {p.name: p.entry for p in kept.panels if p.entry is not None}
    made_by = {name: entry for name, entry in made_by.items() if entry in recipe.panels}
    panels = [_known_panel(recipe, p.name, p.entry, p.sewn_mm) for p in kept.panels]
    face = decision.face.copy()
    taken = {p.name for p in kept.panels} | set(recipe.panels)
    for entry in sorted(set(recipe.panels) - set(literal)):
        for number in _finds(recipe.panels[entry], mesh, island, usable, decision.fresh):
            name = _next_name(entry, taken)
            taken.add(name)
            made_by[name] = entry
            face[island == number] = len(panels)
            panels.append(_known_panel(recipe, name, entry, np.zeros((0, 2, 3))))
    return Known(panels=tuple(panels), face=face), MappingProxyType(made_by)


def _known_panel(recipe: Recipe, name: str, entry: str | None, sewn_mm: F64) -> KnownPanel:
    own = None if entry is None else recipe.panels.get(entry)
    return KnownPanel(
        name=name,
        grain_rad=0.0 if own is None else own.grain_rad,
        line=None if own is None else own.line,
        sewn_mm=sewn_mm,
    )


def _finds(
    entry: PanelRecipe, mesh: Mesh, island: I32, usable: Bool, fresh: Sequence[int]
) -> list[int]:
    """Islands of new cloth that an entry of the recipe finds by names in the file."""
    if not fresh or entry.at is not None or entry.islands:
        return []
    mine = usable & np.isin(island, fresh)
    try:
        plans = plan_panels(mesh, island, mine, {entry.name: entry})
    except UserError:
        return []  # no new cloth has that name
    return sorted(i for plan in plans if plan.line == entry.line for i in plan.islands)


def _next_name(entry: str, taken: Collection[str]) -> str:
    """Return the next of NAME, NAME-2, NAME-3 ... that is free."""
    number = 2
    while f"{entry}-{number}" in taken:
        number += 1
    return f"{entry}-{number}"


def _other_garment(
    recipe: Recipe, kept: Kept, old: Side, new: Side, overlap: "Overlap"
) -> UserError:
    """Say that the mesh is not the garment that was baked."""
    boxes = [
        " x ".join(f"{side / 10:.3g}" for side in np.ptp(s.corners_mm.reshape(-1, 3), axis=0))
        for s in (old, new)
    ]
    return UserError(
        f"this is another garment than the '{kept.garment}' that was baked from "
        f"{kept.mesh_name}: they have {overlap.share:.0%} of their surface in common "
        f"(then {boxes[0]} cm, now {boxes[1]} cm)",
        fix="give it another name (garment: NAME), or bake to another folder (--out FOLDER); if it "
        "is the same and was moved or scaled, put it back, or set mesh_unit and up right",
        path=recipe.path,
        line=recipe.lines.get("mesh"),
    )
