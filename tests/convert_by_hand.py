"""Height maps, normals and picture files made by hand, for tests of the converter."""

import struct
import zlib
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

_PNG_COLOUR = {1: 0, 2: 4, 3: 2, 4: 6}  # channels: colour type


def chunk(kind: bytes, data: bytes) -> bytes:
    """One chunk of a PNG."""
    return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))


def png_bytes(samples: NDArray[Any], *, before: bytes = b"") -> bytes:
    """A PNG without filters, of 1 to 4 channels; ``before``: chunks before the data."""
    height, width = samples.shape[:2]
    channels = 1 if samples.ndim == 2 else samples.shape[2]
    bits = samples.itemsize * 8
    rows = samples.astype(">u2" if bits == 16 else "u1")
    raw = b"".join(b"\0" + row.tobytes() for row in rows)
    head = struct.pack(">IIBBBBB", width, height, bits, _PNG_COLOUR[channels], 0, 0, 0)
    return b"".join(
        (
            b"\x89PNG\r\n\x1a\n",
            chunk(b"IHDR", head),
            before,
            chunk(b"IDAT", zlib.compress(raw)),
            chunk(b"IEND", b""),
        )
    )


def save_png(path: Path, samples: NDArray[Any], *, before: bytes = b"") -> Path:
    """Write a PNG."""
    path.write_bytes(png_bytes(samples, before=before))
    return path


def _attribute(name: str, kind: str, data: bytes) -> bytes:
    """One attribute of an EXR header."""
    return name.encode() + b"\0" + kind.encode() + b"\0" + struct.pack("<I", len(data)) + data


def exr_bytes(
    planes: dict[str, NDArray[Any]], *, kind: str = "<f4", compression: int = 3, flags: int = 0
) -> bytes:
    """An EXR of scan lines, whose window does not begin at 0: none (0), ZIPS (2) or ZIP (3)."""
    names = sorted(planes)
    height, width = planes[names[0]].shape
    code = {"<u4": 0, "<f2": 1, "<f4": 2}[kind]
    listed = b"".join(n.encode() + b"\0" + struct.pack("<IIii", code, 0, 1, 1) for n in names)
    window = struct.pack("<4i", 5, -3, 5 + width - 1, -3 + height - 1)
    head = struct.pack("<II", 20000630, 2 | flags) + b"".join(
        (
            _attribute("channels", "chlist", listed + b"\0"),
            _attribute("compression", "compression", bytes([compression])),
            _attribute("dataWindow", "box2i", window),
            _attribute("displayWindow", "box2i", window),
            _attribute("lineOrder", "lineOrder", b"\0"),
            b"\0",
        )
    )
    lines = {0: 1, 2: 1, 3: 16}.get(compression, 1)
    runs = []
    for top in range(0, height, lines):
        rows = range(top, min(top + lines, height))
        raw = b"".join(planes[n][row].astype(kind).tobytes() for row in rows for n in names)
        packed = raw if compression == 0 else _deflated(raw)
        runs.append(struct.pack("<ii", top - 3, len(packed)) + packed)
    places, at = b"", len(head) + 8 * len(runs)
    for run in runs:
        places += struct.pack("<Q", at)
        at += len(run)
    return head + places + b"".join(runs)


def _deflated(raw: bytes) -> bytes:
    """A run of lines as ZIP stores it: even bytes, odd bytes, differences, deflate."""
    data = np.frombuffer(raw, np.uint8)
    halves = np.concatenate([data[0::2], data[1::2]])
    steps = halves.copy()
    steps[1:] = halves[1:] - halves[:-1] + np.uint8(128)
    packed = zlib.compress(steps.tobytes())
    return packed if len(packed) < len(raw) else raw


def waves(height: int, width: int, *, finest: float = 12.0) -> NDArray[np.float64]:
    """A smooth relief that wraps, 0 to 1, with waves of ``finest`` texels and longer."""
    across, down = np.meshgrid(
        2 * np.pi / width * np.arange(width), 2 * np.pi / height * np.arange(height)
    )
    total = np.zeros((height, width))
    for number in range(20):
        share = 1.0 / (1.0 + number % 5)
        angle = 2.399963 * number
        turns = (
            round(width / finest * share * np.cos(angle)),
            round(height / finest * share * np.sin(angle)),
        )
        total += np.cos(turns[0] * across + turns[1] * down + 1.7 * number * number)
    total -= total.min()
    total /= total.max()
    return total


def codes16(height: NDArray[np.float64]) -> NDArray[np.uint16]:
    """A relief from 0 to 1 as codes of 16 bits."""
    return np.floor(height * 65535.0 + 0.5).astype(np.uint16)


def angle_deg(a: NDArray[Any], b: NDArray[Any]) -> NDArray[np.float64]:
    """Angles between vectors, degrees."""
    first, second = a.astype(np.float64), b.astype(np.float64)
    cross = np.linalg.norm(np.cross(first, second), axis=-1)
    angle: NDArray[np.float64] = np.degrees(np.arctan2(cross, (first * second).sum(axis=-1)))
    return angle


def decoded(codes: NDArray[Any]) -> NDArray[np.float64]:
    """Codes as vectors: glTF 2.0, section 3.9.3, 2 c / m - 1."""
    top = float(np.iinfo(codes.dtype).max)
    vectors: NDArray[np.float64] = 2.0 * codes.astype(np.float64) / top - 1.0
    return vectors
