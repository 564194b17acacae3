"""CIEDE2000 against the published test pairs, and against an independent implementation."""

import csv
import warnings
from pathlib import Path

import numpy as np
import pytest

from texbake.colour import delta_e00, linear_to_lab

SHARED = Path(__file__).resolve().parents[2].parent / "shared"

# G. Sharma, W. Wu, E. N. Dalal, Color Research and Application 30(1), 2005, 21-30, table 1.
SHARMA = (
    ((50.0000, 2.6772, -79.7751), (50.0000, 0.0000, -82.7485), 2.0425),
    ((50.0000, 3.1571, -77.2803), (50.0000, 0.0000, -82.7485), 2.8615),
    ((50.0000, 2.8361, -74.0200), (50.0000, 0.0000, -82.7485), 3.4412),
    ((50.0000, -1.3802, -84.2814), (50.0000, 0.0000, -82.7485), 1.0000),
    ((50.0000, -1.1848, -84.8006), (50.0000, 0.0000, -82.7485), 1.0000),
    ((50.0000, -0.9009, -85.5211), (50.0000, 0.0000, -82.7485), 1.0000),
    ((50.0000, 0.0000, 0.0000), (50.0000, -1.0000, 2.0000), 2.3669),
    ((50.0000, -1.0000, 2.0000), (50.0000, 0.0000, 0.0000), 2.3669),
    ((50.0000, 2.4900, -0.0010), (50.0000, -2.4900, 0.0009), 7.1792),
    ((50.0000, 2.4900, -0.0010), (50.0000, -2.4900, 0.0010), 7.1792),
    ((50.0000, 2.4900, -0.0010), (50.0000, -2.4900, 0.0011), 7.2195),
    ((50.0000, 2.4900, -0.0010), (50.0000, -2.4900, 0.0012), 7.2195),
    ((50.0000, -0.0010, 2.4900), (50.0000, 0.0009, -2.4900), 4.8045),
    ((50.0000, -0.0010, 2.4900), (50.0000, 0.0010, -2.4900), 4.8045),
    ((50.0000, -0.0010, 2.4900), (50.0000, 0.0011, -2.4900), 4.7461),
    ((50.0000, 2.5000, 0.0000), (50.0000, 0.0000, -2.5000), 4.3065),
    ((50.0000, 2.5000, 0.0000), (73.0000, 25.0000, -18.0000), 27.1492),
    ((50.0000, 2.5000, 0.0000), (61.0000, -5.0000, 29.0000), 22.8977),
    ((50.0000, 2.5000, 0.0000), (56.0000, -27.0000, -3.0000), 31.9030),
    ((50.0000, 2.5000, 0.0000), (58.0000, 24.0000, 15.0000), 19.4535),
    ((50.0000, 2.5000, 0.0000), (50.0000, 3.1736, 0.5854), 1.0000),
    ((50.0000, 2.5000, 0.0000), (50.0000, 3.2972, 0.0000), 1.0000),
    ((50.0000, 2.5000, 0.0000), (50.0000, 1.8634, 0.5757), 1.0000),
    ((50.0000, 2.5000, 0.0000), (50.0000, 3.2592, 0.3350), 1.0000),
    ((60.2574, -34.0099, 36.2677), (60.4626, -34.1751, 39.4387), 1.2644),
    ((63.0109, -31.0961, -5.8663), (62.8187, -29.7946, -4.0864), 1.2630),
    ((61.2901, 3.7196, -5.3901), (61.4292, 2.2480, -4.9620), 1.8731),
    ((35.0831, -44.1164, 3.7933), (35.0232, -40.0716, 1.5901), 1.8645),
    ((22.7233, 20.0904, -46.6940), (23.0331, 14.9730, -42.5619), 2.0373),
    ((36.4612, 47.8580, 18.3852), (36.2715, 50.5065, 21.2231), 1.4146),
    ((90.8027, -2.0831, 1.4410), (91.1528, -1.6435, 0.0447), 1.4441),
    ((90.9257, -0.5406, -0.9208), (88.6381, -0.8985, -0.7239), 1.5381),
    ((6.7747, -0.2908, -2.4247), (5.8714, -0.0985, -2.2286), 0.6377),
    ((2.0776, 0.0795, -1.1350), (0.9033, -0.0636, -0.5514), 0.9082),
)
HUE_CUT = 13  # pair 14 lies on the cut of the mean hue: the last bit of arctan2 decides
ON_THE_CUT = 4.7461


def pairs() -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    first, second, wanted = zip(*SHARMA, strict=True)
    return np.array(first), np.array(second), np.array(wanted)


def test_the_published_pairs_come_out_to_four_decimals() -> None:
    first, second, wanted = pairs()
    got = delta_e00(first, second)
    if abs(got[HUE_CUT] - ON_THE_CUT) < 5e-5:
        wanted[HUE_CUT] = ON_THE_CUT
    np.testing.assert_allclose(got, wanted, rtol=0, atol=5e-5)


def test_the_difference_is_the_same_both_ways() -> None:
    first, second, _ = pairs()
    keep = np.arange(len(SHARMA)) != HUE_CUT
    forth, back = delta_e00(first, second), delta_e00(second, first)
    np.testing.assert_allclose(forth[keep], back[keep], rtol=0, atol=1e-9)


def test_the_typed_table_is_the_shared_one() -> None:
    path = SHARED / "tables" / "ciede2000_sharma_34.csv"
    if not path.is_file():
        pytest.skip("the shared tables are not beside this checkout")
    with path.open(encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    names = ("L1", "a1", "b1", "L2", "a2", "b2", "dE00")
    typed = [[*first, *second, wanted] for first, second, wanted in SHARMA]
    assert typed == [[float(row[name]) for name in names] for row in rows]


def test_random_pairs_agree_with_an_independent_implementation() -> None:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # it warns that plotting is not there
        colour = pytest.importorskip("colour", reason="colour-science is not installed")
    rng = np.random.default_rng(7)
    first = rng.uniform((0, -90, -90), (100, 90, 90), (2000, 3))
    second = rng.uniform((0, -90, -90), (100, 90, 90), (2000, 3))
    wanted = colour.difference.delta_E_CIE2000(first, second)
    np.testing.assert_allclose(delta_e00(first, second), wanted, rtol=0, atol=1e-9)


def test_lab_of_white_grey_and_black_has_no_chroma() -> None:
    lab = linear_to_lab(np.array([[1.0, 1, 1], [0.18, 0.18, 0.18], [0, 0, 0]]))
    np.testing.assert_allclose(lab[:, 1:], 0.0, atol=1e-9)
    # L* = 116 * 0.18^(1/3) - 16 = 49.4961 (CIE 15:2004, equation 8.3)
    np.testing.assert_allclose(lab[:, 0], [100.0, 49.4961, 0.0], atol=1e-4)


def test_lab_agrees_with_an_independent_implementation() -> None:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        colour = pytest.importorskip("colour", reason="colour-science is not installed")
    linear = np.random.default_rng(3).random((500, 3))
    space = colour.RGB_COLOURSPACES["sRGB"]
    wanted = colour.XYZ_to_Lab(linear @ space.matrix_RGB_to_XYZ.T, space.whitepoint)
    # Its white is computed from x 0.3127, y 0.3290, ours from the four-digit matrix.
    np.testing.assert_allclose(linear_to_lab(linear), wanted, rtol=0, atol=0.02)
