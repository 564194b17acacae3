"""What a structure renders: right yarns, right letters, periodic, slopes that are its heights'."""

from dataclasses import replace

import numpy as np
import pytest

from tests.flat_cloth import ECRU, FABRICS, INK, bake_flat, pitch_mm, yarn
from texbake import cloth
from texbake.arrays import F64
from texbake.cloth.chart import loops_of
from texbake.cloth.tile import (
    COVER,
    HEIGHT,
    MOMENT,
    OCCLUSION,
    SLOPE_X,
    SLOPE_Y,
    WEIGHT,
    sky_visibility,
)
from texbake.recipe.values import Fabric, Plain, Rib, Twill

ALL = list(FABRICS)


@pytest.mark.parametrize("name", ALL)
def test_channels_are_finite_and_in_range(name: str) -> None:
    tile = cloth.render(FABRICS[name], 24)
    assert tile.channels.dtype == np.float32
    assert np.isfinite(tile.channels).all()
    assert tile.channels[HEIGHT].min() == 0.0
    for channel in (OCCLUSION, COVER):
        assert tile.channels[channel].min() >= 0.0
        assert tile.channels[channel].max() <= 1.0 + 1e-6
    assert tile.channels[WEIGHT:].min() >= 0.0
    assert tile.channels[WEIGHT:].sum(0).mean() == pytest.approx(1.0, abs=1e-4)
    assert tile.channels[MOMENT].min() >= 0.0


@pytest.mark.parametrize("name", ALL)
def test_a_tile_has_no_edge(name: str) -> None:
    """The step across the border of the tile is no larger than the steps inside it."""
    height = cloth.render(FABRICS[name], 24).channels[HEIGHT].astype(np.float64)
    for axis in (0, 1):
        steps = np.abs(np.diff(height, axis=axis, append=np.take(height, [0], axis)))
        edge, inside = np.take(steps, -1, axis), np.delete(steps, -1, axis)
        assert edge.max() <= 1.5 * inside.max()


@pytest.mark.parametrize("name", ALL)
def test_slopes_are_those_of_the_height(name: str) -> None:
    """Law 4, matched: central differences of the height map give the slopes of the normal map.

    At 24 texels a yarn the two differ only where a texel spans the step between two yarns.
    """
    fabric = FABRICS[name]
    texel = pitch_mm(fabric) / (8.0 if name == "felt" else 24.0)
    baked = bake_flat(fabric, texel, 96)
    # Texel rows run down, y up.
    found = np.stack(
        [
            (baked.height_mm[1:-1, 2:] - baked.height_mm[1:-1, :-2]) / (2 * texel),
            (baked.height_mm[:-2, 1:-1] - baked.height_mm[2:, 1:-1]) / (2 * texel),
        ]
    )
    given = baked.slope[:, 1:-1, 1:-1]
    assert np.corrcoef(found.ravel(), given.ravel())[0, 1] > 0.97
    ratio = np.polyfit(found.ravel(), given.ravel(), 1)[0]
    assert ratio == pytest.approx(1.0, abs=0.15 if name == "felt" else 0.1)  # fibres of one cell


@pytest.mark.parametrize("name", [n for n in ALL if n != "felt"])
def test_scale_makes_cloth_larger_and_not_steeper(name: str) -> None:
    fabric = FABRICS[name]
    texel = pitch_mm(fabric) / 8.0
    small = bake_flat(replace(fabric, scale=1.0), texel, 64)
    large = bake_flat(replace(fabric, scale=3.0), 3.0 * texel, 64)
    np.testing.assert_allclose(large.height_mm, 3.0 * small.height_mm, atol=3e-3)
    np.testing.assert_allclose(large.slope, small.slope, atol=0.02)


def _diagonal(values: F64) -> float:
    """Above 0 where lines lean like the middle stroke of Z (up to the right), below for S.

    Rows run upwards, as in a tile. A line along (1, 1) changes most along (1, -1), so its gradient
    has components of opposite sign.
    """
    up, right = np.gradient(values)
    return float(-(up * right).mean())


@pytest.mark.parametrize(("letter", "sign"), [("Z", 1.0), ("S", -1.0)])
def test_twill_leans_as_its_letter_does(letter: str, sign: float) -> None:
    weave = Twill(over=2, under=2, direction=letter)  # type: ignore[arg-type]
    fabric = Fabric(name="t", structure=weave, warp=yarn(30, 24, INK), weft=yarn(30, 24, ECRU))
    warp = cloth.render(fabric, 16).channels[WEIGHT].astype(np.float64)
    box = np.ones(16) / 16.0  # one yarn's width: what is left is the diagonal
    smooth = np.apply_along_axis(lambda v: np.convolve(np.tile(v, 3), box, "same"), 0, warp)
    smooth = np.apply_along_axis(lambda v: np.convolve(np.tile(v, 3), box, "same"), 1, smooth)
    assert sign * _diagonal(smooth) > 0.0


@pytest.mark.parametrize(("letter", "sign"), [("Z", 1.0), ("S", -1.0)])
@pytest.mark.parametrize("system", [0, 1])
def test_fibres_lean_as_the_letter_of_the_twist(letter: str, sign: float, system: int) -> None:
    """On the warp as seen; on the weft, whose axis lies along x, turn the picture by 90 degrees."""
    spun = [yarn(60, 14, twist=letter), yarn(60, 14, twist=letter)]
    fabric = Fabric(name="p", structure=Plain(), warp=spun[0], weft=spun[1])
    shade = cloth.render(fabric, 96).channels[WEIGHT + system].astype(np.float64)
    ends = len(shade) // 2
    # The middle of one crossing where this system is on top: crown and edges left out.
    on_top = shade[:ends, :ends] if system == 0 else shade[:ends, ends:]
    assert on_top.mean() > 0.3
    middle = on_top[ends // 3 : 2 * ends // 3, ends // 3 : 2 * ends // 3]
    if system == 1:
        middle = np.rot90(middle, axes=(1, 0))  # rows run upwards: this turns +x to +y
    along = middle - middle.mean(0, keepdims=True)
    assert sign * _diagonal(along) > 0.0


def test_the_denser_system_shows_more() -> None:
    drill = cloth.render(FABRICS["drill"], 24).channels[WEIGHT:].mean((1, 2))
    assert drill[0] > 2.0 * drill[1]  # 2/1 twill with twice as many ends as picks: warp-faced
    satin = cloth.render(FABRICS["satin"], 24).channels[WEIGHT:].mean((1, 2))
    assert satin[0] > 0.75


def test_cover_of_plain_weave_is_near_peirce_s() -> None:
    """Peirce's cover takes yarns as round; in cloth they are flatter: ours may only be higher."""
    fabric = FABRICS["plain"]
    assert fabric.warp is not None
    one = cloth.cover_fraction(fabric.warp.count_tex, fabric.warp.per_cm)
    round_cover = cloth.cloth_cover(one, one)
    cover = float(cloth.render(fabric, 48).channels[COVER].mean())
    assert round_cover <= cover <= cloth.cloth_cover(1.25 * one, 1.25 * one)


def test_a_wale_shows_two_legs_and_a_course_repeats() -> None:
    tile = cloth.render(FABRICS["jersey"], 32)
    across = tile.channels[HEIGHT].mean(0)
    crests = (across > np.roll(across, 1)) & (across >= np.roll(across, -1))
    assert crests.sum() == 2
    assert tile.width_mm == pytest.approx(10.0 / 15)
    assert tile.length_mm == pytest.approx(10.0 / 19)


def test_back_wales_of_a_rib_sink_behind_the_face_wales() -> None:
    height = cloth.render(FABRICS["rib"], 32).channels[HEIGHT].mean(0)
    edges = np.round(np.cumsum(loops_of(Rib(face=2, back=2)).width) / 4.0 * len(height))
    by_wale = [part.mean() for part in np.split(height, edges[:-1].astype(int))]
    assert min(by_wale[:2]) > max(by_wale[2:]) + 0.1
    assert edges[1] > 0.55 * len(height)  # and are narrower


def test_sky_visibility_in_the_corner_of_a_long_step_is_half() -> None:
    """Beside a tall straight wall half of a cosine-weighted sky is seen; far away, all of it."""
    height = np.zeros((64, 64), np.float32)
    height[:, 32:] = 1000.0
    seen = sky_visibility(height, (1.0, 1.0), directions=64)
    assert seen[32, 30] == pytest.approx(0.5, abs=0.06)
    assert seen[32, 48] == pytest.approx(1.0, abs=0.02)  # on top of the wall


def test_sky_visibility_in_a_groove_matches_its_closed_form() -> None:
    """Bottom of a V-groove of slope m: horizon cos^2 averaged over azimuth is 1/sqrt(1 + m^2).

    In direction phi the rise is m |cos phi|; the mean of 1 / (1 + m^2 cos^2 phi) over a turn is
    1 / sqrt(1 + m^2) (Gradshteyn and Ryzhik 3.642).
    """
    slope = 1.0
    x = np.abs(np.arange(129) - 64.0).astype(np.float32)
    height = np.tile(slope * x, (129, 1)).astype(np.float32)
    seen = sky_visibility(height, (1.0, 1.0), directions=64)
    assert seen[64, 64] == pytest.approx(1.0 / np.sqrt(1.0 + slope**2), abs=0.02)


def test_moments_hold_the_square_of_the_slopes() -> None:
    tile = cloth.render(FABRICS["felt"], 24)  # never steeper than the bound
    square = 0.5 * (tile.channels[SLOPE_X] ** 2 + tile.channels[SLOPE_Y] ** 2)
    np.testing.assert_allclose(tile.channels[MOMENT], square, atol=1e-5)
