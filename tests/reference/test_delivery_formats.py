"""TIFF, EXR and zip as other programs read them."""

import io
import zipfile
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from texbake.convert.exr import read_exr
from texbake.deliver.exr import NAMES, write_exr_rows
from texbake.deliver.tiff import write_tiff_rows

KINDS = [(channels, bits) for channels in (1, 2, 3, 4) for bits in (8, 16)]
VALUES = [(channels, bits) for channels in (1, 2, 3, 4) for bits in (16, 32)]
SHAPE = (70, 53)  # more than one strip, and a block that is cut short


def codes_of(channels: int, bits: int) -> NDArray[Any]:
    """Half smooth, half noise."""
    rng = np.random.default_rng(channels)
    top = (1 << bits) - 1
    image = rng.integers(0, top, (*SHAPE, channels), endpoint=True)
    image[:, :20] = np.linspace(0, top, 20, dtype=np.int64)[None, :, None]
    return image.astype(np.uint8 if bits == 8 else np.uint16)


def tiff(tmp_path: Path, image: NDArray[Any]) -> Path:
    path = tmp_path / "a.tif"
    rows = image[..., 0] if image.shape[2] == 1 else image
    height, width, channels = image.shape
    with path.open("wb") as file:
        write_tiff_rows(
            file, lambda band: rows[band], (height, width, channels), bits=image.itemsize * 8
        )
    return path


def exr(tmp_path: Path, image: NDArray[np.float32], bits: int) -> Path:
    path = tmp_path / "a.exr"
    height, width, channels = image.shape
    with path.open("wb") as file:
        write_exr_rows(
            file, lambda band: image[band], (height, width, channels), bits=bits, comments="mm"
        )
    return path


def values_of(channels: int, bits: int) -> NDArray[np.float32]:
    image = np.random.default_rng(channels).normal(0.0, 5.0, (*SHAPE, channels)).astype(np.float32)
    image[:, :20] = 0.25  # compresses
    return image.astype(np.float16).astype(np.float32) if bits == 16 else image


@pytest.mark.parametrize(("channels", "bits"), KINDS)
def test_imageio_reads_tiff(tmp_path: Path, channels: int, bits: int) -> None:
    imageio = pytest.importorskip("imageio.v3")
    pytest.importorskip("tifffile")
    image = codes_of(channels, bits)
    back = imageio.imread(tiff(tmp_path, image), plugin="tifffile")
    assert back.dtype == image.dtype
    assert (back.reshape(image.shape) == image).all()


# It knows no grey with alpha, and multiplies alpha into colours of 8 bits.
@pytest.mark.parametrize(("channels", "bits"), [(1, 8), (1, 16), (3, 8), (3, 16), (4, 16)])
def test_opencv_reads_tiff(tmp_path: Path, channels: int, bits: int) -> None:
    cv2 = pytest.importorskip("cv2")
    image = codes_of(channels, bits)
    back = cv2.imread(str(tiff(tmp_path, image)), cv2.IMREAD_UNCHANGED).reshape(image.shape)
    order = {1: [0], 3: [2, 1, 0], 4: [2, 1, 0, 3]}[channels]
    assert back.dtype == image.dtype
    assert (back[..., order] == image).all()


@pytest.mark.parametrize(("channels", "bits"), VALUES)
def test_the_reference_library_reads_exr(tmp_path: Path, channels: int, bits: int) -> None:
    openexr = pytest.importorskip("OpenEXR")
    image = values_of(channels, bits)
    with openexr.File(str(exr(tmp_path, image, bits)), separate_channels=True) as file:
        planes = {name: file.channels()[name].pixels.copy() for name in NAMES[channels]}
        assert set(file.channels()) == set(NAMES[channels])
        assert file.header()["comments"] == "mm"
    for number, name in enumerate(NAMES[channels]):
        assert planes[name].dtype == (np.float16 if bits == 16 else np.float32)
        assert (planes[name] == image[..., number]).all()


# What it reads by gives halves with an error of 1 in 13,000, so they are not compared here.
@pytest.mark.parametrize(("channels", "kind"), [(1, "grayf32le"), (3, "gbrpf32le")])
def test_imageio_reads_exr(tmp_path: Path, channels: int, kind: str) -> None:
    imageio = pytest.importorskip("imageio.v3")
    pytest.importorskip("av")
    image = values_of(channels, 32)
    back = imageio.imread(exr(tmp_path, image, 32), plugin="pyav", format=kind)[0]
    if channels == 3:
        back = np.moveaxis(back[[2, 0, 1]], 0, -1)  # planes of green, blue, red
    assert back.reshape(image.shape) == pytest.approx(image, abs=1e-6)


@pytest.mark.parametrize(("channels", "bits"), VALUES)
def test_our_own_reader_agrees(tmp_path: Path, channels: int, bits: int) -> None:
    image = values_of(channels, bits)
    back = read_exr(exr(tmp_path, image, bits).read_bytes())
    assert (back.reshape(image.shape) == image).all()


def test_what_is_too_large_for_halves_is_their_largest(tmp_path: Path) -> None:
    image = np.full((3, 4, 1), 1e6, np.float32)  # IEEE 754: the largest half is 65504
    assert read_exr(exr(tmp_path, image, 16).read_bytes()).max() == 65504.0


@pytest.mark.parametrize("kind", ["tif", "exr"])
def test_smooth_pictures_are_compressed_and_one_row_will_do(tmp_path: Path, kind: str) -> None:
    flat = np.full((64, 256, 3), 7, np.uint8)
    path = tiff(tmp_path, flat) if kind == "tif" else exr(tmp_path, flat.astype(np.float32), 16)
    assert path.stat().st_size < flat.size / 8
    one = np.full((1, 1, 1), 7, np.uint8)
    if kind == "exr":
        assert read_exr(exr(tmp_path, one.astype(np.float32), 16).read_bytes()) == 7.0
        return
    imageio = pytest.importorskip("imageio.v3")
    assert imageio.imread(tiff(tmp_path, one)).item() == 7


def test_a_zip_of_stored_files_is_read_by_any_reader() -> None:
    # The writer is the standard library's: what counts is that nothing of time or place is in it.
    from texbake.deliver.archive import _info

    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_STORED) as archive:
        archive.writestr(_info("a.png", 3), b"abc")
    again = zipfile.ZipFile(io.BytesIO(out.getvalue()))
    (info,) = again.infolist()
    assert (info.date_time, info.compress_type, info.create_system) == ((1980, 1, 1, 0, 0, 0), 0, 3)
    assert again.testzip() is None
