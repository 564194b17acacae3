"""glTF 2.0 and GLB, by hand: a square of two triangles in all the ways it can be stored.

Section numbers are those of the glTF 2.0 specification (ISO/IEC 12113:2022).
"""

import base64
import json
import struct
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from texbake.errors import UserError
from texbake.garment.gltf import read_gltf
from texbake.garment.raw import Raw

POINTS = np.array([[0, 0, 0], [1, 0, 0], [1, 1, 0], [0, 1, 0]], np.float32)
UV_DOWN = np.array([[0, 1], [1, 1], [1, 0], [0, 0]], np.float32)  # glTF's v runs down
UV_UP = [[[0, 0], [1, 0], [1, 1]], [[0, 0], [1, 1], [0, 1]]]
FACES = np.array([0, 1, 2, 0, 2, 3], np.uint16)
COMPONENT = {"i1": 5120, "u1": 5121, "i2": 5122, "u2": 5123, "u4": 5125, "f4": 5126}
KIND = {1: "SCALAR", 2: "VEC2", 3: "VEC3"}

Tree = dict[str, Any]


class Builder:
    """Collects arrays into one buffer, as an exporter does."""

    def __init__(self) -> None:
        self.data = b""
        self.views: list[Tree] = []
        self.accessors: list[Tree] = []

    def add(self, values: np.ndarray, **more: object) -> int:
        self.data += b"\0" * (-len(self.data) % 4)
        view = {"buffer": 0, "byteOffset": len(self.data), "byteLength": values.nbytes}
        self.data += values.tobytes()
        self.views.append(view)
        width = 1 if values.ndim == 1 else values.shape[1]
        self.accessors.append(
            {
                "bufferView": len(self.views) - 1,
                "componentType": COMPONENT[values.dtype.str[1:]],
                "count": len(values),
                "type": KIND[width],
                **more,
            }
        )
        return len(self.accessors) - 1

    def tree(self, primitives: list[Tree], **more: object) -> Tree:
        return {
            "asset": {"version": "2.0"},
            "scene": 0,
            "scenes": [{"nodes": [0]}],
            "nodes": [{"mesh": 0}],
            "meshes": [{"primitives": primitives}],
            "accessors": self.accessors,
            "bufferViews": self.views,
            "buffers": [{"byteLength": len(self.data)}],
            **more,
        }


def square(builder: Builder, **more: object) -> Tree:
    """One primitive: the square."""
    attributes = {"POSITION": builder.add(POINTS), "TEXCOORD_0": builder.add(UV_DOWN)}
    return {"attributes": attributes, "indices": builder.add(FACES), **more}


def glb(tree: Mapping[str, object], data: bytes) -> bytes:
    text = json.dumps(tree).encode()
    text += b" " * (-len(text) % 4)
    data += b"\0" * (-len(data) % 4)
    body = struct.pack("<I4s", len(text), b"JSON") + text
    body += struct.pack("<I4s", len(data), b"BIN\0") + data
    return struct.pack("<4sII", b"glTF", 2, 12 + len(body)) + body


def read(tree: Mapping[str, object], builder: Builder, *, uv_set: int = 0) -> Raw:
    return read_gltf(Path("vest.glb"), glb(tree, builder.data), uv_set=uv_set)


def refused(tree: Mapping[str, object], builder: Builder, *, uv_set: int = 0) -> UserError:
    with pytest.raises(UserError) as caught:
        read(tree, builder, uv_set=uv_set)
    return caught.value


def simple(**more: object) -> tuple[Tree, Builder]:
    builder = Builder()
    return builder.tree([square(builder)], **more), builder


def test_v_is_turned_over_so_that_0_0_is_bottom_left() -> None:
    raw = read(*simple())
    assert raw.points[raw.faces].tolist() == POINTS[FACES.reshape(2, 3)].tolist()
    assert raw.uv.tolist() == UV_UP
    assert raw.polygon.tolist() == [0, 1]


def test_data_may_lie_in_a_data_uri_or_in_a_file_beside(tmp_path: Path) -> None:
    tree, builder = simple()
    coded = base64.b64encode(builder.data).decode()
    for uri in (f"data:application/octet-stream;base64,{coded}", "ferry%20vest.bin"):
        tree["buffers"] = [{"uri": uri, "byteLength": len(builder.data)}]
        (tmp_path / "ferry vest.bin").write_bytes(builder.data)
        data = json.dumps(tree).encode()
        assert read_gltf(tmp_path / "vest.gltf", data, uv_set=0).uv.tolist() == UV_UP


@pytest.mark.parametrize("kind", ["u1", "u2", "u4"])
def test_indices_may_be_of_one_two_or_four_bytes(kind: str) -> None:
    builder = Builder()
    primitive = square(builder)
    primitive["indices"] = builder.add(FACES.astype(f"<{kind}"))
    assert read(builder.tree([primitive]), builder).faces.tolist() == [[0, 1, 2], [0, 2, 3]]


@pytest.mark.parametrize(("kind", "most"), [("u1", 255), ("u2", 65535), ("i1", 127)])
def test_normalised_integers_are_shares_of_their_greatest(kind: str, most: int) -> None:
    # Section 3.11: f = c / 255, c / 65535; the signed ones with KHR_mesh_quantization.
    builder = Builder()
    primitive = square(builder)
    stored = (UV_DOWN * most).astype(f"<{kind}")
    primitive["attributes"]["TEXCOORD_0"] = builder.add(stored, normalized=True)
    assert read(builder.tree([primitive]), builder).uv.tolist() == UV_UP


def test_interleaved_attributes_are_taken_by_their_stride() -> None:
    mixed = np.concatenate([POINTS, UV_DOWN], axis=1)
    builder = Builder()
    at = builder.add(mixed.ravel())
    builder.views[0]["byteStride"] = 20
    builder.accessors = [
        {**builder.accessors[at], "count": 4, "type": "VEC3"},
        {**builder.accessors[at], "count": 4, "type": "VEC2", "byteOffset": 12},
    ]
    attributes = {"POSITION": 0, "TEXCOORD_0": 1}
    primitive = {"attributes": attributes, "indices": builder.add(FACES)}
    assert read(builder.tree([primitive]), builder).uv.tolist() == UV_UP


@pytest.mark.parametrize("based", [True, False])
def test_sparse_accessors_replace_single_elements_of_a_base_or_of_zeros(based: bool) -> None:
    builder = Builder()
    primitive = square(builder)
    at = builder.add(np.array([1, 3], np.uint8))
    what = builder.add(np.array([[9, 0, 0], [0, 9, 0]], np.float32))
    sparse = {
        "count": 2,
        "indices": {"bufferView": at, "componentType": 5121},
        "values": {"bufferView": what},
    }
    accessor = builder.accessors[0]
    accessor["sparse"] = sparse
    if not based:
        del accessor["bufferView"]
    points = read(builder.tree([primitive]), builder).points
    assert points.tolist() == [[0, 0, 0], [9, 0, 0], [1, 1, 0] if based else [0, 0, 0], [0, 9, 0]]


def test_without_indices_corners_follow_each_other() -> None:
    builder = Builder()
    split = FACES.astype(np.int64)
    attributes = {
        "POSITION": builder.add(POINTS[split]),
        "TEXCOORD_0": builder.add(UV_DOWN[split]),
    }
    raw = read(builder.tree([{"attributes": attributes}]), builder)
    assert raw.faces.tolist() == [[0, 1, 2], [3, 4, 5]]
    assert raw.uv.tolist() == UV_UP


def test_strips_alternate_and_fans_keep_their_first_corner() -> None:
    # Section 3.7.2.1: strip p_i = {v_i, v_(i+1+i%2), v_(i+2-i%2)},
    # fan p_i = {v_(i+1), v_(i+2), v_0}.
    for mode, order, faces in (
        (5, [0, 1, 3, 2], [[0, 1, 3], [1, 2, 3]]),
        (6, [0, 1, 2, 3], [[1, 2, 0], [2, 3, 0]]),
    ):
        builder = Builder()
        primitive = square(builder, mode=mode)
        primitive["indices"] = builder.add(np.array(order, np.uint16))
        assert read(builder.tree([primitive]), builder).faces.tolist() == faces


def test_a_strip_jumps_by_repeated_corners_without_leaving_triangles() -> None:
    builder = Builder()
    primitive = square(builder, mode=5)
    primitive["indices"] = builder.add(np.array([0, 1, 2, 2, 0, 0, 3, 2], np.uint16))
    assert read(builder.tree([primitive]), builder).faces.tolist() == [[0, 1, 2], [0, 2, 3]]


def test_points_and_lines_are_left_out_with_a_note() -> None:
    builder = Builder()
    primitives = [square(builder, mode=0), square(builder), square(builder, mode=3)]
    raw = read(builder.tree(primitives), builder)
    assert len(raw.faces) == 2
    assert raw.notes == ("left out: points (1), line strips (1)",)
    assert "only points (1)" in refused(builder.tree(primitives[:1]), builder).what


def placed(node: Tree) -> Raw:
    tree, builder = simple()
    tree["nodes"] = [{"children": [1], "scale": [2, 2, 2]}, {"mesh": 0, **node}]
    return read(tree, builder)


def test_nested_transforms_are_applied_scale_then_turn_then_shift() -> None:
    half = float(np.sqrt(0.5))
    parts = placed({"translation": [0, 0, 5], "rotation": [0, 0, half, half], "scale": [3, 1, 1]})
    # x * 3, a quarter turn about z, 5 along z, and all of it times 2.
    assert np.allclose(parts.points, [[0, 0, 10], [0, 6, 10], [-2, 6, 10], [-2, 0, 10]])
    columns = [0, 3, 0, 0, -1, 0, 0, 0, 0, 0, 1, 0, 0, 0, 5, 1]
    assert np.allclose(placed({"matrix": columns}).points, parts.points)


def outward(raw: Raw) -> list[float]:
    a, b, c = (raw.points[raw.faces[:, k]] for k in range(3))
    return [float(z) for z in np.sign(np.cross(b - a, c - a)[:, 2])]


def test_a_mirroring_node_turns_the_winding_over() -> None:
    # Section 3.7.4: a negative determinant reverses the winding, so the outside stays outside.
    assert outward(placed({"scale": [-1, 1, 1]})) == [1.0, 1.0]
    assert outward(placed({"scale": [-1, -1, -1]})) == [-1.0, -1.0]
    assert outward(placed({"scale": [-1, -1, 1]})) == [1.0, 1.0]
    mirrored = placed({"scale": [-1, 1, 1]})
    for face, uv in zip(mirrored.faces.tolist(), mirrored.uv.tolist(), strict=True):
        assert uv == [[x, 1.0 - y] for x, y in UV_DOWN[face].tolist()]


@pytest.mark.parametrize("scale", [[1, 1, 4], [-1, 1, 1], [-2, -1, -3], [1, 3, 1]])
def test_normals_stay_at_right_angles_to_their_surface(scale: list[float]) -> None:
    builder = Builder()
    tilted = np.array([[0, 0, 0], [1, 0, 1], [1, 1, 1], [0, 1, 0]], np.float32)
    normal = np.array([[-1, 0, 1]] * 4, np.float32) * np.float32(np.sqrt(0.5))
    attributes = {
        "POSITION": builder.add(tilted),
        "NORMAL": builder.add(normal),
        "TEXCOORD_0": builder.add(UV_DOWN),
    }
    primitive = {"attributes": attributes, "indices": builder.add(FACES)}
    raw = read(builder.tree([primitive], nodes=[{"mesh": 0, "scale": scale}]), builder)
    a, b, c = (raw.points[raw.faces[:, k]] for k in range(3))
    flat = np.cross(b - a, c - a)
    flat /= np.linalg.norm(flat, axis=1, keepdims=True)
    assert raw.normals is not None
    assert np.allclose(raw.normals, flat[:, None])


def test_skinned_meshes_stay_where_they_are_stored() -> None:
    # Section 3.7.3.3: only the joint transforms apply to a skinned mesh, not its node's.
    tree, builder = simple(nodes=[{"mesh": 0, "skin": 0, "scale": [50, 50, 50]}], skins=[{}])
    raw = read(tree, builder)
    assert raw.points.tolist() == POINTS.tolist()
    assert "skinned" in raw.notes[0]


def test_names_are_of_node_mesh_and_material() -> None:
    builder = Builder()
    tree = builder.tree([square(builder, material=1), square(builder)])
    tree["nodes"] = [{"children": [1, 2, 3]}, {"mesh": 0, "name": "vest"}, {"mesh": 1}, {"mesh": 2}]
    tree["meshes"] += [{"primitives": [square(builder, material=0)], "name": "cap"}]
    tree["meshes"] += [{"primitives": [square(builder, material=1)]}]
    tree["materials"] = [{}, {"name": "drill"}]
    raw = read(tree, builder)
    assert raw.objects == ("vest", "cap", "mesh 2")
    assert raw.object_of.tolist() == [0, 0, 0, 0, 1, 1, 2, 2]
    assert raw.materials == ("drill", "", "material 0")
    assert raw.material_of.tolist() == [0, 0, 1, 1, 2, 2, 0, 0]
    assert raw.groups == ("",)


def test_only_the_default_scene_is_read_and_a_mesh_used_twice_is_there_twice() -> None:
    tree, builder = simple()
    tree["nodes"] = [{"mesh": 0}, {"mesh": 0, "translation": [7, 0, 0]}, {"mesh": 0}]
    tree["scenes"] = [{"nodes": [0]}, {"nodes": [1, 2]}]
    tree["scene"] = 1
    assert read(tree, builder).points[::4, 0].tolist() == [7.0, 0.0]
    del tree["scenes"], tree["scene"]
    assert len(read(tree, builder).points) == 12


def test_the_uv_set_asked_for_is_read() -> None:
    builder = Builder()
    primitive = square(builder)
    primitive["attributes"]["TEXCOORD_1"] = builder.add(UV_DOWN * np.float32(0.5))
    tree = builder.tree([primitive])
    assert read(tree, builder, uv_set=1).uv[0, 0].tolist() == [0.0, 0.5]
    error = refused(tree, builder, uv_set=2)
    assert "no UV set 2" in error.what
    assert "0, 1" in error.fix


def test_a_primitive_without_the_uv_set_is_named() -> None:
    builder = Builder()
    bare = square(builder)
    bare["attributes"].pop("TEXCOORD_0")
    tree = builder.tree([square(builder), bare], nodes=[{"mesh": 0, "name": "vest"}])
    error = refused(tree, builder)
    assert "mesh without UVs" in error.what
    assert "1 of 2 primitives ('vest')" in error.what
    assert "unwrap" in error.fix


def test_texture_transforms_are_noted() -> None:
    raw = read(*simple(extensionsUsed=["KHR_texture_transform"]))
    assert "KHR_texture_transform" in raw.notes[0]


@pytest.mark.parametrize(
    ("name", "word"),
    [
        ("KHR_draco_mesh_compression", "compressed"),
        ("EXT_meshopt_compression", "compressed"),
        ("EXT_of_nobody", "EXT_of_nobody"),
    ],
)
def test_required_extensions_that_change_the_mesh_are_refused(name: str, word: str) -> None:
    error = refused(*simple(extensionsRequired=[name]))
    assert word in error.what
    assert "export" in error.fix


def test_required_extensions_of_materials_do_not_matter() -> None:
    required = ["KHR_materials_unlit", "KHR_texture_transform", "KHR_mesh_quantization"]
    assert len(read(*simple(extensionsRequired=required)).faces) == 2


def test_an_index_of_255_on_four_vertices_is_refused() -> None:
    builder = Builder()
    primitive = square(builder)
    primitive["indices"] = builder.add(np.array([0, 1, 255], np.uint8))
    assert "vertex 255" in refused(builder.tree([primitive]), builder).what


def test_a_glb_cut_anywhere_is_refused() -> None:
    tree, builder = simple()
    whole = glb(tree, builder.data)
    for size in range(4, len(whole), 7):
        with pytest.raises(UserError) as caught:
            read_gltf(Path("vest.glb"), whole[:size], uv_set=0)
        assert "cut short" in caught.value.what


def altered(path: str, value: object) -> tuple[Tree, Builder]:
    """The square with one field of its tree replaced, or taken away (None)."""
    tree, builder = simple()
    *way, last = [int(key) if key.isdecimal() else key for key in path.split("/")]
    at: Any = tree
    for key in way:
        at = at[key]
    if value is None:
        del at[last]
    else:
        at[last] = value
    return tree, builder


@pytest.mark.parametrize(
    ("path", "value", "word"),
    [
        ("asset/version", "1.0", "version '1.0'"),
        ("asset", None, "version None"),
        ("accessors/0/count", 4000, "too short"),
        ("accessors/0/count", -1, "-1"),
        ("accessors/0/count", True, "True"),
        ("accessors/0/count", "4", "'4'"),
        ("accessors/0/count", 10**40, "too short"),
        ("accessors/0/type", "VEC2", "VEC2"),
        ("accessors/0/type", [], "[]"),
        ("accessors/0/componentType", 5130, "5130"),
        ("accessors/0/bufferView", 77, "bufferViews[77]"),
        ("accessors/0/bufferView", None, "no data"),
        ("accessors/1/count", 3, "other counts"),
        ("accessors/2/count", 5, "three for each"),
        ("accessors/2/componentType", 5122, "indices"),
        ("bufferViews/0/byteLength", 10, "too short"),
        ("bufferViews/0/byteOffset", 10**9, "too short"),
        ("bufferViews/0/byteStride", 3, "too short"),
        ("bufferViews/0/buffer", 3, "buffers[3]"),
        ("buffers/0/uri", "gone.bin", "gone.bin"),
        ("buffers/0/uri", "data:;base64,AAA", "decoded"),
        ("buffers/0/uri", "https://example.org/vest.bin", "example.org"),
        ("buffers/0/uri", 5, "no text"),
        ("buffers/0/uri", "a\0b", "cannot be read"),
        ("meshes/0/primitives", {}, "dict"),
        ("meshes/0/primitives", [[]], "primitives[0]"),
        ("meshes/0/primitives/0/attributes", [], "list"),
        ("meshes/0/primitives/0/attributes/POSITION", None, "primitives without positions"),
        ("meshes/0/primitives/0/material", 0, "materials[0]"),
        ("meshes/0/primitives/0/mode", 9, "mode 9"),
        ("nodes/0/mesh", 2, "meshes[2]"),
        ("nodes/0/matrix", [1, 2], "16 numbers"),
        ("nodes/0/scale", [1, "2", 3], "3 numbers"),
        ("nodes/0/scale", [1, float("nan"), 3], "3 numbers"),
        ("nodes/0/scale", [1e12, 1, 1], "beyond"),
        ("nodes/0/rotation", [0, 0, 0, 0], "length 0"),
        ("nodes/0/children", [0], "twice"),
        ("nodes/0/children", ["0"], "child"),
        ("scenes/0/nodes", [], "no triangles"),
        ("scene", 4, "scenes[4]"),
    ],
)
def test_what_breaks_the_standard_is_refused_and_named(path: str, value: object, word: str) -> None:
    error = refused(*altered(path, value))
    assert word in error.what
    assert error.fix


def test_positions_that_are_not_finite_are_refused() -> None:
    builder = Builder()
    primitive = square(builder)
    bad = POINTS.copy()
    bad[2, 1] = np.nan
    primitive["attributes"]["POSITION"] = builder.add(bad)
    assert "not finite" in refused(builder.tree([primitive]), builder).what


@pytest.mark.parametrize("text", [b"{", b'{"a": ', b"{}", b'{"asset": 3}', b"{" * 100_000])
def test_text_that_is_no_whole_gltf_is_refused(text: bytes) -> None:
    with pytest.raises(UserError):
        read_gltf(Path("vest.gltf"), text, uv_set=0)
