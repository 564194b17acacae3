"""Reading the maps at any size."""

import numpy as np
import pytest

from tests.seen_by_hand import plain_maps
from texbake.arrays import F32
from texbake.colour import srgb_decode
from texbake.maps import MapArrays
from texbake.view.pyramid import ACROSS, ALPHA2, METAL, OCCLUSION, RED, UP, decode, pyramid
from texbake.view.sample import footprint, read_maps


def noisy(size: int = 128) -> MapArrays:
    rng = np.random.default_rng(3)
    maps = plain_maps(size, bits=8)
    maps.albedo[:] = rng.integers(0, 256, maps.albedo.shape)
    maps.normal_up[:] = rng.integers(90, 166, maps.normal_up.shape)
    maps.normal_up[..., 2] = 240
    maps.roughness[:] = rng.integers(100, 256, maps.roughness.shape)
    return maps


def square_steps(count: int, texels: float, size: int) -> F32:
    steps = np.zeros((4, count), np.float32)
    steps[0] = steps[3] = texels / size
    return steps


def places(count: int = 400) -> tuple[F32, F32]:
    rng = np.random.default_rng(9)
    u, v = rng.uniform(0.05, 0.95, (2, count)).astype(np.float32)
    return u, v


def test_codes_are_decoded_as_the_standard_says() -> None:
    maps = plain_maps(4, albedo=128, roughness=200, metal=51, bits=8)
    maps.occlusion[:] = 102
    maps.normal_up[:] = (191, 64, 230)
    texel = decode(maps, slice(0, 1), slice(0, 1))[0, 0]
    x, y, z = (2 * c / 255 - 1 for c in (191, 64, 230))
    light = float(srgb_decode(np.array([128 / 255]))[0])
    assert texel[RED] == pytest.approx(light)
    assert texel[[ACROSS, UP]] == pytest.approx([x / z, y / z], rel=1e-5)
    assert texel[ALPHA2] == pytest.approx((200 / 255) ** 4 + (x / z) ** 2 + (y / z) ** 2, rel=1e-5)
    assert texel[[METAL, OCCLUSION]] == pytest.approx([0.2, 0.4])


def test_sixteen_bits_read_as_eight_do() -> None:
    deep, flat = plain_maps(4, bits=16), plain_maps(4, bits=8)
    flat.normal_up[:] = (150, 100, 230)
    deep.normal_up[:] = flat.normal_up.astype(np.uint16) * 257
    everything = slice(0, 4), slice(0, 4)
    assert decode(deep, *everything) == pytest.approx(decode(flat, *everything), abs=1e-6)


@pytest.mark.parametrize("texels", [0.2, 0.9, 1.7, 5.0, 40.0, 900.0])
def test_plain_cloth_reads_the_same_at_any_distance(texels: float) -> None:
    u, v = places()
    maps = plain_maps(64, albedo=188, roughness=180)
    got = read_maps(pyramid(maps), u, v, square_steps(len(u), texels, 64))
    assert got[RED] == pytest.approx(float(srgb_decode(np.array([188 / 255]))[0]), rel=1e-5)
    assert got[ALPHA2] == pytest.approx((180 / 255) ** 4, rel=1e-4)
    assert got[OCCLUSION] == pytest.approx(1.0)


def test_a_pixel_of_many_texels_reads_their_mean() -> None:
    maps = noisy()
    half = np.array([0.5], np.float32)
    got = read_maps(pyramid(maps), half, half, square_steps(1, 128.0, 128))
    mean = decode(maps, slice(0, 128), slice(0, 128)).mean(axis=(0, 1))
    assert got[:3, 0] == pytest.approx(mean[:3], rel=1e-4)
    variance = mean[ALPHA2] - mean[ACROSS] ** 2 - mean[UP] ** 2
    assert got[ALPHA2, 0] == pytest.approx(variance, rel=1e-4)


def test_texels_larger_than_pixels_are_blended_without_steps() -> None:
    maps = plain_maps(32, albedo=0)
    maps.albedo[:, 16:] = 255
    u = np.linspace(0.4, 0.6, 201, dtype=np.float32)
    got = read_maps(pyramid(maps), u, np.full_like(u, 0.5), square_steps(len(u), 0.05, 32))
    assert got[RED, 0] == 0.0
    assert got[RED, -1] == pytest.approx(1.0)
    assert np.abs(np.diff(got[RED])).max() < 0.06, "a step of a whole texel would be 1"
    at_half = u[np.argmin(np.abs(got[RED] - 0.5))]
    assert at_half == pytest.approx(0.5, abs=0.002)


def test_row_0_is_at_the_top() -> None:
    maps = plain_maps(32, albedo=0)
    maps.albedo[:8] = 255
    v = np.array([0.9, 0.1], np.float32)
    got = read_maps(pyramid(maps), np.full_like(v, 0.5), v, square_steps(2, 1.5, 32))
    assert got[RED].tolist() == [1.0, 0.0]


def test_a_part_of_the_maps_reads_as_the_whole_does() -> None:
    maps = noisy(256)
    u, v = places()
    u, v = 0.55 + 0.2 * u, 0.3 + 0.15 * v
    for texels in (0.3, 1.0, 3.0):
        steps = square_steps(len(u), texels, 256)
        whole = read_maps(pyramid(maps), u, v, steps)
        part = pyramid(maps, window=(0.5, 0.4, 0.8, 0.75))
        assert len(part.texels) < 0.3 * len(pyramid(maps).texels)
        assert np.abs(read_maps(part, u, v, steps) - whole).max() < 1e-4


def test_leaving_out_large_levels_changes_nothing_that_is_read() -> None:
    maps = noisy(256)
    u, v = places()
    steps = square_steps(len(u), 4.5, 256)
    small = pyramid(maps, base=2)
    assert len(small.texels) < 0.1 * len(pyramid(maps).texels)
    assert (
        np.abs(read_maps(small, u, v, steps) - read_maps(pyramid(maps), u, v, steps)).max() < 1e-5
    )


def test_threads_never_change_a_texel() -> None:
    maps = noisy(512)
    for base in (0, 1):
        one, two = pyramid(maps, base=base, threads=1), pyramid(maps, base=base, threads=2)
        assert np.array_equal(one.texels, two.texels)


def test_the_footprint_is_the_ellipse_of_the_steps() -> None:
    # Singular values of random matrices, by numpy's own decomposition.
    steps = np.random.default_rng(2).normal(0.0, 0.01, (4, 50)).astype(np.float32)
    minor, major, x, y = footprint((100, 200), steps)
    for k in range(50):
        matrix = steps[:, k].astype(np.float64).reshape(2, 2).T * [[100.0], [200.0]]
        turned, sizes, _ = np.linalg.svd(matrix)
        assert [major[k], minor[k]] == pytest.approx(sizes.tolist(), rel=1e-3, abs=1e-4)
        along = np.array([x[k] * 100.0, y[k] * 200.0])
        assert abs(along @ turned[:, 0]) == pytest.approx(sizes[0], rel=1e-3)
