"""Height to normal to height on random smooth fields; and the heights of known normals."""

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import ndimage

from texbake.convert import height_to_normal, normal_to_height
from texbake.convert.values import EDGES, Bits, Edge

BITS: tuple[Bits, ...] = (8, 16)


def random_field(seed: int, edge: Edge, *, sigma: float = 6.0) -> NDArray[np.float64]:
    """Noise under a Gaussian, 0 to 1, that wraps, is even about its border, or lies on a slope."""
    shape = (180, 150)
    noise = np.random.default_rng(seed).standard_normal(shape)
    if edge == "wrap":
        field = ndimage.gaussian_filter(noise, sigma, mode="wrap")
    elif edge == "mirror":
        field = ndimage.gaussian_filter(noise, sigma, mode="reflect")
    else:
        field = ndimage.gaussian_filter(noise, sigma, mode="nearest")
        field = field / np.ptp(field) + np.linspace(0.0, 1.0, shape[1])
    result: NDArray[np.float64] = (field - field.min()) / np.ptp(field)
    return result


@pytest.mark.parametrize("edge", EDGES)
@pytest.mark.parametrize("bits", BITS)
@pytest.mark.parametrize("seed", range(3))
def test_random_smooth_fields_come_back(edge: Edge, bits: Bits, seed: int) -> None:
    field = random_field(seed, edge)
    depth_mm, texel_mm = 4.0, 0.25
    normals = height_to_normal(
        field.astype(np.float32), depth_mm=depth_mm, texel_mm=texel_mm, edge=edge, bits=bits
    )
    found = normal_to_height(normals, texel_mm=texel_mm, edge=edge).astype(np.float64)
    true = depth_mm * (field - field.mean())
    assert np.corrcoef(found.reshape(-1), true.reshape(-1))[0, 1] >= 0.9999
    slope = float((found * true).sum() / (true * true).sum())
    assert abs(slope - 1.0) <= 0.005
    assert np.abs(found - true).max() < 0.01 * depth_mm


def test_least_squares_leaves_out_what_no_height_has() -> None:
    # Frankot and Chellappa 1988: the nearest integrable slopes. A turning field (the gradient of
    # one height, turned by a quarter) is at right angles to all of them: it must not come through.
    height = random_field(7, "wrap")
    gradient = height_to_normal(
        height.astype(np.float32), depth_mm=8, texel_mm=1, edge="wrap", bits=None
    ).astype(np.float64)
    across, down = -gradient[..., 0] / gradient[..., 2], gradient[..., 1] / gradient[..., 2]
    mixed = np.stack([-(across + down), down - across, np.ones_like(across)], axis=-1)
    plain = normal_to_height(gradient.astype(np.float32), texel_mm=1, edge="wrap")
    found = normal_to_height(mixed.astype(np.float32), texel_mm=1, edge="wrap")
    np.testing.assert_allclose(found, plain, atol=2e-3)
    turned = np.stack([-down, -across, np.ones_like(across)], axis=-1).astype(np.float32)
    assert np.abs(normal_to_height(turned, texel_mm=1, edge="wrap")).max() < 2e-3


def test_a_wave_is_solved_to_the_last_digit() -> None:
    # The slopes' means over texels of sin(w x) are sinc times w cos(w x): i w exactly.
    at = np.arange(96)
    for turns in (1, 5, 20, 40):
        w = 2 * np.pi * turns / 96
        mean = np.sinc(turns / 96)
        slope = np.tile(2.0 * mean * w * np.cos(w * at), (8, 1))
        normals = np.stack([-slope, 0 * slope, 1 + 0 * slope], axis=-1).astype(np.float32)
        found = normal_to_height(normals, texel_mm=1.0, edge="wrap")
        np.testing.assert_allclose(found, np.tile(2.0 * mean * np.sin(w * at), (8, 1)), atol=1e-5)


def test_a_wave_that_is_even_about_its_borders_is_solved_up_to_them() -> None:
    at = np.arange(64) + 0.5
    for turns, near in ((4, 2e-5), (9, 5e-4), (16, 5e-3)):  # half waves across the picture
        w = np.pi * turns / 64
        mean = 5.0 * np.sinc(turns / 128)
        slope = np.tile(-mean * w * np.sin(w * at), (16, 1))
        normals = np.stack([-slope, 0 * slope, 1 + 0 * slope], axis=-1).astype(np.float32)
        found = normal_to_height(normals, texel_mm=1.0, edge="mirror")
        np.testing.assert_allclose(found, np.tile(mean * np.cos(w * at), (16, 1)), atol=near)
