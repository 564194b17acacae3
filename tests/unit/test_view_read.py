"""Sets read back from their folders."""

from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from texbake.deliver import Record, Source, deliver_set, encode_png, file_names
from texbake.errors import UserError
from texbake.maps import MapArrays, blank
from texbake.view import read_set
from texbake.view.read import read_png

NAMES = file_names("{garment}_{colourway}_{map}", "deck-coat", "slate")


def noisy_maps(bits: int, size: int = 32) -> MapArrays:
    maps = blank(size, height_lo_mm=-0.5, height_hi_mm=2.0, normal_bits=16 if bits == 16 else 8)
    rng = np.random.default_rng(1)
    for image in maps.images:
        top = int(np.iinfo(image.dtype).max) + 1
        image[:] = rng.integers(0, top, image.shape)
    return maps


def delivered(folder: Path, bits: int) -> MapArrays:
    maps = noisy_maps(bits)
    source = Source(name="deck-coat.yaml", sha256="0" * 64)
    record = Record(
        texbake="0.1.0",
        garment="deck-coat",
        colourway="slate",
        recipe=source,
        mesh=source,
        size_px=32,
        gutter_px=2,
        seed=1,
        normal_bits=bits,
        height_lo_mm=-0.5,
        height_hi_mm=2.0,
    )
    deliver_set(folder, maps=maps, names=NAMES, record=record)
    return maps


@pytest.mark.parametrize("bits", [8, 16])
def test_a_set_reads_back_to_the_bit(tmp_path: Path, bits: int) -> None:
    maps = delivered(tmp_path, bits)
    back = read_set(tmp_path)
    for got, expected in zip(back.images, maps.images, strict=True):
        assert got.dtype == expected.dtype
        assert np.array_equal(got, expected)
    assert (back.height_lo_mm, back.height_hi_mm) == (-0.5, 2.0)


def test_a_folder_without_a_set_is_told(tmp_path: Path) -> None:
    with pytest.raises(UserError, match="nothing was baked here"):
        read_set(tmp_path)


def test_a_missing_map_is_told_by_its_name(tmp_path: Path) -> None:
    delivered(tmp_path, 8)
    (tmp_path / NAMES["roughness"]).unlink()
    with pytest.raises(UserError, match="missing") as caught:
        read_set(tmp_path)
    assert NAMES["roughness"] in str(caught.value)


@pytest.mark.parametrize(
    "data", [b"", b"not a picture", encode_png(np.zeros((9, 9), np.uint8))[:50]]
)
def test_a_damaged_map_is_told(tmp_path: Path, data: bytes) -> None:
    delivered(tmp_path, 8)
    (tmp_path / NAMES["albedo"]).write_bytes(data)
    with pytest.raises(UserError, match="bake the recipe again"):
        read_set(tmp_path)


def test_a_map_of_another_size_is_told(tmp_path: Path) -> None:
    delivered(tmp_path, 8)
    (tmp_path / NAMES["metal"]).write_bytes(encode_png(np.zeros((16, 16), np.uint8)))
    with pytest.raises(UserError, match="32 x 32 and 16 x 16"):
        read_set(tmp_path)


def test_a_map_of_other_depth_is_told(tmp_path: Path) -> None:
    delivered(tmp_path, 16)
    path = tmp_path / NAMES["normal-up"]
    path.write_bytes(encode_png(np.zeros((32, 32, 3), np.uint8)))
    with pytest.raises(UserError, match="3 channels of 8 bits"):
        read_set(tmp_path)


def test_a_picture_with_a_palette_is_no_map(tmp_path: Path) -> None:
    path = tmp_path / "map.png"
    Image.new("P", (4, 4)).save(path)
    with pytest.raises(UserError, match="kind P"):
        read_png(path)
