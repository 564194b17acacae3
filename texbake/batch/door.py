"""The one door to a recipe's garment: its panels follow their cloth, as the last bake knows it."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path

from texbake.batch.parts import Common, common_parts
from texbake.change import Last, look_back
from texbake.garment.values import Garment
from texbake.prepared import NOTHING, mesh_of, read_garment
from texbake.recipe import Recipe
from texbake.store import Store


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Meant:
    """What a recipe means on its mesh as it is now.

    Attributes
    ----------
    recipes : mapping of str to Recipe
        Colourways, whose panels are those of the cloth.
    last : Last
        What the last bake says.
    common : Common
        What all their sets depend on.
    """

    recipes: Mapping[str, Recipe]
    last: Last
    common: Common

    @property
    def first(self) -> Recipe:
        """The first colourway."""
        return next(iter(self.recipes.values()))

    def garment(self, store: Store = NOTHING) -> Garment:
        """Rebuild the garment; errors as `texbake.prepared.read_garment` has them."""
        return read_garment(self.first, store, mesh=self.last.mesh, known=self.last.known)


def meant(wanted: Mapping[str, Recipe], out: Path, *, draw: bool = False) -> Meant:
    """Read colourways of one recipe for the mesh as it is now.

    Parameters
    ----------
    wanted : mapping of str to Recipe
        Colourways as the file has them; one at least.
    out : Path
        Where their sets are, and the layout record.
    draw : bool
        Whether to draw what cannot be decided.

    Raises
    ------
    UserError
        If there is no mesh, and as `texbake.change.look_back` says.
    """
    first = next(iter(wanted.values()))
    common = common_parts(first)
    last = look_back(out, first, common.mesh, mesh_of, draw=draw)
    recipes = {name: last.apply(recipe) for name, recipe in wanted.items()}
    return Meant(recipes=recipes, last=last, common=replace(common, known=last.digest))
