"""OBJ as it is met: every oddity that real files and other readers stumble over."""

from pathlib import Path

import numpy as np
import pytest

from texbake.errors import UserError
from texbake.garment.obj import read_obj
from texbake.garment.raw import Raw

SQUARE = """\
v 0 0 0
v 1 0 0
v 1 1 0
v 0 1 0
vt 0 0
vt 1 0
vt 1 1
vt 0 1
"""
QUAD = SQUARE + "f 1/1 2/2 3/3 4/4\n"


def read(text: str | bytes) -> Raw:
    data = text if isinstance(text, bytes) else text.encode()
    return read_obj(Path("ferry-vest.obj"), data)


def refused(text: str | bytes) -> UserError:
    with pytest.raises(UserError) as caught:
        read(text)
    return caught.value


def corners(raw: Raw) -> object:
    return raw.points[raw.faces].tolist()


def test_a_quad_becomes_two_triangles_of_one_polygon() -> None:
    raw = read(QUAD)
    assert raw.faces.tolist() == [[0, 1, 2], [0, 2, 3]]
    assert raw.uv.tolist() == [[[0, 0], [1, 0], [1, 1]], [[0, 0], [1, 1], [0, 1]]]
    assert raw.polygon.tolist() == [0, 0]
    assert raw.faces.dtype == np.int32
    assert raw.uv.dtype == np.float64


@pytest.mark.parametrize(
    "text",
    [
        QUAD.replace("\n", "\r\n"),
        QUAD.replace("\n", "\r"),
        QUAD.replace(" ", "\t"),
        QUAD.replace(" ", "  ").replace("\n", "  \n"),
        "".join(f"   {line}\n" for line in QUAD.splitlines()),
        QUAD.replace("4/4", "\\\n4/4"),
        QUAD.replace("4/4", "\\\r\n  4/4"),
        QUAD.replace("2/2 3/3", "2/2\\\n3/3"),
        QUAD.replace("v 1 1 0", "v 1 1 \\  \n 0"),
        QUAD + "# a comment that ends in a backslash \\\nusemtl drill\n",
        QUAD.replace("f 1/1 2/2 3/3 4/4", "f 1/1 2/2 3/3 4/4 # the front"),
        QUAD.replace("v 1 0 0", "v 1 0 0 # hem").replace("vt 1 1", "vt 1 1 #top"),
        QUAD.replace("f 1/1 2/2 3/3 4/4", "f -4/-4 -3/-3 -2/-2 -1/-1"),
        QUAD.replace("4/4", "4/4/").replace("3/3", "3/3/"),
        "\n\n   \n" + QUAD,
        QUAD.rstrip("\n"),
        "\ufeff" + QUAD,
    ],
)
def test_spacing_comments_and_continuation_change_nothing(text: str) -> None:
    assert corners(read(text)) == corners(read(QUAD))
    assert np.array_equal(read(text).uv, read(QUAD).uv)


@pytest.mark.parametrize("encoding", ["utf-16", "utf-8-sig", "utf-32"])
def test_text_with_a_byte_order_mark_is_decoded(encoding: str) -> None:
    raw = read(("g Ärmel\n" + QUAD).encode(encoding))
    assert raw.groups == ("Ärmel",)
    assert len(raw.faces) == 2


def test_text_that_is_not_utf8_is_read_as_latin_1() -> None:
    assert read(("g Ärmel\n" + QUAD).encode("latin-1")).groups == ("Ärmel",)


def test_utf16_without_a_mark_is_refused_not_read_as_no_faces() -> None:
    assert "UTF-16" in refused(QUAD.encode("utf-16-le")).what


def test_numbers_may_lack_the_nought_and_have_exponents() -> None:
    raw = read(QUAD.replace("v 1 0 0", "v .5 -.25 1e-3").replace("vt 1 0", "vt +.75 1E-1"))
    assert raw.points[1].tolist() == [0.5, -0.25, 0.001]
    assert raw.uv[0, 1].tolist() == [0.75, 0.1]


def test_what_follows_the_position_is_passed_over() -> None:
    colours = QUAD.replace("v 1 0 0", "v 1 0 0 nan nan nan").replace("v 0 1 0", "v 0 1 0 1.0")
    assert np.array_equal(read(colours).points, read(QUAD).points)


def test_texture_points_may_have_one_two_or_three_numbers() -> None:
    raw = read(QUAD.replace("vt 1 0", "vt 1").replace("vt 1 1", "vt 1 1 0.5"))
    assert raw.uv[0].tolist() == [[0, 0], [1, 0], [1, 1]]


def test_negative_indices_count_back_from_their_own_line() -> None:
    text = SQUARE + "f -4/-4 -3/-3 -2/-2\nv 9 9 9\nvt 0.5 0.5\nf -5/-5 -3/-3 -2/-2\n"
    assert read(text).faces.tolist() == [[0, 1, 2], [0, 2, 3]]


def test_positive_indices_may_point_to_lines_further_down() -> None:
    assert len(read("f 1/1 2/2 3/3\n" + SQUARE).faces) == 1


def test_names_are_kept_in_whatever_order_they_come() -> None:
    text = (
        SQUARE
        + "usemtl drill\no vest\ng left front\nf 1/1 2/2 3/3\n"
        + "g\nusemtl lining\nf 1/1 3/3 4/4\n"
        + "usemtl drill\no ferry vest 2\nf 2/2 3/3 4/4\n"
    )
    raw = read(text)
    assert raw.objects == ("vest", "ferry vest 2")
    assert raw.object_of.tolist() == [0, 0, 1]
    assert raw.groups == ("left front", "")
    assert raw.group_of.tolist() == [0, 1, 1]
    assert raw.materials == ("drill", "lining")
    assert raw.material_of.tolist() == [0, 1, 0]


def test_names_without_faces_are_left_out_and_every_triangle_has_its_polygons_name() -> None:
    raw = read(SQUARE + "o empty\ng none\no cuff\nf 1/1 2/2 3/3 4/4\no last\n")
    assert raw.objects == ("cuff",)
    assert raw.object_of.tolist() == [0, 0]


def test_a_name_may_hold_a_hash_and_begin_with_a_letter_that_is_a_keyword() -> None:
    raw = read(SQUARE + "g f An f Three\nusemtl No#1\nf 1/1 2/2 3/3\n")
    assert raw.groups == ("f An f Three",)
    assert raw.materials == ("No#1",)


def test_normals_are_read_at_unit_length_if_every_corner_has_one() -> None:
    normal = "vn 0 0 2\n"
    raw = read(SQUARE + normal + "f 1/1/1 2/2/1 3/3/-1\n")
    assert raw.normals is not None
    assert raw.normals.tolist() == [[[0, 0, 1]] * 3]
    mixed = read(SQUARE + normal + "f 1/1/1 2/2/1 3/3/1\nf 1/1 3/3 4/4\n")
    assert mixed.normals is None
    assert "normal" in mixed.notes[0]


@pytest.mark.parametrize("normals", ["", "vn 0 0 0\n", "vn 0 nan 1\n", "vn a b c\n", "vn 1\n"])
def test_faulty_normals_are_left_out_with_a_note_for_they_are_not_needed(normals: str) -> None:
    raw = read(SQUARE + normals + "f 1/1/1 2/2/1 3/3/1\n")
    assert raw.normals is None
    assert raw.notes[0].startswith("normals left out")


def test_faces_of_two_corners_are_left_out_with_their_line() -> None:
    raw = read(SQUARE + "f 1/1 2/2\nf 1/1 2/2 3/3\n")
    assert raw.faces.tolist() == [[0, 1, 2]]
    assert raw.polygon.tolist() == [1]
    assert "line 9" in raw.notes[0]


def test_points_lines_and_unknown_keywords_are_noted_and_known_ones_are_not() -> None:
    raw = read("mtllib not there.mtl\ns off\n" + QUAD + "l 1 2\nl 2 3\np 1\nt crease 1 2\n")
    assert len(raw.notes) == 1
    assert all(word in raw.notes[0] for word in ("'l' (2)", "'p' (1)", "'t' (1)"))
    assert read("mtllib not there.mtl\ns off\n" + QUAD).notes == ()


def test_a_concave_polygon_is_cut_within_its_outline() -> None:
    arrow = "v 0 0 0\nv 2 1 0\nv 0 2 0\nv 1 1 0\nvt 0 0\nf 3/1 4/1 1/1 2/1\n"
    raw = read(arrow)
    a, b, c = (raw.points[raw.faces[:, k]] for k in range(3))
    area = 0.5 * np.cross(b - a, c - a)[:, 2]
    assert area.min() > 0.0
    assert area.sum() == pytest.approx(1.0)


@pytest.mark.parametrize(
    ("text", "line", "word"),
    [
        (QUAD.replace("4/4", "0/4"), 9, "v 0"),
        (QUAD.replace("4/4", "4/0"), 9, "vt 0"),
        (QUAD.replace("4/4", "5/4"), 9, "v 5"),
        (QUAD.replace("4/4", "4/5"), 9, "vt 5"),
        (QUAD.replace("4/4", "-5/4"), 9, "v -5"),
        ("f -1/-1 -2/-2 -3/-3\n" + SQUARE, 1, "above"),
        (QUAD.replace("4/4", "99999999999999999999/4"), 9, "99999999999999999999/4"),
        (QUAD.replace("4/4", "4/4/1/1"), 9, "4/4/1/1"),
        (QUAD.replace("4/4", "4/x"), 9, "4/x"),
        (QUAD.replace("4/4", "4.0/4"), 9, "4.0/4"),
        (QUAD.replace("4/4", "/4"), 9, "position"),
        (QUAD.replace("v 1 1 0", "v 1 nan 0"), 3, "nan"),
        (QUAD.replace("v 1 1 0", "v 1 -inf 0"), 3, "inf"),
        (QUAD.replace("v 1 1 0", "v 1.#IND 1 0"), 3, "1.#IND"),
        (QUAD.replace("v 1 1 0", "v 1 1e300 0"), 3, "1e300"),
        (QUAD.replace("v 1 1 0", "v 1,5 1 0"), 3, "1,5"),
        (QUAD.replace("v 1 1 0", "v 1 1"), 3, "2 of 3"),
        (QUAD.replace("vt 1 1", "vt 1 nan"), 7, "nan"),
        (QUAD.replace("vt 1 1", "vt"), 7, "0 of 2"),
        (QUAD.replace("vt 1 1", "vt 1 1e9"), 7, "1e9"),
    ],
)
def test_what_cannot_be_is_refused_with_its_line(text: str, line: int, word: str) -> None:
    error = refused(text)
    assert error.line == line
    assert word in error.what
    assert error.fix


def test_a_line_number_counts_the_lines_joined_by_a_backslash() -> None:
    assert refused(SQUARE + "f 1/1 \\\n2/2 \\\n3/3\nf 1/1 2/2 9/9\n").line == 12


def test_faces_without_uvs_are_named_and_counted() -> None:
    text = QUAD + "g yoke\nf 1 2 3\ng cuff\nf 1 3 4\n"
    error = refused(text)
    assert error.line == 11
    assert "2 of 3 faces" in error.what
    assert "lines 11, 13" in error.what
    assert "'yoke'" in error.what
    assert "'cuff'" in error.what
    assert "unwrap" in error.fix


def test_a_mesh_without_any_uvs_says_so() -> None:
    assert "no face has UVs" in refused(SQUARE + "f 1 2 3\nf 1//1 2//1 3//1\n").what


def test_a_file_without_faces_says_what_it_has() -> None:
    what = refused(SQUARE + "p 1 2\nl 1 2 3\n").what
    assert "no faces" in what
    assert all(word in what for word in ("4 'v'", "1 'p'", "1 'l'"))


def test_only_faces_of_two_corners_are_no_faces() -> None:
    assert "no faces" in refused(SQUARE + "f 1/1 2/2\n").what
