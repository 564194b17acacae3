"""What a recipe says of prints: frozen values."""

from dataclasses import dataclass
from pathlib import Path

from texbake.recipe.yarn_values import Colour


@dataclass(frozen=True, slots=True, kw_only=True)
class PrintRecipe:
    """Ink on the cloth.

    Exactly one of ``picture`` and ``mask`` is given.

    Attributes
    ----------
    picture : Path or None
        Inks of all colours; its alpha is the share of ink.
    mask : Path or None
        Where there is ink: its alpha, or white.
    colour : Colour
        Of the ink of a mask.
    painted_on : Path or None
        The mesh whose UV layout it was painted on; None: the recipe's own.
    on : tuple of str
        The panels that are printed; "all" is any.
    lustre : float
        0 = matt, 1 = glossy.
    fill : float
        Share of the cloth's relief that the ink fills, 0 to 1.
    """

    picture: Path | None
    mask: Path | None
    colour: Colour
    painted_on: Path | None
    on: tuple[str, ...]
    lustre: float
    fill: float
    line: int | None = None

    def __post_init__(self) -> None:
        """Refuse what cannot be."""
        if (self.picture is None) == (self.mask is None):
            raise ValueError("a print needs a picture or a mask, not both")

    @property
    def file(self) -> Path:
        """The picture or mask."""
        found = self.mask if self.picture is None else self.picture
        if found is None:
            raise ValueError("a print needs a picture or a mask")
        return found
