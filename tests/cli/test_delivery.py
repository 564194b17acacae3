"""Which files a set has: read back, compared with each other, kept, added to and checked."""

import hashlib
import io
import json
import shutil
import zipfile
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image

from tests.cli_run import Run, everything, refused, texbake, tube_recipe
from texbake.batch import bake_recipe
from texbake.convert.exr import read_exr
from texbake.convert.pictures import read_samples
from texbake.deliver import Record, read_record
from texbake.layout import lay_out
from texbake.prepared import read_garment
from texbake.recipe import load
from texbake.view.read import read_png

TEXT = """\
garment: tube
mesh: tube.obj
size: 128
gutter: 4
fabrics:
  shell: {weave: plain, warp: {colour: navy}, scale: 5}
hems:
  - {on: all, width: 10 mm, thread: white}
colourways:
  navy: {}
  red: {shell.warp.colour: red}
"""
PACKED = """\
delivery:
  packed:
    orm: {red: occlusion, green: roughness, blue: metal}
    coat: {colour: albedo, alpha: height}
    turned: {colour: normal-down, alpha: inverted roughness}
    smooth: {grey: inverted roughness}
    odd: {red: normal-up green, green: white, alpha: inverted black}
    deep: {red: height, green: albedo blue, blue: normal-down green}
  bits: {deep: 16}
"""
MIXED = """\
delivery:
  sizes: [full, half, 32]
  maps: [albedo, roughness, normal-up, height]
  format: {roughness: tiff, height: exr, normal-up: tiff}
  bits: {normal-up: 16, albedo: 16}
  packed: {rh: {red: roughness, green: height}}
  zip: true
"""


def bake(folder: Path, *words: object, beside: bool = False) -> Run:
    made = texbake("bake", folder / "tube.yaml", "--out", folder / "sets", *words, beside=beside)
    assert made.code == 0, made.err
    return made


def set_of(folder: Path, colourway: str = "navy") -> Path:
    return folder / "sets/tube" / colourway


def record_of(folder: Path, colourway: str = "navy") -> Record:
    record = read_record(set_of(folder, colourway))
    assert record is not None
    return record


def image(folder: Path, name: str) -> NDArray[Any]:
    path = set_of(folder) / f"tube_navy_{name}"
    return read_exr(path.read_bytes()) if path.suffix == ".exr" else read_samples(path)[0]


def actions(folder: Path, *words: object) -> dict[str, tuple[str, list[str]]]:
    plans = json.loads(bake(folder, "--dry-run", "--json", *words).out)["sets"]
    return {one["colourway"]: (one["action"], one["why"]) for one in plans}


@pytest.fixture(scope="module")
def plain(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("plain")
    tube_recipe(folder, TEXT)
    bake(folder)
    return folder


@pytest.fixture(scope="module")
def packed(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("packed")
    tube_recipe(folder, TEXT + PACKED)
    bake(folder)
    return folder


@pytest.fixture(scope="module")
def mixed(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("mixed")
    tube_recipe(folder, TEXT + MIXED)
    bake(folder)
    return folder


def copied(folder: Path, tmp_path: Path) -> Path:
    return shutil.copytree(folder, tmp_path / "copy")


def test_packed_channels_are_the_maps_to_the_code(packed: Path) -> None:
    maps = {name: image(packed, f"{name}.png") for name in ("albedo", "roughness", "occlusion")}
    maps |= {name: image(packed, f"{name}.png") for name in ("metal", "height")}
    down, up = image(packed, "normal-down.png"), image(packed, "normal-up.png")
    orm = image(packed, "orm.png")
    for k, name in enumerate(("occlusion", "roughness", "metal")):
        assert (orm[..., k] == maps[name]).all()
    coat = image(packed, "coat.png")
    assert (coat[..., :3] == maps["albedo"]).all()
    height8 = np.floor(maps["height"] / 257.0 + 0.5)
    assert (coat[..., 3] == height8).all()
    turned = image(packed, "turned.png")
    assert (turned[..., :3] == down).all()
    assert (turned[..., 3] == 255 - maps["roughness"]).all()
    assert (image(packed, "smooth.png") == 255 - maps["roughness"]).all()
    odd = image(packed, "odd.png")
    assert (odd[..., 0] == up[..., 1]).all()
    assert [np.unique(odd[..., k]).tolist() for k in (1, 2, 3)] == [[255], [0], [255]]


def test_packed_channels_of_sixteen_bits(packed: Path) -> None:
    deep = read_png(set_of(packed) / "tube_navy_deep.png")
    assert deep.dtype == np.uint16
    assert (deep[..., 0] == image(packed, "height.png")).all()
    # The same light in 8 and in 16 bits: they differ by the rounding of the first.
    blue = image(packed, "albedo.png")[..., 2].astype(float)
    assert np.abs(deep[..., 1] / 257.0 - blue).max() <= 0.53
    green = image(packed, "normal-down.png")[..., 1].astype(float)
    assert np.abs(deep[..., 2] / 257.0 - green).max() <= 0.51


def test_the_record_tells_what_channels_hold(packed: Path) -> None:
    entries = {entry.map: entry for entry in record_of(packed).maps}
    assert entries["orm"].packed == {"red": "occlusion", "green": "roughness", "blue": "metal"}
    assert entries["odd"].packed["alpha"] == "inverted black"
    told = {name: (e.channels, e.bits, e.colour_space, e.convention) for name, e in entries.items()}
    assert told["orm"] == (3, 8, "linear", None)
    assert told["coat"] == (4, 8, "sRGB", None)
    assert told["turned"] == (4, 8, "linear", "green-down")
    assert told["smooth"] == (1, 8, "linear", None)
    assert told["deep"] == (3, 16, "linear", None)
    assert entries["albedo"].packed == {}


def test_what_is_delivered_too_leaves_the_usual_maps_as_they_are(plain: Path, packed: Path) -> None:
    usual = {name for name in everything(set_of(plain)) if name.endswith(".png")}
    for name in usual - {"tube_navy_albedo.png"}:  # the deep one is from a bake of 16 bits
        if "normal" not in name:
            assert (set_of(plain) / name).read_bytes() == (set_of(packed) / name).read_bytes()
    one, other = image(plain, "albedo.png"), image(packed, "albedo.png")
    assert np.abs(one.astype(int) - other).max() <= 1


def test_sizes_formats_and_bits_are_as_asked_for(mixed: Path) -> None:
    sizes = (128, 64, 32)
    for entry in record_of(mixed).maps:
        path = set_of(mixed) / entry.file
        assert entry.file.startswith(f"tube_navy_{entry.map}_{entry.width_px}.")
        found = read_exr(path.read_bytes()) if entry.format == "exr" else read_samples(path)[0]
        assert found.shape[:2] == (entry.height_px, entry.width_px)
        kind = {("exr", 32): "f4", ("tiff", 16): "u2", ("png", 16): "u2"}
        if entry.format != "png" or found.ndim == 2:
            assert found.dtype == np.dtype(kind.get((entry.format, entry.bits), "u1"))
    told = sorted((e.map, e.width_px) for e in record_of(mixed).maps)
    names = ("albedo", "height", "normal-up", "rh", "roughness")
    assert told == sorted((name, size) for name in names for size in sizes)


def test_heights_of_exr_are_mm_and_smaller_ones_their_means(mixed: Path) -> None:
    record = record_of(mixed)
    entry = next(e for e in record.maps if e.map == "height" and e.width_px == 128)
    assert (entry.holds, entry.bits, entry.format) == ("mm", 32, "exr")
    height, half = image(mixed, "height_128.exr"), image(mixed, "height_64.exr")
    assert record.height_lo_mm <= height.min() < height.max() <= record.height_hi_mm
    packed = image(mixed, "rh_128.png")[..., 1]
    lifted = record.height_lo_mm + packed / 255.0 * (record.height_hi_mm - record.height_lo_mm)
    assert np.abs(lifted - height).max() <= 0.51 * (255**-1) * np.ptp(
        [record.height_lo_mm, record.height_hi_mm]
    )
    garment = read_garment(load(mixed / "tube.yaml").recipe)
    covered = lay_out(garment, 128, gutter_px=0).face >= 0
    whole = covered.reshape(64, 2, 64, 2).all(axis=(1, 3))
    means = height.reshape(64, 2, 64, 2).mean(axis=(1, 3))
    assert whole.sum() > 1000
    assert np.abs(means - half)[whole].max() <= 1.01 * record.height_step_mm


def test_values_of_exr_are_what_the_record_says(tmp_path: Path) -> None:
    tube_recipe(tmp_path, f"{TEXT}delivery: {{format: exr}}\n")
    bake(tmp_path, "--colourway", "navy")
    held = {entry.map: (entry.holds, entry.colour_space) for entry in record_of(tmp_path).maps}
    assert held["albedo"] == ("linear light", "linear")
    assert held["normal-up"] == held["normal-down"] == ("vectors", "linear")
    assert held["roughness"] == ("shares", "linear")
    up, down = image(tmp_path, "normal-up.exr"), image(tmp_path, "normal-down.exr")
    assert np.linalg.norm(up, axis=-1) == pytest.approx(1.0, abs=2e-3)  # halves: 11 bits
    assert down == pytest.approx(up * np.array([1, -1, 1]), abs=1e-3)


def test_albedo_of_exr_is_the_light_of_its_codes(plain: Path, tmp_path: Path) -> None:
    tube_recipe(tmp_path, f"{TEXT}delivery: {{format: exr, maps: albedo}}\n")
    bake(tmp_path, "--colourway", "navy")
    shares = image(plain, "albedo.png") / 255.0
    light = np.where(shares <= 0.04045, shares / 12.92, ((shares + 0.055) / 1.055) ** 2.4)
    # Half a code of 8 bits is at most 0.0045 of light (the curve's slope at white is 2.28).
    assert np.abs(image(tmp_path, "albedo.exr") - light).max() < 0.0047


def test_a_zip_holds_the_set_and_is_the_same_bytes_every_time(mixed: Path, tmp_path: Path) -> None:
    path = set_of(mixed) / "tube_navy.zip"
    (entry,) = [e for e in record_of(mixed).extras if e.kind == "zip"]
    assert entry.sha256 == hashlib.sha256(path.read_bytes()).hexdigest()
    with zipfile.ZipFile(path) as archive:
        assert archive.testzip() is None
        inside = {name: archive.read(name) for name in archive.namelist()}
    there = {n: d for n, d in everything(set_of(mixed)).items() if n != "tube_navy.zip"}
    inner = json.loads(inside.pop("record.json"))
    outer = json.loads(there.pop("record.json"))
    assert inside == there
    assert inner == {**outer, "extras": []}
    again = tmp_path / "again"
    again.mkdir()
    tube_recipe(again, TEXT + MIXED)
    bake(again, "--threads", "1")
    assert (set_of(again) / "tube_navy.zip").read_bytes() == path.read_bytes()


def test_colourways_share_all_files_that_no_colour_touches(packed: Path, tmp_path: Path) -> None:
    navy, red = everything(set_of(packed)), everything(set_of(packed, "red"))
    same = {n for n in navy if navy[n] == red.get(n.replace("navy", "red"))}
    told = {entry.file for entry in record_of(packed).maps if not entry.is_coloured}
    assert same == told
    assert {n.split("_")[-1] for n in navy.keys() - same} == {
        *("albedo.png", "coat.png", "deep.png", "record.json"),
    }
    alone = tmp_path / "alone"
    alone.mkdir()
    tube_recipe(alone, TEXT + PACKED)
    bake(alone, "--colourway", "red")
    assert everything(set_of(alone, "red")) == red


def test_a_set_is_kept_and_a_zip_is_added_without_a_bake(packed: Path, tmp_path: Path) -> None:
    folder = copied(packed, tmp_path)
    assert {what for what, _ in actions(folder).values()} == {"keep"}
    made = bake(folder, "--zip")
    assert "added zip" in made.out
    assert (set_of(folder) / "tube_navy.zip").is_file()
    assert {what for what, _ in actions(folder).values()} == {"keep"}
    (set_of(folder) / "tube_navy.zip").unlink()
    what, why = actions(folder, "--zip")["navy"]
    assert (what, why) == ("add", ["tube_navy.zip is missing"])
    whole = (set_of(folder, "red") / "tube_red.zip").read_bytes()
    (set_of(folder, "red") / "tube_red.zip").write_bytes(whole[: len(whole) // 2])
    assert actions(folder)["red"] == ("add", ["tube_red.zip is damaged"])
    bake(folder)
    assert (set_of(folder, "red") / "tube_red.zip").read_bytes() == whole


def test_a_zip_follows_the_record(packed: Path, tmp_path: Path) -> None:
    folder = copied(packed, tmp_path)
    bake(folder, "--zip")
    recipe = folder / "tube.yaml"
    recipe.write_text("# a comment\n" + recipe.read_text("utf-8"), "utf-8")
    assert "kept" in bake(folder).out
    with zipfile.ZipFile(set_of(folder) / "tube_navy.zip") as archive:
        inner = json.loads(archive.read("record.json"))
    assert inner["recipe"] == json.loads((set_of(folder) / "record.json").read_bytes())["recipe"]
    assert {what for what, _ in actions(folder).values()} == {"keep"}


def test_another_delivery_bakes_again_and_says_why(packed: Path, tmp_path: Path) -> None:
    folder = copied(packed, tmp_path)
    tube_recipe(folder, f"{TEXT}delivery: gltf\n")
    assert list(actions(folder).values()) == [("bake", ["other files are delivered"])] * 2
    bake(folder)
    names = {name for name in everything(set_of(folder)) if name != "record.json"}
    kinds = ("albedo", "normal-up", "occlusion-roughness-metal")
    assert names == {f"tube_navy_{kind}.png" for kind in kinds}


def test_what_goes_beside_does_not_need_the_maps_to_be_delivered(
    plain: Path, mixed: Path, tmp_path: Path
) -> None:
    pygltflib = pytest.importorskip("pygltflib")
    pictures: list[list[NDArray[np.int64]]] = []
    for folder in (copied(plain, tmp_path / "a"), copied(mixed, tmp_path / "b")):
        (done,) = bake_recipe(
            folder / "tube.yaml", out=folder / "sets", colourways=["navy"], beside=["glb"]
        )
        # Of the first the maps are read back; those of the other are not all there.
        assert done.action == ("baked" if pictures else "added")
        glb = pygltflib.GLTF2().load(str(done.folder / "tube_navy.glb"))
        blob = glb.binary_blob()
        views = [glb.bufferViews[one.bufferView] for one in glb.images]
        data = [blob[v.byteOffset : v.byteOffset + v.byteLength] for v in views]
        pictures.append([np.asarray(Image.open(io.BytesIO(one)), np.int64) for one in data])
    with zipfile.ZipFile(set_of(tmp_path / "b/copy") / "tube_navy.zip") as archive:
        assert "tube_navy.glb" in archive.namelist()
    for one, other in zip(*pictures, strict=True):  # 8 bits, and 16 brought to 8
        assert np.abs(one - other).max() <= 1


def test_show_says_why_a_set_cannot_be_shown(mixed: Path, plain: Path, tmp_path: Path) -> None:
    for folder, said in ((mixed, True), (plain, False)):
        run = texbake(
            *("show", folder / "tube.yaml", "--out", folder / "sets", "--view", "front"),
            *("--picture", tmp_path / f"{said}.png", "--size", 64, 64),
        )
        assert run.code == 0, run.err
        assert any("not delivered with every map" in note for note in run.notes) == said


@pytest.mark.parametrize("which", ["mixed", "packed"])
def test_check_looks_into_every_size(which: str, request: pytest.FixtureRequest) -> None:
    folder: Path = request.getfixturevalue(which)
    run = texbake("check", folder / "tube.yaml", "--out", folder / "sets", "--json")
    found = json.loads(run.out)
    rules = {finding["rule"] for finding in found["findings"]}
    assert not rules & {"damaged", "changed", "stale", "normal_length", "missing"}
    assert found["sets"]["navy"]["albedo_darkest"] > 0.0


def test_normals_are_made_from_a_height_in_mm(mixed: Path, plain: Path, tmp_path: Path) -> None:
    notes = []
    for folder, name in ((mixed, "height_128.exr"), (plain, "height.png")):
        out = tmp_path / folder.name
        run = texbake("normal", set_of(folder) / f"tube_navy_{name}", "-o", out)
        assert run.code == 0, run.err
        files = sorted(path for path in tmp_path.rglob("*normal-up.png"))
        notes.append(read_png(files[-1] if folder is plain else files[0]).astype(int))
    assert np.abs(notes[0] - notes[1]).max() <= 2


def test_cut_files_are_damaged_and_painted_ones_are_kept(mixed: Path, tmp_path: Path) -> None:
    folder = copied(mixed, tmp_path)
    for name in ("roughness_128.tif", "height_64.exr"):
        path = set_of(folder) / f"tube_navy_{name}"
        path.write_bytes(path.read_bytes()[:-9])
    what, why = actions(folder)["navy"]
    assert what == "bake"
    assert why == ["tube_navy_height_64.exr is damaged", "tube_navy_roughness_128.tif is damaged"]
    bake(folder)
    path = set_of(folder) / "tube_navy_roughness_128.tif"
    data = bytearray(path.read_bytes())
    data[100] ^= 1
    path.write_bytes(data)
    ((what_, _),) = refused(folder, "bake", folder / "tube.yaml", "--out", folder / "sets")
    assert "changed since" in what_


def test_a_file_of_a_zips_name_is_never_written_over(packed: Path, tmp_path: Path) -> None:
    folder = copied(packed, tmp_path)
    (set_of(folder) / "tube_navy.zip").write_bytes(b"mine")
    assert {what for what, _ in actions(folder).values()} == {"keep"}
    ((what, _),) = refused(
        folder, "bake", folder / "tube.yaml", "--out", folder / "sets", "--zip", "--all"
    )
    assert "did not write" in what
