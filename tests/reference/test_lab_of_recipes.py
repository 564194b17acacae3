"""Lab of recipes and of maps, and CIEDE2000, against colour-science on 10,000 random colours."""

import warnings
from types import ModuleType

import numpy as np
import pytest

from texbake.arrays import F64
from texbake.colour import delta_e00, linear_to_lab, srgb_decode
from texbake.recipe.colours import (
    lab_of,
    lab_text,
    lab_to_linear,
    lost_in_gamut,
    parse_colour,
)
from texbake.recipe.values import Colour

MANY = 10_000
# CIE 15:2004, table T.3 gives D50 as x 0.34567, y 0.35850; CSS Color 4 rounds x to four digits.
D50 = np.array([0.3457, 0.3585])


@pytest.fixture(scope="module")
def science() -> ModuleType:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # it warns that plotting is not there
        module: ModuleType = pytest.importorskip("colour", reason="colour-science is not installed")
    return module


def encoded() -> F64:
    return np.random.default_rng(11).random((MANY, 3))


def test_lab_of_maps_agrees_to_a_millionth(science: ModuleType) -> None:
    matrix = science.RGB_COLOURSPACES["sRGB"].matrix_RGB_to_XYZ  # four digits, IEC 61966-2-1
    white = matrix.sum(axis=1)  # what four digits make of white, which maps take as neutral
    linear = srgb_decode(encoded())
    wanted = science.XYZ_to_Lab(linear @ matrix.T, white[:2] / white.sum())
    np.testing.assert_allclose(linear_to_lab(linear), wanted, rtol=0, atol=1e-6)


def test_lab_of_recipes_agrees_to_a_millionth(science: ModuleType) -> None:
    space = science.RGB_COLOURSPACES["sRGB"].copy()
    space.use_derived_transformation_matrices(True)
    linear = srgb_decode(encoded())
    xyz = science.chromatic_adaptation(
        linear @ space.matrix_RGB_to_XYZ.T,
        science.xy_to_XYZ(space.whitepoint),
        science.xy_to_XYZ(D50),
        method="Von Kries",
        transform="Bradford",
    )
    wanted = science.XYZ_to_Lab(xyz, D50)
    r_g_b = encoded().tolist()
    got = np.array([lab_of(Colour((r, g, b))) for r, g, b in r_g_b])
    np.testing.assert_allclose(got, wanted, rtol=0, atol=1e-6)


def test_differences_agree_to_a_ten_thousandth(science: ModuleType) -> None:
    first = linear_to_lab(srgb_decode(encoded()))
    other: F64 = np.random.default_rng(12).random((MANY, 3))
    second = linear_to_lab(srgb_decode(other))
    wanted = science.difference.delta_E_CIE2000(first, second)
    np.testing.assert_allclose(delta_e00(first, second), wanted, rtol=0, atol=1e-4)


def test_lab_comes_back() -> None:
    for lab in np.random.default_rng(13).uniform((40, -18, -18), (80, 18, 18), (500, 3)).tolist():
        colour = parse_colour(lab_text((lab[0], lab[1], lab[2])))
        assert lab_of(colour) == pytest.approx(lab, abs=2e-5)


def test_what_lies_outside_srgb_keeps_lightness_and_hue_and_loses_no_more_chroma_than_it_must(
    science: ModuleType,
) -> None:
    found = 0
    for lightness, a, b in np.random.default_rng(14).uniform((5, -90, -90), (95, 90, 90), (300, 3)):
        text = lab_text((lightness, a, b))
        lost = lost_in_gamut(text)
        if lost is None:
            continue
        found += 1
        colour, apart = lost
        got = lab_of(colour)
        wanted = float(
            science.difference.delta_E_CIE2000(np.array([lightness, a, b]), np.array(got))
        )
        assert apart == pytest.approx(wanted, abs=1e-4)
        # Half a step of 8 bits is let through at the border: about 0.3 in Lab, more near black.
        assert got[0] == pytest.approx(lightness, abs=0.4)
        turn = np.degrees(np.arctan2(got[2], got[1]) - np.arctan2(b, a))
        assert abs((turn + 180) % 360 - 180) < 2.0 or np.hypot(*got[1:]) < 5.0
        more = 1.03 * np.hypot(*got[1:]) / np.hypot(a, b)  # 3 % more chroma, and it is outside
        r_g_b = np.array(lab_to_linear((lightness, a * more, b * more)))
        assert r_g_b.max() > 1.0 or r_g_b.min() < 0.0
    assert found > 100
