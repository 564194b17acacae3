"""What a recipe says of panels: frozen values."""

from dataclasses import dataclass

from texbake.recipe.yarn_values import Triple


@dataclass(frozen=True, slots=True, kw_only=True)
class PanelRecipe:
    """How to find one panel in the mesh, and what it is made of.

    Attributes
    ----------
    at : tuple of 3 floats or None
        A point near it, mm, +Y up (turned and scaled as the mesh itself is).
    object, group, material : str or None
        Names in the mesh file: each that is given must hold.
    islands : tuple of int
        Islands in UV that are joined into it; may be empty.
    grain_rad : float
        Turn of the grain from the garment's up.
    """

    name: str
    at: Triple | None = None
    object: str | None = None
    group: str | None = None
    material: str | None = None
    islands: tuple[int, ...] = ()
    fabric: str | None = None
    grain_rad: float = 0.0
    line: int | None = None
