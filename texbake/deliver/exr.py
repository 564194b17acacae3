"""EXR: whole scan lines, halves or floats, deflated sixteen lines at a time (ZIP), one part.

Written from "OpenEXR File Layout" (openexr.com/en/latest/OpenEXRFileLayout.html); the compression
from the same site's "Technical Introduction". Huffman codes and runs only, so that every zlib gives
the same bytes (see `png`).
"""

import struct
import zlib
from collections.abc import Callable
from typing import BinaryIO, Final

import numpy as np

from texbake.arrays import F32, U8, bands
from texbake.deliver.png import Sink

MAGIC: Final = b"\x76\x2f\x31\x01"
_VERSION: Final = struct.pack("<I", 2)  # one part of scan lines, short names
_LINES: Final = 16  # to a block of ZIP
_ZIP: Final = 3
# Channels by their number, as they are given; in the file they stand in the order of their names.
NAMES: Final = {1: ("Y",), 2: ("Y", "A"), 3: ("R", "G", "B"), 4: ("R", "G", "B", "A")}
_TYPES: Final = {16: (1, "<f2"), 32: (2, "<f4")}
_HALF_TOP: Final = 65504.0


def write_exr_rows(
    out: Sink,
    rows: Callable[[slice], F32],
    shape: tuple[int, int, int],
    *,
    bits: int,
    comments: str = "",
) -> None:
    """Write an image that is made a band of rows at a time.

    Its compressed bytes are in memory until it is done: where they lie stands at the start.

    Parameters
    ----------
    out : Sink
        A binary file, or anything else that bytes can be written to.
    rows : callable
        Gives a band of rows, (R, W) or (R, W, C) float32, from top to bottom.
    shape : (int, int, int)
        Height, width, and channels, 1 to 4: grey, grey and alpha, RGB, RGB and alpha.
    bits : 16 or 32
        Halves or floats.
    comments : str
        What the values are; the standard attribute of that name.

    Raises
    ------
    OSError
        From ``out``.
    """
    height, width, channels = shape
    head = _header(width, height, channels, bits, comments)
    blocks = []
    for band in bands(height, _LINES):
        data = _packed(_lines(rows(band).reshape(-1, width, channels), bits))
        blocks.append(struct.pack("<ii", band.start, len(data)) + data)
    at = len(head) + 8 * len(blocks)
    out.write(head)
    for block in blocks:
        out.write(struct.pack("<Q", at))
        at += len(block)
    for block in blocks:
        out.write(block)


def whole_exr(file: BinaryIO, file_bytes: int) -> bool:
    """Say whether an EXR as it is written here ends no earlier than its last block of lines.

    Parameters
    ----------
    file : BinaryIO
        At any place.
    file_bytes : int

    Returns
    -------
    bool
        True also for an EXR of another kind, which is not for this module to judge.
    """
    file.seek(0)
    data = file.read(1 << 12)
    try:
        found, start = _attributes(data)
        if data[4:8] != _VERSION or found["compression"] != bytes([_ZIP]):
            return True
        _, top, _, bottom = struct.unpack("<4i", found["dataWindow"])
        file.seek(start + 8 * ((bottom - top) // _LINES))
        (last,) = struct.unpack("<Q", file.read(8))
        file.seek(last + 4)
        (size,) = struct.unpack("<i", file.read(4))
    except (ValueError, KeyError, struct.error):  # it ends in the header or before the last block
        return False
    return int(last) + 8 + int(size) <= file_bytes


def _attributes(data: bytes) -> tuple[dict[str, bytes], int]:
    """Read the header's attributes, and where it ends."""
    found: dict[str, bytes] = {}
    at = 8
    while data[at : at + 1] != b"\0":
        name_end = data.index(b"\0", at)
        kind_end = data.index(b"\0", name_end + 1)
        (size,) = struct.unpack_from("<i", data, kind_end + 1)
        found[data[at:name_end].decode("latin-1")] = data[kind_end + 5 : kind_end + 5 + size]
        at = kind_end + 5 + size
    return found, at + 1


def _header(width: int, height: int, channels: int, bits: int, comments: str) -> bytes:
    """Return magic, version and attributes."""
    kind = _TYPES[bits][0]
    listed = b"".join(
        name.encode() + b"\0" + struct.pack("<IIii", kind, 0, 1, 1)
        for name in sorted(NAMES[channels])
    )
    window = struct.pack("<4i", 0, 0, width - 1, height - 1)
    attributes: list[tuple[str, str, bytes]] = [
        ("channels", "chlist", listed + b"\0"),
        ("compression", "compression", bytes([_ZIP])),
        ("dataWindow", "box2i", window),
        ("displayWindow", "box2i", window),
        ("lineOrder", "lineOrder", b"\0"),
        ("pixelAspectRatio", "float", struct.pack("<f", 1.0)),
        ("screenWindowCenter", "v2f", struct.pack("<2f", 0.0, 0.0)),
        ("screenWindowWidth", "float", struct.pack("<f", 1.0)),
    ]
    if comments:
        attributes.append(("comments", "string", comments.encode()))
    told = b"".join(
        name.encode() + b"\0" + form.encode() + b"\0" + struct.pack("<i", len(data)) + data
        for name, form, data in sorted(attributes)
    )
    return MAGIC + _VERSION + told + b"\0"


def _lines(rows: F32, bits: int) -> U8:
    """Return rows (R, W, C) as bytes: line by line, each channel's samples side by side."""
    channels = rows.shape[2]
    order = np.argsort(np.array(NAMES[channels]))
    if bits == 16:
        rows = np.clip(rows, -_HALF_TOP, _HALF_TOP)
    planes = np.ascontiguousarray(rows.transpose(0, 2, 1)[:, order].astype(_TYPES[bits][1]))
    return planes.view(np.uint8).reshape(-1)


def _packed(raw: U8) -> bytes:
    """Compress a block: even bytes first, then differences, then deflate; or leave it as it is."""
    halves = np.concatenate([raw[0::2], raw[1::2]])
    steps = halves.copy()
    np.subtract(halves[1:], halves[:-1], out=steps[1:])
    steps[1:] += 128  # bytes wrap round
    packer = zlib.compressobj(level=1, memLevel=9, strategy=zlib.Z_RLE)
    data = packer.compress(steps.tobytes()) + packer.flush()
    return data if len(data) < raw.size else raw.tobytes()
