"""How a recipe names a panel: the model of its keys."""

from typing import Annotated, ClassVar

from texbake.recipe import kinds, units, words
from texbake.recipe.keys import Keys, key
from texbake.recipe.kinds import Amount, Whole

_ANGLE = Amount(of=units.ANGLE, low=-6.283185307179586, high=6.283185307179586, example="15 deg")
_POINT = kinds.Vector(length=3, whole=False, limit=1e6)
_ISLAND = Whole(low=0, high=1_000_000)
_ANY_NAME = words.Text(what="a name in the mesh file")
_FABRIC = words.Text(what="a key of fabrics, or a structure such as plain, twill 2/1, felt")


class PanelKeys(Keys):
    """How to find a panel in the mesh, and what it is made of."""

    noun: ClassVar[str] = "panel"
    at: Annotated[tuple[float, float, float] | None, _POINT] = key(
        None, "A point near the panel, in the mesh's own unit and axes.", [0, 120, 14]
    )
    object: Annotated[str | None, _ANY_NAME] = key(None, "Object in the mesh.", "vest")
    group: Annotated[str | None, _ANY_NAME] = key(None, "Group in the mesh.", "sleeves")
    material: Annotated[str | None, _ANY_NAME] = key(None, "Material in the mesh.", "lining")
    island: Annotated[int | None, _ISLAND] = key(None, "Number of its island in UV.", 3)
    islands: Annotated[tuple[int, ...] | None, kinds.Islands()] = key(
        None, "Numbers of islands in UV that are joined into it.", [2, 5]
    )
    fabric: Annotated[str | None, _FABRIC] = key(
        None, "Its cloth; left out: the recipe's fabric.", "lining"
    )
    grain: Annotated[float, _ANGLE] = key(
        "0 deg",
        "Turn of the grain from the garment's up, counter-clockwise from outside.",
        "15 deg",
    )
