"""Pills: as many and as large as the recipe says, slopes exact, never cut, mean kept."""

import math

import numpy as np
import pytest
from scipy.ndimage import label

from tests.finished_by_hand import LEVEL, laid
from tests.flat_cloth import all_texels, box_mean
from texbake.arrays import F32, F64
from texbake.finish.pill import (
    HIGH,
    SMALLEST,
    Pills,
    mean_height_mm,
    mean_variance,
    pilled,
    pills,
    present,
    to_space,
)
from texbake.layout import space_mm


def _tilt(angle: float) -> F64:
    return np.array([[math.cos(angle), 0.0], [0.0, 1.0], [math.sin(angle), 0.0]])


def _sheet(strewn: Pills, texel_mm: float, size_px: int, tilt: F64 = LEVEL) -> tuple[F64, F64, F64]:
    """Height (size, size), slope (2, size, size) and cover on a flat sheet."""
    layout = laid(texel_mm, size_px, 0.0, tilt)
    texels = all_texels(layout)
    out = np.zeros((4, size_px * size_px))
    found = pilled(strewn, texels, space_mm(layout, texels), to_space(layout), layout.texel_mm)
    if found is not None:
        out[0, found.at], out[1:3, found.at] = found.height_mm, found.slope
        out[3, found.at] = found.cover
    square = out.reshape(4, size_px, size_px)
    return square[0], square[1:3], square[3]


@pytest.mark.parametrize(("per_dm2", "diameter_mm"), [(30.0, 2.0), (150.0, 1.0)])
def test_pills_are_as_many_as_the_recipe_says_however_the_cloth_lies(
    per_dm2: float, diameter_mm: float
) -> None:
    strewn = pills(per_dm2, diameter_mm, 1)
    angles, size, texel = (0.0, 0.5, 1.0, 1.4), 640, 0.2 * diameter_mm
    count = sum(
        label(_sheet(strewn, texel, size, _tilt(a))[0] > 0.05 * diameter_mm * HIGH)[1]
        for a in angles
    )
    want = per_dm2 * len(angles) * (texel * size / 100.0) ** 2
    assert abs(count / want - 1.0) <= 0.06 + 2.0 / math.sqrt(want)  # Poisson, and what touches


def test_no_pill_is_larger_than_the_recipe_says_and_all_lie_above_the_cloth() -> None:
    height, _, _ = _sheet(pills(30.0, 3.0, 1), 0.1, 1000)
    marked, count = label(height > 0.0)
    areas = np.bincount(marked.ravel())[1:] * 0.01
    assert height.min() == 0.0
    assert count > 20
    single = areas[areas < 1.1 * math.pi * 1.5**2]
    assert len(single) >= 0.9 * count
    assert single.max() > math.pi * (0.9 * 1.5) ** 2
    assert single.min() < math.pi * (1.3 * SMALLEST * 1.5) ** 2
    assert height.max() == pytest.approx(HIGH * 1.5, rel=0.05)


def test_slopes_are_those_of_the_height_whatever_the_tilt() -> None:
    height, slope, _ = _sheet(pills(60.0, 4.0, 2), 0.05, 800, _tilt(0.7))
    by_row, by_column = np.gradient(height, 0.05, axis=0), np.gradient(height, 0.05, axis=1)
    inner = height > 0.05
    # Rows run down the image, +y up.
    np.testing.assert_allclose(slope[0][inner], by_column[inner], atol=0.03)
    np.testing.assert_allclose(slope[1][inner], -by_row[inner], atol=0.03)


@pytest.mark.parametrize("texel_mm", [0.1, 0.5, 1.0])
def test_the_mean_height_is_kept_as_texels_grow(texel_mm: float) -> None:
    strewn = pills(60.0, 1.5, 1)
    height = np.mean(
        [_sheet(strewn, texel_mm, round(64.0 / texel_mm), _tilt(a))[0].mean() for a in range(6)]
    )
    shown = float(present(np.full(1, texel_mm, np.float32), strewn.cube_mm)[0])
    got = height + (1.0 - shown) * mean_height_mm(strewn)
    assert got == pytest.approx(mean_height_mm(strewn), rel=0.2)  # some 25 pills a sheet


def test_hidden_pills_leave_their_slope_variance() -> None:
    strewn = pills(100.0, 3.0, 1)
    fields = [_sheet(strewn, 0.1, 800, _tilt(a))[1] for a in (0.2, 0.9, 1.3)]
    measured = 0.5 * float(np.mean([(slope**2).sum(0).mean() for slope in fields]))
    assert measured == pytest.approx(mean_variance(strewn), rel=0.15)


def test_none_show_where_texels_hold_whole_cubes() -> None:
    strewn = pills(60.0, 1.5, 1)
    size: F32 = np.full(1, 0.6 * strewn.cube_mm, np.float32)
    assert present(size, strewn.cube_mm) == 0.0
    assert _sheet(strewn, float(size[0]), 32)[0].max() == 0.0


@pytest.mark.parametrize(("diameter_mm", "texel_mm"), [(3.0, 0.5), (3.0, 1.5), (1.5, 1.0)])
def test_pills_of_a_texel_are_the_mean_of_those_of_its_parts(
    diameter_mm: float, texel_mm: float
) -> None:
    strewn, size = pills(60.0, diameter_mm, 1), round(64.0 / texel_mm)
    coarse = _sheet(strewn, texel_mm, size, _tilt(0.7))[0]
    fine = box_mean(_sheet(strewn, texel_mm / 8, size * 8, _tilt(0.7))[0], 8)
    assert np.sqrt(((coarse - fine) ** 2).mean() / (fine**2).mean()) <= 0.2
