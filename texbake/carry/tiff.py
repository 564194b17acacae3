"""TIFF as painting needs it, marked as carried, so that it may be carried over again."""

from typing import BinaryIO, Final

from texbake.arrays import U8, U16
from texbake.deliver.tiff import write_tiff_rows

SOFTWARE: Final = b"texbake carry\0"
_NEAR_END: Final = 2 << 10


def write_tiff(file: BinaryIO, image: U8 | U16) -> None:
    """Write a picture as TIFF.

    Parameters
    ----------
    file : BinaryIO
        Empty, open for writing.
    image : (H, W, C) uint8 or uint16
        C is 1 to 4; of 2 and 4 the last is alpha, not multiplied in.
    """
    height, width, channels = image.shape
    write_tiff_rows(
        file,
        lambda band: image[band],
        (height, width, channels),
        bits=image.itemsize * 8,
        software=SOFTWARE,
    )


def is_ours(file: BinaryIO) -> bool:
    """Say whether a TIFF was written here; ``file``: at any place."""
    file.seek(0)
    head = file.read(8)
    if head[:4] != b"II*\0" or len(head) < 8:
        return False
    start = int.from_bytes(head[4:], "little")
    file.seek(max(start - (1 << 10), 0))
    return SOFTWARE in file.read(_NEAR_END)
