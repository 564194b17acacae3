"""The fabrics that come with Texbake: fragments of recipes, each named as its file."""

from importlib import resources
from pathlib import Path


def fabrics_folder() -> Path:
    """Return the folder of the shipped fragments.

    An installed wheel has them inside the package; a checkout in ``recipes/fabrics`` at its top.
    """
    inside = Path(str(resources.files("texbake.recipe"))) / "fabrics"
    return inside if inside.is_dir() else Path(__file__).resolve().parents[2] / "recipes/fabrics"


def fabric_names() -> tuple[str, ...]:
    """Return the names that ``include`` knows, in the alphabet's order."""
    return tuple(sorted(path.stem for path in fabrics_folder().glob("*.yaml")))
