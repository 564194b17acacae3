"""Laws 4 and 5: a bake equals the box-filtered bake at 8 times the size, roughness included.

The reference is brute force: the same cloth at 8 x 8 samples a texel, averaged. Slopes count up to
`STEEPEST` in the variance, on both sides.
"""

import numpy as np
import pytest

from tests.flat_cloth import FABRICS, Baked, bake_flat, box_mean, pitch_mm
from texbake.arrays import F64
from texbake.cloth.tile import STEEPEST

YARN_TEXELS = (12.0, 6.0, 3.0, 1.5, 0.7, 0.2)
OVER, SIZE = 8, 48


def _pair(name: str, yarn_texels: float, turn_rad: float) -> tuple[Baked, Baked]:
    fabric = FABRICS[name]
    texel = pitch_mm(fabric) / yarn_texels
    return (
        bake_flat(fabric, texel, SIZE, turn_rad=turn_rad),
        bake_flat(fabric, texel / OVER, SIZE * OVER, turn_rad=turn_rad),
    )


def _normals(slope: F64) -> F64:
    n = np.stack([-slope[0], -slope[1], np.ones_like(slope[0])])
    out: F64 = n / np.linalg.norm(n, axis=0)
    return out


def degrees(a: F64, b: F64) -> float:
    cosine = np.clip((_normals(a) * _normals(b)).sum(0), -1.0, 1.0)
    return float(np.degrees(np.sqrt((np.arccos(cosine) ** 2).mean())))


def reference_roughness(fine: Baked) -> F64:
    square = box_mean(np.clip(fine.slope, -STEEPEST, STEEPEST) ** 2, OVER)
    lost = square - box_mean(fine.slope, OVER) ** 2
    variance = box_mean(fine.variance, OVER) + np.maximum(0.5 * lost.sum(0), 0.0)
    out: F64 = np.minimum(box_mean(fine.alpha2, OVER) + 2.0 * variance, 1.0) ** 0.25
    return out


@pytest.mark.parametrize("yarn_texels", YARN_TEXELS)
@pytest.mark.parametrize("name", list(FABRICS))
def test_a_bake_equals_the_box_filtered_bake_at_eight_times_the_size_roughness_included(
    name: str, yarn_texels: float
) -> None:
    coarse, fine = _pair(name, yarn_texels, 0.2)
    error = np.sqrt(((coarse.albedo - box_mean(fine.albedo, OVER)) ** 2).mean())
    turned = degrees(coarse.slope, box_mean(fine.slope, OVER))
    assert error * 255.0 <= 4.0
    assert turned <= 3.0
    got = np.minimum(coarse.alpha2 + 2.0 * coarse.variance, 1.0) ** 0.25
    want = reference_roughness(fine)
    assert abs(got.mean() / want.mean() - 1.0) <= 0.10
    assert np.quantile(np.abs(got / want - 1.0), 0.95) <= 0.10


@pytest.mark.parametrize("yarn_texels", [1.5, 1.03, 0.7, 0.52])
@pytest.mark.parametrize(
    "name", ["plain", "denim", "herringbone", "houndstooth", "tartan", "jersey", "rib"]
)
def test_no_moire_the_spectrum_has_no_peak_that_the_reference_lacks(
    name: str, yarn_texels: float
) -> None:
    coarse, fine = _pair(name, yarn_texels, 0.2)
    window = np.outer(np.hanning(SIZE), np.hanning(SIZE))

    def spectrum(luminance: F64) -> F64:
        out: F64 = np.abs(np.fft.fft2((luminance - luminance.mean()) * window))
        return out

    got = spectrum(coarse.albedo.mean(0))
    want = spectrum(box_mean(fine.albedo, OVER).mean(0))
    # 1 % of the mean colour, summed over the window, is what no eye tells from noise.
    assert (got - want).max() <= 0.01 * coarse.albedo.mean() * window.sum()
