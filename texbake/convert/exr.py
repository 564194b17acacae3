"""Reading EXR: pictures of whole scan lines, uncompressed or deflated (ZIP, ZIPS), one part.

Written from "OpenEXR File Layout" (openexr.com/en/latest/OpenEXRFileLayout.html); the compression
from the same site's "Technical Introduction". Other kinds are left to imageio and what it finds.
"""

import struct
import zlib
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from texbake.arrays import F32, U8

MAGIC: Final = b"\x76\x2f\x31\x01"
_LINES: Final = {0: 1, 2: 1, 3: 16}  # by compression: none, ZIPS, ZIP
_TYPES: Final = {0: "<u4", 1: "<f2", 2: "<f4"}
_KINDS: Final = 0x200 | 0x800 | 0x1000  # tiles, deep data, several parts


class OtherExrError(ValueError):
    """An EXR file of a kind that is not read here."""


@dataclass(frozen=True, slots=True)
class _Header:
    """Names and types of the channels in order; compression; corners of the data; its start."""

    channels: tuple[tuple[str, str], ...]
    compression: int
    window: tuple[int, int, int, int]
    start: int


def exr_size(data: bytes) -> tuple[int, int]:
    """Return height and width.

    Raises
    ------
    ValueError
        If the file is damaged, or `OtherExrError`.
    """
    left, top, right, bottom = _header(data).window
    return bottom - top + 1, right - left + 1


def read_exr(data: bytes) -> F32:
    """Read an EXR file.

    Parameters
    ----------
    data : bytes
        The whole file.

    Returns
    -------
    (H, W) or (H, W, 3) or (H, W, 2) or (H, W, 4) float32
        Grey (Y, Z, or the only channel there is), or R, G and B; then A, if there is one.

    Raises
    ------
    ValueError
        If the file is damaged, or `OtherExrError`.
    """
    header = _header(data)
    planes = {name: plane for name, plane in _planes(data, header).items() if name}
    wanted = _wanted(tuple(planes))
    if len(wanted) == 1:
        return planes[wanted[0]]
    return np.stack([planes[name] for name in wanted], axis=-1)


def _wanted(names: tuple[str, ...]) -> tuple[str, ...]:
    """Return the names of the channels to take, in order."""
    alpha = ("A",) if "A" in names else ()
    if {"R", "G", "B"} <= set(names):
        return ("R", "G", "B", *alpha)
    grey = [name for name in ("Y", "Z", *names) if name in names and name != "A"]
    if not grey or (len(names) - len(alpha) > 1 and grey[0] not in "YZ"):
        raise OtherExrError(f"the channels are {', '.join(names)}")
    return (grey[0], *alpha)


def _header(data: bytes) -> _Header:
    """Read the header."""
    flags = struct.unpack_from("<I", data, 4)[0]
    if flags & _KINDS:
        raise OtherExrError("it has tiles, several parts or deep data")
    found: dict[str, bytes] = {}
    at = 8
    while data[at : at + 1] != b"\0":
        name, at = _text(data, at)
        _, at = _text(data, at)
        size = struct.unpack_from("<I", data, at)[0]
        found[name], at = data[at + 4 : at + 4 + size], at + 4 + size
    try:
        compression = found["compression"][0]
        window = struct.unpack("<4i", found["dataWindow"])
        channels = tuple(_channels(found["channels"]))
    except KeyError as error:
        raise ValueError(f"the header has no {error}") from error
    if compression not in _LINES:
        raise OtherExrError("its compression is none of: none, ZIPS, ZIP")
    if window[2] < window[0] or window[3] < window[1]:
        raise ValueError("its width or height is 0")
    return _Header(channels, compression, window, at + 1)


def _text(data: bytes, at: int) -> tuple[str, int]:
    """Return a text that ends in a zero byte, and the place after it."""
    end = data.index(b"\0", at)
    return data[at:end].decode("latin-1"), end + 1


def _channels(data: bytes) -> Iterator[tuple[str, str]]:
    """Read the list of channels."""
    at = 0
    while data[at : at + 1] != b"\0":
        name, at = _text(data, at)
        kind, _, across, down = struct.unpack_from("<IIii", data, at)
        if (across, down) != (1, 1) or kind not in _TYPES:
            raise OtherExrError("its channels have sizes of their own")
        yield name, _TYPES[kind]
        at += 16


def _planes(data: bytes, header: _Header) -> dict[str, F32]:
    """Read all channels, (H, W) float32 each."""
    left, top, right, bottom = header.window
    height, width = bottom - top + 1, right - left + 1
    lines = _LINES[header.compression]
    line_bytes = width * sum(np.dtype(kind).itemsize for _, kind in header.channels)
    planes: dict[str, F32] = {
        name: np.empty((height, width), np.float32) for name, _ in header.channels
    }
    count = -(-height // lines)
    for start in struct.unpack_from(f"<{count}Q", data, header.start):
        y, size = struct.unpack_from("<ii", data, start)
        row = y - top
        rows = min(lines, height - row)
        if not 0 <= row < height or size < 0:
            raise ValueError("it has lines outside the picture")
        packed = data[start + 8 : start + 8 + size]
        raw = _unpacked(packed, rows * line_bytes, header.compression)
        _spread(raw.reshape(rows, line_bytes), header.channels, slice(row, row + rows), planes)
    return planes


def _spread(
    raw: U8, channels: tuple[tuple[str, str], ...], rows: slice, planes: dict[str, F32]
) -> None:
    """Write lines, in which each channel's samples lie side by side, to the channels."""
    at = 0
    for name, kind in channels:
        width = planes[name].shape[1] * np.dtype(kind).itemsize
        part: NDArray[np.uint8] = np.ascontiguousarray(raw[:, at : at + width])
        planes[name][rows] = part.view(kind)
        at += width


def _unpacked(packed: bytes, size: int, compression: int) -> U8:
    """Return the bytes of a run of lines."""
    if compression == 0 or len(packed) == size:  # what does not shrink is stored as it is
        raw = np.frombuffer(packed, np.uint8)
    else:
        halves = np.frombuffer(zlib.decompress(packed), np.uint8)
        # Each byte is the difference to the one before, plus 128; the even bytes come first.
        steps = halves.astype(np.int64)
        steps[1:] -= 128
        even, odd = np.split(np.cumsum(steps).astype(np.uint8), [(size + 1) // 2])
        raw = np.empty(size, np.uint8)
        raw[0::2], raw[1::2] = even, odd
    if raw.size != size:
        raise ValueError("a run of lines has too few bytes")
    return raw
