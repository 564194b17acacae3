"""Decoding pictures with every bit they have, by Pillow, or by what imageio finds.

Pillow gives 16-bit colour as 8 bits. Its decoders are asked for the high bytes, then, with the
byte order turned over, for the low ones. Its limit on sizes is a setting of the whole process and
too low for maps of 16384 x 16384, so it is passed by: the format's own class is called. A header
may still not ask for more than 2^30 pixels.
"""

import struct
import sys
import zlib
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import numpy as np
from numpy.typing import NDArray

from texbake.arrays import U16, bands
from texbake.convert.values import Samples
from texbake.errors import UserError

if TYPE_CHECKING:
    from PIL.ImageFile import ImageFile

TIFF: Final = (b"II*\0", b"MM\0*", b"II+\0", b"MM\0+")
_PNM: Final = (b"P1", b"P2", b"P3", b"P4", b"P5", b"P6", b"Pf", b"PF")
_MOST: Final = 1 << 30
_ROWS: Final = 256

# What Pillow's readers raise on damaged files, besides OSError. UserWarning: where warnings are
# turned into errors.
DAMAGE: Final = (
    SyntaxError,
    ValueError,
    EOFError,
    IndexError,
    KeyError,
    TypeError,
    OverflowError,
    struct.error,
    zlib.error,
    UserWarning,
)


@contextmanager
def opened(path: Path) -> "Iterator[ImageFile]":
    """Open a picture with Pillow; its samples are not decoded yet."""
    from PIL import (
        Image,
        PngImagePlugin,
        PpmImagePlugin,
        TiffImagePlugin,
        UnidentifiedImageError,
    )

    with path.open("rb") as file:
        head = file.read(8)
        file.seek(0)
        if head.startswith(b"\x89PNG"):
            image: Any = PngImagePlugin.PngImageFile(file)
        elif head[:4] in TIFF:
            image = TiffImagePlugin.TiffImageFile(file)
        elif head[:2] in _PNM:
            image = PpmImagePlugin.PpmImageFile(file)
        else:
            try:
                image = Image.open(file)
            except UnidentifiedImageError as error:
                raise ValueError("its format is not known") from error
            except Image.DecompressionBombError as error:
                raise ValueError(str(error)) from error
        if min(image.size) < 1 or image.width * image.height > _MOST:
            raise ValueError(f"it has {image.width} x {image.height} pixels, allowed are 1 to 2^30")
        yield image


def by_pillow(path: Path) -> tuple[Samples, object]:
    """Read a picture with Pillow.

    Returns
    -------
    samples : (H, W) or (H, W, C) uint8, uint16 or float32
        C is 2, 3 or 4; the second and the fourth channel are alpha.
    key : int, tuple of int or None
        The sample that PNG's tRNS chunk calls empty.
    """
    with opened(path) as image:
        raw = _raw_mode(image)
        deep = image.mode in {"RGB", "RGBA"} and _bits(image, raw) == 16
        key = image.info.get("transparency") if image.mode in {"L", "I;16", "RGB"} else None
        if not deep:
            return _samples(image), key
        if raw == "LA;16B":  # four bytes, as RGBA has: the two of grey, then the two of alpha
            image._mode = "RGBA"  # noqa: SLF001 - there is no public way to say it
            _decode_as(image, "RGBA")
            pairs = _samples(image)
            return pairs[..., ::2].astype(np.uint16) << 8 | pairs[..., 1::2], key
        return _deep(path, image, raw), key


def _raw_mode(image: "ImageFile") -> str:
    """Return how the file's samples are laid out, in Pillow's words."""
    if not image.tile:
        return ""
    args = image.tile[0].args
    first = args[0] if isinstance(args, tuple) and args else args
    return first if isinstance(first, str) else ""


def _bits(image: "ImageFile", raw: str) -> int:
    """Return the bits of a sample of a picture in colour."""
    tags = getattr(image, "tag_v2", None)
    if tags is not None:
        return int(max(tags.get(258, (8,))))  # TIFF 6.0: BitsPerSample
    return 16 if ";16" in raw else 8


def _decode_as(image: "ImageFile", raw: str) -> None:
    """Have all tiles of a picture decoded with another layout."""
    image.tile = [
        tile._replace(args=(raw, *tile.args[1:]) if isinstance(tile.args, tuple) else raw)
        for tile in image.tile
    ]


def _deep(path: Path, image: "ImageFile", raw: str) -> U16:
    """Read 16-bit colour: the high bytes, then, with the byte order turned over, the low ones."""
    kind, _, order = raw.partition(";16")
    if kind not in {"RGB", "RGBA"} or order not in {"B", "L", "N"}:
        raise UserError(
            f"it has 16-bit colour laid out in a way that is not known ({raw})",
            fix="save it as a PNG of 16 bits, or as a TIFF with interleaved channels",
            path=path,
        )
    if order == "N":
        order = "L" if sys.byteorder == "little" else "B"
    out = _samples(image).astype(np.uint16)
    out <<= 8
    with opened(path) as again:
        _decode_as(again, f"{kind};16{'B' if order == 'L' else 'L'}")
        out |= _samples(again)
    return out


def _samples(image: "ImageFile") -> NDArray[Any]:
    """Decode a picture, (H, W) or (H, W, C) uint8, uint16 or float32."""
    image.load()
    plain: Any = image
    if image.mode not in {"L", "LA", "RGB", "RGBA", "F", "I"} and not image.mode.startswith("I;16"):
        plain = image.convert(_plain_mode(image))
    channels = len(plain.getbands())
    kind: Any = {"F": np.float32, "I": np.int32}.get(plain.mode, np.uint8)
    if plain.mode.startswith("I;16"):
        kind = np.uint16
    shape = (plain.height, plain.width) if channels == 1 else (plain.height, plain.width, channels)
    out: NDArray[Any] = np.empty(shape, kind)
    for band in bands(plain.height, _ROWS):
        out[band] = np.asarray(plain.crop((0, band.start, plain.width, band.stop)))
    return _codes(out, image) if plain.mode == "I" else out


def _plain_mode(image: "ImageFile") -> str:
    """Return the mode in which the samples of an uncommon one can be had."""
    if image.mode in {"1", "L"}:
        return "L"
    if image.mode in {"La", "LA"}:
        return "LA"
    with_alpha = image.mode in {"PA", "RGBa"} or "transparency" in image.info
    return "RGBA" if with_alpha else "RGB"


def _codes(samples: NDArray[np.int32], image: "ImageFile") -> U16:
    """Return whole numbers that Pillow holds in 32 bits as the codes of 16 that they are."""
    tags = getattr(image, "tag_v2", None)
    bits = 16 if tags is None else max(tags.get(258, (16,)))
    if bits > 16 or int(samples.min()) < 0 or int(samples.max()) > 65535:
        raise UserError(
            f"its samples are whole numbers from {samples.min()} to {samples.max()}, with {bits} "
            "bits: nothing says what is white",
            fix="save it with 16 bits without sign, or as floats with 1 as white",
        )
    return samples.astype(np.uint16)


def by_imageio(path: Path, plugins: Sequence[str]) -> NDArray[Any]:
    """Read a picture with the first plugin of imageio that can; ValueError if there is none."""
    import imageio.v3 as iio

    for plugin in plugins:
        try:
            samples = np.asarray(iio.imread(path, plugin=plugin))
        except (OSError, RuntimeError, ImportError, *DAMAGE):
            continue
        if samples.dtype.kind == "f":
            samples = samples.astype(np.float32)
        known = samples.dtype in (np.uint8, np.uint16, np.float32) and samples.size
        if known and (samples.ndim == 2 or (samples.ndim == 3 and samples.shape[2] <= 4)):
            return samples
    raise ValueError(f"it is of a kind that would need one of imageio's plugins {plugins}")
