"""What is wrong with a mesh is told with what, where and what to do; what is odd is noted."""

import re
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.cli_run import SHORTEST, bake_refused, refused, texbake, tube_recipe
from tests.tube import upright
from texbake.arrays import F64

Change = Callable[[list[str]], list[str]]


def edited(folder: Path, change: Change, text: str = SHORTEST) -> Path:
    """Write a tube and change the lines of its mesh."""
    recipe = tube_recipe(folder, text)
    path = folder / "tube.obj"
    lines = path.read_text().splitlines()
    path.write_text("\n".join(change(lines)) + "\n")
    return recipe


def test_no_such_mesh_offers_the_nearest_file(tmp_path: Path) -> None:
    what, fix = bake_refused(tmp_path, SHORTEST.replace("tube.obj", "tub.obj"))
    assert what == "tube.yaml:2: mesh: there is no file tub.obj"
    assert fix == "did you mean 'tube.obj'? meshes in that directory: tube.obj"


def test_a_mesh_that_has_moved_is_found_in_the_folders_about(tmp_path: Path) -> None:
    recipe = tube_recipe(tmp_path)
    (tmp_path / "meshes").mkdir()
    (tmp_path / "tube.obj").rename(tmp_path / "meshes" / "tube.obj")
    ((what, fix),) = refused(tmp_path, "bake", recipe, "--out", tmp_path / "out")
    assert "there is no file" in what
    assert fix.startswith(f"did you mean {tmp_path / 'meshes' / 'tube.obj'}?")


def test_a_mesh_in_a_folder_that_is_not_there(tmp_path: Path) -> None:
    what, fix = bake_refused(tmp_path, SHORTEST.replace("tube.obj", "meshes/tube.obj"))
    assert what == "tube.yaml:2: mesh: there is no file meshes/tube.obj"
    assert fix.endswith("none, as there is no directory meshes")


def without_uvs(lines: list[str]) -> list[str]:
    return [re.sub(r"/\d+", "", line) for line in lines if not line.startswith("vt ")]


def not_a_number(lines: list[str]) -> list[str]:
    return [re.sub(r"^v \S+", "v nan", line) for line in lines[:3]] + lines[3:]


def huge(lines: list[str]) -> list[str]:
    return [re.sub(r"^v \S+", "v 1e30", line) for line in lines[:3]] + lines[3:]


def beyond_any_float(lines: list[str]) -> list[str]:
    return [re.sub(r"^v \S+", "v 1e400", line) for line in lines[:3]] + lines[3:]


def huge_uvs(lines: list[str]) -> list[str]:
    return [re.sub(r"^vt \S+", "vt 1e30", line) for line in lines[:4]] + lines[4:]


def one_uv(lines: list[str]) -> list[str]:
    return [re.sub(r"^vt .*", "vt 0 0", line) for line in lines]


def no_faces(lines: list[str]) -> list[str]:
    return [line for line in lines if not line.startswith("f ")]


def wrong_index(lines: list[str]) -> list[str]:
    return [*lines, "f 1/1 2/2 9999/3"]


def no_numbers(lines: list[str]) -> list[str]:
    return [line.replace("v ", "v x", 1) if k == 2 else line for k, line in enumerate(lines)]


BROKEN: dict[Change, tuple[str, str]] = {
    without_uvs: ("tube.obj:94: mesh without UVs: no face has UVs", "UVs"),
    not_a_number: ("tube.obj:3: 'v nan 0.0", "not finite"),
    huge: ("tube.obj:3: 'v 1e30 0.0", "beyond 1e+09"),
    beyond_any_float: ("tube.obj:3: 'v 1e400 0.0", "not finite"),
    huge_uvs: ("tube.obj:4: 'vt 1e30 0.0", "beyond 1e+06"),
    one_uv: ("tube.obj: useless UVs (all are equal): none of the 288 triangles", "unwrap"),
    no_faces: ("tube.obj: ", "no faces"),
    wrong_index: ("tube.obj:", "9999"),
    no_numbers: ("tube.obj:3: ", "x"),
}


@pytest.mark.parametrize("change", BROKEN, ids=lambda change: change.__name__)
def test_a_mesh_that_is(tmp_path: Path, change: Change) -> None:
    recipe = edited(tmp_path, change)
    ((what, fix),) = refused(tmp_path, "bake", recipe, "--out", tmp_path / "sets")
    start, word = BROKEN[change]
    assert what.replace(f"{tmp_path}/", "").startswith(start)
    assert word in what + fix


def test_an_island_in_another_square_is_named_and_a_tile_proposed(tmp_path: Path) -> None:
    def apart(panel: int, s: F64, t: F64) -> tuple[F64, F64]:
        u, v = upright(panel, s, t)
        return u + panel, v

    what, fix = bake_refused(tmp_path, placing=apart)
    assert (
        "1 of 2 islands lie outside UV tile [0, 0]: island 1 (144 triangles, u 1.54..1.96" in what
    )
    assert "`tile: [1, 0]`" in fix
    recipe = tube_recipe(tmp_path, SHORTEST + "tile: [1, 0]\n", apart)
    run = texbake("bake", recipe, "--size", 64, "--out", tmp_path)
    assert run.code == 0
    assert any("left out, as they lie in other UV tiles: islands 0" in note for note in run.notes)


def test_uvs_in_centimetres_are_known_for_what_they_are(tmp_path: Path) -> None:
    def in_cm(panel: int, s: F64, t: F64) -> tuple[F64, F64]:
        return 12.566 * s + 15.0 * panel, 10.0 * t

    what, fix = bake_refused(tmp_path, placing=in_cm)
    assert "2 of 2 islands lie outside" in what
    assert "centimetres" in fix
    assert "re-pack" in fix


def test_an_island_over_the_edge_is_to_be_moved(tmp_path: Path) -> None:
    def over(panel: int, s: F64, t: F64) -> tuple[F64, F64]:
        u, v = upright(panel, s, t)
        return u + 0.1, v

    what, fix = bake_refused(tmp_path, placing=over)
    assert "1 of 2 islands lie outside" in what
    assert "move or scale" in fix


def collapsed(lines: list[str]) -> list[str]:
    return [*lines, "f 1/1 1/1 2/2"]


def crowded(lines: list[str]) -> list[str]:
    """A fin stands on an edge inside the front."""
    fin = ["v 0 5 9", "v 0 6 9", "vt 0.9 0.9", "vt 0.95 0.9", "vt 0.9 0.95"]
    return [*lines, *fin, "f 40/183 41/184 183/185"]


def doubled(lines: list[str]) -> list[str]:
    """The front's first face once more."""
    return [*lines, next(line for line in lines if line.startswith("f "))]


def turned_over(lines: list[str]) -> list[str]:
    """One face wound the other way."""
    k = next(i for i, line in enumerate(lines) if line.startswith("f "))
    return [*lines[:k], "f " + " ".join(reversed(lines[k].split()[1:])), *lines[k + 1 :]]


ODD: dict[Change, str] = {
    collapsed: "1 triangle has no area in space, the first at [-4, 0, 0]",
    crowded: "1 edge belongs to more than two triangles, the first at [",
    doubled: "2 triangles lie on another with the same corners",
    turned_over: "wound against",
}


@pytest.mark.parametrize("change", ODD, ids=lambda change: change.__name__)
def test_it_bakes_and_tells_of_faces_that_are(tmp_path: Path, change: Change) -> None:
    run = texbake("bake", edited(tmp_path, change), "--size", 64, "--out", tmp_path)
    assert run.code == 0, run.err
    assert any(ODD[change] in note for note in run.notes), run.notes


def test_a_fold_in_uv_bakes_with_a_note(tmp_path: Path) -> None:
    def folded(panel: int, s: F64, t: F64) -> tuple[F64, F64]:
        _, v = upright(panel, s, t)
        return 0.04 + 0.5 * panel + 0.42 * abs(s - 0.25 * (1 - panel)), v

    run = texbake("bake", tube_recipe(tmp_path, SHORTEST, folded), "--size", 64, "--out", tmp_path)
    assert run.code == 0, run.err
    assert any("folded in UV, so that parts lie mirrored: island 0" in n for n in run.notes)


def test_a_mirrored_island_is_no_matter(tmp_path: Path) -> None:
    def mirrored(panel: int, s: F64, t: F64) -> tuple[F64, F64]:
        return upright(panel, 1.0 - s if panel else s, t)

    run = texbake(
        "bake", tube_recipe(tmp_path, SHORTEST, mirrored), "--size", 64, "--out", tmp_path
    )
    assert run.code == 0
    assert all("too fine" in note for note in run.notes)


def stacked(_panel: int, s: F64, t: F64) -> tuple[F64, F64]:
    """Front and back share texels."""
    return upright(0, s, t)


def test_islands_that_share_texels_bake_once_with_a_note(tmp_path: Path) -> None:
    run = texbake("bake", tube_recipe(tmp_path, SHORTEST, stacked), "--size", 64, "--out", tmp_path)
    assert run.code == 0
    assert any("panels 'front', 'back' share texels" in note for note in run.notes)


def test_shared_texels_cannot_show_two_cloths(tmp_path: Path) -> None:
    text = SHORTEST + "panels:\n  front: {group: front, fabric: felt}\n  back: {group: back}\n"
    what, fix = bake_refused(tmp_path, text, "--size", 64, placing=stacked)
    assert what.startswith("tube.yaml:6: panels 'front' (felt) and 'back' (plain) share ")
    assert fix == "give both panels the same fabric, or move their islands apart in UV"
    what, _ = bake_refused(
        tmp_path,
        SHORTEST + "colourways:\n  a: {}\n  b: {front.fabric: felt}\npanels:\n"
        "  front: {group: front, fabric: plain}\n  back: {group: back, fabric: plain}\n",
        "--size",
        64,
        placing=stacked,
    )
    assert what.startswith("tube.yaml:9: panels 'front' (felt) and 'back' (plain) share ")


def test_a_panel_that_matches_nothing_is_told_what_there_is(tmp_path: Path) -> None:
    what, fix = bake_refused(tmp_path, SHORTEST + "panels:\n  hood: {group: frnt}\n")
    assert what == "tube.yaml:6: panel 'hood': no cloth has the group 'frnt'"
    assert fix.startswith(
        "did you mean 'front'? the mesh has 'back', 'front'; its islands are 0 to 1"
    )


def test_a_point_far_from_the_cloth_is_told_the_nearest(tmp_path: Path) -> None:
    what, fix = bake_refused(tmp_path, SHORTEST + "panels:\n  hood: {at: [0, 55, 4]}\n")
    assert what.startswith("tube.yaml:6: panel 'hood': the point [0, 55, 4] lies 450 mm from any")
    assert "give a point on the panel, such as [0, 5, 2.532] for island 0" in fix


def test_a_number_of_no_island_is_told_which_there_are(tmp_path: Path) -> None:
    what, fix = bake_refused(tmp_path, SHORTEST + "panels:\n  hood: {island: 7}\n")
    assert what == "tube.yaml:6: panel 'hood': there is no island 7"
    assert fix == "islands are 0 to 1"


def test_two_panels_cannot_claim_one_face(tmp_path: Path) -> None:
    what, fix = bake_refused(
        tmp_path, SHORTEST + "panels:\n  a: {group: front}\n  b: {at: [0, 5, 4]}\n"
    )
    assert what == "tube.yaml:7: panels 'a' (line 6) and 'b' (line 7) both claim island 0"
    assert fix == "let one of them go, or pick by island number"


def test_a_seam_that_is_not_there_is_told_which_are(tmp_path: Path) -> None:
    text = SHORTEST + "panels:\n  a: {group: front}\nseams:\n  - {between: [a, a]}\n"
    what, fix = bake_refused(tmp_path, text)
    assert what == "tube.yaml:8: there is no seam between 'a' and 'a'"
    assert fix == "the seams are between a and back"


@pytest.mark.parametrize("share", [0.3, 0.6, 0.9])
def test_an_obj_cut_short_is_refused(tmp_path: Path, share: float) -> None:
    recipe = tube_recipe(tmp_path)
    data = (tmp_path / "tube.obj").read_bytes()
    (tmp_path / "tube.obj").write_bytes(data[: round(len(data) * share)])
    run = texbake("bake", recipe, "--size", 64, "--out", tmp_path / "sets")
    assert run.code in (0, 2), run.err  # a file cut between two faces is a whole one
    assert "Traceback" not in run.err


def write_glb(path: Path, document: str, *, missing: int = 0) -> None:
    """A GLB of a JSON chunk, cut short by some bytes."""
    body = document.encode()
    body += b" " * (-len(body) % 4)
    head = b"glTF" + (2).to_bytes(4, "little") + (20 + len(body)).to_bytes(4, "little")
    data = head + len(body).to_bytes(4, "little") + b"JSON" + body
    path.write_bytes(data[: len(data) - missing])


def glb_recipe(folder: Path) -> Path:
    recipe = folder / "box.yaml"
    recipe.write_text("garment: box\nmesh: box.glb\nfabric: plain\ncolour: red\n")
    return recipe


def test_a_glb_cut_short_is_refused(tmp_path: Path) -> None:
    recipe = glb_recipe(tmp_path)
    write_glb(tmp_path / "box.glb", '{"asset": {"version": "2.0"}}', missing=9)
    ((what, _),) = refused(tmp_path, "bake", recipe)
    assert what.startswith(f"{tmp_path}/box.glb: ")
    assert "cut short" in what


@pytest.mark.parametrize(
    "extension", ["KHR_draco_mesh_compression", "EXT_meshopt_compression", "VENDOR_other"]
)
def test_a_packed_gltf_is_refused_by_name(tmp_path: Path, extension: str) -> None:
    recipe = glb_recipe(tmp_path)
    lists = f'"extensionsUsed": ["{extension}"], "extensionsRequired": ["{extension}"]'
    write_glb(tmp_path / "box.glb", f'{{"asset": {{"version": "2.0"}}, {lists}, "meshes": []}}')
    ((what, fix),) = refused(tmp_path, "bake", recipe)
    assert extension in what
    assert "export" in fix


@pytest.mark.parametrize("data", [b"", b"\0" * 100, b"PK\x03\x04" + b"x" * 50, b"hello"])
def test_what_is_no_mesh_is_refused(tmp_path: Path, data: bytes) -> None:
    recipe = glb_recipe(tmp_path)
    (tmp_path / "box.glb").write_bytes(data)
    ((what, _),) = refused(tmp_path, "bake", recipe)
    assert what.startswith(f"{tmp_path}/box.glb: ")
