"""Bakes every set that a recipe asks for and delivers it."""

from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from texbake.batch.choose import chosen
from texbake.batch.door import Meant, meant
from texbake.batch.one import Done, Donor, Order, Work, add_one, bake_lot, keep_one, names_of
from texbake.batch.parts import parts_of, undyed_key
from texbake.batch.plan import Plan, plan_sets
from texbake.batch.remarks import lost, remarks
from texbake.beside import KINDS
from texbake.change import Last, remember, tell
from texbake.deliver import Source, check_place
from texbake.garment.panels import fabrics_worn
from texbake.garment.values import Garment
from texbake.prepared import (
    NOTHING,
    Prepared,
    Report,
    fabric_names,
    prepare,
    read_garment,
    redress,
    silent,
)
from texbake.recipe import Project, fingerprint, load
from texbake.recipe.canonical import file_digest
from texbake.store import Store

if TYPE_CHECKING:
    from texbake.change.renew import Renewal


def bake_recipe(
    path: Path,
    *,
    out: Path | None = None,
    size_px: int | None = None,
    colourways: Sequence[str] = (),
    threads: int | None = None,
    report: Report | None = None,
    note: Callable[[str], None] | None = None,
    beside: Collection[str] = KINDS,
    anew: bool = False,
    update_recipe: bool = False,
    store: Store = NOTHING,
) -> tuple[Done, ...]:
    """Bake a recipe's sets.

    Parameters
    ----------
    path : Path
        The recipe.
    out : Path, optional
        Where the sets go, as ``OUT/GARMENT/COLOURWAY``; ``out`` beside the recipe's working
        folder if not given.
    size_px : int, optional
        Stands for the recipe's own size; a power of two from 16 to 16384.
    colourways : sequence of str
        Names; all of them if empty.
    threads : int, optional
        All cores if not given. The bytes are the same for any.
    report : callable, optional
        Told each stage and the share done.
    note : callable, optional
        Told what the user should know of the garment, a sentence at a time.
    beside : collection of str
        What goes beside the maps, of "view", "sheet", "glb" and "zip"; the first three if not
        given. A recipe's ``delivery: {zip: true}`` adds the last.
    anew : bool
        Bake all; if not given, sets that nothing changed are kept.
    update_recipe : bool
        After a change of the layout, write into the recipe which islands its panels are now.
    store : Store
        Where slow steps are kept for the next bake; nowhere if not given.

    Returns
    -------
    tuple of Done
        In the order of the recipe.

    Raises
    ------
    UserError
        For anything wrong with the recipe or the mesh; nothing is written then.
    MachineError
        If a set cannot be written; earlier sets stay as they were.
    """
    target = Path("out") if out is None else out
    project = load(path)
    now, plans = _planned(project, target, size_px, colourways, beside, anew=anew)
    last, common = now.last, now.common
    for sentence in (*project.notes, *lost(now, plans, target)):
        (note or _silent_note)(sentence)
    mesh = plans[0].recipe.mesh
    work = Work(
        recipe=Source(name=path.name, sha256=fingerprint(plans[0].recipe)),
        mesh=Source(name=mesh.name, sha256=file_digest(mesh)),
        common=common,
        threads=threads,
        report=report or silent,
    )
    ready = _dressed([plan for plan in plans if plan.action == "bake"], work, last, store)
    for sentence in dict.fromkeys(s for one in ready.values() for s in remarks(one)):
        (note or _silent_note)(sentence)
    for plan in plans:
        if plan.colourway in ready:
            worn = fabric_names(plan.recipe, ready[plan.colourway].garment)
            check_place(plan.folder, names_of(plan, worn).values())
    built = _garment(plans, ready, last, store, needed=update_recipe and last.known is not None)
    change = _renewal(last, built) if update_recipe and built is not None else None
    told = () if built is None else tell(last, built, target, silent=change is not None)
    for sentence in (*told, *(() if change is None else change.told)):
        (note or _silent_note)(sentence)
    done = {one.colourway: one for one in _done(plans, ready, built, work)}
    if change is not None:
        from texbake.change.renew import carry_out

        carry_out(change)
    if built is not None and (last.stale or change is not None):
        remember(last if change is None else change.last, built, target)
    return tuple(done[plan.colourway] for plan in plans)


def plan_recipe(
    path: Path,
    *,
    out: Path | None = None,
    size_px: int | None = None,
    colourways: Sequence[str] = (),
    beside: Collection[str] = KINDS,
    anew: bool = False,
    note: Callable[[str], None] | None = None,
    store: Store = NOTHING,
) -> tuple[Plan, ...]:
    """Say what `bake_recipe` would do for each set, and why; nothing is written but the store.

    Parameters
    ----------
    path, out, size_px, colourways, beside, anew, note, store
        As for `bake_recipe`; what became of panels after a UV change is noted.

    Raises
    ------
    UserError
        For anything wrong with the recipe; if there is no mesh (what is wrong in it shows in the
        bake only, or after a UV change); if a file is in the way that Texbake did not write.
    MachineError
        If the sets' folders cannot be read or written.
    """
    target = Path("out") if out is None else out
    project = load(path)
    now, plans = _planned(project, target, size_px, colourways, beside, anew=anew, draw=False)
    told = (*project.notes, *lost(now, plans, target))
    if now.last.mesh is not None and now.last.followed is not None:
        told = (*told, *tell(now.last, now.garment(store), target, draw=False))
    for sentence in told:
        (note or _silent_note)(sentence)
    for plan in plans:
        if plan.action == "bake":
            check_place(plan.folder, names_of(plan, _likely_worn(plan)).values())
    return plans


def _planned(
    project: Project,
    out: Path,
    size_px: int | None,
    colourways: Sequence[str],
    beside: Collection[str],
    *,
    anew: bool,
    draw: bool = True,
) -> tuple[Meant, tuple[Plan, ...]]:
    """Look at what is there."""
    wanted = chosen(project, colourways, size_px)
    now = meant(wanted, out, draw=draw)
    return now, plan_sets(now.recipes, out, now.common, beside=beside, anew=anew)


def _likely_worn(plan: Plan) -> list[str]:
    """Fabrics that panels wear, by the panels of the last bake; without one, all that are named."""
    if plan.record is not None:
        return fabrics_worn(plan.recipe, plan.record.panels)
    named = (entry.fabric for entry in plan.recipe.panels.values())
    return [plan.recipe.fabric, *(name for name in named if name is not None)]


def _dressed(plans: Sequence[Plan], work: Work, last: Last, store: Store) -> dict[str, Prepared]:
    """Prepare all before any is baked: what is wrong with the last is told before the first."""
    if not plans:
        return {}
    shared = prepare(
        plans[0].recipe, report=work.report, store=store, mesh=last.mesh, known=last.known
    )
    return {plan.colourway: redress(shared, plan.recipe) for plan in plans}


def _renewal(last: Last, built: Garment) -> "Renewal":
    """Work out how the recipe's file has to change."""
    from texbake.change.renew import renewal

    return renewal(last, built)


def _garment(
    plans: Sequence[Plan],
    ready: Mapping[str, Prepared],
    last: Last,
    store: Store,
    *,
    needed: bool,
) -> Garment | None:
    """Return the garment, if a set, the layout record or something else needs it."""
    for one in ready.values():
        return one.garment
    some = [plan for plan in plans if plan.action == "add" or last.stale or needed]
    return next(
        (read_garment(p.recipe, store, mesh=last.mesh, known=last.known) for p in some), None
    )


def _done(
    plans: Sequence[Plan], ready: Mapping[str, Prepared], garment: Garment | None, work: Work
) -> Iterator[Done]:
    """Do what is planned, what has to be baked first."""
    yield from _baked(plans, ready, work)
    for plan in plans:
        if plan.record is not None and plan.action == "keep":
            yield keep_one(plan, plan.record, work)
        elif plan.record is not None and plan.action == "add" and garment is not None:
            yield add_one(plan, plan.record, garment, work)


def _baked(plans: Sequence[Plan], ready: Mapping[str, Prepared], work: Work) -> Iterator[Done]:
    """Bake what is to be baked: colourways that differ in colours alone, together."""
    lots: dict[str, list[Order]] = {}
    for plan in plans:
        if plan.colourway in ready:
            own = ready[plan.colourway]
            parts = parts_of(plan.recipe, plan.colourway, work.common, own.garment.panels)
            order = Order(plan=plan, ready=own, parts=parts)
            lots.setdefault(undyed_key(parts), []).append(order)
    for key, lot in lots.items():
        yield from bake_lot(lot, work, _donor(plans, key))


def _donor(plans: Sequence[Plan], key: str) -> Donor | None:
    """Return a set that is there and has all maps but the albedo, if there is one."""
    for plan in plans:
        if plan.record is not None and undyed_key(plan.record.parts) == key:
            donor = Donor(folder=plan.folder, record=plan.record)
            if donor.whole:
                return donor
    return None


def _silent_note(_sentence: str) -> None:
    """Note nothing."""
