"""The text of a starter recipe."""

from texbake.garment.values import Garment
from texbake.recipe.values import Up


def starter_recipe(
    garment: Garment,
    *,
    name: str,
    mesh: str,
    unit_mm: float,
    guess: bool = True,
    up: Up = "y",
    uv_set: int = 0,
    size_px: int = 1024,
) -> str:
    """Write a recipe that bakes the garment, with a comment wherever a beginner would wonder."""
    raise NotImplementedError(f"{garment}{name}{mesh}{unit_mm}{guess}{up}{uv_set}{size_px}")
