"""Reading pictures: every bit of every format, and clear complaints about what cannot be read."""

import struct
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image

from tests.convert_by_hand import chunk, exr_bytes, png_bytes, save_png
from texbake.convert.pictures import normals_of, picture_size, read_picture, relief_of
from texbake.errors import MachineError, UserError

SHAPE = (37, 23)


def noise(channels: int, kind: type = np.uint16) -> NDArray[Any]:
    """Random samples, the same every time."""
    top = np.iinfo(kind).max
    samples = np.random.default_rng(1).integers(0, top, (*SHAPE, channels), endpoint=True)
    return samples.astype(kind) if channels > 1 else samples[..., 0].astype(kind)


@pytest.mark.parametrize("kind", [np.uint8, np.uint16])
@pytest.mark.parametrize("channels", [1, 2, 3, 4])
def test_png_of_8_and_16_bits(tmp_path: Path, kind: type, channels: int) -> None:
    samples = noise(channels, kind)
    path = save_png(tmp_path / "a.png", samples)
    picture = read_picture(path)
    assert picture_size(path) == SHAPE
    assert picture.samples.dtype == kind
    colour = samples[..., :-1] if channels in {2, 4} else samples
    np.testing.assert_array_equal(picture.samples, colour[..., 0] if channels == 2 else colour)
    if channels in {2, 4}:
        half = np.iinfo(kind).max / 2
        assert picture.covered is not None
        np.testing.assert_array_equal(picture.covered, samples[..., -1] > half)
    else:
        assert picture.covered is None


def test_what_the_transparency_chunk_names_is_empty(tmp_path: Path) -> None:
    grey, colour = noise(1), noise(3, np.uint8)
    path = save_png(
        tmp_path / "g.png", grey, before=chunk(b"tRNS", struct.pack(">H", int(grey[3, 4])))
    )
    covered = read_picture(path).covered
    assert covered is not None
    np.testing.assert_array_equal(covered, grey != grey[3, 4])
    key = colour[5, 6]
    path = save_png(
        tmp_path / "c.png", colour, before=chunk(b"tRNS", struct.pack(">3H", *map(int, key)))
    )
    covered = read_picture(path).covered
    assert covered is not None
    np.testing.assert_array_equal(covered, (colour != key).any(axis=-1))


def test_palettes_and_single_bits(tmp_path: Path) -> None:
    grey = (noise(1, np.uint8) // 64 * 60).astype(np.uint8)
    Image.fromarray(grey).convert("P").save(tmp_path / "p.png")
    relief, notes = relief_of(read_picture(tmp_path / "p.png"), tmp_path)
    np.testing.assert_array_equal(relief.samples, grey)
    assert notes == ()
    Image.fromarray(grey > 60).save(tmp_path / "b.png")
    np.testing.assert_array_equal(read_picture(tmp_path / "b.png").samples, (grey > 60) * 255)
    holes = Image.fromarray(grey).convert("P")
    holes.save(tmp_path / "t.png", transparency=holes.getpixel((4, 3)))
    covered = read_picture(tmp_path / "t.png").covered
    assert covered is not None
    np.testing.assert_array_equal(covered, grey != grey[3, 4])


def test_tiff_of_8_and_16_bits_and_floats(tmp_path: Path) -> None:
    floats = (noise(1) / 65535.0).astype(np.float32)
    for number, samples in enumerate((noise(1, np.uint8), noise(1), floats)):
        for compression in (None, "tiff_deflate", "tiff_lzw"):
            path = tmp_path / f"{number}{compression}.tif"
            Image.fromarray(samples).save(path, compression=compression)
            found = read_picture(path).samples
            assert found.dtype == samples.dtype
            np.testing.assert_array_equal(found, samples)


def test_tiff_of_16_bit_colour_and_others(tmp_path: Path) -> None:
    tifffile = pytest.importorskip("tifffile")
    for options in (
        {},
        {"byteorder": ">"},
        {"compression": "zlib"},
        {"compression": "zlib", "predictor": True},
        {"compression": "zlib", "byteorder": ">", "tile": (16, 16)},
    ):
        for channels in (3, 4):
            samples = noise(channels)
            extra = {"extrasamples": ["unassalpha"]} if channels == 4 else {}
            tifffile.imwrite(tmp_path / "c.tif", samples, photometric="rgb", **options, **extra)
            picture = read_picture(tmp_path / "c.tif")
            np.testing.assert_array_equal(picture.samples, samples[..., :3])
            assert (picture.covered is not None) == (channels == 4)
    for kind in (np.float64, np.float16):
        tifffile.imwrite(tmp_path / "f.tif", (noise(1) / 65535.0).astype(kind))
        found = read_picture(tmp_path / "f.tif").samples
        assert found.dtype == np.float32
        np.testing.assert_allclose(found, noise(1) / 65535.0, atol=1e-3)
    planes = np.moveaxis(noise(3), 2, 0)
    tifffile.imwrite(tmp_path / "p.tif", planes, photometric="rgb", planarconfig="separate")
    with pytest.raises(UserError, match="laid out in a way that is not known"):
        read_picture(tmp_path / "p.tif")
    tifffile.imwrite(tmp_path / "i.tif", noise(1).astype(np.int32))
    with pytest.raises(UserError, match="32 bits: nothing says what is white") as caught:
        read_picture(tmp_path / "i.tif")
    assert caught.value.path == tmp_path / "i.tif"


def test_portable_maps_of_all_depths(tmp_path: Path) -> None:
    deep, path = noise(1), tmp_path / "a.pgm"
    size = b"%d %d" % SHAPE[::-1]
    path.write_bytes(b"P5 " + size + b" 65535\n" + deep.astype(">u2").tobytes())
    np.testing.assert_array_equal(read_picture(path).samples, deep)
    path.write_bytes(b"P5 " + size + b" 255\n" + noise(1, np.uint8).tobytes())
    np.testing.assert_array_equal(read_picture(path).samples, noise(1, np.uint8))
    path.write_bytes(b"P2 3 1 1000 0 500 1000 ")
    samples = read_picture(path).samples
    np.testing.assert_allclose(samples / np.iinfo(samples.dtype).max, [[0.0, 0.5, 1.0]], atol=0.003)
    floats = np.arange(12, dtype="<f4").reshape(3, 4)
    (tmp_path / "a.pfm").write_bytes(b"Pf\n4 3\n-1.0\n" + floats[::-1].tobytes())
    np.testing.assert_array_equal(read_picture(tmp_path / "a.pfm").samples, floats)


@pytest.mark.parametrize("compression", [0, 2, 3])
@pytest.mark.parametrize(("kind", "near"), [("<f4", 0.0), ("<f2", 5e-4)])
def test_exr(tmp_path: Path, compression: int, kind: str, near: float) -> None:
    planes = {n: noise(1).astype(np.float32)[:, ::k] / 65535 for k, n in enumerate("RGBA", 1)}
    planes = {n: np.resize(p, SHAPE) for n, p in planes.items()}
    path = tmp_path / "a.exr"
    path.write_bytes(exr_bytes(planes, kind=kind, compression=compression))
    picture = read_picture(path)
    assert picture_size(path) == SHAPE
    want = np.stack([planes[n] for n in "RGB"], axis=-1)
    np.testing.assert_allclose(picture.samples, want, atol=near)
    assert picture.covered is not None
    path.write_bytes(exr_bytes({"Z": planes["R"]}, kind=kind, compression=compression))
    np.testing.assert_allclose(read_picture(path).samples, planes["R"], atol=near)


def test_exr_of_other_kinds_says_which(tmp_path: Path) -> None:
    path = tmp_path / "a.exr"
    plane = np.zeros(SHAPE, np.float32)
    for data, word in (
        (exr_bytes({"Y": plane}, compression=4), "compression"),
        (exr_bytes({"Y": plane}, flags=0x200), "tiles"),
        (exr_bytes({"left": plane, "right": plane}), "left, right"),
    ):
        path.write_bytes(data)
        with pytest.raises(UserError, match=word) as caught:
            read_picture(path)
        assert "ZIP" in caught.value.fix


def test_colour_becomes_luminance_and_that_is_said(tmp_path: Path) -> None:
    # Rec. ITU-R BT.709-6, item 3.2
    path = save_png(
        tmp_path / "a.png", np.array([[[255, 0, 0], [0, 255, 0], [0, 0, 255]]], np.uint8)
    )
    relief, notes = relief_of(read_picture(path), path)
    assert relief.samples.dtype == np.uint16
    np.testing.assert_allclose(relief.samples / 65535, [[0.2126, 0.7152, 0.0722]], atol=1e-5)
    assert "luminance" in notes[0]


@pytest.mark.parametrize("kind", [np.uint8, np.uint16])
def test_grey_in_three_channels_stays_as_it_is(tmp_path: Path, kind: type) -> None:
    grey = noise(1, kind)
    path = save_png(tmp_path / "a.png", np.repeat(grey[..., None], 3, axis=2))
    relief, notes = relief_of(read_picture(path), path)
    np.testing.assert_array_equal(relief.samples, grey)
    assert notes == ()


def test_normal_maps_are_codes_or_vectors(tmp_path: Path) -> None:
    codes = noise(3)
    path = save_png(tmp_path / "a.png", codes)
    np.testing.assert_array_equal(normals_of(read_picture(path), path), codes)
    path = tmp_path / "a.exr"
    for planes, want in (
        ({"R": -0.5, "G": 0.25, "B": 0.8}, -0.5),
        ({"R": 0.25, "G": 0.6, "B": 0.9}, -0.5),
    ):
        path.write_bytes(exr_bytes({n: np.full(SHAPE, v, np.float32) for n, v in planes.items()}))
        assert normals_of(read_picture(path), path)[3, 3, 0] == pytest.approx(want)


def test_a_grey_picture_is_no_normal_map(tmp_path: Path) -> None:
    path = save_png(tmp_path / "a.png", noise(1))
    with pytest.raises(UserError, match="grey") as caught:
        normals_of(read_picture(path), path)
    assert "texbake normal" in caught.value.fix


def test_samples_that_are_no_numbers_are_refused_where_something_is(tmp_path: Path) -> None:
    floats = np.full(SHAPE, 0.5, np.float32)
    floats[5, 7] = np.nan
    floats[9, 2] = np.inf
    path = tmp_path / "a.tif"
    Image.fromarray(floats).save(path)
    with pytest.raises(UserError, match=r"2 samples are not finite.*column 7, row 5"):
        relief_of(read_picture(path), path)
    alpha = np.isfinite(floats).astype(np.float32)
    path = tmp_path / "a.exr"
    path.write_bytes(exr_bytes({"Y": floats, "A": alpha}))
    relief, _ = relief_of(read_picture(path), path)
    assert np.isfinite(relief.samples).all()


BAD = {
    "empty.png": b"",
    "words.png": b"this is no picture",
    "head.png": png_bytes(np.zeros(SHAPE, np.uint8))[:20],
    "half.png": png_bytes(noise(1))[:600],
    "half.pgm": b"P5 40 40 255\n" + bytes(700),
    "half.exr": exr_bytes({"Y": np.zeros(SHAPE, np.float32)})[:200],
    "magic.exr": b"\x76\x2f\x31\x01",
    "rubbish.tif": b"II*\0" + bytes(range(40)),
    "nothing.pgm": b"P5 0 4 255\n",
    "zero.png": b"\x89PNG\r\n\x1a\n"
    + chunk(b"IHDR", struct.pack(">IIBBBBB", 0, 4, 8, 0, 0, 0, 0))
    + chunk(b"IEND", b""),
    "huge.png": b"\x89PNG\r\n\x1a\n"
    + chunk(b"IHDR", struct.pack(">IIBBBBB", 70000, 70000, 8, 0, 0, 0, 0))
    + chunk(b"IDAT", b"")
    + chunk(b"IEND", b""),
}


@pytest.mark.parametrize("name", BAD)
@pytest.mark.filterwarnings("ignore:.*:UserWarning")
def test_what_is_no_picture_or_a_part_of_one_is_told(tmp_path: Path, name: str) -> None:
    path = tmp_path / name
    path.write_bytes(BAD[name])
    with pytest.raises(UserError) as caught:
        read_picture(path)
    assert caught.value.path == path
    assert caught.value.fix
    assert not isinstance(caught.value, MachineError)


def test_a_file_that_is_not_there_is_told_with_the_nearest(tmp_path: Path) -> None:
    save_png(tmp_path / "brick.png", noise(1))
    with pytest.raises(UserError, match="no such file") as caught:
        read_picture(tmp_path / "brik.png")
    assert "'brick.png'" in caught.value.fix
    with pytest.raises(UserError, match="no such file"):
        read_picture(tmp_path / "nowhere" / "brick.png")
    with pytest.raises(UserError, match="folder"):
        read_picture(tmp_path)


def test_pictures_by_other_formats_of_pillow(tmp_path: Path) -> None:
    grey = noise(1, np.uint8)
    Image.fromarray(grey).save(tmp_path / "a.bmp")
    np.testing.assert_array_equal(read_picture(tmp_path / "a.bmp").samples, grey)
