"""Stair-steps: seen where they are, mended within half a level, edges kept."""

import numpy as np
import pytest
from numpy.typing import NDArray

from tests.convert_by_hand import angle_deg, codes16, waves
from texbake.convert import height_to_normal
from texbake.convert.border import block, line
from texbake.convert.mend import MEND_RADIUS, mended
from texbake.convert.stairs import ridges, stairs
from texbake.convert.values import Relief

SIDE = 160


def few(levels: int, *, finest: float = 40.0) -> NDArray[np.uint8]:
    """A smooth relief with hard edges, of few levels."""
    height = 0.6 * waves(SIDE, SIDE, finest=finest)
    height[40:80, 50:110] += 0.4
    return np.floor(height * (levels - 1) + 0.5).astype(np.uint8)


def mended_whole(levels: NDArray[np.uint8]) -> NDArray[np.float64]:
    """A picture mended as a whole, wrapping."""
    rows, columns = (line(-MEND_RADIUS, n + MEND_RADIUS, n, "wrap") for n in levels.shape)
    return mended(block(levels, rows, columns), None, 1.0).astype(np.float64)


@pytest.mark.parametrize("levels", [12, 40, 200])
def test_what_is_mended_rounds_to_the_same_levels(levels: int) -> None:
    codes = few(levels)
    assert np.abs(mended_whole(codes) - codes).max() <= 0.5 + 1e-5


def test_edges_of_two_levels_and_more_keep_all_but_one_level() -> None:
    codes = few(60)
    after = mended_whole(codes)
    for axis in (0, 1):
        before, now = (np.diff(p.astype(np.float64), axis=axis) for p in (codes, after))
        edges = np.abs(before) >= 2.0
        assert edges.sum() >= 80
        assert (np.abs(now[edges]) >= np.abs(before[edges]) - 1.0 - 1e-4).all()
    # The block of 24 levels and more still rises between two texels.
    assert (after[40, 55:105] - after[39, 55:105]).min() > 20.0


def test_a_plateau_beside_an_edge_stays_level() -> None:
    step: NDArray[np.uint8] = np.full((SIDE, SIDE), 30, np.uint8)
    step[:, 60:] = 80
    step[:, 100:] = 78
    np.testing.assert_array_equal(mended_whole(step), step)


@pytest.mark.parametrize(("levels", "gain"), [(24, 4.0), (64, 3.0)])
def test_normals_come_nearer_to_those_before_rounding(levels: int, gain: float) -> None:
    height = waves(SIDE, SIDE, finest=48.0)
    codes = np.floor(height * (levels - 1) + 0.5).astype(np.uint8)
    true = height_to_normal(
        height.astype(np.float32), depth_mm=20, texel_mm=1, edge="wrap", bits=None
    )
    depth = 20 * 255 / (levels - 1)
    plain, mend = (
        height_to_normal(codes, depth_mm=depth, texel_mm=1, edge="wrap", bits=None, mend=m)
        for m in (False, True)
    )
    before, after = (np.sqrt(np.square(angle_deg(n, true)).mean()) for n in (plain, mend))
    assert after < before / gain


def test_mending_does_not_leave_through_empty_texels() -> None:
    codes = few(30)
    covered = np.ones(codes.shape, np.bool_)
    covered[:, 70:90] = False
    found = []
    for fill in (0, 200):
        filled = np.where(covered, codes, fill).astype(np.uint8)
        found.append(height_to_normal(filled, depth_mm=20, texel_mm=1, alpha=covered, mend=True))
    np.testing.assert_array_equal(found[0], found[1])


def test_few_levels_of_a_smooth_relief_are_stair_steps() -> None:
    codes = few(30)
    found = stairs(Relief(samples=codes))
    assert found.levels == np.unique(codes).size
    assert found.step == 1.0
    assert found.lone_share > 0.5
    # A level is 1/255; over texels of 0.1 mm and 5 mm depth it rises by 0.196, half in a texel.
    slope = 5.0 / 0.1 / 255.0
    assert found.ridge_deg(slope) == pytest.approx(np.degrees(np.arctan(0.098)), rel=1e-2)
    assert found.seen(slope)
    assert not found.seen(slope / 100.0)


def test_eight_bits_in_a_picture_of_sixteen_are_found_out() -> None:
    found = stairs(Relief(samples=few(30).astype(np.uint16) * 257))
    assert found.step == 257.0
    assert found.lone_share > 0.4


def test_floats_of_few_levels_are_found_out() -> None:
    found = stairs(Relief(samples=(few(50) / np.float32(49)).astype(np.float32)))
    assert found.levels == np.unique(few(50)).size
    assert found.step == pytest.approx(1 / 49, rel=1e-3)
    many = stairs(Relief(samples=waves(SIDE, SIDE).astype(np.float32)))
    assert (many.levels, many.step, many.lone_share) == (0, 0.0, 0.0)


def test_sixteen_bits_noise_edges_and_one_grey_are_no_stair_steps() -> None:
    noise = np.random.default_rng(5).integers(0, 256, (SIDE, SIDE)).astype(np.uint8)
    blocks = np.kron(noise[:20, :20] // 8 * 8, np.ones((8, 8))).astype(np.uint8)
    flicker = 90 + noise % 3
    for samples in (codes16(waves(SIDE, SIDE)), noise, blocks // 2, flicker):
        assert stairs(Relief(samples=samples)).lone_share < 0.25
    assert stairs(Relief(samples=noise * 0)).levels == 1


def test_what_is_empty_is_not_looked_at() -> None:
    codes = few(30)
    covered = np.ones(codes.shape, np.bool_)
    covered[:60] = False
    codes[:60] = np.arange(SIDE) % 256
    found = stairs(Relief(samples=codes, covered=covered))
    assert found.levels <= 30
    assert found.step == 1.0


def test_ridges_are_counted_at_lone_steps_only() -> None:
    before = np.tile(np.array([0, 0, 0, 1, 1, 1, 5, 5, 5], np.float32), (6, 1))
    squares, count = ridges(before, before, 1.0)
    assert (squares, count) == (6.0, 6)  # one lone step of a level in each of six rows
    ramp = np.tile(np.linspace(0.0, 3.0, 9, dtype=np.float32), (6, 1))
    squares, count = ridges(before, ramp, 1.0)
    assert count == 6
    assert squares == pytest.approx(0.0, abs=1e-10)
