"""What cannot be decided is asked: what is open, and the line of the recipe that decides it."""

from collections.abc import Iterator

import numpy as np

from texbake.change.decide import Doubt
from texbake.change.follow import Comparison
from texbake.errors import UserError
from texbake.garment.raw import listed
from texbake.recipe.values import Recipe

MOST_NAMES = 8


def questions(followed: Comparison, recipe: Recipe) -> list[UserError]:
    """Return what the user must decide before anything is baked; empty if nothing is open.

    Parameters
    ----------
    followed : Comparison
    recipe : Recipe
        As its file has it.
    """
    asked = [_of_island(followed, recipe, doubt) for doubt in followed.decision.doubts]
    meant = {"all", *(_name(followed, p) for p in followed.decision.gone)} & set(recipe.gone)
    gone = [p for p in followed.decision.gone if not {"all", _name(followed, p)} & meant]
    if gone:
        asked.append(_of_gone(followed, recipe, gone))
    return [*asked, *_emptied(followed, recipe)]


def _of_island(followed: Comparison, recipe: Recipe, doubt: Doubt) -> UserError:
    """Ask whose an island is."""
    names = [_name(followed, p) for p in doubt.panels]
    quoted = listed([repr(name) for name in names], MOST_NAMES)
    island = doubt.island
    if doubt.why == "across":
        what = f"island {island} holds cloth of {quoted}, and triangles lie across their seam"
    elif doubt.why == "alike":
        what = (
            f"island {island} could be {quoted}: layers lie in the same place there, and nothing "
            "in the file tells them apart"
        )
    else:
        share = float(followed.overlap.new_common_mm2[:, island].sum())
        share /= float(followed.overlap.new_mm2[island])
        what = f"island {island} is new cloth but for {share:.0%}, which was {quoted}"
    lines = [_line(followed, recipe, p, island) for p in doubt.panels[:MOST_NAMES]]
    fix = f"say under panels in the recipe: {'; or '.join(lines)}"
    if doubt.why == "partly":
        fix += f"; or, as a panel by itself: NAME: {{islands: [{island}]}}"
    at = recipe.lines.get("panels", recipe.lines.get("mesh"))
    return UserError(what, fix=fix, path=recipe.path, line=at)


def _line(followed: Comparison, recipe: Recipe, panel: int, island: int) -> str:
    """Return the entry that makes an island part of a panel."""
    faces = followed.known.face == panel
    islands = sorted({island, *np.unique(followed.island[faces]).tolist()})
    entry = recipe.panels.get(followed.kept.panels[panel].entry or "")
    cloth = f", fabric: {entry.fabric}" if entry is not None and entry.fabric else ""
    return f"{_name(followed, panel)}: {{islands: {islands}{cloth}}}"


def _of_gone(followed: Comparison, recipe: Recipe, gone: list[int]) -> UserError:
    """Ask whether cloth that is missing shall be."""
    names = [_name(followed, p) for p in gone]
    who = "panel" if len(names) == 1 else "panels"
    verb, pronoun = ("is", "its") if len(names) == 1 else ("are", "their")
    quoted = listed([repr(name) for name in names], MOST_NAMES)
    return UserError(
        f"{who} {quoted} {verb} gone: none of {pronoun} cloth is in {recipe.mesh.name} now",
        fix=f"export the mesh with all panels; or, if that is meant, add to the recipe: "
        f"gone: [{', '.join((*recipe.gone, *names))}]",
        path=recipe.path,
        line=recipe.lines.get("gone", recipe.lines.get("mesh")),
    )


def _emptied(followed: Comparison, recipe: Recipe) -> Iterator[UserError]:
    """Yield entries that go on as they were, but whose cloth others of the recipe have taken."""
    open_panels = {p for doubt in followed.decision.doubts for p in doubt.panels}
    open_panels |= set(followed.decision.gone)
    for entry in sorted(set(recipe.panels) - followed.literal):
        mine = [p for p, panel in enumerate(followed.kept.panels) if panel.entry == entry]
        mine = [p for p in mine if not followed.free[p]]
        if not mine or open_panels & set(mine) or np.isin(followed.known.face, mine).any():
            continue
        yield UserError(
            f"panels.{entry}: other panels of the recipe have taken all of its cloth",
            fix=f"take panels.{entry} out, or leave it an island of its own",
            path=recipe.path,
            line=recipe.panels[entry].line,
        )


def _name(followed: Comparison, panel: int) -> str:
    return followed.kept.panels[panel].name
