"""`texbake carry`: pictures painted on one UV layout, brought to another."""

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image

from tests.carried_by_hand import checks, painted, psnr
from tests.cli_run import SHORTEST, refused, texbake, tube_recipe
from tests.tube import Placing, mirrored_and_stretched, turned, upright, write_tube
from texbake.carry import read_sheet

SIZE = 256


@pytest.fixture
def meshes(tmp_path: Path) -> tuple[Path, Path]:
    """The tube in its old layout and in the new one, and a picture painted on the old."""
    old = write_tube(tmp_path / "old.obj", upright)
    new = write_tube(tmp_path / "new.obj", turned)
    picture = painted(read_sheet(old), SIZE, checks(25.0))
    Image.fromarray(picture).save(tmp_path / "cloth.png")
    return old, new


def opened(path: Path) -> NDArray[Any]:
    with Image.open(path) as picture:
        return np.array(picture)


def carry(folder: Path, *words: object) -> tuple[object, ...]:
    return ("carry", *words, "--from", folder / "old.obj", "--to", folder / "new.obj")


@pytest.mark.parametrize("placing", [turned, mirrored_and_stretched])
def test_a_carried_picture_is_what_would_have_been_painted(
    tmp_path: Path, meshes: tuple[Path, Path], placing: Placing
) -> None:
    write_tube(meshes[1], placing)
    run = texbake(*carry(tmp_path, tmp_path / "cloth.png", "-o", tmp_path / "sub" / "new.png"))
    assert (run.code, run.err) == (0, "")
    assert "colour, in linear light (as it is in colour); 8 bits; 256 px" in run.out
    want = painted(read_sheet(meshes[1]), SIZE, checks(25.0))
    with Image.open(tmp_path / "sub" / "new.png") as picture:
        got = np.array(picture)
        assert "srgb" in picture.info
    # The tube's texels are 0.6 mm; its edges have 24 facets, so checks of 40 texels.
    assert psnr(got, want, np.asarray(want.any(axis=2))) > 28.0


def test_the_gutter_goes_on_and_the_background_too(
    tmp_path: Path, meshes: tuple[Path, Path]
) -> None:
    del meshes
    plain = np.full((SIZE, SIZE, 3), (9, 99, 199), np.uint8)
    Image.fromarray(plain).save(tmp_path / "plain.png")
    assert texbake(*carry(tmp_path, tmp_path / "plain.png", "-o", tmp_path / "n.png")).code == 0
    assert (opened(tmp_path / "n.png") == plain).all()


def test_several_pictures_of_several_kinds_and_sizes_go_into_a_folder(
    tmp_path: Path, meshes: tuple[Path, Path]
) -> None:
    del meshes
    deep = np.full((128, 128), 12345, np.uint16)
    Image.fromarray(deep).save(tmp_path / "mask.tif")
    Image.fromarray(np.full((64, 64, 4), (1, 2, 3, 0), np.uint8)).save(tmp_path / "ink.png")
    names = ["cloth.png", "mask.tif", "ink.png"]
    paths = [tmp_path / name for name in names]
    run = texbake(*carry(tmp_path, *paths, "-o", tmp_path / "there", "--json"))
    assert run.code == 0, run.err
    told = json.loads(run.out)["pictures"]
    assert sorted(Path(one["file"]).name for one in told) == sorted(names)
    mask = opened(tmp_path / "there" / "mask.tif")
    assert mask.dtype == np.uint16
    assert mask.shape == (128, 128)
    assert (mask == 12345).all()
    assert (opened(tmp_path / "there" / "ink.png") == (1, 2, 3, 0)).all()


def test_the_size_can_be_another(tmp_path: Path, meshes: tuple[Path, Path]) -> None:
    del meshes
    picture = tmp_path / "cloth.png"
    run = texbake(*carry(tmp_path, picture, "-o", tmp_path / "s.png", "--size", 512))
    assert run.code == 0
    assert "256 to 512 px" in run.out
    assert opened(tmp_path / "s.png").shape == (512, 512, 3)


def test_a_recipe_says_how_its_mesh_is_read(tmp_path: Path, meshes: tuple[Path, Path]) -> None:
    recipe = tube_recipe(tmp_path, placing=turned)
    picture = tmp_path / "cloth.png"
    words = ("--from", meshes[0], "--to", recipe, "-o")
    assert texbake("carry", picture, *words, tmp_path / "a.png").code == 0
    assert texbake(*carry(tmp_path, picture, "-o", tmp_path / "b.png")).code == 0
    assert (tmp_path / "a.png").read_bytes() == (tmp_path / "b.png").read_bytes()


def test_carrying_again_replaces_its_own_picture_only(
    tmp_path: Path, meshes: tuple[Path, Path]
) -> None:
    del meshes
    for name in ("n.png", "n.tif"):
        words = carry(tmp_path, tmp_path / "cloth.png", "-o", tmp_path / name)
        assert texbake(*words).code == 0
        assert texbake(*words).code == 0
        Image.fromarray(opened(tmp_path / "n.png")[..., 0]).save(tmp_path / name)
        ((what, _),) = refused(tmp_path, *words)
        assert "not made by this command" in what


def test_what_is_read_is_never_written_over(tmp_path: Path, meshes: tuple[Path, Path]) -> None:
    del meshes
    ((what, _),) = refused(tmp_path, *carry(tmp_path, tmp_path / "cloth.png", "-o", tmp_path))
    assert "written over" in what


def test_every_picture_that_cannot_be_carried_is_told_at_once(
    tmp_path: Path, meshes: tuple[Path, Path]
) -> None:
    del meshes
    Image.new("RGB", (64, 32)).save(tmp_path / "wide.png")
    Image.new("RGB", (8, 8)).save(tmp_path / "small.png")
    (tmp_path / "broken.png").write_bytes(b"\x89PNG\r\n\x1a\nno")
    names = ("wide.png", "small.png", "broken.png", "clot.png")
    mistakes = refused(
        tmp_path, *carry(tmp_path, *(tmp_path / n for n in names), "-o", tmp_path / "there")
    )
    told = "\n".join(f"{what} {fix}" for what, fix in mistakes)
    for words in ("32 x 64", "8 texels wide", "cannot be read as a picture", "did you mean 'cloth"):
        assert words in told.replace("64 x 32", "32 x 64")


def test_another_garment_is_refused_with_the_measured_share(
    tmp_path: Path, meshes: tuple[Path, Path]
) -> None:
    write_tube(meshes[1], turned, top=0.5)
    ((what, fix),) = refused(
        tmp_path, *carry(tmp_path, tmp_path / "cloth.png", "-o", tmp_path / "n.png")
    )
    assert "of the new mesh lies on the old one" in what
    assert "80 x 100 x 80 mm" in what
    assert "--from-unit" in fix


def test_a_lost_old_mesh_is_told_with_what_may_help(
    tmp_path: Path, meshes: tuple[Path, Path]
) -> None:
    meshes[0].unlink()
    ((what, fix),) = refused(
        tmp_path, *carry(tmp_path, tmp_path / "cloth.png", "-o", tmp_path / "n.png")
    )
    assert "--from: there is no such file" in what
    assert "OUT/GARMENT" in fix


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--kind", "color"), "--kind: 'color' is not known"),
        (("--green", "left"), "--green: 'left' is not known"),
        (("--size", "7"), "--size is 7"),
        (("--gutter", "999"), "--gutter is 999"),
        (("--from-unit", "ell"), "--from-unit: 'ell' is not known"),
        (("--to-up", "w"), "--to-up: 'w' is not known"),
        (("--kind", "normal"), "nothing tells which way its green points"),
    ],
)
def test_a_wrong_option_is_told(
    tmp_path: Path, meshes: tuple[Path, Path], words: tuple[str, str], said: str
) -> None:
    del meshes
    mistakes = refused(
        tmp_path, *carry(tmp_path, tmp_path / "cloth.png", "-o", tmp_path / "n.png", *words)
    )
    assert said in mistakes[0][0]


def test_the_record_of_the_last_bake_stands_for_a_lost_mesh(
    tmp_path: Path, meshes: tuple[Path, Path]
) -> None:
    picture = tmp_path / "cloth.png"
    recipe = tube_recipe(tmp_path, SHORTEST + "size: 64\n")
    assert texbake("bake", recipe, "--out", tmp_path / "out").code == 0
    assert texbake(*carry(tmp_path, picture, "-o", tmp_path / "a.png")).code == 0
    meshes[0].unlink()
    for place in ("out/tube", "out/tube/standard", "out/tube/layout.json"):
        target = tmp_path / f"{place.replace('/', '-')}.png"
        run = texbake(
            *("carry", picture, "--from", tmp_path / place, "--to", meshes[1], "-o", target)
        )
        assert run.code == 0, run.err
        assert target.read_bytes() == (tmp_path / "a.png").read_bytes()


def test_the_layout_before_the_last_bake_is_kept_and_named(
    tmp_path: Path, meshes: tuple[Path, Path]
) -> None:
    picture = tmp_path / "cloth.png"
    recipe = tube_recipe(tmp_path, SHORTEST + "size: 64\n")  # tube.obj lies as old.obj does
    bake = ("bake", recipe, "--out", tmp_path / "out", "--quiet")
    assert texbake(*bake).code == 0
    assert texbake(*carry(tmp_path, picture, "-o", tmp_path / "a.png")).code == 0
    (tmp_path / "tube.obj").write_bytes(meshes[1].read_bytes())  # exported over the old one
    assert texbake(*bake).code == 0
    words = ("carry", picture, "--to", tmp_path / "tube.obj", "-o", tmp_path / "b.png", "--from")
    before = tmp_path / "out" / "tube" / "layout-before.json"
    for there in (tmp_path / "out" / "tube", recipe):
        run = texbake(*words, there)
        assert run.code == 0, run.err
        (note,) = run.notes
        assert "both layouts are the same" in note
        assert "/layout-before.json" in note
    run = texbake(*words, before)
    assert (run.code, run.notes) == (0, [])
    assert (tmp_path / "b.png").read_bytes() == (tmp_path / "a.png").read_bytes()


def test_a_map_of_another_size_than_recorded_is_refused(
    tmp_path: Path, meshes: tuple[Path, Path]
) -> None:
    recipe = tube_recipe(tmp_path, SHORTEST + "size: 64\n")
    assert texbake("bake", recipe, "--out", tmp_path / "out").code == 0
    Image.new("RGB", (32, 32)).save(tmp_path / "tube_standard_albedo.png")
    words = ("--from", tmp_path / "out" / "tube", "--to", meshes[1], "-o", tmp_path / "n.png")
    ((what, fix),) = refused(tmp_path, "carry", tmp_path / "tube_standard_albedo.png", *words)
    assert "32 texels wide, but the record says 64" in what
    assert "--from" in fix


def test_a_folder_without_a_record_is_told(tmp_path: Path, meshes: tuple[Path, Path]) -> None:
    words = ("--from", tmp_path, "--to", meshes[1], "-o", tmp_path / "n.png")
    ((what, fix),) = refused(tmp_path, "carry", tmp_path / "cloth.png", *words)
    assert "no layout record" in what
    assert "OUT/GARMENT" in fix
