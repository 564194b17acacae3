"""The three garments of the Lantern Bay ferry uniform."""

from collections.abc import Callable, Mapping
from pathlib import Path
from types import MappingProxyType

from texbake.demo import pullover, trousers, vest
from texbake.demo.model import Model
from texbake.demo.obj import write_obj

GARMENTS: Mapping[str, Callable[[], Model]] = MappingProxyType(
    {
        "ferry-vest": vest.build,
        "ferry-pullover": pullover.build,
        "ferry-trousers": trousers.build,
    }
)


def write_meshes(folder: Path) -> list[Path]:
    """Make the garments and write them as ``FOLDER/NAME.obj``; the same bytes every time.

    Parameters
    ----------
    folder : Path
        Made if it is not there. Files of the same names are overwritten.

    Returns
    -------
    list of Path
        The files, in the order of ``GARMENTS``.
    """
    folder.mkdir(parents=True, exist_ok=True)
    return [write_obj(folder / f"{name}.obj", make()) for name, make in GARMENTS.items()]
