"""The sRGB curve against IEC 61966-2-1:1999."""

import csv
from pathlib import Path

import numpy as np
import pytest

from texbake.arrays import F32
from texbake.colour import srgb_codes, srgb_decode, srgb_encode

SHARED = Path(__file__).resolve().parents[2].parent / "shared"


@pytest.mark.parametrize(
    ("linear", "encoded"),
    [
        (0.0, 0.0),
        (1.0, 1.0),
        (0.18, 0.46135612950044164),  # documented by colour-science as oetf_sRGB(0.18)
        (0.5, 0.7353569830524495),
        (0.0031308, 0.040449936),  # the break belongs to the straight part: 12.92 L
    ],
)
def test_encoding_meets_the_published_values(linear: float, encoded: float) -> None:
    assert srgb_encode(np.array([linear]))[0] == pytest.approx(encoded, abs=1e-12)


@pytest.mark.parametrize(
    ("encoded", "linear"),
    [
        (0.5, 0.21404114048223255),
        (188 / 255, 0.5028864580325687),
        (0.04045, 0.04045 / 12.92),  # the standard's <=, not <: the straight part here too
    ],
)
def test_decoding_meets_the_published_values(encoded: float, linear: float) -> None:
    assert srgb_decode(np.array([encoded]))[0] == pytest.approx(linear, abs=1e-12)


def test_the_worked_base_colour_of_the_gltf_specification_decodes() -> None:
    # glTF 2.0, section 3.9.2: bytes 64, 124, 231 are 0.051, 0.202, 0.799 in linear light
    linear = srgb_decode(np.array([64, 124, 231]) / 255)
    np.testing.assert_allclose(linear, [0.051, 0.202, 0.799], atol=5e-4)


def test_the_precision_given_is_kept() -> None:
    single: F32 = np.linspace(0, 1, 1001, dtype=np.float32)
    assert srgb_encode(single).dtype == np.float32
    assert srgb_decode(single).dtype == np.float32
    np.testing.assert_allclose(srgb_decode(srgb_encode(single)), single, atol=1e-6)
    assert srgb_encode(single.astype(np.float64)).dtype == np.float64


def test_all_256_codes_survive_a_round_trip() -> None:
    codes = np.arange(256)
    linear = srgb_decode(codes / 255).astype(np.float32)
    assert np.array_equal(srgb_codes(linear), codes)


def test_the_shared_table_of_256_codes_agrees() -> None:
    path = SHARED / "tables" / "srgb_transfer_8bit.csv"
    if not path.is_file():
        pytest.skip("the shared tables are not beside this checkout")
    with path.open(encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    wanted = np.array([float(row["linear_iec"]) for row in rows])
    np.testing.assert_allclose(srgb_decode(np.arange(256) / 255), wanted, rtol=1e-11)


def test_the_table_is_the_rounded_curve_but_for_a_hair_at_the_boundaries() -> None:
    linear: F32 = np.linspace(0, 1, 400_001, dtype=np.float32)
    exact = srgb_encode(linear.astype(np.float64)) * 255
    got = srgb_codes(linear)
    assert np.abs(got - exact).max() <= 0.5 + 0.026
    assert np.mean(got != np.floor(exact + 0.5)) < 0.002


def test_the_table_clips_what_is_out_of_range() -> None:
    assert srgb_codes(np.array([-0.5, 1.5, 40.0], np.float32)).tolist() == [0, 255, 255]


def test_the_table_writes_into_the_array_it_is_given() -> None:
    out = np.zeros((2, 70_000), np.uint8)  # longer than one chunk
    linear = np.full((2, 70_000), 0.5, np.float32)
    assert srgb_codes(linear, out=out) is out
    assert np.array_equal(np.unique(out), [188])  # round(0.7353569830524495 * 255)
