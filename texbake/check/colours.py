"""Colours as buyers compare them: colourways with each other, threads with their cloth.

Two colourways are compared panel by panel in the mean colour, yarn system by yarn system, and
thread by thread; the largest difference counts, as that is what an eye finds. Where the cloth
itself differs there is nothing to compare.
"""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache
from typing import Final

import numpy as np

from texbake.advice import Finding
from texbake.arrays import F64
from texbake.check.budget import Budget
from texbake.cloth import colour_shares, dyed, yarns
from texbake.colour import delta_e00, linear_to_lab
from texbake.garment.values import Garment
from texbake.prepared import fabric_names
from texbake.recipe import Colour, Fabric, Recipe
from texbake.recipe.values import HemRecipe, SeamRecipe
from texbake.sewing.match import wearers

# Rounding of codes moves a mean by less.
SAME: Final = 1e-3


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Look:
    """What a colourway shows.

    Attributes
    ----------
    cloth : tuple
        The cloths without their colours, their finishes and the number of colours: looks with
        other cloth, or finished otherwise, are not compared.
    names : tuple of str
        What each colour is of.
    lab : (N, 3) float64
        CIE Lab; NaN where unknown.
    """

    cloth: tuple[object, ...]
    names: tuple[str, ...]
    lab: F64


Mean = Callable[[Fabric], tuple[float, float, float]]


def mean_colours() -> Mean:
    """Return a function that gives a fabric's mean colour, linear light.

    A cloth is looked at once, in whatever colours it comes: at 0.1 s a cloth, a hundred colourways
    would wait. It remembers for as long as it lives.
    """
    shares = cache(colour_shares)
    return lambda fabric: dyed(fabric, shares(fabric.undyed))


def look_of(recipe: Recipe, garment: Garment, mean: Mean, measured: F64 | None = None) -> Look:
    """Gather the colours of a colourway.

    Parameters
    ----------
    recipe : Recipe
        The colourway's own.
    garment : Garment
    mean : callable
        From ``mean_colours``.
    measured : (P, 3) float64, optional
        Mean colours of the panels on its maps, linear light; from the recipe if not given.
    """
    worn = fabric_names(recipe, garment)
    panels = (
        [mean(recipe.fabrics[name]) for name in worn] if measured is None else measured.tolist()
    )
    names = [f"panel '{panel.name}'" for panel in garment.panels]
    linear = [tuple(colour) for colour in panels]
    trims = [entry.cloth for entry in (*recipe.seams, *recipe.hems) if entry.cloth is not None]
    for name in dict.fromkeys([*worn, *trims]):
        for number, dye in enumerate(_dyes(recipe.fabrics[name])):
            names.append(f"colour {number + 1} of fabric '{name}'")
            linear.append(dye.linear)
    for name, colour in _threads(recipe):
        names.append(name)
        linear.append((np.nan,) * 3 if colour is None else colour.linear)
    return Look(
        cloth=tuple(
            (recipe.fabrics[name].undyed, recipe.fabrics[name].finish) for name in (*worn, *trims)
        ),
        names=tuple(names),
        lab=linear_to_lab(np.array(linear, np.float64)),
    )


def _dyes(fabric: Fabric) -> list[Colour]:
    """Every colour of a fabric, in order."""
    return [colour for yarn in yarns(fabric) for colour, _ in yarn.dyes]


def _threads(recipe: Recipe) -> Iterator[tuple[str, Colour | None]]:
    """Colours of threads and trims, by the path of their entry."""
    for kind, entries in (("seams", recipe.seams), ("hems", recipe.hems)):
        for number, entry in enumerate(entries):
            if entry.stitch is not None:
                yield f"{kind}.{number}.thread", entry.thread.colour
            yield f"{kind}.{number}.trim", entry.trim
    for number, detail in enumerate(recipe.details):
        yield f"details.{number}.thread", detail.thread.colour


def alike(looks: Mapping[str, Look], recipe: Recipe, budget: Budget) -> Iterator[Finding]:
    """Find colourways that are the same or look the same: each once, with its nearest earlier.

    Parameters
    ----------
    looks : mapping of str to Look
        By colourway.
    recipe : Recipe
        The base, which knows the lines of its colourways.
    budget : Budget
    """
    groups: dict[tuple[object, ...], list[str]] = {}
    for name, look in looks.items():
        known = tuple(np.isfinite(look.lab[:, 0]).tolist())
        groups.setdefault((look.cloth, look.names, known), []).append(name)
    for group in groups.values():
        lab = np.stack([looks[name].lab for name in group])
        for number in range(1, len(group)):
            apart = np.nan_to_num(delta_e00(lab[number], lab[:number]))
            near = int(apart.max(axis=1).argmin())
            of = looks[group[number]].names[int(apart[near].argmax())]
            pair, most = (group[near], group[number]), float(apart[near].max())
            yield from _alike(pair, most, of, recipe, budget)


def _alike(
    pair: tuple[str, str], apart: float, of: str, recipe: Recipe, budget: Budget
) -> Iterator[Finding]:
    """Judge two colourways by their largest difference."""
    first, second = pair
    line = recipe.lines.get(f"colourways.{second}", recipe.lines.get("colourways"))
    found = Finding(
        rule="identical",
        what=f"colourway '{second}' has the same colours as '{first}'",
        fix="take one out, or change its colours",
        value=apart,
        limit=0.0,
        unit="dE00",
        path=recipe.path,
        line=line,
    )
    if apart > SAME:
        what = f"colourways '{first}' and '{second}' differ by dE00 {apart:.2g} at most ({of})"
        found = replace(
            found,
            rule="apart",
            what=f"{what}, under {budget.apart:g}: buyers cannot tell them apart",
            fix="take one out, or set them further apart",
            limit=budget.apart,
        )
    if apart < budget.apart if apart > SAME else not budget.identical:
        yield found


@dataclass(frozen=True, slots=True, kw_only=True)
class _Faint:
    """A thread that its cloth hides, in one colourway."""

    entry: str
    line: int | None
    colourway: str
    apart: float
    cloth: str


def faint_threads(
    recipes: Mapping[str, Recipe], garment: Garment, mean: Mean, budget: Budget
) -> Iterator[Finding]:
    """Find threads with a colour of their own that can hardly be seen on their cloth.

    A thread without a colour follows its cloth and is not meant to show. Each entry of the recipe
    is told once, with the colourway where it is worst.
    """
    worst: dict[str, _Faint] = {}
    others: dict[str, int] = {}
    for name, recipe in recipes.items():
        for one in _faint(recipe, name, garment, mean, budget.thread_contrast):
            others[one.entry] = others.get(one.entry, -1) + 1
            if one.entry not in worst or one.apart < worst[one.entry].apart:
                worst[one.entry] = one
    path = next(iter(recipes.values())).path
    for one in worst.values():
        more = f" (and in {others[one.entry]} more)" if others[one.entry] else ""
        yield Finding(
            rule="thread_contrast",
            what=f"{one.entry}: in colourway '{one.colourway}'{more} the thread differs from "
            f"{one.cloth} by dE00 {one.apart:.2g}, under {budget.thread_contrast:g}: "
            "the stitches hardly show",
            fix="give the thread another colour there, or none if it need not show",
            value=one.apart,
            limit=budget.thread_contrast,
            unit="dE00",
            path=path,
            line=one.line,
        )


def _faint(
    recipe: Recipe, name: str, garment: Garment, mean: Mean, least: float
) -> Iterator[_Faint]:
    """Threads of one colourway that are too near to their cloth."""
    worn = fabric_names(recipe, garment)
    for entry, line, sewn, panels in _sewn(recipe, garment):
        colour = sewn.thread.colour
        fabrics = dict.fromkeys(worn[panel] for panel in panels)
        if colour is None or sewn.stitch is None or not fabrics:
            continue
        thread = linear_to_lab(np.array(colour.linear))
        apart = {
            of: float(delta_e00(thread, linear_to_lab(np.array(mean(recipe.fabrics[of])))))
            for of in fabrics
        }
        least_of = min(apart, key=apart.__getitem__)
        if apart[least_of] < least:
            yield _Faint(
                entry=entry,
                line=recipe.lines.get(entry, line),
                colourway=name,
                apart=apart[least_of],
                cloth=f"fabric '{least_of}'",
            )


def _sewn(
    recipe: Recipe, garment: Garment
) -> Iterator[tuple[str, int | None, SeamRecipe | HemRecipe, Sequence[int]]]:
    """Entries of seams and hems with the panels that their stitches lie on."""
    seams, hems = wearers(garment, recipe)
    for number, (seam, panels) in enumerate(zip(recipe.seams, seams, strict=True)):
        yield f"seams.{number}.thread", seam.line, seam, panels
    for number, (hem, panels) in enumerate(zip(recipe.hems, hems, strict=True)):
        yield f"hems.{number}.thread", hem.line, hem, panels
