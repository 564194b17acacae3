"""Everything that comes before the first texel, most of it once for all colourways of a garment.

Garment, layout, filtered cloth and sewing profiles follow from recipe and mesh. What differs in
colours alone is taken over by the next colourway.
"""

import os
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from texbake import cloth, finish, keep
from texbake.arrays import I32, I64
from texbake.errors import UserError, UserErrors
from texbake.garment.content import demand_mesh
from texbake.garment.known import Known
from texbake.garment.panels import fabrics_worn
from texbake.garment.read import read_mesh
from texbake.garment.shifts import panel_shifts
from texbake.garment.values import Garment, Mesh
from texbake.layout import Layout, Reach
from texbake.recipe import Fabric, Recipe, check_panels
from texbake.sewing.details import DetailSpec, details
from texbake.sewing.facts import ClothFacts, cloth_facts
from texbake.sewing.match import specs
from texbake.sewing.reach import reach_facts, rows_touched
from texbake.sewing.spec import SewnSpec
from texbake.sewing.strips import StripSpec, strips
from texbake.store import Store

if TYPE_CHECKING:  # a bake without prints or creases does without their modules
    from texbake import crease
    from texbake.carry.prints import Print

NOTHING = Store()  # keeps nothing

Report = Callable[[str, float], None]


def silent(stage: str, share: float) -> None:
    """Report nothing."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Wear:
    """One fabric, ready for the faces that wear it; ``panels``: which those are."""

    fabric: Fabric
    weaver: cloth.Weaver
    panels: tuple[int, ...]


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Prepared:
    """Everything that is done before the first texel, most of it once for all colourways.

    Attributes
    ----------
    recipe : Recipe
    garment : Garment
    layout : Layout
    wears : tuple of Wear
        Fabrics in the recipe's order.
    wear_of : (F,) int32
        Index into ``wears`` for each face; -1 for none.
    specs : tuple of SewnSpec
        In the order of sewing.
    details : tuple of DetailSpec
        Bar tacks and buttonholes, sewn last.
    creases : crease.Field or None
        Bends cloth and sewing alike.
    strips : tuple of StripSpec or None
        The cloth of each chain's binding, piping or band.
    prints : tuple of Print
        Inks on the cloth.
    reaches : tuple of Reach
        The faces and edges that each of ``specs`` touches.
    rows : (chains, 2) int64
        First and last row of texels that each of ``specs`` can touch.
    finishing : Finishing
        What is done to the cloth once it is sewn.
    store : Store
        Where slow steps are kept.
    """

    recipe: Recipe
    garment: Garment
    layout: Layout
    wears: tuple[Wear, ...]
    wear_of: I32
    specs: tuple[SewnSpec, ...]
    reaches: tuple[Reach, ...]
    rows: I64
    finishing: finish.Finishing
    details: tuple[DetailSpec, ...] = ()
    creases: "crease.Field | None" = None
    strips: tuple[StripSpec | None, ...] = ()
    prints: "tuple[Print, ...]" = ()
    store: Store = NOTHING


def mesh_of(recipe: Recipe) -> Mesh:
    """Read a recipe's mesh.

    Raises
    ------
    UserError
        For a mesh that cannot be read.
    """
    demand_mesh(recipe)
    return read_mesh(
        recipe.mesh,
        unit_mm=recipe.mesh_unit_mm,
        up=recipe.up,
        uv_set=recipe.uv_set,
        tile=recipe.tile if "tile" in recipe.lines else None,
    )


def read_garment(
    recipe: Recipe,
    store: Store = NOTHING,
    *,
    mesh: Mesh | None = None,
    known: Known | None = None,
) -> Garment:
    """Read a recipe's mesh and rebuild the garment: islands, panels, seams, hems.

    Parameters
    ----------
    recipe : Recipe
    store : Store
    mesh : Mesh, optional
        The mesh, if it was read already.
    known : Known, optional
        Panels that are known from the last bake.

    Raises
    ------
    UserError
        For a mesh that cannot be baked and for panels that match nothing, all at once.
    """
    built = keep.garment(store, mesh or mesh_of(recipe), recipe, known)
    check_panels(recipe, [panel.name for panel in built.panels])
    return built


def prepare(
    recipe: Recipe,
    *,
    report: Report = silent,
    store: Store = NOTHING,
    mesh: Mesh | None = None,
    known: Known | None = None,
) -> Prepared:
    """Do what comes before the first texel.

    Parameters
    ----------
    recipe : Recipe
    report : callable
        Told the name of each stage and the share done, 0 to 1.
    store : Store
        Keeps slow steps for the next bake.
    mesh, known : optional
        As for `read_garment`.
    """
    report("garment", 0.0)
    built = read_garment(recipe, store, mesh=mesh, known=known)
    with ThreadPoolExecutor(1) as beside:
        job = beside.submit(_sewing, recipe, built, store)
        report("layout", 0.0)
        laid = keep.layout(store, built, recipe.size_px, recipe.gutter_px)
        report("cloth", 0.0)
        wears, wear_of = _wears(recipe, built, laid, (), store)
        report("sewing", 0.0)
        sewn, close = job.result()
    return Prepared(
        recipe=recipe,
        garment=built,
        layout=laid,
        wears=wears,
        wear_of=wear_of,
        specs=sewn,
        reaches=close,
        rows=rows_touched(built, close, recipe.size_px),
        finishing=finish.finishing(built, laid, _worn(wears), sewn, recipe.seed),
        details=details_of(recipe, built, store),
        creases=keep.creases(store, built, laid, recipe),
        strips=strips(recipe, sewn, close, laid),
        prints=prints_of(recipe, built),
        store=store,
    )


def redress(prepared: Prepared, recipe: Recipe) -> Prepared:
    """Return what is prepared, for another colourway of the same garment.

    Garment and layout stay, and so does cloth in which nothing but colours differs.

    Parameters
    ----------
    prepared : Prepared
    recipe : Recipe
        Cloth and sewing may differ from ``prepared.recipe``, nothing else may.

    Raises
    ------
    UserError
        If its cloth or sewing do not fit the garment.
    """
    if recipe is prepared.recipe:
        return prepared
    built, store = prepared.garment, prepared.store
    check_panels(recipe, [panel.name for panel in built.panels])
    wears, wear_of = _wears(recipe, built, prepared.layout, prepared.wears, store)
    sewn = sewing_of(recipe, built, store)
    close, rows, known = prepared.reaches, prepared.rows, prepared.strips
    if reach_facts(sewn) != reach_facts(prepared.specs):
        close = keep.reaches(store, built, sewn)
        rows, known = rows_touched(built, close, prepared.recipe.size_px), ()
    return replace(
        prepared,
        recipe=recipe,
        wears=wears,
        wear_of=wear_of,
        specs=sewn,
        reaches=close,
        rows=rows,
        finishing=finish.finishing(
            built, prepared.layout, _worn(wears), sewn, recipe.seed, prepared.finishing
        ),
        details=details_of(recipe, built, store),
        strips=strips(recipe, sewn, close, prepared.layout, known),
        prints=prints_of(recipe, built, prepared.prints),
    )


def _wears(
    recipe: Recipe, built: Garment, laid: Layout, known: Sequence[Wear], store: Store
) -> tuple[tuple[Wear, ...], I32]:
    """Fabrics in the recipe's order, and which of them each face wears.

    Those that are ``known`` and differ in colours alone are taken over.
    """
    names = fabric_names(recipe, built)
    _refuse_mixed_overlaps(recipe, built, laid, names)
    used = [f for f in recipe.fabrics.values() if f.name in names]
    number = {fabric.name: k for k, fabric in enumerate(used)}
    of_panel = np.array([number[name] for name in names] + [-1], np.int32)
    wear_of = of_panel[built.panel]
    ready = {(wear.fabric.undyed, wear.panels): wear.weaver for wear in known}
    shift = panel_shifts(built)
    wears = []
    for k, fabric in enumerate(used):
        panels = tuple(panel for panel, name in enumerate(names) if name == fabric.name)
        weaver = ready.get((fabric.undyed, panels))
        if weaver is None:
            weaver = keep.weaver(store, fabric, laid, wear_of == k, shift, recipe.seed)
        wears.append(Wear(fabric=fabric, weaver=weaver, panels=panels))
    return tuple(wears), wear_of


def _worn(wears: Sequence[Wear]) -> list[Fabric]:
    return [wear.fabric for wear in wears]


def _sewing(
    recipe: Recipe, built: Garment, store: Store
) -> tuple[tuple[SewnSpec, ...], tuple[Reach, ...]]:
    """What is sewn along each chain, and what it reaches."""
    sewn = sewing_of(recipe, built, store)
    return sewn, keep.reaches(store, built, sewn)


def fabric_names(recipe: Recipe, built: Garment) -> list[str]:
    """Name of each panel's fabric, in the order of the garment's panels."""
    return fabrics_worn(recipe, built.panels)


def _refuse_mixed_overlaps(
    recipe: Recipe, built: Garment, laid: Layout, names: Sequence[str]
) -> None:
    """Texels shared by two panels can show one cloth only."""
    mistakes: list[UserError] = []
    for overlap in laid.overlaps:
        a, b = overlap.panels
        if names[a] == names[b]:
            continue
        first, second = built.panels[a], built.panels[b]
        mistakes.append(
            UserError(
                f"panels '{first.name}' ({names[a]}) and '{second.name}' ({names[b]}) share "
                f"{overlap.texels} texels, but they are of different cloth",
                fix="give both panels the same fabric, or move their islands apart in UV",
                path=recipe.path,
                line=first.line or second.line,
            )
        )
    if mistakes:
        raise UserErrors(mistakes)


def sewing_of(recipe: Recipe, built: Garment, store: Store = NOTHING) -> tuple[SewnSpec, ...]:
    """What is sewn along each chain, in the colours of one colourway."""
    facts, fabrics = _facts(recipe, built), fabric_names(recipe, built)
    own = cloth_facts(recipe, [e.cloth for e in (*recipe.seams, *recipe.hems) if e.cloth])
    sewn = specs(built, recipe, facts, draw=keep.stitches(store), strips=own)
    return finish.dyed(sewn, built, [recipe.fabrics[name] for name in fabrics], facts)


def details_of(recipe: Recipe, built: Garment, store: Store = NOTHING) -> tuple[DetailSpec, ...]:
    """Bar tacks and buttonholes, in the colours of one colourway."""
    facts = _facts(recipe, built) if recipe.details else []
    return details(built, recipe, facts, drawing=keep.tacks(store)) if recipe.details else ()


def prints_of(recipe: Recipe, built: Garment, known: "Sequence[Print]" = ()) -> "tuple[Print, ...]":
    """Prints, carried from the layout they were painted on; ``known``: of another colourway."""
    if not recipe.prints:
        return ()
    from texbake.carry.prints import prepare_prints

    return prepare_prints(recipe, built, known, threads=os.cpu_count() or 1)


def _facts(recipe: Recipe, built: Garment) -> list[ClothFacts]:
    """What sewing must know of each panel's cloth."""
    names = fabric_names(recipe, built)
    facts = cloth_facts(recipe, names)
    return [facts[name] for name in names]
