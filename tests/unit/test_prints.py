"""Prints of a recipe: carried from the layout they were painted on, over cloth and under sewing."""

from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from tests.carried_by_hand import painted, where
from tests.cli_run import SHORTEST, bake_refused, texbake, tube_recipe
from tests.tube import mirrored_and_stretched, turned, upright, write_tube
from texbake.arrays import F64
from texbake.bake import render
from texbake.carry import read_sheet
from texbake.colour import srgb_decode
from texbake.maps import MapArrays
from texbake.prepared import prepare, redress
from texbake.recipe import load

PLAIN = SHORTEST + "size: 256\nhems: none\nseams: none\n"
INK = (0.6, 0.03, 0.02)


def on_tube(points: F64) -> F64:
    """A band of ink round the tube, from 30 to 60 mm up; its share in the first channel."""
    inside = (points[:, 1] > 30.0) & (points[:, 1] < 60.0)
    return np.repeat(inside[:, None].astype(np.float64), 3, axis=1)


def paint_print(folder: Path) -> None:
    """A picture and a mask of the band, painted on a mirrored layout."""
    sheet = read_sheet(write_tube(folder / "old.obj", mirrored_and_stretched))
    size = 256
    share = srgb_decode(painted(sheet, size, on_tube, fine=4) / 255.0)[..., :1]
    ink = np.floor(255.0 * np.array(INK) ** (1 / 2.2) + 0.5)
    picture = np.concatenate([np.broadcast_to(ink, (size, size, 3)), share * 255.0], axis=2)
    Image.fromarray(np.round(picture).astype(np.uint8)).save(folder / "ink.png")
    Image.fromarray(np.round(share[..., 0] * 255.0).astype(np.uint8)).save(folder / "mask.png")


def baked(folder: Path, text: str) -> MapArrays:
    recipe = load(tube_recipe(folder, PLAIN + text, turned)).recipe
    return render(prepare(recipe), recipe)


def test_a_print_lies_where_it_was_painted_on_the_cloth(tmp_path: Path) -> None:
    paint_print(tmp_path)
    maps = baked(tmp_path, "prints:\n  - {picture: ink.png, painted_on: old.obj}\n")
    bare = baked(tmp_path, "")
    sheet = read_sheet(tmp_path / "tube.obj")
    index, points = where(sheet, 256)
    up = points[:, 1]
    inked, clean = (up > 35.0) & (up < 55.0), (up < 25.0) | (up > 65.0)
    got, plain = (m.albedo.reshape(-1, 3)[index] for m in (maps, bare))
    ink = np.asarray(Image.open(tmp_path / "ink.png"))[0, 0, :3]
    assert (np.abs(got[inked].astype(int) - ink) <= 1).all()
    assert (got[clean] == plain[clean]).all()
    assert inked.sum() > 3000
    assert (
        maps.normal_up.reshape(-1, 3)[index[clean]] == bare.normal_up.reshape(-1, 3)[index[clean]]
    ).all()


def test_the_ink_fills_the_relief_as_much_as_is_said(tmp_path: Path) -> None:
    Image.new("L", (64, 64), 255).save(tmp_path / "all.png")
    bare = baked(tmp_path, "")
    relief = {}
    for fill in (0, 50, 100):
        said = f"prints:\n  - {{mask: all.png, fill: {fill} %, lustre: 0.8}}\nnormal_bits: 16\n"
        maps = baked(tmp_path, said)
        index, points = where(read_sheet(tmp_path / "tube.obj"), 256)
        index = index[np.abs(points[:, 2]) > 25.0]  # away from the seams, which bend the ink too
        normal = maps.normal_up.reshape(-1, 3)[index].astype(np.float64) - 32768.0
        relief[fill] = np.abs(normal[:, :2]).mean()
        assert maps.roughness.reshape(-1)[index].mean() < bare.roughness.reshape(-1)[index].mean()
    assert relief[100] == 0.0
    assert relief[0] > 0.0
    assert relief[50] == pytest.approx(0.5 * relief[0], rel=0.1)


def test_only_the_panels_that_are_named_are_printed(tmp_path: Path) -> None:
    Image.new("L", (64, 64), 255).save(tmp_path / "all.png")
    maps = baked(tmp_path, "prints:\n  - {mask: all.png, colour: red, on: front}\n")
    sheet = read_sheet(tmp_path / "tube.obj")
    snapped = where(sheet, 256)
    red = (maps.albedo.reshape(-1, 3)[snapped[0]] == (255, 0, 0)).all(axis=1)
    front = sheet.mesh.group_of[_face_of(tmp_path)] == 0
    assert (red == front).all()


def _face_of(folder: Path) -> "np.typing.NDArray[np.int32]":
    from texbake.carry.sheet import faces_at, snapped_at

    sheet = read_sheet(folder / "tube.obj")
    face = faces_at(sheet, snapped_at(sheet, 256), 256)[0].reshape(-1)
    return np.asarray(face[face >= 0])


def test_an_ink_of_another_colour_is_carried_once(tmp_path: Path) -> None:
    paint_print(tmp_path)
    text = "prints:\n  - {mask: mask.png, painted_on: old.obj}\n"
    text += "colourways:\n  day: {}\n  night: {prints.0.colour: '#202020'}\n"
    project = load(tube_recipe(tmp_path, PLAIN + text, turned))
    day = prepare(project.colourways["day"])
    night = redress(day, project.colourways["night"])
    assert night.prints[0].codes is day.prints[0].codes
    one, other = (render(day, project.colourways[name]) for name in ("day", "night"))
    assert (one.albedo != other.albedo).any()
    assert (one.height == other.height).all()
    assert (one.roughness == other.roughness).all()


def test_stitches_lie_over_the_ink(tmp_path: Path) -> None:
    Image.new("L", (64, 64), 255).save(tmp_path / "all.png")
    text = "prints:\n  - {mask: all.png, colour: black}\n"
    sewn = "seams:\n  - {between: [all, all], stitch: 301, thread: white, scale: 4}\n"
    recipe = load(tube_recipe(tmp_path, SHORTEST + "size: 256\n" + text + sewn, turned)).recipe
    maps = render(prepare(recipe), recipe)
    index, _ = where(read_sheet(tmp_path / "tube.obj"), 256)
    albedo = maps.albedo.reshape(-1, 3)[index].min(axis=1)
    assert (albedo == 0).mean() > 0.7
    assert albedo.max() > 150


def test_a_set_is_baked_again_when_its_print_changes(tmp_path: Path) -> None:
    Image.new("L", (64, 64), 255).save(tmp_path / "all.png")
    recipe = tube_recipe(tmp_path, SHORTEST + "size: 64\nprints:\n  - {mask: all.png}\n")
    words = ("bake", recipe, "--out", tmp_path / "out")
    assert texbake(*words).code == 0
    assert "kept, nothing changed" in texbake(*words).out
    Image.new("L", (64, 64), 100).save(tmp_path / "all.png")
    run = texbake(*words)
    assert "nothing changed" not in run.out
    assert "(print 1 changed)" in run.out


@pytest.mark.parametrize(
    ("entry", "what", "fix"),
    [
        ("{mask: none.png}", "none.png: there is no such file", "did you mean"),
        ("{picture: ink.png, mask: mask.png}", "both picture and mask", "keep one"),
        ("{on: front}", "nothing says what is printed", "add picture"),
        ("{mask: mask.png, on: sleeve}", "there is no panel 'sleeve'", "panels: "),
        ("{mask: ink.png, painted_on: gone.obj}", "no such mesh file", "meshes in that"),
        ("{mask: wide.png}", "a picture of a UV layout is square", "crop"),
        ("{mask: mask.png, painted_on: small.obj}", "lies on the old one", "the same garment"),
    ],
)
def test_a_print_that_cannot_be_is_told_with_its_line(
    tmp_path: Path, entry: str, what: str, fix: str
) -> None:
    paint_print(tmp_path)
    write_tube(tmp_path / "small.obj", upright, top=0.4)
    Image.new("L", (64, 32)).save(tmp_path / "wide.png")
    found, cure = bake_refused(tmp_path, f"{SHORTEST}prints:\n  - {entry}\n")
    assert found.startswith("tube.yaml:6: ")
    assert what in found
    assert fix in cure
