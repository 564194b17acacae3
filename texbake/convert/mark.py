"""The mark of our own pictures: a text chunk at the end of the PNG that says what they are.

By it a picture that may be written over is known from the user's own, and its scale goes with it.
"""

import re
import struct
import zlib
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO, Final

_KEY: Final = b"texbake-convert\0"
_IEND: Final = 12  # bytes of the last chunk
_LONGEST: Final = 400
_FORM: Final = re.compile(r"(?P<kind>[a-z-]+)(?P<rest>( [a-z_]+=[^ ]+)*)")


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """What a picture is.

    Attributes
    ----------
    kind : str
        "normal-up", "normal-down" or "height".
    depth_mm, texel_mm : float or None
        From black to white, and the size of a texel.
    """

    kind: str
    depth_mm: float | None = None
    texel_mm: float | None = None


def add_mark(file: BinaryIO, mark: Mark) -> None:
    """Put the mark into a PNG that was just written, before its last chunk."""
    fields = ((name, getattr(mark, name)) for name in ("depth_mm", "texel_mm"))
    parts = [mark.kind, *(f"{name}={value!r}" for name, value in fields if value is not None)]
    # PNG, third edition, 11.3.3.2, tEXt: keyword, a zero byte, text in Latin-1.
    body = b"tEXt" + _KEY + " ".join(parts).encode("ascii")
    file.seek(-_IEND, 2)
    end = file.read(_IEND)
    file.seek(-_IEND, 2)
    file.write(struct.pack(">I", len(body) - 4) + body + struct.pack(">I", zlib.crc32(body)) + end)


def read_mark(path: Path) -> Mark | None:
    """Return the mark of a picture; None if it is not one of ours.

    Raises
    ------
    OSError
        If the file cannot be read.
    """
    with path.open("rb") as file:
        size = file.seek(0, 2)
        file.seek(max(size - _LONGEST, 0))
        tail = file.read()
    start = tail.rfind(b"tEXt" + _KEY)
    if start < 4 or not tail.endswith(b"IEND\xaeB`\x82"):
        return None
    (length,) = struct.unpack_from(">I", tail, start - 4)
    text = tail[start + 4 + len(_KEY) : start + 4 + length].decode("ascii", "replace")
    found = _FORM.fullmatch(text)
    if found is None:
        return None
    fields = dict(part.split("=", 1) for part in found["rest"].split())
    return Mark(
        kind=found["kind"],
        depth_mm=_number(fields, "depth_mm"),
        texel_mm=_number(fields, "texel_mm"),
    )


def _number(fields: Mapping[str, str], name: str) -> float | None:
    """Return a field's number, if it is there and is one."""
    try:
        return float(fields[name])
    except (KeyError, ValueError):
        return None
