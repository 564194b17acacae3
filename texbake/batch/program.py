"""The program itself, as far as maps and what goes beside them depend on it.

A version number alone would do for those who install releases; who works on Texbake, or installs it
from a checkout, changes the code under one number. So the code counts too: 200 files are read and
hashed in about 10 ms.
"""

import hashlib
from collections.abc import Iterable
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import Final

_HOME: Final = Path(__file__).resolve().parents[1]
# What makes no maps. All else does, and so does what will be added, until it is named here.
_NO_MAPS: Final = frozenset(
    {
        *("advice", "chart", "cli", "demo", "starter", "swatch", "showing.py", "__init__.py"),
        *("view", "sheet", "beside.py", "range", "many", "cluster"),
    }
)
_BESIDE: Final = ("view", "sheet", "beside.py")  # made from the maps, so those are not named again


def texbake_version() -> str:
    """Version of the installed package; "0" when run from a bare checkout."""
    try:
        return version("texbake")
    except PackageNotFoundError:
        return "0"


def maps_program() -> str:
    """Return the digest of the version and of the code that maps are made by."""
    return _digest(sorted({place.name for place in _HOME.iterdir()} - _NO_MAPS))


def beside_program() -> str:
    """Return the digest of the version and of the code that view, sheet and GLB are made by."""
    return _digest(_BESIDE)


def _digest(names: Iterable[str]) -> str:
    """Hash the version and the code; where only compiled code was installed, the version."""
    found = hashlib.sha256(texbake_version().encode())
    for name in names:
        place = _HOME / name
        for file in sorted(place.rglob("*.py")) if place.is_dir() else [place]:
            if file.is_file():
                found.update(b"\0" + file.relative_to(_HOME).as_posix().encode() + b"\0")
                found.update(file.read_bytes().replace(b"\r\n", b"\n"))
    return found.hexdigest()
