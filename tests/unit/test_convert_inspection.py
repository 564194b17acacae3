"""Inspecting normal maps: convention, lengths, mean, clipping, wrapping."""

import numpy as np
import pytest
from numpy.typing import NDArray

from tests.convert_by_hand import codes16, waves
from texbake.arrays import F32
from texbake.convert import height_to_normal, inspect
from texbake.convert.inspection import border_jumps
from texbake.convert.values import Bits, Green

BITS: tuple[Bits | None, ...] = (8, 16, None)
GREENS: tuple[Green, ...] = ("up", "down")


def bricks() -> F32:
    """A wall whose joints run along the axes, blurred a little; it wraps."""
    from scipy import ndimage

    rows, columns = np.mgrid[:192, :192]
    joint = (rows % 32 < 3) | ((columns + 32 * (rows // 32 % 2)) % 64 < 3)
    wall: F32 = ndimage.gaussian_filter(np.where(joint, 0.0, 1.0), 1.2, mode="wrap").astype(
        np.float32
    )
    return wall


@pytest.mark.parametrize("bits", BITS)
@pytest.mark.parametrize("green", GREENS)
@pytest.mark.parametrize("depth", [0.4, 4.0, 60.0])
def test_the_convention_is_told(bits: Bits | None, green: Green, depth: float) -> None:
    height = codes16(waves(160, 200, finest=16.0))
    seen = inspect(
        height_to_normal(height, depth_mm=depth, texel_mm=1, edge="wrap", bits=bits, green=green)
    )
    assert seen.green == green
    assert (seen.agreement > 0) == (green == "up")
    assert (seen.width_px, seen.height_px, seen.bits) == (200, 160, bits or 32)


@pytest.mark.parametrize("green", GREENS)
def test_walls_and_mended_stairs_are_told_too(green: Green) -> None:
    normals = height_to_normal(bricks(), depth_mm=4, texel_mm=1, edge="wrap", green=green)
    assert inspect(normals).green == green
    few = np.floor(waves(200, 200, finest=40.0) * 30).astype(np.uint8)
    normals = height_to_normal(few, depth_mm=60, texel_mm=1, edge="wrap", green=green, mend=True)
    assert inspect(normals).green == green


@pytest.mark.parametrize("green", GREENS)
def test_slopes_so_gentle_that_rounding_hides_them_are_told(green: Green) -> None:
    height = codes16(waves(256, 256, finest=60.0))
    normals = height_to_normal(height, depth_mm=0.6, texel_mm=1, edge="wrap", green=green)
    assert np.unique(normals[..., 0]).size < 10
    assert inspect(normals).green == green


def test_what_cannot_be_told_is_not_told() -> None:
    stripes = np.tile(np.sin(np.arange(128) / 3).astype(np.float32), (128, 1))
    for height in (stripes, stripes.T, np.zeros((64, 64), np.float32)):
        assert inspect(height_to_normal(height, depth_mm=2, texel_mm=1)).green is None
    noise = np.random.default_rng(2).integers(0, 256, (128, 128, 3)).astype(np.uint8)
    assert inspect(noise).green is None


def test_lengths_are_measured() -> None:
    vectors = height_to_normal(codes16(waves(60, 60)), depth_mm=4, texel_mm=1, bits=None)
    good = inspect(vectors)
    assert good.length_worst < 1e-6
    assert good.off_share == 0.0
    vectors[:30] *= 0.9
    half = inspect(vectors)
    assert half.length_mean == pytest.approx(0.05, abs=1e-3)
    assert half.length_worst == pytest.approx(0.1, abs=1e-3)
    assert half.off_share == 0.5
    codes = height_to_normal(codes16(waves(60, 60)), depth_mm=4, texel_mm=1)
    assert inspect(codes).length_worst <= 0.5 / 127.5 + 1e-9


def test_mean_and_steepest_angle_are_measured() -> None:
    rows, columns = np.mgrid[:40, :40]
    incline = (0.1 * columns + 0.2 * rows).astype(np.float32)
    seen = inspect(height_to_normal(incline, depth_mm=1, texel_mm=1, bits=None))
    np.testing.assert_allclose(seen.mean, np.array([-0.1, 0.2, 1]) / np.sqrt(1.05), atol=1e-5)
    tilt = np.degrees(np.arctan(np.sqrt(0.05)))
    assert seen.tilt_deg == pytest.approx(tilt, abs=1e-3)
    assert seen.steepest_deg == pytest.approx(tilt, abs=1e-2)
    assert seen.flat_share == 0.0


def test_both_codes_beside_the_middle_are_flat() -> None:
    for code in ((128, 128, 255), (128, 127, 255)):
        seen = inspect(np.full((8, 8, 3), code, np.uint8))
        assert seen.flat_share == 1.0
        assert (seen.steepest_deg, seen.tilt_deg) == (0.0, 0.0)


def test_clipping_is_counted() -> None:
    normals: NDArray[np.uint8] = np.full((10, 10, 3), (128, 128, 255), np.uint8)
    normals[0] = (255, 128, 128)
    normals[1] = (128, 0, 128)
    normals[2, :5] = (90, 128, 100)
    assert inspect(normals).clipped_share == pytest.approx(0.25)


def test_wrapping_is_told() -> None:
    whole = height_to_normal(codes16(waves(128, 128)), depth_mm=6, texel_mm=1, edge="wrap")
    for normals, across, down in (
        (whole, True, True),
        (whole[:, :101], False, True),
        (whole[:93], True, False),
        (whole[:93, :101], False, False),
        (height_to_normal(bricks(), depth_mm=4, texel_mm=1, edge="wrap"), True, True),
    ):
        seen = inspect(normals)
        assert (seen.wraps_across, seen.wraps_down) == (across, down)


def test_border_jumps_of_heights() -> None:
    height = codes16(waves(128, 128))
    assert max(border_jumps(height)) < 1.25
    assert border_jumps(height[:, :90])[0] > 3.0
    assert border_jumps(np.zeros((5, 5), np.uint8)) == (0.0, 0.0)
    assert border_jumps(np.zeros((1, 1), np.uint8)) == (0.0, 0.0)


def test_what_is_no_normal_map_is_refused() -> None:
    for wrong in (np.zeros((3, 3), np.uint8), np.zeros((3, 3, 2), np.uint8)):
        with pytest.raises(ValueError, match="normals are"):
            inspect(wrong)
