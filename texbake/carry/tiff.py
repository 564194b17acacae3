"""TIFF as painting needs it: grey or RGB, with or without alpha, 8 or 16 bits, deflated strips.

TIFF 6.0 (Adobe, 1992), and compression 8 of its Technical Note of 2002. Written here because
Pillow has no 16-bit colour.
"""

import struct
import zlib
from typing import BinaryIO, Final

import numpy as np

from texbake.arrays import U8, U16, bands

SOFTWARE: Final = b"texbake carry\0"
_ROWS: Final = 64
_SHORT, _LONG, _ASCII = 3, 4, 2
_HEADER_BYTES: Final = 8


def write_tiff(file: BinaryIO, image: U8 | U16) -> None:
    """Write a picture as TIFF.

    Parameters
    ----------
    file : BinaryIO
        Empty, open for writing, and able to seek.
    image : (H, W, C) uint8 or uint16
        C is 1 to 4; of 2 and 4 the last is alpha, not multiplied in.
    """
    height, width, channels = image.shape
    file.write(b"II*\0" + struct.pack("<I", 0))  # where the directory is comes last
    offsets, sizes = [], []
    for band in bands(height, _ROWS):
        data = zlib.compress(_predicted(image[band]), 1)
        offsets.append(file.tell())
        sizes.append(len(data))
        file.write(data)
    colours = 1 if channels < 3 else 3
    entries: list[tuple[int, int, list[int] | bytes]] = [
        (256, _LONG, [width]),
        (257, _LONG, [height]),
        (258, _SHORT, [image.itemsize * 8] * channels),
        (259, _SHORT, [8]),  # deflate
        (262, _SHORT, [1 if colours == 1 else 2]),  # black is zero, or RGB
        (273, _LONG, offsets),
        (277, _SHORT, [channels]),
        (278, _LONG, [_ROWS]),
        (279, _LONG, sizes),
        (284, _SHORT, [1]),  # channels interleaved
        (305, _ASCII, SOFTWARE),
        (317, _SHORT, [2]),  # differences along rows
    ]
    if channels > colours:
        entries.append((338, _SHORT, [2]))  # alpha, not multiplied in
    _directory(file, entries)


def _predicted(rows: U8 | U16) -> bytes:
    """Differences along rows, channel by channel, little-endian."""
    out = rows.copy()
    np.subtract(rows[:, 1:], rows[:, :-1], out=out[:, 1:])
    return out.astype(rows.dtype.newbyteorder("<")).tobytes()


def _directory(file: BinaryIO, entries: list[tuple[int, int, list[int] | bytes]]) -> None:
    """Write the values that do not fit into entries, then the directory, then where it is."""
    lines = []
    for tag, kind, values in entries:
        data = values if isinstance(values, bytes) else _packed(kind, values)
        count = len(values)
        if len(data) > 4:
            file.write(b"\0" * (file.tell() % 2))
            place = file.tell()
            file.write(data)
            data = struct.pack("<I", place)
        lines.append(struct.pack("<HHI", tag, kind, count) + data.ljust(4, b"\0"))
    file.write(b"\0" * (file.tell() % 2))
    start = file.tell()
    file.write(struct.pack("<H", len(lines)) + b"".join(lines) + struct.pack("<I", 0))
    file.seek(4)
    file.write(struct.pack("<I", start))
    file.seek(0, 2)


def _packed(kind: int, values: list[int]) -> bytes:
    """Pack numbers as SHORT or LONG."""
    return struct.pack(f"<{len(values)}{'H' if kind == _SHORT else 'I'}", *values)


def is_ours(file: BinaryIO) -> bool:
    """Say whether a TIFF was written here; ``file``: at any place."""
    file.seek(0)
    head = file.read(_HEADER_BYTES)
    if head[:4] != b"II*\0" or len(head) < _HEADER_BYTES:
        return False
    (start,) = struct.unpack("<I", head[4:])
    file.seek(max(start - (1 << 10), 0))
    return SOFTWARE in file.read(2 << 10)
