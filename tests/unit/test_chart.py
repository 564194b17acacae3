"""The chart of panels: figures checked by hand, and what can be seen in the picture."""

import json
import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from tests.garments_by_hand import box, garment
from tests.garments_by_hand import sheet as cut
from texbake.advice import judge, measure
from texbake.arrays import F64, U8
from texbake.chart import PanelRow, as_json, look, panel_rows, picture, sheet, table, write_picture
from texbake.errors import MachineError, UserError
from texbake.garment.build import build_garment
from texbake.garment.values import Garment, Mesh
from texbake.layout import lay_out

SIZE = 256


def two_squares() -> Garment:
    """Two pieces, 200 mm wide and 300 long, sewn together along one long side; UV 1 m wide."""
    wide, long = 0.2, 0.3
    left = cut(2, 3, box(0.1, 0.1, 0.1 + wide, 0.1 + long))
    right = cut(2, 3, box(0.6, 0.1, 0.6 + wide, 0.1 + long))
    uv = np.concatenate([left, right])
    flat = np.concatenate([cut(2, 3, box(-200, 0, 0, 300)), cut(2, 3, box(0, 0, 200, 300))])
    points = np.concatenate([flat, np.zeros((len(flat), 3, 1))], axis=2)
    zeros = np.zeros(len(uv), np.int32)
    return build_garment(
        Mesh(
            path=Path("apron.obj"),
            points_mm=points.reshape(-1, 3),
            faces=np.arange(3 * len(uv), dtype=np.int32).reshape(-1, 3),
            uv=uv,
            polygon=np.arange(len(uv), dtype=np.int32) // 2,
            object_of=zeros,
            group_of=(np.arange(len(uv)) >= len(left)).astype(np.int32),
            material_of=zeros,
            objects=("apron",),
            groups=("west", "east"),
            materials=("",),
        )
    )


def rows_of(made: Garment, size_px: int = SIZE) -> tuple[PanelRow, ...]:
    return panel_rows(made, lay_out(made, size_px, gutter_px=0))


def turned(uv: F64, degrees: float, *, mirror: bool = False) -> F64:
    """UVs turned about the middle of the square, counter-clockwise; first mirrored in u."""
    a = math.radians(degrees)
    off = (uv - 0.5) * np.array([-1.0 if mirror else 1.0, 1.0])
    turn = np.array([[math.cos(a), math.sin(a)], [-math.sin(a), math.cos(a)]])
    return np.asarray(off @ turn + 0.5)


def test_a_row_has_the_figures_that_a_ruler_gives() -> None:
    west, east = rows_of(two_squares())
    assert (west.name, east.name) == ("west", "east")
    assert (west.number, west.islands, west.faces) == (0, (0,), 12)
    assert west.area_cm2 == pytest.approx(600.0)
    assert (west.width_mm, west.length_mm) == pytest.approx((200.0, 300.0), abs=1e-6)
    (seam,) = west.seams
    assert (seam.name, round(seam.length_mm, 6)) == ("east", 300.0)
    assert west.hem_mm == pytest.approx(200 + 300 + 200)
    # 256 texels to a UV unit, which is 1 m of cloth.
    low, high = west.texels_per_cm_low, west.texels_per_cm_high
    assert (west.texels_per_cm, low, high) == pytest.approx((2.56,) * 3, rel=1e-5)
    assert (west.objects, west.groups, west.materials) == (("apron",), ("west",), ())


@pytest.mark.parametrize("degrees", [0.0, 30.0, 90.0, -120.0, 180.0])
@pytest.mark.parametrize("mirror", [False, True])
def test_grain_turns_with_the_island_and_mirroring_is_told(degrees: float, mirror: bool) -> None:
    flat = cut(2, 2, box(0.3, 0.3, 0.7, 0.7))
    made = garment(turned(flat, degrees, mirror=mirror), pattern_mm=flat * 1000)
    (row,) = rows_of(made)
    assert math.cos(math.radians(row.grain_deg - degrees)) == pytest.approx(1.0, abs=1e-9)
    assert -180.0 <= row.grain_deg <= 180.0
    assert row.mirrored == ("yes" if mirror else "no")


def test_a_fold_in_uv_is_told_as_partly_mirrored() -> None:
    flat = cut(2, 2, box(0.3, 0.3, 0.7, 0.7))
    uv = flat.copy()
    uv[uv[:, :, 0].mean(axis=1) > 0.5] = turned(uv[uv[:, :, 0].mean(axis=1) > 0.5], 0, mirror=True)
    (row,) = rows_of(garment(uv, pattern_mm=flat * 1000))
    assert row.mirrored == "partly"


def test_the_spread_of_texels_leaves_slivers_out() -> None:
    uv = np.concatenate([cut(1, 1, box(0.1, 0.1, 0.5, 0.5)), cut(1, 1, box(0.6, 0.6, 0.9, 0.9))])
    pattern = uv * 1000
    pattern[2:] *= 0.01  # 100 times as dense, on 0.006 % of the cloth
    (row,) = rows_of(garment(uv, pattern_mm=pattern))
    assert row.texels_per_cm_high == pytest.approx(2.56, rel=1e-4)
    pattern[2:] *= 50.0
    (row,) = rows_of(garment(uv, pattern_mm=pattern))
    assert row.texels_per_cm_high == pytest.approx(5.12, rel=1e-4)


def test_the_table_fits_100_columns_whatever_the_names() -> None:
    made = two_squares()
    long = tuple(replace(p, name=f"{p.name} {'of the deck crew ' * 9}") for p in made.panels)
    text = table(rows_of(replace(made, panels=long)))
    assert max(map(len, text.splitlines())) <= 100
    assert "west of the deck " in text


def test_the_table_tells_number_size_seams_and_hem() -> None:
    lines = table(rows_of(two_squares())).splitlines()
    first = next(k for k, line in enumerate(lines) if "west" in line)
    for part in (" 0  west", "600", "200 x 300", "2.56 (2.56..2.56)"):
        assert part in lines[first]
    assert "seams: east 300 mm; hem 700 mm" in lines[first + 1]
    assert "2 panels, 0.12 m2 of cloth" in "\n".join(lines)


def test_json_has_every_field_and_goes_through_a_file() -> None:
    made = two_squares()
    figures = measure(made, lay_out(made, SIZE, gutter_px=0), gutter_px=16)
    whole = json.loads(json.dumps(as_json(rows_of(made), figures, judge(figures))))
    read = whole["panels"]
    assert [entry["name"] for entry in read] == ["west", "east"]
    assert read[0]["seams"] == [{"name": "east", "length_mm": pytest.approx(300.0)}]
    assert set(read[0]) == set(PanelRow.__dataclass_fields__)
    assert whole["sheet"]["unused"] == pytest.approx(1 - 2 * 0.2 * 0.3, abs=0.01)
    assert whole["sheet"]["gaps"][0]["islands"] == [0, 1]
    assert [one["rule"] for one in whole["advice"]] == ["unused"]


def test_the_table_ends_with_what_is_so_of_the_sheet() -> None:
    made = two_squares()
    figures = measure(made, lay_out(made, SIZE, gutter_px=0), gutter_px=16)
    text = " ".join(table(rows_of(made), figures).split())
    assert "UV stretch 1.00 / 1.00" in text
    # 0.3 of 256 texels: 3 * 2**4 = 48 fit in, 96 do not.
    assert "nearest islands 0 and 1, 76.8 texels apart: mip levels to 4 clean" in text


def drawn(made: Garment, size_px: int = 800) -> U8:
    return picture(made, lay_out(made, SIZE, gutter_px=0), size_px=size_px)


def where(image: U8, colour: look.Rgb) -> F64:
    """Pixels (N, 2) of a colour, column and row."""
    row, column = np.nonzero((image == np.array(colour, np.uint8)).all(axis=2))
    return np.stack([column, row], axis=1)


def test_a_picture_is_as_wide_as_asked_and_always_the_same() -> None:
    made = two_squares()
    image = drawn(made)
    assert image.dtype == np.uint8
    assert image.shape[1:] == (800, 3)
    assert image.shape[0] > 800
    assert np.array_equal(image, drawn(made))


def test_both_sides_of_a_seam_have_its_colour_and_no_other_edge_does() -> None:
    made = two_squares()
    image = drawn(made)
    seam = next(k for k, chain in enumerate(made.chains) if chain.kind == "seam")
    at = where(image[:790], look.seam_colour(seam))
    side = 800 - 2 * 24
    u = (at[:, 0] - 24) / side
    west, east = u[u < 0.45], u[u >= 0.45]
    # Right edge of the left piece (u = 0.3) and left edge of the right one (u = 0.6), with letters.
    assert len(west) > 100
    assert len(east) > 100
    assert (west.min(), west.max()) == pytest.approx((0.28, 0.30), abs=0.012)
    assert (east.min(), east.max()) == pytest.approx((0.60, 0.62), abs=0.012)


def test_each_panel_is_filled_where_its_uvs_lie() -> None:
    image = drawn(two_squares())
    side, top = 800 - 2 * 24, 24 + 44
    for panel, middle in ((0, 0.2), (1, 0.7)):
        at = where(image[: top + side], look.panel_colour(panel))
        assert np.median(at[:, 0]) == pytest.approx(24 + middle * side, abs=6)
        assert np.median(at[:, 1]) == pytest.approx(top + (1 - 0.25) * side, abs=12)
        assert len(at) > 0.5 * 0.2 * 0.3 * side * side


@pytest.mark.parametrize("count", [1, 4, 15])
def test_any_number_of_islands_is_drawn_and_every_one_has_its_spot(count: int) -> None:
    step = 1.0 / count
    squares = [
        cut(1, 1, box(i * step + 0.002, j * step + 0.002, (i + 0.9) * step, (j + 0.9) * step))
        for i in range(count)
        for j in range(count)
    ]
    panel = np.repeat(np.arange(count * count, dtype=np.int32), 2)
    made = garment(np.concatenate(squares), panel=panel)
    image = drawn(made, 600)
    assert image.shape[1] == 600
    spots = sheet.spots(made, sheet.Square(left=0, top=0, side=500), (500, 500))
    assert [spot.island for spot in spots] == list(range(count * count))
    for spot in spots:
        # Its middle is free of the border by its room, which is about half the island.
        assert spot.room_px == pytest.approx(0.45 * step * 500, abs=2)


def test_of_islands_on_each_other_the_lower_is_seen_as_in_the_bake() -> None:
    uv = np.concatenate([cut(1, 1, box(0.2, 0.2, 0.8, 0.8))] * 2)
    made = garment(uv, panel=np.array([0, 0, 1, 1], np.int32))
    seen = sheet.island_picture(made, sheet.Square(left=0, top=0, side=100), (100, 100))
    assert set(np.unique(seen)) == {-1, 0}
    assert drawn(made).shape[1] == 800


def test_panels_that_share_an_island_each_have_a_spot_of_their_own() -> None:
    one = cut(2, 1, box(0.1, 0.1, 0.9, 0.5))  # unwrapped across the seam of two panels
    made = garment(one, panel=np.array([0, 0, 1, 1], np.int32))
    made = replace(made, island=np.zeros(4, np.int32))
    left, right = sheet.spots(made, sheet.Square(left=0, top=0, side=500), (500, 500))
    assert (left.part, right.part) == ((0, 0), (0, 1))
    assert left.middle[0] < 250 < right.middle[0]
    assert right.room_px == pytest.approx(100, abs=2)


def test_sides_of_chains_point_into_their_islands() -> None:
    made = two_squares()
    square = sheet.Square(left=0, top=0, side=500)
    seen = sheet.island_picture(made, square, (500, 500))
    runs = sheet.runs(made, square)
    assert {run.kind for run in runs} == {"seam", "hem"}
    for run in runs:
        inner = np.floor(run.inset(4.0)).astype(int)
        assert (seen[inner[1:-1, 1], inner[1:-1, 0]] == run.island).all()


def test_inner_wires_leave_out_the_diagonals_of_the_files_polygons() -> None:
    wires = sheet.wires(two_squares())
    # Per piece of 2 by 3 squares: 10 around, and 3 + 4 sides between squares.
    assert len(wires.rim) == 2 * 10
    assert len(wires.inner) == 2 * 7


def test_dashes_are_equally_long_whole_and_go_round_corners() -> None:
    bent = np.array([[0.0, 0.0], [10.0, 0.0], [10.0, 7.0]])
    parts = look.dashed(bent, 3.0, 2.0)
    lengths = [float(np.hypot(*np.diff(part, axis=0).T).sum()) for part in parts]
    assert lengths == pytest.approx([0.6 * 17 / 3] * 3)
    assert any((part == [10.0, 0.0]).all(axis=1).any() for part in parts)


def test_a_picture_is_written_as_a_png_that_others_read(tmp_path: Path) -> None:
    from PIL import Image

    image = drawn(garment(cut(1, 1, box(0.2, 0.2, 0.8, 0.8))), 400)
    write_picture(tmp_path / "panels.png", image)
    with Image.open(tmp_path / "panels.png") as read:
        assert np.array_equal(np.asarray(read), image)
    with pytest.raises(MachineError, match=r"panels\.png"):
        write_picture(tmp_path / "no such folder" / "panels.png", image)


def test_a_width_out_of_range_is_refused() -> None:
    with pytest.raises(ValueError, match="399"):
        drawn(two_squares(), 399)


def test_a_file_that_is_no_picture_of_panels_is_left_alone(tmp_path: Path) -> None:
    place = tmp_path / "panels.png"
    write_picture(place, np.full((4, 4, 3), 9, np.uint8))
    write_picture(place, np.full((4, 4, 3), 7, np.uint8))  # our own may be replaced
    with Image.open(place) as picture:
        assert (np.asarray(picture) == 7).all()
    place.write_bytes(b"somebody's holiday")
    with pytest.raises(UserError, match="no picture of ours"):
        write_picture(place, np.zeros((4, 4, 3), np.uint8))
    assert place.read_bytes() == b"somebody's holiday"
    assert [p.name for p in tmp_path.iterdir()] == ["panels.png"]
