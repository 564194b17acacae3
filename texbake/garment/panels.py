"""Which islands are one panel, and what it is called.

A recipe points at cloth by a point in space, by object, group or material name, or by island
number; of several picks in one panel, each must hold. ``islands`` are joined into one panel; all
other picks give one panel per island: NAME if it is one, else NAME-1, NAME-2 ... from the top down.
Islands that the recipe leaves over are panels of their own with default names.
"""

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from difflib import get_close_matches
from pathlib import Path
from typing import Protocol

import numpy as np

from texbake.arrays import F64, I32, Bool
from texbake.errors import UserError, UserErrors
from texbake.garment.names import Places, by_height, default_names, island_places, number_names
from texbake.garment.values import Mesh
from texbake.recipe.values import PanelRecipe, Recipe

# A point farther from the cloth than this share of the garment's diagonal is a mistake.
REACH = 0.1


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """A panel before it is flattened."""

    name: str
    islands: tuple[int, ...]
    grain_rad: float = 0.0
    line: int | None = None


def plan_panels(
    mesh: Mesh,
    island: I32,
    usable: Bool,
    recipes: Mapping[str, PanelRecipe],
    *,
    path: Path | None = None,
    taken: Sequence[str] = (),
) -> tuple[Plan, ...]:
    """Share out the islands among panels.

    Parameters
    ----------
    mesh : Mesh
    island : (F,) int32
    usable : (F,) bool
        Faces with area in UV; an island without any is no panel.
    recipes : mapping of name to PanelRecipe
    path : Path, optional
        The recipe file, for messages.
    taken : sequence of str
        Names that default panels may not have.

    Returns
    -------
    tuple of Plan
        In the order of their first face.

    Raises
    ------
    UserErrors
        Every panel that matches nothing, or not as a whole, or an island that two panels claim.
    """
    pick = _Pick(mesh, island, usable, path)
    plans: list[Plan] = []
    errors: list[UserError] = []
    for name, recipe in recipes.items():
        try:
            plans += _plans(name, recipe, pick)
        except UserErrors as found:
            errors += found.errors
        except UserError as found:
            errors.append(found)
    errors += _double_claims(plans, path) + _double_names(plans, path)
    if errors:
        raise UserErrors(errors)
    claimed = {i for plan in plans for i in plan.islands}
    rest = [i for i in pick.islands if i not in claimed]
    names = default_names(mesh, island, usable, rest, [*taken, *(plan.name for plan in plans)])
    plans += [Plan(name=names[i], islands=(i,)) for i in rest]
    return tuple(sorted(plans, key=lambda plan: plan.islands[0]))


class Named(Protocol):
    """What has the name of a panel."""

    @property
    def name(self) -> str:
        """As `panels` lists it."""


def panels_named(panels: Sequence[Named], name: str) -> tuple[int, ...]:
    """Return the panels that a seam or hem means by ``name``.

    Parameters
    ----------
    panels : sequence
        Of anything that has a panel's name.
    name : str
        A panel's name; a name that several share (NAME-1, NAME-2 ...); or ``all``.

    Returns
    -------
    tuple of int
        Indices, ascending; empty if there is none.
    """
    if name == "all":
        return tuple(range(len(panels)))
    exact = tuple(i for i, panel in enumerate(panels) if panel.name == name)
    several = re.compile(re.escape(name) + r"-[1-9]\d*")
    return exact or tuple(i for i, panel in enumerate(panels) if several.fullmatch(panel.name))


def fabrics_worn(recipe: Recipe, panels: Sequence[Named]) -> list[str]:
    """Return the name of each panel's fabric, in the order of the panels."""
    names = [recipe.fabric] * len(panels)
    for name, entry in recipe.panels.items():
        for panel in panels_named(panels, name):
            names[panel] = entry.fabric or recipe.fabric
    return names


def face_distances(point_mm: F64, corners_mm: F64) -> F64:
    """Return the distance of a point to each triangle.

    Parameters
    ----------
    point_mm : (3,) float64
    corners_mm : (F, 3, 3) float64

    Returns
    -------
    (F,) float64
        mm, >= 0: to the plane where the foot lies inside, else to the nearest side.
    """
    to = point_mm - corners_mm
    side = np.roll(corners_mm, -1, axis=1) - corners_mm
    square = np.maximum((side * side).sum(axis=2), 1e-300)
    share = np.clip((to * side).sum(axis=2) / square, 0.0, 1.0)
    to_side = np.linalg.norm(to - share[..., None] * side, axis=2).min(axis=1)
    normal = np.cross(side[:, 0], side[:, 1])
    size = np.linalg.norm(normal, axis=1)
    inside = ((np.cross(side, to) * normal[:, None]).sum(axis=2) >= 0).all(axis=1) & (size > 0)
    to_plane = np.abs((to[:, 0] * normal).sum(axis=1)) / np.maximum(size, 1e-300)
    return np.asarray(np.where(inside, to_plane, to_side))


class _Pick:
    """Finds islands in a mesh by what a recipe says of them."""

    def __init__(self, mesh: Mesh, island: I32, usable: Bool, path: Path | None) -> None:
        self.mesh, self.path = mesh, path
        self.usable_island = island[usable]
        self.faces = np.flatnonzero(usable)
        self.islands: list[int] = np.unique(self.usable_island).tolist()
        self.corners = mesh.points_mm[mesh.faces[usable]]
        self.places: Places = island_places(mesh, island, usable)

    def by_name(self, panel: PanelRecipe, kind: str) -> set[int]:
        """Return the islands whose faces all have the name that ``panel`` gives for ``kind``."""
        wanted: str | None = getattr(panel, kind)
        if wanted is None:
            return set(self.islands)
        names: tuple[str, ...] = getattr(self.mesh, f"{kind}s")
        of: I32 = getattr(self.mesh, f"{kind}_of")
        wanted_numbers = [i for i, name in enumerate(names) if name == wanted]
        has = np.isin(of[self.faces], wanted_numbers)
        some = set(np.unique(self.usable_island[has]).tolist())
        if not some:
            raise self._nothing_named(panel, kind, wanted, names, of)
        mixed = sorted(some & set(np.unique(self.usable_island[~has]).tolist()))
        if mixed:
            raise self.error(
                panel,
                f"panel '{panel.name}': {_islands(mixed)} {'is' if len(mixed) == 1 else 'are'} "
                f"only partly of {kind} '{wanted}'",
                f"pick whole islands: islands: {mixed}, or cut them in UV where the {kind} changes",
            )
        return some

    def nearest(self, panel: PanelRecipe, point: F64, among: set[int]) -> int:
        """Return the island whose cloth is nearest to ``point``."""
        distance = face_distances(point, self.corners)
        distance[~np.isin(self.usable_island, sorted(among))] = np.inf
        least = float(distance.min())
        close = distance <= least + 1e-6 * self.places.diagonal_mm
        best = min(
            np.unique(self.usable_island[close]).tolist(),
            key=lambda i: (float(np.linalg.norm(self.places.middle[i] - point)), i),
        )
        if least > REACH * self.places.diagonal_mm:
            raise self.error(
                panel,
                f"panel '{panel.name}': the point {self.written(point)} lies {least:.0f} mm from "
                f"any cloth; the nearest is island {best}",
                f"give a point on the panel, such as {self.written(self.places.middle[best])} for "
                f"island {best}, in the unit of the mesh file (1 = {self.mesh.unit_mm:g} mm)",
            )
        return int(best)

    def written(self, point_mm: F64) -> str:
        """Write a point as a recipe has it."""
        return _triple(self.mesh.as_in_file(point_mm))

    def numbered(self, panel: PanelRecipe, among: set[int]) -> tuple[int, ...]:
        """Return the islands that ``panel`` lists; each must exist and meet its other picks."""
        chosen = sorted(set(panel.islands))
        missing = [i for i in chosen if i not in self.islands]
        if missing:
            what = f"panel '{panel.name}': there is no {_islands(missing)}"
            raise self.error(panel, what, f"islands are {_ranges(self.islands)}")
        other = [i for i in chosen if i not in among]
        if other:
            what = f"panel '{panel.name}': {_islands(other)} does not meet the panel's other picks"
            raise self.error(panel, what, "leave out either the number or the other picks")
        return tuple(chosen)

    def error(self, panel: PanelRecipe, what: str, fix: str) -> UserError:
        """Say what is wrong with a panel of the recipe, and where."""
        return UserError(what, fix=fix, path=self.path, line=panel.line)

    def _nothing_named(
        self, panel: PanelRecipe, kind: str, wanted: str, names: tuple[str, ...], of: I32
    ) -> UserError:
        used = sorted({names[i] for i in np.unique(of[self.faces]).tolist() if names[i]})
        near = get_close_matches(wanted, used, n=1)
        guess = f"did you mean '{near[0]}'? " if near else ""
        has = ", ".join(f"'{name}'" for name in used) if used else f"no {kind} names at all"
        islands = _ranges(self.islands)
        return self.error(
            panel,
            f"panel '{panel.name}': no cloth has the {kind} '{wanted}'",
            f"{guess}the mesh has {has}; its islands are {islands}",
        )


def _plans(name: str, recipe: PanelRecipe, pick: _Pick) -> list[Plan]:
    """Find the islands of one recipe panel."""
    among = set(pick.islands)
    errors = []
    for kind in ("object", "group", "material"):
        try:
            among &= pick.by_name(recipe, kind)
        except UserError as found:
            errors.append(found)
    if errors:
        raise UserErrors(errors)
    if not among:
        what = f"panel '{name}': no island meets all of its picks"
        raise pick.error(recipe, what, "leave out one of object, group, material")
    if recipe.at is not None:
        near = pick.nearest(recipe, np.array(recipe.at), among)
        if recipe.islands and near not in recipe.islands:
            what = f"panel '{name}': its point is on island {near}, which it does not list"
            raise pick.error(recipe, what, "leave out either the point or the numbers")
        among = among if recipe.islands else {near}
    return [
        Plan(name=each, islands=islands, grain_rad=recipe.grain_rad, line=recipe.line)
        for each, islands in _named_groups(name, recipe, pick, among)
    ]


def _named_groups(
    name: str, recipe: PanelRecipe, pick: _Pick, among: set[int]
) -> Iterator[tuple[str, tuple[int, ...]]]:
    """Yield name and islands of each panel that one recipe panel makes."""
    if recipe.islands:
        yield name, pick.numbered(recipe, among)
        return
    ordered = by_height(pick.places, sorted(among))
    for each, i in zip(number_names(name, len(ordered)), ordered, strict=True):
        yield each, (i,)


def _double_claims(plans: list[Plan], path: Path | None) -> list[UserError]:
    """Complain of islands that two panels claim."""
    first: dict[int, Plan] = {}
    clashes: dict[tuple[str, str], tuple[Plan, Plan, list[int]]] = {}
    for plan in plans:
        for i in plan.islands:
            earlier = first.setdefault(i, plan)
            if earlier is not plan:
                key = (earlier.name, plan.name)
                clashes.setdefault(key, (earlier, plan, []))[2].append(i)
    return [
        UserError(
            f"panels '{a.name}'{_line(a)} and '{b.name}'{_line(b)} both claim {_islands(which)}",
            fix="let one of them go, or pick by island number",
            path=path,
            line=b.line,
        )
        for a, b, which in clashes.values()
    ]


def _double_names(plans: list[Plan], path: Path | None) -> list[UserError]:
    """Complain of a name that one panel has and another's numbering makes."""
    first: dict[str, Plan] = {}
    return [
        UserError(
            f"two panels are called '{plan.name}'{_line(first[plan.name])}{_line(plan)}",
            fix="rename one: a name that fits several islands is numbered NAME-1, NAME-2 ...",
            path=path,
            line=plan.line,
        )
        for plan in plans
        if first.setdefault(plan.name, plan) is not plan
    ]


def _line(plan: Plan) -> str:
    return "" if plan.line is None else f" (line {plan.line})"


def _islands(numbers: Sequence[int]) -> str:
    word = "island" if len(numbers) == 1 else "islands"
    return f"{word} {', '.join(str(i) for i in numbers)}"


def _ranges(numbers: Sequence[int]) -> str:
    """Write numbers as ranges.

    >>> _ranges([0, 1, 2, 5])
    '0 to 2, 5'
    """
    ends = [i for i in numbers if i - 1 not in numbers]
    stops = [i for i in numbers if i + 1 not in numbers]
    return ", ".join(str(a) if a == b else f"{a} to {b}" for a, b in zip(ends, stops, strict=True))


def _triple(point: F64) -> str:
    return "[" + ", ".join(f"{round(x, 3) + 0.0:.4g}" for x in point.tolist()) + "]"
