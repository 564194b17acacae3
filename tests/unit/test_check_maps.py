"""What texels say: maps put together by hand, with figures known beforehand."""

import math
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from texbake.arrays import I32
from texbake.check import maps
from texbake.check.maps import Cover
from texbake.colour import srgb_decode
from texbake.deliver import encode_png
from texbake.errors import UserError

SIZE = 64


def halves() -> Cover:
    """Two panels, left and right, and a background of the upper quarter."""
    panel: I32 = np.zeros((SIZE, SIZE), np.int32)
    panel[:, SIZE // 2 :] = 1
    panel[: SIZE // 4] = -1
    return Cover(panel=panel, count=3)


def flat(*code: int) -> np.ndarray:
    return np.full((SIZE, SIZE, len(code)), code, np.uint8)


def normal_map(tilt_rad: float, length: float = 1.0, bits: int = 16) -> np.ndarray:
    """All normals lean to +x by one angle."""
    vector = np.array([math.sin(tilt_rad), 0.0, math.cos(tilt_rad)]) * length
    top = 2**bits - 1
    codes = np.floor((vector * 0.5 + 0.5) * top + 0.5)
    return np.broadcast_to(codes, (SIZE, SIZE, 3)).astype(np.uint16 if bits == 16 else np.uint8)


def test_the_mean_colour_of_a_panel_is_in_linear_light_and_leaves_the_background_out() -> None:
    image = flat(10, 20, 30)
    image[: SIZE // 4] = 255
    image[SIZE // 4 : SIZE // 2, : SIZE // 2] = 200
    seen = maps.albedo(image, None, halves(), 0.0, 1.0)
    codes: NDArray[np.float64] = np.array([10, 20, 30, 200]) / 255.0
    light = srgb_decode(codes)
    assert seen.mean[0] == pytest.approx((2 * light[:3] + light[3]) / 3, rel=1e-12)
    assert seen.mean[1] == pytest.approx(light[:3], rel=1e-12)
    assert np.isnan(seen.mean[2]).all()
    assert (seen.under, seen.over) == (0.0, 0.0)
    assert seen.lightest == pytest.approx(light[3], rel=1e-6)


def test_texels_darker_or_lighter_than_cloth_are_counted_and_metal_is_not() -> None:
    image = flat(128, 128, 128)
    image[SIZE // 4 : SIZE // 4 + 12] = 0  # 12 of 48 rows
    image[-6:] = 255
    seen = maps.albedo(image, None, halves(), 0.01, 0.9)
    assert (seen.under, seen.over) == (0.25, 0.125)
    metal = np.zeros((SIZE, SIZE), np.uint8)
    metal[-6:] = 255
    seen = maps.albedo(image, metal, halves(), 0.01, 0.9)
    assert (seen.under, seen.over) == (12 / 42, 0.0)
    # The mean is of all texels, metal too.
    grey = float(srgb_decode(np.array([128 / 255]))[0])
    assert seen.mean[0, 0] == pytest.approx((30 * grey + 6) / 48)


def test_the_length_of_normals_is_measured_and_rounding_alone_is_little() -> None:
    assert maps.normals(normal_map(0.3), halves()).off == pytest.approx(0.0, abs=3e-5)
    assert maps.normals(normal_map(0.3, 0.9), halves()).off == pytest.approx(0.1, abs=3e-5)
    rng = np.random.default_rng(2)
    unit = rng.normal(size=(SIZE, SIZE, 3))
    unit /= np.linalg.norm(unit, axis=2, keepdims=True)
    codes = np.floor((unit * 0.5 + 0.5) * 255 + 0.5).astype(np.uint8)
    # Half a code in each of three channels: 0.5 * 2 / 255 * sqrt(3).
    assert 0.004 < maps.normals(codes, halves()).off < 0.0068


def test_a_bad_normal_in_the_gutter_does_not_count() -> None:
    image = normal_map(0.0)
    image[: SIZE // 4] = 0
    seen = maps.normals(image, halves())
    assert seen.off == pytest.approx(0.0, abs=1e-4)
    assert seen.tilt_rad == pytest.approx(0.0, abs=1e-4)


@pytest.mark.parametrize("degrees", [0.5, 3.0, 20.0])
def test_the_lean_is_that_of_the_mean_normal(degrees: float) -> None:
    image = normal_map(math.radians(degrees))
    lean = maps.normals(image, halves()).tilt_rad
    assert math.degrees(lean) == pytest.approx(degrees, abs=0.01)
    image[:, : SIZE // 2] = normal_map(-math.radians(degrees))[0, 0]
    assert math.degrees(maps.normals(image, halves()).tilt_rad) == pytest.approx(0.0, abs=0.01)


def test_height_used_is_the_span_of_the_codes_of_cloth() -> None:
    image = np.full((SIZE, SIZE), 20000, np.uint16)
    image[-1, :] = 20000 + 6553
    image[0, 0] = 65535  # background
    assert maps.height_used(image, halves()) == pytest.approx(0.1, abs=1e-4)


def test_bands_make_no_difference(monkeypatch: pytest.MonkeyPatch) -> None:
    rng = np.random.default_rng(7)
    image = rng.integers(0, 256, (SIZE, SIZE, 3)).astype(np.uint8)
    metal = rng.integers(0, 256, (SIZE, SIZE)).astype(np.uint8)
    whole = maps.albedo(image, metal, halves(), 0.1, 0.8)
    monkeypatch.setattr(maps, "BAND_TEXELS", 5 * SIZE)
    parts = maps.albedo(image, metal, halves(), 0.1, 0.8)
    assert (whole.under, whole.over, whole.darkest) == (parts.under, parts.over, parts.darkest)
    assert np.array_equal(whole.mean[:2], parts.mean[:2])


def test_a_map_of_another_size_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "a.png"
    path.write_bytes(encode_png(flat(1, 2, 3)))
    assert maps.read_map(path, SIZE).shape == (SIZE, SIZE, 3)
    with pytest.raises(UserError, match="64 x 64 px, its record says 128"):
        maps.read_map(path, 128)
