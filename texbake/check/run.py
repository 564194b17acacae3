"""Checks a recipe, its mesh and its sets against a budget."""

import os
from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field, replace
from itertools import chain
from pathlib import Path

from texbake.advice import Figures, Finding, judge, measure, off_square
from texbake.arrays import F64
from texbake.batch import Meant, chosen, meant
from texbake.check.budget import Budget, load_budget, usual_budget
from texbake.check.colours import alike, faint_threads, look_of, mean_colours
from texbake.check.maps import Covers
from texbake.check.sets import find_set, judge_set
from texbake.check.texels import Memory, Texels, look_into
from texbake.errors import UserError
from texbake.garment.islands import islands
from texbake.garment.values import Garment
from texbake.garment.weld import weld
from texbake.layout import lay_out
from texbake.prepared import NOTHING, mesh_of
from texbake.recipe import Recipe, load
from texbake.store import Store

Report = Callable[[str, float], None]


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Checked:
    """What was found.

    Attributes
    ----------
    garment : str
    findings : tuple of Finding
        Mesh and layout first, then sets in the recipe's order, then colours.
    triangles : int
    layout : Figures or None
        None for a mesh that cannot be laid out.
    sets : mapping of str to dict
        Figures of each set that is there, by colourway.
    notes : tuple of str
        What is odd about the mesh, as a bake tells it.
    """

    garment: str
    findings: tuple[Finding, ...]
    triangles: int
    layout: Figures | None = None
    sets: Mapping[str, Mapping[str, float]] = field(default_factory=dict)
    notes: tuple[str, ...] = ()


def check_recipe(
    path: Path,
    *,
    out: Path | None = None,
    budget: Path | None = None,
    size_px: int | None = None,
    colourways: Sequence[str] = (),
    report: Report | None = None,
    store: Store = NOTHING,
) -> Checked:
    """Check a garment before it goes out.

    Parameters
    ----------
    path : Path
        The recipe.
    out : Path, optional
        Where its sets are, ``out`` if not given.
    budget : Path, optional
        A budget file; the usual limits if not given.
    size_px : int, optional
        Stands for the recipe's own size, as for a bake.
    colourways : sequence of str
        Names; all of them if empty.
    report : callable, optional
        Told each stage and the share done.
    store : Store
        Where slow steps are kept.

    Raises
    ------
    UserError
        For anything wrong with recipe, budget or mesh file.
    MachineError
        If a file cannot be read.
    """
    limits = usual_budget() if budget is None else load_budget(budget)
    project = load(path)
    wanted, target = chosen(project, colourways, size_px), out or Path("out")
    recipe, told = next(iter(wanted.values())), report or _silent
    told("garment", 0.0)
    now, garment, triangles, found = _garment(wanted, target, limits, store)
    if now is None or garment is None:
        return Checked(garment=recipe.garment, findings=tuple(found), triangles=triangles)
    figures = measure(
        garment,
        lay_out(garment, recipe.size_px, gutter_px=0),
        gutter_px=1 << limits.mip_level,
    )
    found += _gutter(recipe, limits)
    found += judge(figures, limits.layout, mesh=recipe.mesh, recipe=recipe.path)
    seen = _look(now, garment, target, limits, told)
    found += [finding for one in seen.values() for finding in one.findings]
    means = {name: one.mean for name, one in seen.items()}
    found += _colours(project.recipe, now.recipes, garment, means, limits)
    return Checked(
        garment=recipe.garment,
        findings=tuple(found),
        triangles=triangles,
        layout=figures,
        sets={name: one.figures for name, one in seen.items() if one.figures},
        notes=(*project.notes, *garment.notes),
    )


def _silent(_stage: str, _share: float) -> None:
    """Report nothing."""


def _garment(
    wanted: Mapping[str, Recipe], out: Path, limits: Budget, store: Store
) -> tuple[Meant | None, Garment | None, int, list[Finding]]:
    """Read the garment, and count its triangles; islands off the square are a finding."""
    recipe = next(iter(wanted.values()))
    try:
        now = meant(wanted, out)
        garment = now.garment(store)
    except UserError as error:
        mesh = mesh_of(recipe)
        off = off_square(mesh.uv, islands(weld(mesh.points_mm, mesh.faces), mesh.uv))
        if limits.layout.in_square or not off:
            raise
        count = len(mesh.faces)
        found = Finding(rule="in_square", what=error.what, fix=error.fix, path=error.path)
        return None, None, count, [*_triangles(recipe, count, limits), found]
    count = len(garment.mesh.faces)
    return now, garment, count, _triangles(recipe, count, limits)


def _triangles(recipe: Recipe, count: int, limits: Budget) -> list[Finding]:
    """Hold the number of triangles against the limit."""
    if count <= limits.triangles:
        return []
    return [
        Finding(
            rule="triangles",
            what=f"the mesh has {count} triangles, over {limits.triangles}",
            fix="reduce it: flat places and edges that no silhouette shows first",
            value=float(count),
            limit=float(limits.triangles),
            path=recipe.mesh,
        )
    ]


def _gutter(recipe: Recipe, limits: Budget) -> list[Finding]:
    """Hold the recipe's gutter against the mip level that must stay clean."""
    least = 1 << limits.mip_level
    if recipe.gutter_px >= least:
        return []
    level = recipe.gutter_px.bit_length() - 1
    clean = f"keeps mip levels to {level} clean" if level >= 0 else "keeps no mip level clean"
    return [
        Finding(
            rule="mip_level",
            what=f"a gutter of {recipe.gutter_px} {clean}, level {limits.mip_level} needs {least}",
            fix=f"gutter: {least}",
            value=float(recipe.gutter_px),
            limit=float(least),
            unit="texels",
            path=recipe.path,
            line=recipe.lines.get("gutter"),
        )
    ]


def _look(
    now: Meant, garment: Garment, out: Path, limits: Budget, told: Report
) -> dict[str, Texels]:
    """Look at every set; the first alone, so that what it shares with others is seen once."""
    memory: Memory = {}
    covers = Covers(garment)

    def look(name: str) -> Texels:
        one = find_set(now.recipes[name], name, out)
        found = tuple(judge_set(one, now.common, limits))
        if one.record is None or not one.maps:
            return Texels(findings=found, mean=None, figures={})
        texels = look_into(one, covers, limits, memory)
        return replace(texels, findings=(*found, *texels.findings))

    seen = {}
    first, *rest = now.recipes
    told("sets", 0.0)
    with ThreadPoolExecutor(os.cpu_count()) as pool:
        for done, one in enumerate(chain([look(first)], pool.map(look, rest))):
            seen[(first, *rest)[done]] = one
            told("sets", (done + 1) / len(now.recipes))
    return seen


def _colours(
    base: Recipe,
    wanted: Mapping[str, Recipe],
    garment: Garment,
    means: Mapping[str, F64 | None],
    limits: Budget,
) -> list[Finding]:
    """Compare colourways and threads; as baked where all are, else by the recipe."""
    baked = all(mean is not None for mean in means.values())
    mean = mean_colours()
    looks = {
        name: look_of(recipe, garment, mean, means[name] if baked else None)
        for name, recipe in wanted.items()
    }
    found = list(alike(looks, base, limits))
    return [*found, *faint_threads(wanted, garment, mean, limits)]
