"""PLY: the same square as words and as bytes, with UVs of vertices or of faces."""

import struct
from pathlib import Path

import pytest

from texbake.errors import UserError
from texbake.garment.ply import read_ply
from texbake.garment.raw import Raw

POINTS = [(0, 0, 0), (1, 0, 0), (1, 1, 0), (0, 1, 0)]
SQUARE_UV = [[[0, 0], [1, 0], [1, 1]], [[0, 0], [1, 1], [0, 1]]]


def header(form: str, names: str = "s t", faces: int = 1) -> bytes:
    columns = "".join(f"property float {name}\n" for name in f"x y z {names}".split())
    return (
        f"ply\nformat {form} 1.0\ncomment by hand\nelement vertex 4\n{columns}"
        f"element face {faces}\nproperty list uchar int vertex_indices\nend_header\n"
    ).encode()


def words(names: str = "s t") -> bytes:
    rows = [" ".join(map(str, [*p, *p[:2]])) for p in POINTS]
    return header("ascii", names) + "\n".join([*rows, "4 0 1 2 3", ""]).encode()


def packed(order: str) -> bytes:
    form = {"<": "binary_little_endian", ">": "binary_big_endian"}[order]
    rows = b"".join(struct.pack(f"{order}5f", *p, *p[:2]) for p in POINTS)
    return header(form) + rows + struct.pack(f"{order}B4i", 4, 0, 1, 2, 3)


def read(data: bytes) -> Raw:
    return read_ply(Path("vest.ply"), data)


def refused(data: bytes) -> UserError:
    with pytest.raises(UserError) as caught:
        read(data)
    assert caught.value.fix
    return caught.value


@pytest.mark.parametrize(
    "data",
    [
        words(),
        words("u v"),
        words("texture_u texture_v"),
        words().replace(b"\n", b"\r\n"),
        words().replace(b"vertex_indices", b"vertex_index"),
        words().replace(b"float", b"float32").replace(b"uchar", b"uint8"),
        packed("<"),
        packed(">"),
    ],
)
def test_words_and_bytes_of_either_order_are_one_mesh(data: bytes) -> None:
    raw = read(data)
    assert raw.points.tolist() == [list(p) for p in POINTS]
    assert raw.faces.tolist() == [[0, 1, 2], [0, 2, 3]]
    assert raw.uv.tolist() == SQUARE_UV
    assert raw.polygon.tolist() == [0, 0]


def test_uvs_of_faces_count_more_than_those_of_vertices() -> None:
    data = words().replace(
        b"vertex_indices\n", b"vertex_indices\nproperty list uchar float texcoord\n"
    )
    data = data.replace(b"4 0 1 2 3", b"4 0 1 2 3 8 .5 0 1 0 1 1 0 1")
    assert read(data).uv[0, 0].tolist() == [0.5, 0.0]
    assert "7 numbers" in refused(data.replace(b"8 .5 0", b"7 .5")).what


def test_faces_of_two_corners_are_left_out() -> None:
    data = words().replace(b"element face 1", b"element face 2")
    raw = read(data.replace(b"4 0 1 2 3", b"2 0 1\n3 1 2 3"))
    assert raw.faces.tolist() == [[1, 2, 3]]
    assert raw.polygon.tolist() == [1]
    assert "less than three" in raw.notes[0]


@pytest.mark.parametrize(
    ("old", "new", "word"),
    [
        (b"float s\n", b"float red\n", "mesh without UVs"),
        (b"float z\n", b"float height\n", "x y z"),
        (b"4 0 1 2 3", b"4 0 1 2 4", "vertex 4"),
        (b"4 0 1 2 3", b"4 0 1 2 -1", "vertex -1"),
        (b"4 0 1 2 3", b"4 0 1 2 1.5", "vertex 1.5"),
        (b"4 0 1 2 3", b"4 0 1 2 nan", "vertex nan"),
        (b"4 0 1 2 3", b"4 0 1 2", "cut short"),
        (b"4 0 1 2 3", b"-4 0 1 2 3", "-4"),
        (b"4 0 1 2 3", b"inf 0 1 2 3", "inf"),
        (b"4 0 1 2 3", b"four 0 1 2 3", "four"),
        (b"4 0 1 2 3", b"2 0 1", "three corners"),
        (b"1 1 0 1 1", b"1 nan 0 1 1", "not finite"),
        (b"1 1 0 1 1", b"1 1 0 1 inf", "not finite"),
        (b"element face 1", b"element face 0", "no faces"),
        (b"element face 1", b"element strip 1", "no faces"),
        (b"element vertex 4", b"element vertex 999999999999", "cut short"),
        (b"end_header", b"end", "header does not end"),
        (b"format ascii 1.0\n", b"", "no format"),
    ],
)
def test_what_cannot_be_is_refused_and_named(old: bytes, new: bytes, word: str) -> None:
    data = words()
    assert old in data
    assert word in refused(data.replace(old, new)).what


def test_a_mistake_in_the_header_is_told_with_its_line() -> None:
    error = refused(words().replace(b"property float y", b"property real y"))
    assert error.line == 6
    assert "property real y" in error.what


@pytest.mark.parametrize("order", ["<", ">"])
def test_bytes_cut_anywhere_are_refused(order: str) -> None:
    whole = packed(order)
    for size in range(4, len(whole)):
        assert "cut short" in refused(whole[:size]).what
