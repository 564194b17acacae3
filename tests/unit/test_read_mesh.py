"""From a file to a ``Mesh``: format by content, unit, axes, tile, and files that are none."""

import base64
import gzip
import json
from pathlib import Path

import numpy as np
import pytest

from texbake.errors import UserError
from texbake.garment.read import read_mesh
from texbake.recipe.values import Up

OBJ = "v 0 0 0\nv 1 0 0\nv 0 2 0\nvt 0 0\nvt 1 0\nvt 0 1\nvn 0 0 1\nf 1/1/1 2/2/1 3/3/1\n"
PLY = (
    "ply\nformat ascii 1.0\nelement vertex 3\nproperty float x\nproperty float y\n"
    "property float z\nproperty float s\nproperty float t\nelement face 1\n"
    "property list uchar int vertex_indices\nend_header\n0 0 0 0 0\n1 0 0 1 0\n0 2 0 0 1\n3 0 1 2\n"
)


def gltf() -> str:
    points = np.array([[0, 0, 0], [1, 0, 0], [0, 2, 0]], "<f4").tobytes()
    uv = np.array([[0, 1], [1, 1], [0, 0]], "<f4").tobytes()
    uri = "data:;base64," + base64.b64encode(points + uv).decode()
    accessor = {"componentType": 5126, "count": 3}
    return json.dumps(
        {
            "asset": {"version": "2.0"},
            "buffers": [{"uri": uri, "byteLength": 60}],
            "bufferViews": [
                {"buffer": 0, "byteLength": 36},
                {"buffer": 0, "byteOffset": 36, "byteLength": 24},
            ],
            "accessors": [
                {**accessor, "bufferView": 0, "type": "VEC3"},
                {**accessor, "bufferView": 1, "type": "VEC2"},
            ],
            "meshes": [{"primitives": [{"attributes": {"POSITION": 0, "TEXCOORD_0": 1}}]}],
            "nodes": [{"mesh": 0}],
        }
    )


def write(folder: Path, name: str, content: str | bytes) -> Path:
    path = folder / name
    path.write_bytes(content if isinstance(content, bytes) else content.encode())
    return path


def refused(path: Path, *, uv_set: int = 0) -> UserError:
    with pytest.raises(UserError) as caught:
        read_mesh(path, unit_mm=None, up="y", uv_set=uv_set)
    assert caught.value.path == path
    assert caught.value.fix
    return caught.value


@pytest.mark.parametrize(
    ("name", "content", "unit_mm"),
    [("a.obj", OBJ, 10.0), ("a.ply", PLY, 10.0), ("a.gltf", gltf(), 1000.0)],
)
def test_the_unit_is_the_formats_own_unless_given(
    tmp_path: Path, name: str, content: str, unit_mm: float
) -> None:
    path = write(tmp_path, name, content)
    by_format = read_mesh(path, unit_mm=None, up="y")
    assert by_format.points_mm.tolist() == [[0, 0, 0], [unit_mm, 0, 0], [0, 2 * unit_mm, 0]]
    assert by_format.uv.tolist() == [[[0, 0], [1, 0], [0, 1]]]
    assert by_format.notes == ()
    assert by_format.path == path
    assert read_mesh(path, unit_mm=25.4, up="y").points_mm[1].tolist() == [25.4, 0, 0]


@pytest.mark.parametrize(
    ("ending", "content", "unit_mm"),
    [(".gltf", OBJ, 10.0), (".glb", PLY, 10.0), (".obj", gltf(), 1000.0), ("", OBJ, 10.0)],
)
def test_content_decides_where_the_ending_lies(
    tmp_path: Path, ending: str, content: str, unit_mm: float
) -> None:
    mesh = read_mesh(write(tmp_path, f"vest{ending}", content), unit_mm=None, up="y")
    assert mesh.points_mm[1, 0] == unit_mm
    assert "whatever the name" in mesh.notes[0]


@pytest.mark.parametrize(
    ("up", "top"),
    [
        ("x", [1, 0, 0]),
        ("-x", [-1, 0, 0]),
        ("z", [0, 0, 1]),
        ("-z", [0, 0, -1]),
        ("-y", [0, -1, 0]),
    ],
)
def test_points_and_normals_are_turned_so_that_up_is_y(
    tmp_path: Path, up: Up, top: list[int]
) -> None:
    place = " ".join(map(str, top))
    text = OBJ.replace("v 0 2 0", f"v {place}").replace("vn 0 0 1", f"vn {place}")
    mesh = read_mesh(write(tmp_path, "vest.obj", text), unit_mm=1.0, up=up)
    assert mesh.points_mm[2].tolist() == [0, 1, 0]
    assert mesh.normals is not None
    assert mesh.normals[0, 0].tolist() == [0, 1, 0]


def test_the_tile_is_taken_off_and_kept(tmp_path: Path) -> None:
    path = write(tmp_path, "vest.obj", OBJ.replace("vt 0 0", "vt 2 1"))
    mesh = read_mesh(path, unit_mm=None, up="y", tile=(2, 1))
    assert mesh.uv[0, 0].tolist() == [0.0, 0.0]
    assert mesh.tile == (2, 1)
    assert read_mesh(path, unit_mm=None, up="y").tile is None


def test_formats_with_one_uv_set_have_no_other(tmp_path: Path) -> None:
    assert "UV set 1" in refused(write(tmp_path, "vest.obj", OBJ), uv_set=1).what
    assert "UV set 1" in refused(write(tmp_path, "vest.ply", PLY), uv_set=1).what
    assert "UV set 1" in refused(write(tmp_path, "vest.gltf", gltf()), uv_set=1).what


def test_a_missing_file_names_the_meshes_beside_it(tmp_path: Path) -> None:
    write(tmp_path, "vest.obj", OBJ)
    write(tmp_path, "notes.txt", "")
    error = refused(tmp_path / "wvest.obj")
    assert "no such" in error.what
    assert "vest.obj" in error.fix
    assert "notes" not in error.fix
    assert "no directory" in refused(tmp_path / "gone" / "vest.obj").fix


def test_a_directory_is_no_mesh(tmp_path: Path) -> None:
    write(tmp_path, "vest.obj", OBJ)
    error = refused(tmp_path)
    assert "directory" in error.what
    assert "vest.obj" in error.fix


@pytest.mark.parametrize("content", [b"", b"  \n\n"])
def test_an_empty_file_says_so(tmp_path: Path, content: bytes) -> None:
    assert "empty" in refused(write(tmp_path, "vest.obj", content)).what


def test_a_file_one_may_not_read_says_so(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def deny(self: Path) -> bytes:
        raise PermissionError(13, "denied", str(self))

    path = write(tmp_path, "vest.obj", OBJ)
    monkeypatch.setattr(Path, "read_bytes", deny)
    assert "permission" in refused(path).what


@pytest.mark.parametrize(
    ("content", "word"),
    [
        (gzip.compress(OBJ.encode(), mtime=0), "gzip"),
        (b"PK\x03\x04 and more", "zip"),
        (b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR", "not a mesh"),
        (b"solid vest\nfacet normal 0 0 1\n", "not a mesh"),
        (b"Dear tailor, the vest is late.", "not a mesh"),
        (bytes(range(256)) * 20, "not a mesh"),
        (b"glTF", "cut short"),
        (b"ply\nformat ascii 1.0\n", "cut short"),
        (b"v 0 0 0\n", "no faces"),
        (b"{}", "version"),
    ],
)
def test_what_is_no_mesh_is_refused_under_any_name(
    tmp_path: Path, content: bytes, word: str
) -> None:
    for name in ("vest.obj", "vest.glb", "vest.ply", "vest"):
        assert word in refused(write(tmp_path, name, content)).what
