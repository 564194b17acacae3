"""Colour under more dye or less, against published values of Kubelka and Munk's function."""

import numpy as np
import pytest

from texbake.finish.dye import depth, dyed_along, per_dye, reflectance, rubbed_off, with_dye

# K/S from tables of the function in colour textbooks (from memory): R 5 %, 10 %, 20 %, 50 %, 80 %.
TABLE = [(0.05, 9.025), (0.10, 4.05), (0.20, 1.6), (0.50, 0.25), (0.80, 0.025)]


@pytest.mark.parametrize(("r", "ks"), TABLE)
def test_depth_of_shade_is_that_of_the_tables_and_back(r: float, ks: float) -> None:
    assert depth(r) == pytest.approx(ks, rel=1e-4)
    assert reflectance(np.full(1, ks, np.float32))[0] == pytest.approx(r, rel=1e-3)


@pytest.mark.parametrize("r", [0.02, 0.1, 0.4, 0.9])
def test_the_change_per_dye_is_the_slope_of_the_colour_over_dye(r: float) -> None:
    own = np.full(3, r, np.float32)
    step = 0.01
    slope = (with_dye(own, 1.0 + step) - with_dye(own, 1.0 - step)) / (2.0 * step)
    np.testing.assert_allclose(per_dye(own), slope, rtol=0.01)


def test_faded_cloth_is_paler_in_every_channel_and_white_stays() -> None:
    navy = np.array([0.01, 0.03, 0.08], np.float32)
    assert (with_dye(navy, 0.5) > navy).all()
    np.testing.assert_allclose(with_dye(np.ones(3, np.float32), 0.5), 1.0, atol=1e-3)


def test_rubbed_indigo_is_pale_and_still_blue() -> None:
    indigo, ecru = np.array([0.011, 0.022, 0.063], np.float32), np.array([0.72, 0.67, 0.56])
    rubbed = rubbed_off(indigo, ecru)
    assert rubbed[2] > rubbed[1] > rubbed[0] > 0.1
    assert (rubbed < ecru).all()


def test_thread_takes_its_share_of_the_shade_and_is_never_paler() -> None:
    cream, navy = np.array([0.7, 0.65, 0.5], np.float32), np.array([0.02, 0.05, 0.12], np.float32)
    np.testing.assert_allclose(dyed_along(cream, navy, 0.0), cream, atol=1e-5)
    np.testing.assert_allclose(dyed_along(cream, navy, 1.0), navy, atol=1e-5)
    np.testing.assert_allclose(dyed_along(navy, cream, 1.0), navy, atol=1e-5)
    assert depth(dyed_along(cream, navy, 0.5))[0] == pytest.approx(
        0.5 * (depth(cream)[0] + depth(navy)[0]), rel=0.01
    )
