"""The layout record as a file: ``OUT/GARMENT/layout.json``.

JSON, with arrays as deflated little-endian bytes in base64; so any program can read it. It holds
no time and no path, and its digest tells whether it is whole. Written to another name first and
then renamed, so that there is always one that is whole.
"""

import base64
import binascii
import hashlib
import json
import math
import os
import platform
import threading
import zlib
from collections.abc import Mapping
from dataclasses import asdict
from pathlib import Path
from types import MappingProxyType
from typing import Any, Final, get_args

import numpy as np
from numpy.typing import NDArray

from texbake.change.values import Kept, KeptPanel, Picks
from texbake.deliver import told
from texbake.errors import UserError
from texbake.recipe.values import Up

NAME: Final = "layout.json"
BEFORE: Final = "layout-before.json"  # of the mesh that was baked before this one
VERSION: Final = 1
MOST_BYTES: Final = 256 * 2**20  # of one array: some 6 million triangles
_LEVEL: Final = 6
_TYPES: Final[Mapping[str, tuple[str, tuple[int, ...]]]] = MappingProxyType(
    {
        "points_mm": ("<f8", (3,)),
        "faces": ("<i4", (3,)),
        "uv": ("<f8", (3, 2)),
        "island": ("<i4", ()),
        "panel": ("<i4", ()),
        "tag": ("<i4", ()),
        "known": ("<i4", ()),
    }
)


_UPS: Final[Mapping[str, Up]] = MappingProxyType({up: up for up in get_args(Up)})


def layout_path(out: Path, garment: str) -> Path:
    """Return where the layout record of a garment lies."""
    return out / garment / NAME


def write_kept(path: Path, kept: Kept) -> None:
    """Write a layout record, in place of an earlier one, whole or not at all.

    Raises
    ------
    MachineError
        If the disk is full, read-only, or the like.
    """
    data = to_text(kept).encode()
    with told(path):
        if path.is_file() and path.read_bytes() == data:
            return
        path.parent.mkdir(parents=True, exist_ok=True)
        # Jobs on several threads, processes and machines may write this at the same time.
        own = f"{platform.node()}-{os.getpid()}-{threading.get_ident()}"
        part = path.with_name(f".{path.name}.{own}.part")
        with part.open("wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        part.replace(path)


def read_kept(path: Path) -> Kept | None:
    """Read a layout record; None if there is none.

    Raises
    ------
    UserError
        If it is damaged, written by a newer Texbake, or no layout record at all.
    MachineError
        If it cannot be read.
    """
    with told(path):
        try:
            data = path.read_bytes()
        except (FileNotFoundError, NotADirectoryError):
            return None
    return from_text(data.decode("utf-8", errors="replace"), path=path)


def to_text(kept: Kept) -> str:
    """Return a layout record as JSON: equal records are equal texts."""
    data: dict[str, Any] = {
        "version": VERSION,
        "garment": kept.garment,
        "mesh": {
            "name": kept.mesh_name,
            "digest": kept.mesh_digest,
            "key": kept.mesh_key,
            "unit_mm": kept.unit_mm,
            "up": kept.up,
        },
        "size_px": kept.size_px,
        "tags": [list(tag) for tag in kept.tags],
        "entries": {name: asdict(picks) for name, picks in sorted(kept.entries.items())},
        "panels": [
            {
                "name": panel.name,
                "entry": panel.entry,
                "islands": list(panel.islands),
                "sewn_mm": _packed(panel.sewn_mm, "<f8"),
            }
            for panel in kept.panels
        ],
        "arrays": {name: _packed(getattr(kept, name), kind) for name, (kind, _) in _TYPES.items()},
    }
    return json.dumps({**data, "sha256": _digest(data)}, sort_keys=True, indent=1) + "\n"


def from_text(text: str, *, path: Path) -> Kept:
    """Read what `to_text` gave; ``path`` is for messages.

    Raises
    ------
    UserError
        If it is damaged, written by a newer Texbake, or no layout record at all.
    """
    try:
        data = json.loads(text)
    except ValueError as error:
        raise _damaged("it is no JSON", path) from error
    version = data.get("version") if isinstance(data, dict) else None
    if isinstance(version, int) and version > VERSION:
        raise UserError(
            f"the layout record has version {version}; this Texbake knows up to {VERSION}",
            fix="bake with the Texbake that wrote it, or move the file away and bake as for the "
            "first time",
            path=path,
        )
    if not isinstance(data, dict) or data.pop("sha256", None) != _digest(data):
        raise _damaged("it is not as it was written", path)
    try:
        return _kept(data)
    except (KeyError, TypeError, ValueError, AttributeError, zlib.error) as error:
        raise _damaged(f"{type(error).__name__} in it: {error}", path) from error


def _damaged(what: str, path: Path) -> UserError:
    return UserError(
        f"the layout record is damaged: {what}",
        fix="restore the file, or move it away and bake as for the first time; maps are untouched",
        path=path,
    )


def _digest(data: Mapping[str, Any]) -> str:
    text = json.dumps(data, sort_keys=True, separators=(",", ":"))
    return hashlib.sha256(text.encode()).hexdigest()


def _packed(array: NDArray[Any], kind: str) -> dict[str, Any]:
    """Return an array as JSON."""
    raw = np.ascontiguousarray(array, np.dtype(kind)).tobytes()
    data = base64.b64encode(zlib.compress(raw, _LEVEL)).decode()
    return {"shape": list(array.shape), "data": data}


def _unpacked(data: Mapping[str, Any], kind: str, tail: tuple[int, ...]) -> NDArray[Any]:
    """Return the array, whose shape must end with ``tail`` and which must be finite."""
    shape = tuple(int(n) for n in data["shape"])
    if shape[1:] != tail or min(shape) < 0:
        raise ValueError(f"shape {shape} does not end with {tail}")
    size = math.prod(shape) * np.dtype(kind).itemsize
    if size > MOST_BYTES:
        raise ValueError(f"{size} bytes are too many")
    try:
        packed = base64.b64decode(data["data"], validate=True)
    except binascii.Error as error:
        raise ValueError("no base64") from error
    raw = zlib.decompressobj().decompress(packed, size + 1)
    if len(raw) != size:
        raise ValueError(f"{len(raw)} bytes, not {size}")
    array = np.frombuffer(raw, np.dtype(kind)).reshape(shape)
    if not np.isfinite(array).all():
        raise ValueError("a number is not finite")
    return array.astype(np.int32 if kind == "<i4" else np.float64)


def _kept(data: Mapping[str, Any]) -> Kept:
    """Return the record; raise ValueError if its parts do not fit together."""
    arrays = {name: _unpacked(data["arrays"][name], *kind) for name, kind in _TYPES.items()}
    kept = Kept(
        garment=str(data["garment"]),
        mesh_name=str(data["mesh"]["name"]),
        mesh_digest=str(data["mesh"]["digest"]),
        mesh_key=str(data["mesh"]["key"]),
        unit_mm=float(data["mesh"]["unit_mm"]),
        up=_UPS[data["mesh"]["up"]],
        size_px=int(data["size_px"]),
        tags=tuple((str(o), str(g), str(m)) for o, g, m in data["tags"]),
        entries={str(name): _picks(picks) for name, picks in data["entries"].items()},
        panels=tuple(
            KeptPanel(
                name=str(panel["name"]),
                entry=None if panel["entry"] is None else str(panel["entry"]),
                islands=tuple(int(i) for i in panel["islands"]),
                sewn_mm=_unpacked(panel["sewn_mm"], "<f8", (2, 3)),
            )
            for panel in data["panels"]
        ),
        **arrays,
    )
    _check(kept)
    return kept


def _picks(data: Mapping[str, Any]) -> Picks:
    at = data["at"]
    point = None if at is None else (float(at[0]), float(at[1]), float(at[2]))
    names = {k: None if data[k] is None else str(data[k]) for k in ("object", "group", "material")}
    return Picks(at=point, islands=tuple(int(i) for i in data["islands"]), **names)


def _check(kept: Kept) -> None:
    """Raise ValueError for numbers that point nowhere."""
    count = len(kept.faces)
    if not count or any(
        len(a) != count for a in (kept.uv, kept.island, kept.panel, kept.tag, kept.known)
    ):
        raise ValueError("its arrays are not of one length")
    for array, low, high, what in (
        (kept.faces, 0, len(kept.points_mm), "faces"),
        (kept.panel, -1, len(kept.panels), "panel"),
        (kept.known, -1, len(kept.panels), "known"),
        (kept.tag, 0, len(kept.tags), "tag"),
        (kept.island, 0, count, "island"),
    ):
        if array.min() < low or array.max() >= high:
            raise ValueError(f"{what} beyond {low} to {high - 1}")
