"""No repeat that shows: a panel of 30 x 30 cm is like itself only by the repeat of its weave.

The weave's own repeat is what cloth is made of, so it is averaged out first (Gauss, one repeat, or
two millimetres).
What is left, tone from yarn to yarn and along them, must not come back: autocorrelation of the
detrended albedo and height, as Wiener and Khinchin have it, beyond the width of its middle peak.
"""

import numpy as np
import pytest
from scipy.ndimage import gaussian_filter

from tests.flat_cloth import FABRICS, bake_flat
from texbake import cloth
from texbake.arrays import F64

PANEL_MM, SIZE = 300.0, 512
NEAR_MM = 60.0  # slow wander and slubs are longer than a yarn; a repeat shows from further off
GRAIN_MM = 2.0  # what is finer is the grain of loops, fibres and tufts
COPY_MM = 15.0  # the sheets of pile and felt come back after 22 mm
LEAST = 0.005  # of the mean: of height less is left than this, some micrometres


def _autocorrelation(values: F64) -> F64:
    """Of the panel with nothing around it, 1 at lag 0; rows and columns are lags in texels."""
    flat = values - values.mean()
    row, column = np.mgrid[0:SIZE, 0:SIZE] / SIZE - 0.5
    for slope in (row, column):
        flat = flat - slope * (flat * slope).sum() / (slope * slope).sum()
    spectrum = np.abs(np.fft.rfft2(flat, (2 * SIZE, 2 * SIZE))) ** 2
    lags = np.fft.irfft2(spectrum)
    out: F64 = lags / lags[0, 0]
    return out


def _far(lags: F64, near: int) -> float:
    lag = np.minimum(np.arange(2 * SIZE), 2 * SIZE - np.arange(2 * SIZE))
    far = np.maximum(lag[:, None], lag[None, :]) > near
    return float(lags[far].max())


@pytest.mark.parametrize(
    "name", ["plain", "denim", "satin", "crepe", "slub", "flannel", "jersey", "melange"]
)
def test_nothing_comes_back_on_a_panel_of_thirty_centimetres(name: str) -> None:
    fabric, texel = FABRICS[name], PANEL_MM / SIZE
    baked = bake_flat(fabric, texel, SIZE)
    tile = cloth.render(fabric, 12)
    over = max(tile.length_mm, tile.width_mm, GRAIN_MM) / texel
    for values in (baked.albedo.mean(0), baked.height_mm):
        smooth = gaussian_filter(values, over, mode="nearest")
        shows = smooth.std() / values.mean()
        assert shows < LEAST or _far(_autocorrelation(smooth), round(NEAR_MM / texel)) <= 0.2


@pytest.mark.parametrize("name", ["felt", "fleece", "corduroy"])
def test_no_blotch_of_pile_or_felt_comes_back(name: str) -> None:
    texel = PANEL_MM / SIZE
    baked = bake_flat(FABRICS[name], texel, SIZE)
    smooth = gaussian_filter(baked.albedo.mean(0), GRAIN_MM / texel, mode="nearest")
    shows = smooth.std() / smooth.mean()
    assert shows < LEAST or _far(_autocorrelation(smooth), round(COPY_MM / texel)) <= 0.2
