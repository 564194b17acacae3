"""What a picture is: colour, data or normals, and which way green points."""

import re
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from texbake.carry.coding import Green, Kind
from texbake.convert.mark import read_mark
from texbake.deliver import read_record
from texbake.errors import UserError

# Words of file names. Of several in one name the last counts: "normal_mask" is a mask.
_WORDS: Final[tuple[tuple[Kind, tuple[str, ...]], ...]] = (
    ("colour", ("albedo", "colour", "color", "basecolour", "basecolor", "diffuse", "print")),
    ("normal", ("normal", "normals", "nrm", "normalmap")),
    (
        "data",
        (
            *("roughness", "rough", "gloss", "metal", "metallic", "metalness", "height", "bump"),
            *("displacement", "occlusion", "ao", "orm", "mask", "masks", "opacity", "alpha"),
        ),
    ),
)
_KIND_OF: Final = {word: kind for kind, words in _WORDS for word in words}
_GREEN_OF: Final[dict[str, Green]] = {
    "up": "up",
    "opengl": "up",
    "gl": "up",
    "down": "down",
    "directx": "down",
    "dx": "down",
}
_IN_COLOUR: Final = ("albedo",)


@dataclass(frozen=True, slots=True, kw_only=True)
class Known:
    """What a picture is, and how that is known.

    Attributes
    ----------
    kind : 'colour', 'data' or 'normal'
    green : 'up' or 'down'
        Of normals.
    why : str
        What told it.
    """

    kind: Kind
    green: Green
    why: str


def recognise(
    path: Path, channels: int, *, kind: Kind | None = None, green: Green | None = None
) -> Known:
    """Say what a picture is.

    Parameters
    ----------
    path : Path
    channels : int
        1 to 4.
    kind, green : optional
        What the user says, which counts before all else. Then counts the record of a bake beside
        the picture, then what Texbake wrote into it, then its name, then its channels.

    Raises
    ------
    UserError
        If it is a grey normal map, or nothing tells which way its green points.
    """
    found, there, why = _recorded(path) or _marked(path) or _named(path) or _counted(channels)
    if kind is not None:
        found, why = kind, "as asked"
    if found != "normal":
        return Known(kind=found, green="up", why=why)
    if channels < 3:
        raise UserError(
            f"a normal map has red, green and blue; this has {channels} channels",
            fix="if it is a mask or a height map, say --kind data",
            path=path,
        )
    green = green or there
    if green is None:
        raise UserError(
            "nothing tells which way its green points",
            fix="say --green up (glTF, OpenGL) or --green down (DirectX); "
            "`texbake inspect` says which is likely",
            path=path,
        )
    return Known(kind="normal", green=green, why=why)


def _recorded(path: Path) -> tuple[Kind, Green | None, str] | None:
    """What the record beside a picture says of it."""
    if not path.exists():
        return None
    record = read_record(path.parent)
    for entry in () if record is None else record.maps:
        if entry.file != path.name:
            continue
        if entry.convention is not None:
            return "normal", "up" if entry.convention == "green-up" else "down", "by the record"
        coloured = entry.map in _IN_COLOUR or entry.colour_space == "sRGB"
        return "colour" if coloured else "data", None, "by the record"
    return None


def _marked(path: Path) -> tuple[Kind, Green | None, str] | None:
    """What Texbake wrote into a picture."""
    mark = read_mark(path) if path.is_file() else None
    if mark is None:
        return None
    kinds: dict[str, tuple[Kind, Green | None]] = {
        "normal-up": ("normal", "up"),
        "normal-down": ("normal", "down"),
        "height": ("data", None),
        "carried-colour": ("colour", None),
        "carried-data": ("data", None),
    }
    found = kinds.get(mark.kind)
    return None if found is None else (*found, "by its mark")


def _named(path: Path) -> tuple[Kind, Green | None, str] | None:
    """What a picture's name says."""
    words = [word for word in re.split(r"[^a-z0-9]+", path.stem.lower()) if word]
    kinds = [_KIND_OF[word] for word in words if word in _KIND_OF]
    greens = [_GREEN_OF[word] for word in words if word in _GREEN_OF]
    if not kinds:
        return None
    return kinds[-1], greens[-1] if greens else None, "by its name"


def _counted(channels: int) -> tuple[Kind, Green | None, str]:
    """What the number of channels makes likely."""
    if channels >= 3:
        return "colour", None, "as it is in colour"
    return "data", None, "as it is grey"
