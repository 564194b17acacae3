"""A recipe's panels, written anew for the mesh as it is now; all else in the file stays as it is.

Only the text of entries that must change is replaced, at the places that the parser tells, so
comments, order, indentation and quotes of the rest are the user's own. The result is read again
before it is believed: it must find the panels that were baked, and say nothing else otherwise.
"""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from types import MappingProxyType

from texbake.change.describe import panels_told
from texbake.change.keep import entry_of
from texbake.change.last import Last
from texbake.change.surgery import rename_panels
from texbake.errors import UserError
from texbake.garment.health import check
from texbake.garment.panels import plan_panels
from texbake.garment.values import Garment
from texbake.recipe import Recipe, loads
from texbake.recipe.canonical import digest
from texbake.recipe.values import PanelRecipe

Islands = Mapping[str, tuple[int, ...]]


def rewritten(last: Last, garment: Garment, text: str) -> tuple[str, tuple[str, ...]]:
    """Return the text of a recipe that finds the panels of a garment by itself.

    Parameters
    ----------
    last : Last
    garment : Garment
        As it is baked now.
    text : str
        Of the recipe's file.

    Returns
    -------
    str
        The same text if nothing has to be changed.
    tuple of str
        What a recipe cannot say, and what stays with the layout record: a sentence each.

    Raises
    ------
    UserError
        If the text cannot be changed safely: with the lines to write by hand.
    """
    if last.followed is None:
        return text, ()
    named, left = _to_name(last, garment)
    if not named:
        return text, left
    groups: dict[str, dict[str, tuple[int, ...]]] = {}
    for name, islands in sorted(named.items()):
        groups.setdefault(last.followed.made_by.get(name, ""), {})[name] = islands
    recipe = last.written
    new = rename_panels(text, groups)
    if new is None or not _says_the_same(text, new, recipe, named):
        lines = "; ".join(f"{name}: {{islands: {list(of)}}}" for name, of in sorted(named.items()))
        raise UserError(
            "--update-recipe: this recipe cannot be changed safely",
            fix=f"bake without it, or write under panels by hand: {lines}",
            path=recipe.path,
            line=recipe.lines.get("panels"),
        )
    return new, left


def updated(last: Last, garment: Garment, text: str) -> Last:
    """Return what will be remembered once the recipe's file has a new text."""
    if last.followed is None:
        return last
    new = replace(loads(text, last.written.path).recipe, size_px=last.written.size_px)
    made_by = {panel.name: entry_of(panel.name, new.panels) for panel in garment.panels}
    own = MappingProxyType({name: entry for name, entry in made_by.items() if entry})
    return replace(last, written=new, followed=replace(last.followed, made_by=own))


def _to_name(last: Last, garment: Garment) -> tuple[Islands, tuple[str, ...]]:
    """Return the islands of panels that must be named by them, and what cannot be said."""
    made_by = {} if last.followed is None else last.followed.made_by
    known = set() if last.known is None else {panel.name for panel in last.known.panels}
    wanted = {panel.name: panel.islands for panel in garment.panels}
    of = {name: made_by.get(name, f" {name}") for name in wanted}  # default panels: by themselves
    unsaid = {of[name] for name in _shared(garment) & known}
    named: dict[str, tuple[int, ...]] = {}
    while True:  # naming one panel may rename another that has a default name
        found = _found(last, garment, named)
        wrong = {of[name] for name, islands in wanted.items() if found.get(name) != islands}
        more = {
            name: islands
            for name, islands in wanted.items()
            if of[name] in wrong - unsaid and name in known and name not in named
        }
        if not more:
            break
        named |= more
    return named, _kept_apart(sorted(_shared(garment) & known))


def _kept_apart(names: Sequence[str]) -> tuple[str, ...]:
    """Say which panels only the layout record can tell."""
    if not names:
        return ()
    told = (
        f"{panels_told(names)}: in islands that several share, which a recipe cannot say; the "
        "layout record keeps them apart"
    )
    return (told,)


def _shared(garment: Garment) -> set[str]:
    """Panels that have an island in common with another."""
    owners: dict[int, list[str]] = {}
    for panel in garment.panels:
        for island in panel.islands:
            owners.setdefault(island, []).append(panel.name)
    return {name for names in owners.values() if len(names) > 1 for name in names}


def _found(last: Last, garment: Garment, named: Islands) -> Islands:
    """Return the panels that a recipe would find by itself, were some named by their islands."""
    made_by = {} if last.followed is None else last.followed.made_by
    replaced = {made_by.get(name, name) for name in named}
    panels = {n: e for n, e in last.written.panels.items() if n not in replaced}
    panels |= {name: PanelRecipe(name=name, islands=of) for name, of in named.items()}
    usable, _ = check(garment.mesh, garment.island, weld=garment.weld)
    try:
        plans = plan_panels(garment.mesh, garment.island, usable, dict(sorted(panels.items())))
    except UserError:
        return {}  # numbers of an earlier layout may mean nothing now
    return {plan.name: plan.islands for plan in plans}


def _says_the_same(old: str, new: str, recipe: Recipe, named: Islands) -> bool:
    """Say whether a new text names the panels and is else what the old one was."""
    try:
        before, after = loads(old, recipe.path), loads(new, recipe.path)
    except UserError:
        return False
    panels = after.recipe.panels
    right = all(name in panels and panels[name].islands == of for name, of in named.items())
    return right and [_rest(r) for r in before.colourways.values()] == [
        _rest(r) for r in after.colourways.values()
    ]


def _rest(recipe: Recipe) -> str:
    """Return a digest of all but the panels."""
    return digest(replace(recipe, panels=MappingProxyType({}), lines=MappingProxyType({})))
