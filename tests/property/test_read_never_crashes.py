"""Whatever is in a file, it is read or refused: no other error comes out of a reader."""

import json
import struct
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from texbake.errors import UserError
from texbake.garment.gltf import read_gltf
from texbake.garment.obj import read_obj
from texbake.garment.ply import read_ply
from texbake.garment.raw import Raw

SQUARE = np.array([[0, 0, 0], [1, 0, 0], [1, 1, 0], [0, 1, 0]], "<f4")
OBJ = (
    b"o vest\ng front\nusemtl drill\nv 0 0 0\nv 1 0 0\nv 1 1 0\nv 0 1 0\nvt 0 0\nvt 1 0\nvt 1 1\n"
    b"vt 0 1\nvn 0 0 1\nf 1/1/1 2/2/1 3/3/1 4/4/1\nf -4/-4 -2/-2 -1/-1\nl 1 2\n"
)
PLY = (
    b"ply\nformat ascii 1.0\nelement vertex 3\nproperty float x\nproperty float y\n"
    b"property float z\nproperty float s\nproperty float t\nelement face 1\n"
    b"property list uchar int vertex_indices\nend_header\n"
    b"0 0 0 0 0\n1 0 0 1 0\n0 2 0 0 1\n3 0 1 2\n"
)
PLY_BYTES = (
    PLY[: PLY.index(b"0 0 0 0 0")].replace(b"ascii", b"binary_little_endian")
    + np.arange(15, dtype="<f4").tobytes()
    + struct.pack("<B3i", 3, 0, 1, 2)
)


def glb() -> bytes:
    data = SQUARE.tobytes() + np.ascontiguousarray(SQUARE[:, :2]).tobytes() + b"\0\1\2\0\2\3"
    accessor = {"componentType": 5126, "count": 4}
    tree = {
        "asset": {"version": "2.0"},
        "scenes": [{"nodes": [0]}],
        "nodes": [{"mesh": 0, "rotation": [0, 0, 0, 1], "scale": [1, -1, 1], "children": []}],
        "materials": [{"name": "drill"}],
        "meshes": [
            {
                "primitives": [
                    {
                        "attributes": {"POSITION": 0, "TEXCOORD_0": 1},
                        "indices": 2,
                        "material": 0,
                    }
                ]
            }
        ],
        "accessors": [
            {**accessor, "bufferView": 0, "type": "VEC3"},
            {**accessor, "bufferView": 1, "type": "VEC2"},
            {"componentType": 5121, "count": 6, "bufferView": 2, "type": "SCALAR"},
        ],
        "bufferViews": [
            {"buffer": 0, "byteLength": 48},
            {"buffer": 0, "byteOffset": 48, "byteLength": 32},
            {"buffer": 0, "byteOffset": 80, "byteLength": 6},
        ],
        "buffers": [{"byteLength": len(data)}],
    }
    text = json.dumps(tree).encode()
    body = struct.pack("<I4s", len(text), b"JSON") + text
    body += struct.pack("<I4s", len(data), b"BIN\0") + data
    return struct.pack("<4sII", b"glTF", 2, 12 + len(body)) + body


def gltf(path: Path, data: bytes) -> Raw:
    return read_gltf(path, data, uv_set=0)


CASES = [(read_obj, OBJ), (read_ply, PLY), (read_ply, PLY_BYTES), (gltf, glb())]
Reader = Callable[[Path, bytes], Raw]


@pytest.mark.parametrize(("reader", "data"), CASES)
def test_the_whole_files_are_read(reader: Reader, data: bytes) -> None:
    raw = reader(Path("vest"), data)
    assert len(raw.faces) >= 1
    assert raw.faces.max() < len(raw.points)


def read_or_refused(reader: Reader, data: bytes) -> None:
    """Any error but a ``UserError`` passes through and fails the test."""
    try:
        raw = reader(Path("vest"), data)
    except UserError:
        return
    assert np.isfinite(raw.points).all()
    assert np.isfinite(raw.uv).all()
    assert raw.faces.min() >= 0
    assert raw.faces.max() < len(raw.points)


@pytest.mark.parametrize(("reader", "data"), CASES)
@settings(max_examples=100, deadline=None)
@given(draw=st.data())
def test_altered_files_are_read_or_refused(
    reader: Reader, data: bytes, draw: st.DataObject
) -> None:
    edit = st.tuples(
        st.integers(0, len(data) - 1),
        st.integers(0, 6),
        st.binary(max_size=4)
        | st.sampled_from([b"-", b"9", b"1e9", b"nan", b'"', b"{}", b"/", b"\n"]),
    )
    changed = data
    for at, length, new in draw.draw(st.lists(edit, min_size=1, max_size=3)):
        changed = changed[:at] + new + changed[at + length :]
    read_or_refused(reader, changed)


@settings(max_examples=60, deadline=None)
@given(draw=st.data())
def test_a_gltf_with_any_field_replaced_is_read_or_refused(draw: st.DataObject) -> None:
    whole = glb()
    size = struct.unpack_from("<I", whole, 12)[0]
    tree, binary = json.loads(whole[20 : 20 + size]), whole[28 + size :]
    at = tree
    way = []
    while isinstance(at, (dict, list)) and at:
        keys = list(at) if isinstance(at, dict) else list(range(len(at)))
        way.append((at, draw.draw(st.sampled_from(keys))))
        at = at[way[-1][1]]
    holder, key = way[draw.draw(st.integers(0, len(way) - 1))]
    holder[key] = draw.draw(
        st.none()
        | st.booleans()
        | st.integers()
        | st.floats()
        | st.text(max_size=5)
        | st.sampled_from([[], {}, [[]], [None], {"a": 1}, 10**30, -1, 2, 1e308])
    )
    text = json.dumps(tree).encode()
    body = struct.pack("<I4s", len(text), b"JSON") + text
    body += struct.pack("<I4s", len(binary), b"BIN\0") + binary
    read_or_refused(gltf, struct.pack("<4sII", b"glTF", 2, 12 + len(body)) + body)
