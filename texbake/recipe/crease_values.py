"""What a recipe says of creases: frozen values."""

from dataclasses import dataclass
from typing import Literal

from texbake.recipe.yarn_values import Triple

CreaseKind = Literal["drag lines", "roping", "whiskers", "honeycombs", "stacks"]


@dataclass(frozen=True, slots=True, kw_only=True)
class CreasePlace:
    """Where cloth is creased, and how.

    Exactly one of ``between``, ``on`` and ``at`` is given.

    Attributes
    ----------
    between : tuple of two str or None
        The panels of a seam; "all" is any.
    on : tuple of str or None
        The panels of a hem.
    at : tuple of 3 floats or None
        A point near the cloth, mm, +Y up.
    direction : tuple of 3 floats or None
        Which way folds run at a point, +Y up; None: as usual for their kind.
    panel : str or None
        The panel that ``at`` lies on; None: the nearest cloth.
    radius_mm : float
        Round ``at``.
    strength : float
        How high folds are; 1 is a garment long worn.
    width_mm, length_mm, spacing_mm : float or None
        Of a fold, and between folds; None: as usual for their kind.
    """

    kind: CreaseKind = "drag lines"
    between: tuple[str, str] | None = None
    on: tuple[str, ...] | None = None
    at: Triple | None = None
    direction: Triple | None = None
    panel: str | None = None
    radius_mm: float = 80.0
    strength: float = 1.0
    width_mm: float | None = None
    length_mm: float | None = None
    spacing_mm: float | None = None
    line: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class CreaseRecipe:
    """The creases of a garment; ``strength`` multiplies that of every place."""

    strength: float
    places: tuple[CreasePlace, ...]
