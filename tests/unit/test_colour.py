"""Colour: behaviour that no published table covers."""

import numpy as np
import pytest

from texbake.colour import delta_e00, linear_to_lab, srgb_codes, srgb_decode, srgb_encode


def test_a_colour_differs_from_itself_by_nothing() -> None:
    lab = linear_to_lab(np.random.default_rng(0).random((50, 3)))
    assert np.array_equal(delta_e00(lab, lab), np.zeros(50))


def test_one_colour_is_compared_with_many() -> None:
    many = linear_to_lab(np.random.default_rng(1).random((4, 5, 3)))
    assert delta_e00(many, many[0, 0]).shape == (4, 5)


def test_one_step_of_an_eight_bit_grey_is_a_small_difference() -> None:
    greys = np.repeat(srgb_decode(np.array([127, 128]) / 255)[:, None], 3, axis=1)
    lab = linear_to_lab(greys)
    # near L* 53 a code is 0.39 L*, and S_L is nearly 1 there
    assert delta_e00(lab[0], lab[1]) == pytest.approx(0.39, abs=0.02)


def test_inputs_are_never_written_to() -> None:
    values = np.linspace(0, 1, 64, dtype=np.float32)
    values.flags.writeable = False
    lab = np.zeros((2, 3))
    lab.flags.writeable = False
    srgb_codes(values)
    srgb_encode(values)
    srgb_decode(values)
    delta_e00(lab, lab)


def test_an_empty_array_is_no_special_case() -> None:
    assert srgb_codes(np.empty(0, np.float32)).shape == (0,)
    assert srgb_encode(np.empty((0, 3))).shape == (0, 3)
