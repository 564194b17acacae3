"""Roughness codes against the published way from slope variance to glTF roughness."""

import numpy as np
import pytest

from texbake.maps import roughness_codes


# alpha'^2 = alpha^2 + 2 sigma^2 with sigma^2 the slope variance per axis (Kaplanyan, Hill, Patney,
# Lefohn, "Filtering distributions of normals for shading antialiasing", HPG 2016, after eq. 14);
# alpha = roughness^2 (glTF 2.0, appendix B). So r' = (r^4 + 2 sigma^2)^(1/4); values by hand.
@pytest.mark.parametrize(
    ("roughness", "sigma", "wanted"),
    [
        (0.3, 0.1, 0.40943),
        (0.3, 0.2, 0.54481),
        (0.5, 0.1, 0.53594),
        (0.5, 0.2, 0.61440),
        (0.7, 0.2, 0.75218),
        (0.7, 0.3, 0.80508),
    ],
)
def test_slope_variance_widens_the_lobe_as_published(
    roughness: float, sigma: float, wanted: float
) -> None:
    alpha2 = np.array([roughness**4 + 2 * sigma**2], np.float32)
    assert abs(int(roughness_codes(alpha2)[0]) - 255 * wanted) <= 0.5 + 0.002


def test_all_256_roughness_codes_can_be_reached_and_come_back() -> None:
    codes = np.arange(256)
    alpha2 = ((codes / 255) ** 4).astype(np.float32)
    assert np.array_equal(roughness_codes(alpha2), codes)


def test_widths_out_of_range_are_clipped() -> None:
    assert roughness_codes(np.array([-0.1, 0, 1, 7], np.float32)).tolist() == [0, 0, 255, 255]
