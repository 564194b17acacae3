"""What was baked, from what: a JSON file beside the maps.

The record holds no time and no path of this machine, so that a bake done twice gives the same
bytes. It also says which files of the folder are Texbake's, and what was in them: the next bake
replaces those, and only those.
"""

import hashlib
import json
import re
from collections.abc import Mapping
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Any, Final, Literal

from texbake.deliver.naming import PICTURED, fault_of, key_of_map
from texbake.errors import UserError

VERSION: Final = 1
_SHA256: Final = re.compile(r"[0-9a-f]{64}")


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """A file that was read: its name, without folders, and the SHA-256 of its bytes."""

    name: str
    sha256: str


@dataclass(frozen=True, slots=True, kw_only=True)
class MapFile:
    """One map as it was delivered.

    Attributes
    ----------
    map : str
        Its name in `naming.MAPS`, or that of a packed map.
    file : str
        Its file's name, without folders.
    sha256 : str
        Of the file's bytes.
    file_bytes : int
    width_px, height_px : int
    channels : int
        1 to 4.
    bits : int
        Per channel: 8 or 16; of EXR 16 (half) or 32 (float).
    colour_space : 'sRGB' or 'linear'
    convention : 'green-up', 'green-down' or None
        Of normals.
    format : 'png', 'tiff' or 'exr'
    holds : str
        What its samples are: codes; or, in EXR, linear light, vectors of -1 to 1, mm above the bare
        panel, shares of 0 to 1, or values that differ from channel to channel.
    packed : dict of str to str
        What each channel holds, as a recipe writes it; empty for a map by itself.
    """

    map: str
    file: str
    sha256: str
    file_bytes: int
    width_px: int
    height_px: int
    channels: int
    bits: int
    colour_space: Literal["sRGB", "linear"]
    convention: Literal["green-up", "green-down"] | None = None
    format: Literal["png", "tiff", "exr"] = "png"
    holds: Literal["codes", "linear light", "vectors", "mm", "shares", "values"] = "codes"
    packed: dict[str, str] = field(default_factory=dict)

    @property
    def is_coloured(self) -> bool:
        """Whether it changes with the colourway."""
        return self.map == "albedo" or any("albedo" in source for source in self.packed.values())


@dataclass(frozen=True, slots=True, kw_only=True)
class ExtraFile:
    """A file made from the maps: what it is ("glb", "view", "sheet", "zip"), its name and bytes.

    ``key`` is the digest of all that it was made from; "" in records from before there was one.
    """

    kind: str
    file: str
    sha256: str
    file_bytes: int
    key: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class PanelNote:
    """One panel: area in space, edge error of the flattening (0.01 is 1 %), texel density."""

    name: str
    area_mm2: float
    stretch_rms: float
    stretch_max: float
    texels_per_cm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Record:
    """What was baked, from what.

    Attributes
    ----------
    texbake : str
        The version that baked.
    recipe, mesh : Source
    height_lo_mm, height_hi_mm : float
        The heights that codes 0 and 65535 of the height map stand for.
    maps : tuple of MapFile
    extras : tuple of ExtraFile
        Both empty until the files are written. A record from before there were extras has none,
        and a Texbake from before then takes those listed for the user's own: so the version of
        the format is still the first.
    parts : dict of str to str
        Digest of each thing that the maps depend on, by its name (``mesh``, ``fabrics.drill``):
        equal parts are equal maps. Empty in records from before there were any.
    tile_mm : (float, float) or None
        Width and length after which the maps of a swatch come again; None for a garment's.
    version : int
        Of this format.
    """

    texbake: str
    garment: str
    colourway: str
    recipe: Source
    mesh: Source
    size_px: int
    gutter_px: int
    seed: int
    normal_bits: int
    height_lo_mm: float
    height_hi_mm: float
    panels: tuple[PanelNote, ...] = ()
    maps: tuple[MapFile, ...] = ()
    extras: tuple[ExtraFile, ...] = ()
    parts: dict[str, str] = field(default_factory=dict)
    tile_mm: tuple[float, float] | None = None
    version: int = VERSION

    @property
    def key(self) -> str:
        """One digest of all parts; "" if there are none."""
        return key_of(self.parts)

    @property
    def height_step_mm(self) -> float:
        """The height of one code, mm."""
        return (self.height_hi_mm - self.height_lo_mm) / 65535

    @property
    def files(self) -> tuple[MapFile | ExtraFile, ...]:
        """Every file of the set but the record."""
        return (*self.maps, *self.extras)

    def key_of(self, entry: MapFile) -> str:
        """Return what a map of the set is known by; see `naming.key_of_map`."""
        return key_of_map(entry.map, entry.width_px, self.size_px)

    def as_baked(self, name: str) -> MapFile | None:
        """Return the line for a map by itself at the size that was baked, as PNG, if it is there.

        Sets may be delivered without some maps, or packed, smaller or in formats that hold values.
        """
        for entry in self.maps:
            if (entry.map, entry.width_px, entry.format) == (name, self.size_px, "png"):
                return entry
        return None

    @property
    def can_be_read(self) -> bool:
        """Whether every map that a picture is made of can be read back as it was baked."""
        return all(self.as_baked(name) is not None for name in PICTURED)

    def to_json(self) -> str:
        """Return the record as JSON, with sorted keys: equal records are equal texts."""
        data = {**asdict(self), "height_step_mm": self.height_step_mm, "key": self.key}
        return (
            json.dumps(data, sort_keys=True, indent=2, ensure_ascii=False, allow_nan=False) + "\n"
        )

    @staticmethod
    def from_json(text: str, *, path: Path) -> "Record":
        """Read a record.

        Parameters
        ----------
        text : str
            What `to_json` gave.
        path : Path
            Where it was read, for messages.

        Raises
        ------
        UserError
            If it is damaged, or written by a newer Texbake.
        """
        data = _parsed(text, path)
        version = data.get("version")
        if isinstance(version, int) and version > VERSION:
            raise UserError(
                f"the record has version {version}; this Texbake knows up to {VERSION}",
                fix="bake with the Texbake that wrote it, or move the folder away and bake anew",
                path=path,
            )
        return _checked(data, path)


def key_of(parts: Mapping[str, str]) -> str:
    """Return one digest, SHA-256 in hex, of named digests; "" of none."""
    text = "".join(f"{name} {parts[name]}\n" for name in sorted(parts))
    return hashlib.sha256(text.encode()).hexdigest() if parts else ""


def _damaged(what: str, path: Path) -> UserError:
    """Return the complaint about a record that cannot be read."""
    return UserError(
        f"the record is damaged: {what}",
        fix="restore record.json, or move the folder away and bake anew",
        path=path,
    )


def _parsed(text: str, path: Path) -> dict[str, Any]:
    """Return the JSON object of a record."""
    try:
        data = json.loads(text)
    except json.JSONDecodeError as error:
        raise _damaged(f"{error.msg} in line {error.lineno}", path) from error
    if not isinstance(data, dict):
        raise _damaged(f"it holds a {type(data).__name__}, not an object", path)
    return data


def _checked(data: dict[str, Any], path: Path) -> Record:
    """Return the record that the data is, every field of its type and every file name plain."""
    from pydantic import TypeAdapter, ValidationError  # heavy: only where it is used

    try:
        record = TypeAdapter(Record).validate_json(json.dumps(data), strict=True)
    except ValidationError as error:
        first = error.errors()[0]
        where = ".".join(str(part) for part in first["loc"])
        raise _damaged(f"{where}: {first['msg']}", path) from error
    for entry in record.files:
        # These files get replaced: a name must not lead out of the folder.
        fault = fault_of(entry.file)
        if fault is not None:
            raise _damaged(f"file name {entry.file!r}: {fault}", path)
        if not _SHA256.fullmatch(entry.sha256):
            raise _damaged(f"sha256 of {entry.file!r} is {entry.sha256!r}", path)
    return record
