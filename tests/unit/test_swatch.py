"""A swatch tiles: whatever it is of, the cloth goes on over its border."""

import functools
from dataclasses import replace

import numpy as np
import pytest

from tests.flat_cloth import ECRU, FABRICS, INK, MELANGE, yarn
from texbake import cloth
from texbake.arrays import F64
from texbake.recipe import Fabric
from texbake.recipe.values import (
    Cable,
    Coated,
    Fleece,
    Interlock,
    Jersey,
    Leather,
    Plain,
    Terry,
    Tulle,
)
from texbake.swatch import Piece, cut, whole_size
from texbake.swatch.body import curtain, flat
from texbake.swatch.pictures import PX_MM, folded, life_size, on_board, times
from texbake.swatch.run import four

KNIT = Fabric(name="k", structure=Jersey(), yarn=yarn(30), wales_per_cm=10, courses_per_cm=14)
SPACED = yarn(84, 11, melange=MELANGE, spaced_mm=6.0)
MORE = {
    "raised jersey": replace(KNIT, raised=0.6),
    "interlock": replace(KNIT, structure=Interlock()),
    "cable": replace(KNIT, structure=Cable()),
    "terry": replace(KNIT, structure=Terry()),
    "marled knit": replace(KNIT, yarn=yarn(84, plies=2, marl=(ECRU, INK))),
    "spaced": Fabric(name="s", structure=Plain(), warp=SPACED, weft=SPACED, scale=2.0),
    "fleece": Fabric(name="f", structure=Fleece(), yarn=yarn(60, melange=MELANGE)),
    "leather": Fabric(name="l", structure=Leather(), yarn=yarn(60)),
    "coated": Fabric(name="c", structure=Coated(), yarn=yarn(60)),
    "tulle": Fabric(name="t", structure=Tulle(), yarn=yarn(10), wales_per_cm=6, courses_per_cm=6),
}
ALL = {**FABRICS, **MORE}
SIDE = 96


def swatch(fabric: Fabric, width_mm: float = 30.0, start: tuple[int, int] = (0, 0)) -> Piece:
    _, size, _ = whole_size(fabric, width_mm)
    return cut(fabric, size, SIDE, tiling=True, start_px=start, threads=1)


@functools.cache
def plain_swatch(name: str) -> Piece:
    return swatch(ALL[name])


@pytest.mark.parametrize("name", ALL)
def test_a_tile_is_as_large_as_the_repeat_says(name: str) -> None:
    fabric = ALL[name]
    tile = cloth.render(fabric, 8)
    whole = cloth.repeat_of(fabric).whole_mm
    for mm, span in zip(whole, (tile.width_mm, tile.length_mm), strict=True):
        count = mm / (span * fabric.scale)
        assert count == pytest.approx(round(count), rel=1e-6)
        assert round(count) >= 1


@pytest.mark.parametrize("name", ALL)
def test_the_cloth_past_the_border_is_the_cloth_at_the_other(name: str) -> None:
    """The same cloth read from elsewhere is the swatch rolled: nothing ends at its border."""
    here, there = plain_swatch(name), swatch(ALL[name], start=(50, 77))
    for one, other in zip(here.maps.images, there.maps.images, strict=True):
        rolled = np.roll(one, (-77, -50), (0, 1)).astype(np.float64)
        off = np.abs(rolled - other) / np.iinfo(one.dtype).max * 255.0
        assert off.max() <= 1.0  # places are float32: at most a rounding of the code
        assert (off > 0.01).mean() < 0.01


@pytest.mark.parametrize("name", ALL)
def test_no_border_shows(name: str) -> None:
    """Over the border values jump no more than between columns and rows inside, by the worst."""
    maps = plain_swatch(name).maps
    planes = [maps.height, *np.moveaxis(maps.normal_up, 2, 0), *np.moveaxis(maps.albedo, 2, 0)]
    for plane in planes:
        for axis in (0, 1):
            jumps = jumps_along(plane.astype(np.float64), axis)
            assert jumps[-1] <= 1.15 * jumps[:-1].max() + 0.3, axis


def jumps_along(plane: F64, axis: int) -> F64:
    """Mean jump to the next row or column; the last is over the border."""
    return np.asarray(np.abs(np.roll(plane, -1, axis) - plane).mean(1 - axis), np.float64)


def test_cloth_that_is_not_made_to_tile_has_a_border_that_shows() -> None:
    """The test above can fail: the same size of cloth, with streaks that do not come again."""
    fabric = FABRICS["tartan"]
    size = whole_size(fabric, 30.0)[1]
    here = cut(fabric, size, SIDE, threads=1).maps.albedo.astype(np.float64)
    there = cut(fabric, size, SIDE, start_px=(50, 77), threads=1).maps.albedo
    assert np.abs(np.roll(here, (-77, -50), (0, 1)) - there).max() > 8.0


def test_sides_are_whole_repeats_and_nearly_square() -> None:
    fabric = FABRICS["drill"]
    repeat, (width, length), (across, along) = whole_size(fabric, 100.0)
    assert (width, length) == pytest.approx((across * repeat.size_mm[0], along * repeat.size_mm[1]))
    assert width == pytest.approx(100.0, abs=0.5 * repeat.size_mm[0])
    assert length == pytest.approx(width, abs=0.5 * repeat.size_mm[1])


def test_a_wide_repeat_is_taken_whole() -> None:
    repeat, (width, _), count = whole_size(FABRICS["tartan"], 10.0)
    assert count == (1, 1)
    assert width == repeat.whole_mm[0] > 10.0


def test_threads_and_bands_change_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    one = swatch(FABRICS["slub"])
    monkeypatch.setattr("texbake.swatch.piece.BAND_TEXELS", 1000)
    size = whole_size(FABRICS["slub"], 30.0)[1]
    other = cut(FABRICS["slub"], size, SIDE, tiling=True, threads=3)
    for a, b in zip(one.maps.images, other.maps.images, strict=True):
        assert np.array_equal(a, b)


def test_four_are_the_swatch_two_by_two() -> None:
    piece = swatch(MORE["tulle"])
    whole = four(piece)
    assert whole.width_mm == 2.0 * piece.width_mm
    for small, large in zip(piece.maps.images, whole.maps.images, strict=True):
        assert large.shape[:2] == (2 * SIDE, 2 * SIDE)
        assert np.array_equal(large[SIDE:, SIDE:], small)


def test_cloth_lies_in_folds_without_stretch() -> None:
    """Law 1's sense: lengths along each row of the curtain are those of the cloth."""
    model = curtain(200.0, 180.0)
    points, uv = model.points_mm, model.uv
    level = np.isclose(uv[:, 0, 1], uv[:, 1, 1])  # the first edge runs along a row
    span = np.linalg.norm(points[level, 1] - points[level, 0], axis=1)
    wanted = np.abs(uv[level, 1, 0] - uv[level, 0, 0]) * 200.0
    assert np.sqrt(((span / wanted - 1.0) ** 2).mean()) < 0.02  # chords of 96 cells
    assert np.allclose(np.linalg.norm(model.normals, axis=2), 1.0, atol=1e-5)
    assert (model.normals[..., 2] > 0.0).all()


def test_a_flat_piece_faces_the_eye() -> None:
    model = flat(20.0, 30.0)
    assert np.ptp(model.points_mm[..., 0]) == 20.0
    assert np.ptp(model.points_mm[..., 1]) == 30.0
    assert np.allclose(model.normals, (0.0, 0.0, 1.0))
    assert np.allclose(model.tangents, (1.0, 0.0, 0.0, 1.0))


def test_a_picture_at_life_size_has_so_many_wales_to_its_width() -> None:
    """96 px are 25.4 mm: corduroy of eleven wales to the inch has eleven there."""
    picture = life_size(FABRICS["corduroy"], 192, threads=1).astype(np.float64).mean((0, 2))
    waves = np.abs(np.fft.rfft(picture - picture.mean()))
    assert int(waves[8:40].argmax()) + 8 == 22
    assert pytest.approx(25.4 / 96.0) == PX_MM


def test_fine_yarns_are_enlarged_more() -> None:
    assert times(FABRICS["satin"]) > times(FABRICS["plain"]) >= times(FABRICS["moss"])
    assert times(replace(FABRICS["satin"], scale=6.0)) == times(FABRICS["satin"])


def test_nets_show_the_board_through_their_holes() -> None:
    maps = swatch(MORE["tulle"]).maps
    assert maps.opacity is not None
    shown = on_board(maps).albedo
    hole, yarns = maps.opacity == 0, maps.opacity == 255
    assert hole.any()
    assert shown[hole].max() < 40
    assert np.array_equal(shown[yarns], maps.albedo[yarns])
    plain = swatch(FABRICS["plain"]).maps
    assert on_board(plain) is plain


def test_folds_have_a_light_and_a_dark_side() -> None:
    picture = folded(four(swatch(FABRICS["felt"])), 64, threads=1).astype(np.float64)
    columns = picture[40:].mean((0, 2))
    assert columns.max() > 1.25 * columns.min()
