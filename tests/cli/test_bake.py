"""`texbake bake`: from a recipe and a mesh to sets in folders."""

import base64
import hashlib
import json
import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from tests.cli_run import SHORTEST, everything, texbake, tube_recipe
from tests.reference.test_png import read
from tests.tube import turned, upright
from texbake.arrays import F64, U8

MAPS = ("albedo", "height", "metal", "normal-down", "normal-up", "occlusion", "roughness")
SEWN = """\
panels:
  front: {group: front}
  back: {group: back}
seams:
  - {between: [front, back], rows: 2, thread: {colour: white, count: 90 tex}, scale: 3}
hems:
  - {on: all, width: 10 mm, thread: white}
"""
STRUCTURES = {
    "plain": "weave: plain",
    "twill": "weave: twill 3/1 S, warp: {colour: navy}, weft: {colour: white}",
    "satin": "weave: satin 5/2, warp: {lustre: 80 %, metallic: true}",
    "draft": 'draft: ["xx..", ".xx.", "..xx", "x..x"], warp: {color: "#400"}',
    "melange": 'knit: single jersey, yarn: {melange: {"#eee": 60 %, gray: 0.3, "#333": 10 %}}',
    "rib": "knit: rib 2x2, wales: 10 /cm, courses: 14 /cm, yarn: {count: Ne 20, twist: S}",
    "felt": "felt: {thickness: 3 mm}",
}


def pixels(path: Path) -> U8:
    with Image.open(path) as file:
        return np.asarray(file)


def image(folder: Path, kind: str) -> F64:
    (path,) = folder.glob(f"*_{kind}.png")
    return pixels(path).astype(np.float64)


def test_four_lines_bake_a_whole_set(tmp_path: Path) -> None:
    run = texbake("bake", tube_recipe(tmp_path), "--out", tmp_path / "sets")
    assert run.code == 0, run.err
    folder = tmp_path / "sets" / "tube" / "standard"
    names = {f"tube_standard_{kind}.png" for kind in MAPS}
    assert {path.name for path in folder.iterdir()} == {*names, "record.json"}
    assert [p.name for p in (tmp_path / "sets").iterdir()] == ["tube"]
    assert {p.name for p in (tmp_path / "sets" / "tube").iterdir()} == {"standard", "layout.json"}
    for name in names:
        assert pixels(folder / name).shape[:2] == (1024, 1024)


def test_a_line_for_each_set_tells_time_and_place(tmp_path: Path) -> None:
    text = SHORTEST + "colourways:\n  slate: {}\n  sand: {colour: tan}\n"
    run = texbake("bake", tube_recipe(tmp_path, text), "--size", 64, "--out", tmp_path / "sets")
    first, second = run.out.splitlines()
    assert first.startswith("slate: 7 maps of 64 px in 0.")
    assert first.endswith(f" s: {tmp_path / 'sets' / 'tube' / 'slate'}")
    assert second.startswith("sand: ")


def test_sets_go_to_out_in_the_working_folder(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    recipe = tube_recipe(tmp_path)
    (tmp_path / "elsewhere").mkdir()
    monkeypatch.chdir(tmp_path / "elsewhere")
    assert texbake("bake", recipe, "--size", 64).code == 0
    assert (tmp_path / "elsewhere" / "out" / "tube" / "standard" / "record.json").is_file()


def test_a_recipe_is_named_from_the_working_folder_and_its_mesh_from_the_recipe(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "recipes").mkdir()
    tube_recipe(tmp_path / "recipes")
    monkeypatch.chdir(tmp_path)
    assert texbake("bake", "recipes/tube.yaml", "--size", 64).code == 0


def test_the_record_tells_what_was_baked_from_what(tmp_path: Path) -> None:
    text = SHORTEST + SEWN + "seed: 5\nsize: 128\ngutter: 4\n"
    recipe = tube_recipe(tmp_path, text)
    assert texbake("bake", recipe, "--out", tmp_path / "sets").code == 0
    folder = tmp_path / "sets" / "tube" / "standard"
    record = json.loads((folder / "record.json").read_text(encoding="utf-8"))
    told = {k: record[k] for k in ("garment", "colourway", "seed", "size_px", "gutter_px")}
    expected = {"garment": "tube", "colourway": "standard", "seed": 5, "size_px": 128}
    assert told == expected | {"gutter_px": 4}
    for part, path in (("recipe", recipe), ("mesh", tmp_path / "tube.obj")):
        digest = hashlib.sha256(path.read_bytes()).hexdigest()
        assert record[part] == {"name": path.name, "sha256": digest}
    assert [entry["map"] for entry in record["maps"]] == list(MAPS)
    for entry in record["maps"]:
        data = (folder / entry["file"]).read_bytes()
        assert entry["sha256"] == hashlib.sha256(data).hexdigest()
        assert entry["file_bytes"] == len(data)
        assert (entry["width_px"], entry["height_px"]) == (128, 128)
        assert entry["colour_space"] == ("sRGB" if entry["map"] == "albedo" else "linear")
    assert record["height_hi_mm"] > 0.0 > record["height_lo_mm"]
    back, front = sorted(record["panels"], key=lambda panel: str(panel["name"]))
    assert (back["name"], front["name"]) == ("back", "front")
    # Each is half of a prism of 24 sides, radius 4 cm, 10 cm high.
    area = 12 * 2 * 40.0 * np.sin(np.pi / 24) * 100.0
    assert front["area_mm2"] == pytest.approx(area, rel=1e-4)
    assert str(tmp_path) not in json.dumps(record)


def test_json_tells_sets_files_and_notes(tmp_path: Path) -> None:
    text = SHORTEST + "colourways:\n  slate: {}\n  sand: {colour: tan}\n"
    words = ("--size", 64, "--out", tmp_path / "sets", "--json")
    run = texbake("bake", tube_recipe(tmp_path, text), *words)
    assert (run.code, run.err) == (0, "")
    told = json.loads(run.out)
    assert [one["colourway"] for one in told["sets"]] == ["slate", "sand"]
    for one in told["sets"]:
        assert one["seconds"] > 0.0
        assert sorted(one["files"]) == [f"tube_{one['colourway']}_{kind}.png" for kind in MAPS]
        assert all((Path(one["folder"]) / name).is_file() for name in one["files"])
    assert any("too fine to be seen" in note for note in told["notes"])


def test_quiet_prints_nothing(tmp_path: Path) -> None:
    recipe = tube_recipe(tmp_path)
    run = texbake("bake", recipe, "--size", 64, "--out", tmp_path / "sets", "--quiet")
    assert (run.code, run.out, run.err) == (0, "", "")


def test_notes_go_to_the_error_stream_and_leave_the_code_zero(tmp_path: Path) -> None:
    run = texbake("bake", tube_recipe(tmp_path), "--size", 64, "--out", tmp_path / "sets")
    assert run.code == 0
    assert any("too fine to be seen" in note for note in run.notes)
    assert "too fine" not in run.out


def test_the_scale_that_the_note_proposes_ends_the_note(tmp_path: Path) -> None:
    recipe = tube_recipe(tmp_path, "garment: tube\nmesh: tube.obj\nfabrics: {a: {weave: plain}}\n")
    (note,) = texbake("bake", recipe, "--size", 64, "--out", tmp_path / "sets").notes
    assert note.startswith("fabric 'a': its yarns are 0.")
    scale = note.split("scale: ")[1].split()[0]
    recipe.write_text(recipe.read_text().replace("plain", f"plain, scale: {scale}"))
    assert not texbake("bake", recipe, "--size", 64, "--out", tmp_path / "sets").notes


def test_where_no_scale_would_do_the_note_asks_for_a_larger_size(tmp_path: Path) -> None:
    (note,) = texbake("bake", tube_recipe(tmp_path), "--size", 16, "--out", tmp_path).notes
    assert note.endswith("too fine to be seen; no scale would show them: bake at a larger size")


@pytest.mark.parametrize("name", STRUCTURES)
def test_every_structure_bakes_sewn_and_looks_different_from_bare_paint(
    tmp_path: Path, name: str
) -> None:
    text = f"garment: tube\nmesh: tube.obj\nfabrics:\n  it: {{{STRUCTURES[name]}, scale: 30}}\n"
    run = texbake("bake", tube_recipe(tmp_path, text + SEWN), "--size", 128, "--out", tmp_path)
    assert (run.code, run.notes) == (0, []), run.err
    folder = tmp_path / "tube" / "standard"
    island = image(folder, "albedo")[100:110, 20:60]  # well inside the front
    assert island.std(axis=(0, 1)).max() > 1.0
    assert image(folder, "normal-up")[100:110, 20:60, :2].std() > 1.0
    metal = image(folder, "metal")
    assert metal.max() > 200.0 if name == "satin" else metal.max() == 0.0
    up, down = image(folder, "normal-up"), image(folder, "normal-down")
    assert np.array_equal(up[..., 1], 255 - down[..., 1])


def test_color_stands_for_colour(tmp_path: Path) -> None:
    ours = SHORTEST + "hems:\n- {thread: {colour: red}}\ncolourways:\n  a: {colour: tan}\n"
    recipe = tube_recipe(tmp_path, ours)
    assert texbake("bake", recipe, "--size", 64, "--out", tmp_path / "a").code == 0
    recipe.write_text(ours.replace("colour:", "color:").replace("colourways", "colorways"))
    assert texbake("bake", recipe, "--size", 64, "--out", tmp_path / "b").code == 0
    ours_baked, theirs = everything(tmp_path / "a"), everything(tmp_path / "b")
    assert {k: v for k, v in ours_baked.items() if k.endswith("png")} == {
        k: v for k, v in theirs.items() if k.endswith("png")
    }


def test_normals_of_16_bits_agree_with_those_of_8(tmp_path: Path) -> None:
    text = SHORTEST + SEWN
    recipe = tube_recipe(tmp_path, text)
    assert texbake("bake", recipe, "--size", 64, "--out", tmp_path / "coarse").code == 0
    recipe.write_text(text + "normal_bits: 16\n")
    assert texbake("bake", recipe, "--size", 64, "--out", tmp_path / "fine").code == 0
    record = json.loads((tmp_path / "fine" / "tube" / "standard" / "record.json").read_text())
    bits = {entry["map"]: entry["bits"] for entry in record["maps"]}
    assert bits == dict.fromkeys(MAPS, 8) | dict.fromkeys(
        ("normal-up", "normal-down", "height"), 16
    )
    for kind in ("normal-up", "normal-down"):
        name = f"tube/standard/tube_standard_{kind}.png"
        fine = read((tmp_path / "fine" / name).read_bytes())  # Pillow has no 16 bits of RGB
        assert fine.dtype == np.uint16
        # Half a code of 8 bits is 0.00196; the bare background holds means of codes.
        assert np.abs(fine / 65535.0 - pixels(tmp_path / "coarse" / name) / 255.0).max() <= 0.0022


def test_a_layout_in_another_square_is_baked_as_in_the_first(tmp_path: Path) -> None:
    def moved(panel: int, s: F64, t: F64) -> tuple[F64, F64]:
        u, v = upright(panel, s, t)
        return u + 2.0, v + 1.0

    recipe = tube_recipe(tmp_path, SHORTEST + SEWN)
    assert texbake("bake", recipe, "--size", 128, "--out", tmp_path / "here").code == 0
    tube_recipe(tmp_path, SHORTEST + SEWN + "tile: [2, 1]\n", moved)
    assert texbake("bake", recipe, "--size", 128, "--out", tmp_path / "there").code == 0
    here, there = (image(tmp_path / k / "tube/standard", "albedo") for k in ("here", "there"))
    assert np.abs(here - there).max() <= 2.0  # text of 7 decimals: a texel on a border may change


@pytest.mark.parametrize(
    ("unit", "factor"), [("mm", 10.0), ("m", 0.01), ("in", 1 / 2.54), ("cm", 1.0)]
)
def test_the_unit_of_the_mesh_is_the_recipes(tmp_path: Path, unit: str, factor: float) -> None:
    recipe = tube_recipe(tmp_path, SHORTEST + SEWN + f"mesh_unit: {unit}\n")
    scale_mesh(tmp_path / "tube.obj", factor)
    assert texbake("bake", recipe, "--size", 64, "--out", tmp_path).code == 0
    record = json.loads((tmp_path / "tube" / "standard" / "record.json").read_text())
    assert record["panels"][0]["area_mm2"] == pytest.approx(12531.0, rel=1e-3)


def scale_mesh(path: Path, factor: float) -> None:
    lines = path.read_text().splitlines()
    for k, line in enumerate(lines):
        if line.startswith("v "):
            lines[k] = "v " + " ".join(repr(float(x) * factor) for x in line.split()[1:])
    path.write_text("\n".join(lines) + "\n")


def test_a_garment_that_lies_on_its_side_is_turned_by_up(tmp_path: Path) -> None:
    recipe = tube_recipe(tmp_path, SHORTEST + SEWN)
    assert texbake("bake", recipe, "--size", 64, "--out", tmp_path / "stands").code == 0
    path = tmp_path / "tube.obj"
    lines = path.read_text().splitlines()
    for k, line in enumerate(lines):
        if line.startswith("v "):
            x, y, z = line.split()[1:]
            lines[k] = f"v {x} {-float(z)!r} {y}"
    path.write_text("\n".join(lines) + "\n")
    recipe.write_text(SHORTEST + SEWN + "up: z\n")
    assert texbake("bake", recipe, "--size", 64, "--out", tmp_path / "lies").code == 0
    stands, lies = (image(tmp_path / k / "tube/standard", "albedo") for k in ("stands", "lies"))
    assert np.abs(stands - lies).max() <= 2.0


def write_flag(path: Path) -> None:
    """A square metre of cloth with two UV sets: the whole sheet, and a quarter of it in length."""
    points = [[0, 0, 0], [1, 0, 0], [1, 1, 0], [0, 1, 0]]
    uv = [[0, 1], [1, 1], [1, 0], [0, 0]]  # in glTF v runs down
    parts = [
        np.array(points, "<f4"),
        np.array(uv, "<f4"),
        0.5 + 0.25 * np.array(uv, "<f4"),
        np.array([0, 1, 2, 0, 2, 3], "<u4"),
    ]
    data = b"".join(part.astype(part.dtype).tobytes() for part in parts)
    lengths = [48, 32, 32, 24]
    kinds = [("VEC3", 5126, 4), ("VEC2", 5126, 4), ("VEC2", 5126, 4), ("SCALAR", 5125, 6)]
    attributes = {"POSITION": 0, "TEXCOORD_0": 1, "TEXCOORD_1": 2}
    document = {
        "asset": {"version": "2.0"},
        "buffers": [
            {
                "byteLength": len(data),
                "uri": f"data:application/octet-stream;base64,{base64.b64encode(data).decode()}",
            }
        ],
        "bufferViews": [
            {"buffer": 0, "byteOffset": sum(lengths[:k]), "byteLength": size}
            for k, size in enumerate(lengths)
        ],
        "accessors": [
            {"bufferView": k, "type": kind, "componentType": code, "count": count}
            for k, (kind, code, count) in enumerate(kinds)
        ],
        "meshes": [{"primitives": [{"attributes": attributes, "indices": 3}]}],
        "nodes": [{"mesh": 0}],
        "scenes": [{"nodes": [0]}],
        "scene": 0,
    }
    path.write_text(json.dumps(document))


def test_a_second_uv_set_is_baked(tmp_path: Path) -> None:
    write_flag(tmp_path / "flag.gltf")
    recipe = tmp_path / "flag.yaml"
    densities = []
    for uv_set in (0, 1):
        recipe.write_text(f"garment: flag\nmesh: flag.gltf\nfabric: felt\nuv_set: {uv_set}\n")
        run = texbake("bake", recipe, "--size", 64, "--out", tmp_path)
        assert run.code == 0, run.err
        record = json.loads((tmp_path / "flag" / "standard" / "record.json").read_text())
        densities.append(record["panels"][0]["texels_per_cm"])
    assert densities == pytest.approx([0.64, 0.16], rel=1e-3)


def test_only_the_colourways_asked_for_are_baked(tmp_path: Path) -> None:
    text = SHORTEST + "colourways:\n  a: {}\n  b: {colour: red}\n  c: {colour: blue}\n"
    words = ("--size", 64, "--out", tmp_path / "sets", "--colourway", "c", "--colourway", "b")
    assert texbake("bake", tube_recipe(tmp_path, text), *words).code == 0
    assert sorted(p.name for p in (tmp_path / "sets" / "tube").glob("*/")) == ["b", "c"]


# What a colourway may change beside colours: a set must not depend on who was baked before it.
CHANGES = {
    "cloth": "{fabric: felt, hems: none}",
    "panel": "{front.fabric: felt, it.weave: twill 2/1}",
    "scale": "{it.scale: 9, hems.0.width: 20 mm}",
    "sewing": "{seams.0.rows: 3}",
    "dyed": "{it.warp.colour: red, seams.0.thread.colour: lime}",
    "melange": "{it.warp: {melange: {red: 50 %, white: 50 %}}}",
}


def test_a_colourway_is_the_same_alone_and_behind_others(tmp_path: Path) -> None:
    base = "garment: tube\nmesh: tube.obj\nfabric: it\nfabrics:\n  it: {weave: plain, scale: 5}\n"
    ways = "".join(f"  {name}: {value}\n" for name, value in CHANGES.items())
    recipe = tube_recipe(tmp_path, base + SEWN + "colourways:\n  first: {}\n" + ways)
    together, alone = tmp_path / "together", tmp_path / "alone"
    run = texbake("bake", recipe, "--size", 64, "--out", together)
    assert run.code == 0, run.err
    for name in CHANGES:
        words = ("--size", 64, "--out", alone, "--colourway", name, "--quiet")
        assert texbake("bake", recipe, *words).code == 0
        ours, theirs = (everything(out / "tube" / name) for out in (together, alone))
        assert ours == theirs, name
    plain = everything(together / "tube" / "first")
    for name in CHANGES:
        changed = everything(together / "tube" / name)
        kinds = ("albedo", "height")
        first = [plain[f"tube_first_{kind}.png"] for kind in kinds]
        assert [changed[f"tube_{name}_{kind}.png"] for kind in kinds] != first, name


def test_a_bake_done_twice_gives_the_same_bytes_and_replaces_the_set(tmp_path: Path) -> None:
    recipe = tube_recipe(tmp_path, SHORTEST + SEWN)
    assert texbake("bake", recipe, "--size", 64, "--out", tmp_path / "sets").code == 0
    first = everything(tmp_path / "sets")
    words = ("--size", 64, "--out", tmp_path / "sets", "--threads", 1)
    assert texbake("bake", recipe, *words).code == 0
    assert everything(tmp_path / "sets") == first


def test_names_of_files_are_the_recipes(tmp_path: Path) -> None:
    text = SHORTEST + 'file_name: "T_{garment}-{map}"\n'
    assert texbake("bake", tube_recipe(tmp_path, text), "--size", 64, "--out", tmp_path).code == 0
    names = {path.name for path in (tmp_path / "tube" / "standard").iterdir()}
    assert names == {*(f"T_tube-{kind}.png" for kind in MAPS), "record.json"}


def test_turned_islands_keep_the_colour(tmp_path: Path) -> None:
    """A check of the whole way by eye's measure: same mean colour whatever the layout."""
    means = []
    for placing in (upright, turned):
        recipe = tube_recipe(tmp_path, SHORTEST, placing)
        assert texbake("bake", recipe, "--size", 128, "--out", tmp_path).code == 0
        albedo = image(tmp_path / "tube" / "standard", "albedo")
        means.append(albedo.mean(axis=(0, 1)))
    assert np.abs(means[0] - means[1]).max() < 4.0


def test_help_of_every_command_has_an_example() -> None:
    assert "bake" in texbake("--help").out
    for command in ("bake", "panels", "new", "demo"):
        run = texbake(command, "--help")
        assert run.code == 0
        assert f"Example: texbake {command}" in run.out


def test_the_version_is_told_as_the_record_tells_it(tmp_path: Path) -> None:
    assert texbake("bake", tube_recipe(tmp_path), "--size", 64, "--out", tmp_path).code == 0
    record = json.loads((tmp_path / "tube" / "standard" / "record.json").read_text())
    assert texbake("version").out.strip() == record["texbake"]


def test_it_runs_as_a_program_of_its_own(tmp_path: Path) -> None:
    tube_recipe(tmp_path)
    root = Path(__file__).resolve().parents[2]
    done = subprocess.run(
        [sys.executable, "-W", "error", "-m", "texbake.cli", "bake", "tube.yaml", "--size", "64"],
        cwd=tmp_path,
        env={**os.environ, "PYTHONPATH": str(root)},
        capture_output=True,
        text=True,
        check=False,
        timeout=60,
    )
    assert done.returncode == 0, done.stderr
    assert "standard: 7 maps of 64 px" in done.stdout
    assert "\r" not in done.stderr  # no progress where none looks


@pytest.mark.skipif(sys.platform == "win32", reason="needs a shell that closes a stream")
@pytest.mark.parametrize(("words", "code"), [("version >&-", 0), ("bake nix.yaml 2>&-", 2)])
def test_a_stream_that_is_closed_changes_no_exit_code(words: str, code: int) -> None:
    root = Path(__file__).resolve().parents[2]
    run = subprocess.run(
        ["sh", "-c", f"{sys.executable} -m texbake.cli {words}"],
        cwd=root,
        capture_output=True,
        check=False,
        timeout=60,
    )
    assert run.returncode == code, run.stderr
