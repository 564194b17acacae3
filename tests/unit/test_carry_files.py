"""Pictures are recognised, read with every bit, and written so that others read them."""

import io
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from texbake.carry.coding import Green, Kind
from texbake.carry.files import read_codes, targets, write_codes
from texbake.carry.kinds import Known, recognise
from texbake.carry.tiff import is_ours, write_tiff
from texbake.errors import UserError


@pytest.mark.parametrize("suffix", [".png", ".tif"])
@pytest.mark.parametrize("channels", [1, 2, 3, 4])
@pytest.mark.parametrize("kind", [np.uint8, np.uint16])
def test_every_kind_of_picture_comes_back_to_the_bit(
    tmp_path: Path, suffix: str, channels: int, kind: type
) -> None:
    image = np.random.default_rng(1).integers(0, np.iinfo(kind).max + 1, (150, 70, channels))
    path = tmp_path / f"a{suffix}"
    write_codes(path, image.astype(kind), Known(kind="data", green="up", why=""))
    assert [p.name for p in tmp_path.iterdir()] == [path.name]
    got = read_codes(path)
    assert got.dtype == kind
    assert (got == image).all()


@pytest.mark.parametrize(("channels", "mode"), [(1, "L"), (2, "LA"), (3, "RGB"), (4, "RGBA")])
def test_pillow_reads_our_tiff(channels: int, mode: str) -> None:
    image = np.random.default_rng(2).integers(0, 256, (130, 65, channels)).astype(np.uint8)
    file = io.BytesIO()
    write_tiff(file, image)
    assert is_ours(file)
    file.seek(0)
    with Image.open(file) as picture:
        assert picture.mode == mode
        assert (np.array(picture).reshape(image.shape) == image).all()


def test_a_colour_that_means_nothing_becomes_alpha(tmp_path: Path) -> None:
    picture = Image.new("RGB", (20, 20), (9, 8, 7))
    picture.putpixel((3, 4), (1, 2, 3))
    picture.save(tmp_path / "key.png", transparency=(9, 8, 7))
    codes = read_codes(tmp_path / "key.png")
    assert codes[4, 3].tolist() == [1, 2, 3, 255]
    assert codes[0, 0].tolist() == [9, 8, 7, 0]


def test_floats_are_refused(tmp_path: Path) -> None:
    Image.fromarray(np.zeros((20, 20), np.float32)).save(tmp_path / "f.tif")
    with pytest.raises(UserError, match="floats"):
        read_codes(tmp_path / "f.tif")


@pytest.mark.parametrize(
    ("name", "channels", "kind", "green"),
    [
        ("vest_albedo.png", 3, "colour", "up"),
        ("vest-base-color.tif", 3, "colour", "up"),
        ("vest_normal-up.png", 3, "normal", "up"),
        ("vest_normal-down.png", 3, "normal", "down"),
        ("Vest.Normal.DirectX.png", 3, "normal", "down"),
        ("normal_mask.png", 1, "data", "up"),
        ("vest_roughness.png", 3, "data", "up"),
        ("vest.png", 4, "colour", "up"),
        ("vest.png", 1, "data", "up"),
    ],
)
def test_names_tell_what_a_picture_is(
    tmp_path: Path, name: str, channels: int, kind: Kind, green: Green
) -> None:
    known = recognise(tmp_path / name, channels)
    assert (known.kind, known.green) == (kind, green)


def test_what_the_user_says_counts_before_the_name(tmp_path: Path) -> None:
    known = recognise(tmp_path / "vest_albedo.png", 3, kind="normal", green="down")
    assert (known.kind, known.green, known.why) == ("normal", "down", "as asked")


def test_a_normal_map_needs_three_channels_and_a_green(tmp_path: Path) -> None:
    with pytest.raises(UserError, match="which way its green points"):
        recognise(tmp_path / "vest_normal.png", 3)
    with pytest.raises(UserError, match="this has 1 channels"):
        recognise(tmp_path / "vest_normal-up.png", 1)


def test_a_carried_normal_map_knows_its_green(tmp_path: Path) -> None:
    path = tmp_path / "plain.png"
    image = np.full((16, 16, 3), 128, np.uint8)
    write_codes(path, image, Known(kind="normal", green="down", why=""))
    assert recognise(path, 3) == Known(kind="normal", green="down", why="by its mark")


def test_names_of_new_pictures(tmp_path: Path) -> None:
    a, b = Path("x/a.jpg"), Path("x/b.tif")
    assert targets([a], tmp_path / "n.tiff") == {a: tmp_path / "n.tiff"}
    assert targets([a, b], tmp_path) == {a: tmp_path / "a.png", b: tmp_path / "b.tif"}
    for paths, out, words in (
        ([a, b], tmp_path / "n.png", "cannot all become"),
        ([a], tmp_path / "n.jpg", "PNG or TIFF"),
        ([Path("x/a.png"), Path("y/A.PNG")], tmp_path, "same name"),
    ):
        with pytest.raises(UserError, match=words):
            targets(paths, out)
