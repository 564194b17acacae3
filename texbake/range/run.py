"""From a recipe to the range: its colours, its dressed views, in order."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Final

import numpy as np

from texbake.arrays import U8
from texbake.batch import Meant, chosen, meant
from texbake.errors import UserError
from texbake.garment.values import Garment
from texbake.maps import MapArrays
from texbake.prepared import NOTHING, Report, prepare, silent
from texbake.range.colours import entry_of
from texbake.range.dressed import QUICK_PX, Baked, bake_each, find_baked, read_each
from texbake.range.order import SORTS, ordered
from texbake.range.picture import MOST_ON_ONE, range_picture, view_size
from texbake.range.values import Card
from texbake.recipe import Recipe, load
from texbake.store import Store
from texbake.view import show_each

MOST: Final = 1000  # of one range: a page of about 15 MB, and a few minutes


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Drawn:
    """A range, drawn.

    Attributes
    ----------
    garment : str
    cards : tuple of Card
        In the order asked for.
    listed : tuple of str
        Names in the order of the recipe.
    """

    garment: str
    cards: tuple[Card, ...]
    listed: tuple[str, ...]

    @property
    def picture_count(self) -> int:
        """How many pictures there are: several, where one would be too large to read."""
        return -(-len(self.cards) // MOST_ON_ONE)

    @property
    def pictures(self) -> Iterator[U8]:
        """The pictures, drawn one at a time."""
        count = self.picture_count
        each = -(-len(self.cards) // count)
        for number in range(count):
            part = self.cards[number * each : (number + 1) * each]
            yield range_picture(self.garment, part, number=number + 1, count=count)


def draw_range(
    path: Path,
    *,
    out: Path | None = None,
    colourways: Sequence[str] = (),
    sort: str = "hue",
    threads: int | None = None,
    report: Report | None = None,
    note: Callable[[str], None] | None = None,
    first: Callable[[str], object] | None = None,
    store: Store = NOTHING,
) -> Drawn:
    """Draw all colourways of a recipe, dressed: the same camera and the same light for all.

    Parameters
    ----------
    path : Path
        The recipe.
    out : Path, optional
        Where its sets are, ``out`` if not given. Those that are there and of now are shown; the
        others are baked at 512 px, for this alone.
    colourways : sequence of str
        Names; all of them if empty.
    sort : 'hue', 'lightness' or 'listed'
    threads : int, optional
        All cores if not given. The bytes are the same for any.
    report, note : callable, optional
        Told each stage; told what had to be baked.
    first : callable, optional
        Called with the garment's name before the work, to refuse places where nothing can go.
    store : Store
        Where slow steps are kept; nowhere if not given.

    Raises
    ------
    UserError
        For anything wrong with recipe, mesh or names; for more than 1000 colourways.
    """
    _check(sort)
    wanted = chosen(load(path), colourways, None)
    _refuse_many(wanted, path)
    where = Path("out") if out is None else out
    one = next(iter(wanted.values()))
    if first is not None:
        first(one.garment)
    now = meant(wanted, where)
    recipes = now.recipes
    baked = find_baked(recipes, where, now.common)
    drawer = _Drawer(now, baked, threads, report or silent, store)
    missing = [name for name in recipes if name not in baked]
    if missing and note is not None:
        note(_told(missing, len(recipes)))
    garment, views = drawer.draw(missing)
    entries = ordered([entry_of(name, own, garment) for name, own in recipes.items()], sort)
    cards = tuple(Card(entry=entry, view=views[entry.name]) for entry in entries)
    return Drawn(garment=one.garment, cards=cards, listed=tuple(recipes))


@dataclass(frozen=True, slots=True, eq=False)
class _Drawer:
    """What drawing needs."""

    now: Meant
    baked: Mapping[str, Baked]
    threads: int | None
    report: Report
    store: Store

    def draw(self, missing: Sequence[str]) -> tuple[Garment, dict[str, U8]]:
        """Draw every colourway; also the garment."""
        recipes, last, first = self.now.recipes, self.now.last, self.now.first
        there = [name for name in recipes if name in self.baked]
        if missing:
            quick = replace(recipes[missing[0]], size_px=min(first.size_px, QUICK_PX))
            ready = prepare(
                quick, report=self.report, store=self.store, mesh=last.mesh, known=last.known
            )
            small = {name: replace(recipes[name], size_px=quick.size_px) for name in missing}
            garment = ready.garment
            more = bake_each(
                missing, small, ready, self.now.common, threads=self.threads, report=silent
            )
        else:
            garment = self.now.garment(self.store)
            more = iter(())
        names: list[str] = []

        def maps() -> Iterator[MapArrays]:
            for name, one in zip(there, read_each(there, self.baked), strict=True):
                names.append(name)
                yield one
            for name, one in more:
                names.append(name)
                yield one

        total, views = len(recipes), {}
        shown = show_each(
            garment, maps(), size=view_size(total, _shape(garment)), threads=self.threads
        )
        for number, view in enumerate(shown):
            views[names[number]] = view
            self.report("view", (number + 1) / total)
        return garment, views


def _shape(garment: Garment) -> float:
    """Return a garment's height over its width, from the front."""
    wide, high, _ = np.ptp(garment.mesh.points_mm, axis=0).tolist()
    return float(high / max(wide, 1e-9))


def _check(sort: str) -> None:
    """Refuse an order that there is not."""
    if sort not in SORTS:
        raise UserError(f"--sort: there is no order '{sort}'", fix=f"one of: {', '.join(SORTS)}")


def _refuse_many(recipes: Mapping[str, Recipe], path: Path) -> None:
    """Refuse what would take an hour and could not be read."""
    if len(recipes) > MOST:
        raise UserError(
            f"{len(recipes)} colourways are too many for one range: {MOST} at most",
            fix="name those to show, with --colourway, or split the recipe's list",
            path=path,
            line=next(iter(recipes.values())).lines.get("colourways"),
        )


def _told(missing: Sequence[str], total: int) -> str:
    """Say what is baked for the range alone."""
    which = (
        f"colourway '{missing[0]}' is" if len(missing) == 1 else f"{len(missing)} colourways are"
    )
    if len(missing) == total > 1:
        which = f"all {total} colourways are"
    return f"{which} not baked as the recipe has it now: baked small, for this range only"
