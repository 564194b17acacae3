"""TIFF: grey or RGB, with or without alpha, 8 or 16 bits, deflated strips.

TIFF 6.0 (1992), and compression 8 of its Technical Note of 2002. Written here because
Pillow has no 16-bit colour, and compressed with Huffman codes and runs only, so that every zlib
gives the same bytes (see `png`): differences along rows leave little else to find.
"""

import struct
import zlib
from collections.abc import Callable, Iterator
from typing import BinaryIO, Final

import numpy as np

from texbake.arrays import U8, U16, bands
from texbake.deliver.png import Sink

SOFTWARE: Final = b"texbake\0"
_ROWS: Final = 64
_SHORT, _LONG, _ASCII = 3, 4, 2
_HEADER_BYTES: Final = 8

Entry = tuple[int, int, list[int] | bytes]


def write_tiff_rows(
    out: Sink,
    rows: Callable[[slice], U8 | U16],
    shape: tuple[int, int, int],
    *,
    bits: int = 8,
    software: bytes = SOFTWARE,
) -> None:
    """Write an image that is made a band of rows at a time.

    Its compressed bytes are in memory until it is done: where they end stands at the start.

    Parameters
    ----------
    out : Sink
        A binary file, or anything else that bytes can be written to.
    rows : callable
        Gives a band of rows, (R, W) or (R, W, C) uint8 or uint16, from top to bottom.
    shape : (int, int, int)
        Height, width, and channels, 1 to 4; of 2 and 4 the last is alpha, not multiplied in.
    bits : 8 or 16
        Of the bands.
    software : bytes
        What wrote it, with a zero at the end.

    Raises
    ------
    ValueError
        If it is over 4 GiB, which TIFF cannot hold.
    OSError
        From ``out``.
    """
    height, width, channels = shape
    strips = [_strip(rows(band)) for band in bands(height, _ROWS)]
    sizes = [len(strip) for strip in strips]
    starts = [_HEADER_BYTES + sum(sizes[:k]) for k in range(len(sizes))]
    end = _HEADER_BYTES + sum(sizes)
    padding = b"\0" * (end % 2)
    if end >= 1 << 32:
        raise ValueError(f"{end} bytes are more than a TIFF holds")
    colours = 1 if channels < 3 else 3
    entries: list[Entry] = [
        (256, _LONG, [width]),
        (257, _LONG, [height]),
        (258, _SHORT, [bits] * channels),
        (259, _SHORT, [8]),  # deflate
        (262, _SHORT, [1 if colours == 1 else 2]),  # black is zero, or RGB
        (273, _LONG, starts),
        (277, _SHORT, [channels]),
        (278, _LONG, [_ROWS]),
        (279, _LONG, sizes),
        (284, _SHORT, [1]),  # channels interleaved
        (305, _ASCII, software),
        (317, _SHORT, [2]),  # differences along rows
    ]
    if channels > colours:
        entries.append((338, _SHORT, [2]))  # alpha, not multiplied in
    beside, directory, start = _directory(entries, end + len(padding))
    out.write(b"II*\0" + struct.pack("<I", start))
    for strip in strips:
        out.write(strip)
    out.write(padding + beside + directory)


def whole_tiff(file: BinaryIO, file_bytes: int) -> bool:
    """Say whether a little-endian TIFF holds the whole of its first directory, ours its end.

    Parameters
    ----------
    file : BinaryIO
        At any place.
    file_bytes : int
    """
    try:
        file.seek(4)
        (start,) = struct.unpack("<I", file.read(4))
        file.seek(start)
        (count,) = struct.unpack("<H", file.read(2))
    except struct.error:  # it ends before
        return False
    return int(start) + 2 + 12 * int(count) + 4 <= file_bytes


def _strip(rows: U8 | U16) -> bytes:
    """Compress some rows: differences along rows, channel by channel, little-endian."""
    steps = rows.copy()
    np.subtract(rows[:, 1:], rows[:, :-1], out=steps[:, 1:])
    packer = zlib.compressobj(level=1, memLevel=9, strategy=zlib.Z_RLE)
    return packer.compress(steps.astype(rows.dtype.newbyteorder("<")).tobytes()) + packer.flush()


def _directory(entries: list[Entry], at: int) -> tuple[bytes, bytes, int]:
    """Return the values that do not fit into entries, the directory, and where that begins."""
    beside, lines = bytearray(), bytearray()
    for tag, kind, data, count in _values(entries):
        if len(data) > 4:
            place = struct.pack("<I", at + len(beside))
            beside += data + b"\0" * (len(data) % 2)
        else:
            place = data.ljust(4, b"\0")
        lines += struct.pack("<HHI", tag, kind, count) + place
    head = struct.pack("<H", len(entries))
    return bytes(beside), head + bytes(lines) + struct.pack("<I", 0), at + len(beside)


def _values(entries: list[Entry]) -> Iterator[tuple[int, int, bytes, int]]:
    """Pack the values of entries."""
    for tag, kind, values in entries:
        form = "H" if kind == _SHORT else "I"
        data = (
            values if isinstance(values, bytes) else struct.pack(f"<{len(values)}{form}", *values)
        )
        yield tag, kind, data, len(values)
