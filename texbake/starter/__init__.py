"""What `texbake new` writes: a first recipe for a mesh, with every panel listed."""

from texbake.starter.files import bare_recipe, write_starter
from texbake.starter.text import starter_recipe
from texbake.starter.unit import Unit, unit_guess

__all__ = ["Unit", "bare_recipe", "starter_recipe", "unit_guess", "write_starter"]
