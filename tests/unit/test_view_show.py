"""The picture of a garment, from end to end."""

from dataclasses import replace

import numpy as np
import pytest

from tests.seen_by_hand import flat_uv, plain_maps, surface
from tests.unit.test_view_frames import tube
from texbake.errors import UserError, UserErrors
from texbake.garment.values import Chain, Garment
from texbake.maps import MapArrays
from texbake.view import AZIMUTHS_DEG, show_picture
from texbake.view.draw import Scene, render
from texbake.view.frames import model_of
from texbake.view.near import near_camera, panel_to_show
from texbake.view.studio import ground_under, studio_lights
from texbake.view.views import cells


def sleeve() -> Garment:
    """A tube whose front, at +Z, is in the middle of its map."""
    return surface(24, 8, lambda s, t: tube(s + 0.5, t), uv=flat_uv)


def halves(left: int, right: int) -> MapArrays:
    maps = plain_maps(64)
    maps.albedo[:, :32] = left
    maps.albedo[:, 32:] = right
    return maps


def test_threads_and_bands_never_change_a_byte() -> None:
    made = sleeve()
    model = model_of(made)
    ground = ground_under(model)
    scene = Scene(model=model, maps=halves(40, 200), lights=studio_lights(), ground=ground)
    size = (150, 110)
    placed = cells(model, ("front", "three-quarter"), size, floor_mm=ground.floor_mm)
    first = render(scene, placed, size, threads=1)
    assert np.array_equal(first, render(scene, placed, size, threads=3, band_pixels=500))
    assert first.shape == (110, 150, 3)
    assert first.dtype == np.uint8


@pytest.mark.parametrize(
    ("view", "bright_side"), [("front", "right"), ("back", "left"), ("left", "all")]
)
def test_the_wearers_left_is_at_the_right_of_the_front(view: str, bright_side: str) -> None:
    # The tube's +X half is white, the other black.
    picture = show_picture(sleeve(), halves(20, 255), views=(view,), size=(120, 120))
    middle = picture[40:80, 50:70].mean(axis=(0, 2))
    sides = {"left": middle[:5].mean(), "right": middle[-5:].mean()}
    if bright_side == "all":
        assert min(sides.values()) > 110
    else:
        dark_side = {"left": "right", "right": "left"}[bright_side]
        assert sides[bright_side] > 2 * sides[dark_side]


def test_the_garment_is_whole_with_a_margin_and_in_the_middle() -> None:
    picture = show_picture(sleeve(), plain_maps(albedo=10), views=("front",), size=(200, 200))
    rows, columns = np.nonzero(picture.max(axis=2) < 90)
    assert 5 < rows.min() < 20
    assert 150 < rows.max() < 195
    assert abs((columns.min() + columns.max()) / 2 - 99.5) < 2


def test_wide_garments_are_shown_above_each_other_and_tall_ones_side_by_side() -> None:
    tall = model_of(sleeve())
    wide = model_of(surface(8, 8, lambda s, t: np.stack([900 * s, 300 * t, 50 * s * t], -1)))
    for model, tops in ((tall, {0}), (wide, {0, 150})):
        placed = cells(model, ("front", "back"), (400, 300), floor_mm=-20.0)
        assert {cell.top for cell in placed} == tops
        assert len({cell.camera.focal_px for cell in placed}) == 1


def test_five_views_share_one_picture_without_overlap() -> None:
    model = model_of(surface(8, 8, lambda s, t: np.stack([900 * s, 300 * t, 50 * s * t], -1)))
    placed = cells(model, tuple(AZIMUTHS_DEG), (500, 401), floor_mm=-20.0)
    used = np.zeros((401, 500), np.int64)
    for cell in placed:
        wide, high = cell.camera.size_px
        used[cell.top : cell.top + high, cell.left : cell.left + wide] += 1
    assert used.max() == 1


def test_a_garment_without_normals_is_shown() -> None:
    made = sleeve()
    assert made.mesh.normals is None
    assert show_picture(made, plain_maps(), size=(128, 64)).std() > 5


@pytest.mark.parametrize(
    ("views", "size", "words"),
    [
        (("frnt",), (100, 100), ["'frnt'", "did you mean front?", "three-quarter"]),
        ((), (100, 100), ["no view", "front, back"]),
        (("front",), (63, 100), ["width", "63", "64 to 8192"]),
        (("front",), (100, 8193), ["height", "8193", "64 to 8192"]),
        (("front", "back"), (100, 100), ["2 views", "100 px", "wider"]),
    ],
)
def test_wrong_views_and_sizes_are_told(
    views: tuple[str, ...], size: tuple[int, int], words: list[str]
) -> None:
    with pytest.raises(UserError) as caught:
        show_picture(sleeve(), plain_maps(), views=views, size=size)
    for word in words:
        assert word in str(caught.value)


def test_all_that_is_wrong_is_told_at_once() -> None:
    with pytest.raises(UserErrors) as caught:
        show_picture(sleeve(), plain_maps(), views=("above", "below"), size=(1, 1))
    assert len(caught.value.errors) == 4


@pytest.mark.parametrize("name", ["panel-O", "all"])
def test_a_panel_that_there_is_not_is_told(name: str) -> None:
    with pytest.raises(UserError, match="panel-0"):
        show_picture(sleeve(), plain_maps(), near=name, size=(64, 64))


def test_a_close_up_is_ninety_millimetres_of_the_panel() -> None:
    # Stripes of 10 mm, read off the picture: 200 mm of sheet over 1000 texels.
    sheet = surface(20, 20, lambda s, t: np.stack([200 * s, 200 * t, 0 * s], axis=-1), uv=flat_uv)
    maps = plain_maps(1000)
    maps.albedo[:, (np.arange(1000) // 50) % 2 == 0] = 10
    picture = show_picture(sheet, maps, near="panel-0", size=(450, 300))
    row = picture[150, :, 0].astype(float)
    edges = np.flatnonzero(np.diff((row > row.mean()).astype(int)))
    assert np.diff(edges).mean() == pytest.approx(450 / 9.0, rel=0.01)


def test_a_close_up_looks_for_a_sewn_edge_and_no_gap() -> None:
    sheet = surface(20, 20, lambda s, t: np.stack([400 * s, 400 * t, 0 * s], axis=-1), uv=flat_uv)
    arc = np.linspace(0, 400, 21)
    ends = np.stack([arc, np.full(21, 400.0), np.zeros(21)], axis=1)
    hem = Chain(
        kind="hem",
        panels=(0, -1),
        face=(np.zeros(20, np.int32), np.zeros(0, np.int32)),
        pattern_mm=(np.zeros((20, 2, 2)), np.zeros((0, 2, 2))),
        points_mm=np.stack([ends[:-1], ends[1:]], axis=1),
        arc_mm=np.stack([arc[:-1], arc[1:]], axis=1),
        length_mm=400.0,
        closed=False,
    )
    made = replace(sheet, chains=(hem,))
    camera = near_camera(made, model_of(made), panel_to_show(made, "panel-0"), (400, 300))
    below = 400.0 - camera.eye_mm[1]
    assert 10 < below < 45, "the hem is 33.75 mm or less above the middle"
    assert 45 < camera.eye_mm[0] < 355


def test_a_close_up_of_one_steep_triangle_is_drawn() -> None:
    sheet = surface(1, 1, lambda s, t: np.stack([400 * s, 100 * t, 400 * s], axis=-1), uv=flat_uv)
    picture = show_picture(sheet, plain_maps(albedo=10), near="panel-0", size=(90, 64))
    assert picture[32, 45].max() < 100
