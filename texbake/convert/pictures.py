"""Reading height maps and normal maps from files of others."""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np

from texbake.arrays import Bool, bands
from texbake.convert.decode import DAMAGE, TIFF, by_imageio, by_pillow, opened
from texbake.convert.exr import MAGIC as EXR_MAGIC
from texbake.convert.exr import OtherExrError, exr_size, read_exr
from texbake.convert.normal import covered_of
from texbake.convert.values import Relief, Samples, white_of
from texbake.errors import MachineError, UserError
from texbake.recipe.mistake import nearest

SUFFIXES: Final = (".png", ".tif", ".tiff", ".exr", ".pgm", ".pnm", ".ppm", ".pfm")
_ROWS: Final = 256
_FOR_TIFF: Final = ("tifffile",)
_FOR_EXR: Final = ("pyav", "EXR-FI")  # the second needs the FreeImage library
_KINDS: Final = "save it as PNG, TIFF, PGM or EXR: grey, 8 or 16 bits (TIFF and EXR: floats too)"

# Rec. ITU-R BT.709-6, item 3.2: the shares of red, green and blue in luminance.
LUMINANCE: Final = (0.2126, 0.7152, 0.0722)


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Picture:
    """A picture as it was stored.

    Attributes
    ----------
    samples : (H, W) or (H, W, 3) uint8, uint16 or float32
        Row 0 at the top.
    covered : (H, W) bool or None
        Where alpha is half or more; None is everywhere.
    """

    samples: Samples
    covered: Bool | None = None


def read_picture(path: Path) -> Picture:
    """Read a picture.

    Raises
    ------
    UserError
        If there is no such file, or it is damaged, empty or of a kind that is not known.
    MachineError
        If it may not be read.
    """
    return _split(*read_samples(path))


def read_samples(path: Path) -> tuple[Samples, object]:
    """Read a picture's samples with all channels, as they are stored.

    Returns
    -------
    samples : (H, W) or (H, W, C) uint8, uint16 or float32
        Of 2 and 4 channels the last is alpha.
    key : int, tuple of int or None
        The sample that PNG's tRNS chunk calls empty.

    Raises
    ------
    UserError, MachineError
        See `read_picture`.
    """
    with _told(path):
        head = _head(path)
        if head == EXR_MAGIC:
            return _exr(path), None
        if head in TIFF:
            try:
                return by_pillow(path)
            except SyntaxError:  # a TIFF of a kind that Pillow does not know
                return by_imageio(path, _FOR_TIFF), None
        return by_pillow(path)


def picture_size(path: Path) -> tuple[int, int]:
    """Return a picture's height and width, from its header; see `read_picture`."""
    with _told(path):
        head = _head(path)
        if head == EXR_MAGIC:
            try:
                return exr_size(path.read_bytes())
            except OtherExrError as error:
                return _other_exr(path, error).shape[:2]
        try:
            with opened(path) as image:
                return image.height, image.width
        except SyntaxError:
            if head in TIFF:
                return by_imageio(path, _FOR_TIFF).shape[:2]
            raise


def relief_of(picture: Picture, path: Path) -> tuple[Relief, tuple[str, ...]]:
    """Return a picture as a relief, and what to tell of that.

    Raises
    ------
    UserError
        If there are samples that are not finite.
    """
    samples = picture.samples
    notes: tuple[str, ...] = ()
    if samples.dtype == np.float32:
        samples = _finite(samples, picture.covered, path)
    if samples.ndim == 3:
        samples, notes = _grey(samples)
    return Relief(samples=samples, covered=picture.covered), notes


def normals_of(picture: Picture, path: Path) -> Samples:
    """Return a picture as a normal map: codes, or vectors if they are floats.

    Raises
    ------
    UserError
        If it is grey, or there are samples that are not finite.
    """
    samples = picture.samples
    if samples.ndim == 2:
        raise UserError(
            "a normal map has red, green and blue; this is grey",
            fix="if it is a height map, turn it into one: texbake normal",
            path=path,
        )
    if samples.dtype != np.float32:
        return samples
    samples = _finite(samples, picture.covered, path)
    # Floats are stored as vectors, or as 0 to 1 like codes.
    return samples if float(samples.min()) < 0.0 else 2.0 * samples - 1.0


def _finite(samples: Samples, covered: Bool | None, path: Path) -> Samples:
    """Return samples with 0 where nothing is covered; complain if one elsewhere is not finite."""
    wrong = ~np.isfinite(samples)
    if not wrong.any():
        return samples
    place = wrong if wrong.ndim == 2 else wrong.any(axis=2)
    if covered is not None:
        place = place & covered
    count = int(np.count_nonzero(place))
    if count:
        row, column = divmod(int(place.argmax()), place.shape[1])
        raise UserError(
            f"{count} samples are not finite numbers, the first in column {column}, row {row}",
            fix="fill them in, or mark them as empty by an alpha channel",
            path=path,
        )
    return np.where(wrong, np.float32(0.0), samples)


def _grey(samples: Samples) -> tuple[Samples, tuple[str, ...]]:
    """Return the one channel, if all are the same, or the luminance."""
    red = samples[..., 0]
    if all(np.array_equal(red, samples[..., k]) for k in (1, 2)):
        return np.ascontiguousarray(red), ()
    floats = samples.dtype == np.float32
    out: Samples = np.empty(red.shape, np.float32 if floats else np.uint16)
    # 8-bit colour gets 16 bits: its luminance lies between the codes.
    scale = 1.0 if floats else 65535.0 / white_of(samples)
    for band in bands(len(red), _ROWS):
        light = sum(
            samples[band, :, k].astype(np.float32) * (share * scale)
            for k, share in enumerate(LUMINANCE)
        )
        out[band] = light if floats else light + 0.5
    shares = " + ".join(f"{s} {c}" for s, c in zip(LUMINANCE, "RGB", strict=True))
    return out, (f"it is in colour: its luminance was taken, {shares} (Rec. 709)",)


@contextmanager
def _told(path: Path) -> Iterator[None]:
    """Turn what goes wrong in reading into a complaint with its cure."""
    try:
        yield
    except UserError as error:
        if error.path is not None:
            raise
        raise UserError(error.what, fix=error.fix, path=path) from error
    except FileNotFoundError as error:
        raise UserError("there is no such file", fix=_missing(path), path=path) from error
    except IsADirectoryError as error:
        raise UserError("it is a folder", fix="name a picture in it", path=path) from error
    except OSError as error:
        if error.errno is None:
            raise _damaged(error, path) from error
        raise MachineError(
            f"it cannot be read: {error.strerror}",
            fix="check the file's permissions and the disk",
            path=path,
        ) from error
    except DAMAGE as error:
        raise _damaged(error, path) from error


def _missing(path: Path) -> str:
    """Return the cure for a file that is not there."""
    there = [p.name for p in path.parent.iterdir()] if path.parent.is_dir() else []
    near = nearest(path.name, there)
    return f"did you mean {near!r}?" if near else f"check the name; looked in {path.parent}"


def _damaged(error: BaseException, path: Path) -> UserError:
    """Return the complaint about a file that is no picture, or only a part of one."""
    reason = str(error) or type(error).__name__
    return UserError(f"it cannot be read as a picture: {reason}", fix=_KINDS, path=path)


def _head(path: Path) -> bytes:
    """Return the first four bytes."""
    with path.open("rb") as file:
        head = file.read(4)
    if not head:
        raise UserError("the file is empty", fix="save the picture again", path=path)
    return head


def _split(samples: Samples, key: object) -> Picture:
    """Return samples and alpha apart; ``key``: the sample that PNG's tRNS chunk calls empty."""
    alpha: Samples | None = None
    if samples.ndim == 3 and samples.shape[2] in {2, 4}:
        alpha = samples[..., -1]
        samples = samples[..., :-1]
    elif isinstance(key, (int, tuple)):
        different = samples != np.asarray(key, samples.dtype)
        alpha = different if samples.ndim == 2 else different.any(axis=2)
    if samples.ndim == 3 and samples.shape[2] == 1:
        samples = samples[..., 0]
    return Picture(samples=samples, covered=covered_of(alpha))


def _exr(path: Path) -> Samples:
    """Read an EXR file."""
    try:
        return read_exr(path.read_bytes())
    except OtherExrError as error:
        return _other_exr(path, error)


def _other_exr(path: Path, error: OtherExrError) -> Samples:
    """Read an EXR file of a kind that is not known here, if imageio can."""
    try:
        return by_imageio(path, _FOR_EXR)
    except ValueError:
        raise UserError(
            f"this kind of EXR cannot be read: {error}",
            fix="save it as scan lines with ZIP compression, or as a TIFF of 32-bit floats",
            path=path,
        ) from error
