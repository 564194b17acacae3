"""Distances against scipy.ndimage.distance_transform_edt.

The exact Euclidean transform of Maurer, Qi and Raghavan (2003, IEEE Trans. Pattern Analysis and
Machine Intelligence 25:265), as scipy documents it. It sees whole images; ours never does.
"""

import math
from itertools import pairwise

import numpy as np
import pytest

from tests.garments_by_hand import box, garment, sheet
from texbake.arrays import F64, Bool
from texbake.garment.values import Chain
from texbake.layout import lay_out, near, reach_of, texels
from texbake.layout.gutter import reach_px


def transform(background: Bool) -> F64:
    from scipy.ndimage import distance_transform_edt

    far = distance_transform_edt(background)
    assert isinstance(far, np.ndarray)
    return far


def five_islands() -> F64:
    """UV of islands turned, mirrored and close together."""
    islands = []
    for k, (x, y) in enumerate([(0.2, 0.2), (0.7, 0.25), (0.25, 0.7), (0.72, 0.7), (0.5, 0.47)]):
        c, s = math.cos(1.1 * k), math.sin(1.1 * k)
        size = 0.36 if k < 4 else 0.12
        quad = box(-0.5, -0.4, 0.5, 0.45) * size
        quad[1, 1] *= 0.6
        turned = quad @ np.array([[c, s], [-s, c]]) * [(-1.0) ** k, 1.0]
        islands.append(sheet(3, 3, turned + np.array([x, y])))
    return np.concatenate(islands)


@pytest.mark.parametrize("size_px", [97, 256, 700])
@pytest.mark.parametrize("gutter_px", [3, 16])
def test_gutter_texels_repeat_a_texel_as_near_as_the_transform_says(
    size_px: int, gutter_px: int
) -> None:
    layout = lay_out(garment(five_islands()), size_px, gutter_px=gutter_px)
    far = transform(layout.face < 0)
    to, source = layout.gutter_to, layout.gutter_from
    got = np.hypot(to // size_px - source // size_px, to % size_px - source % size_px)
    np.testing.assert_allclose(got, far.reshape(-1)[to], rtol=1e-12)
    reach = reach_px(gutter_px)
    missing = np.setdiff1d(np.flatnonzero((far > 0) & (far <= reach)), to)
    assert missing.size == 0
    assert (far.reshape(-1)[to] <= reach * math.sqrt(2)).all()


@pytest.mark.parametrize("reach_mm", [40.0, 150.0])
def test_distance_to_a_curved_chain_agrees_with_the_transform(reach_mm: float) -> None:
    """A wave across one sheet of 800 mm, drawn into an image of 1 mm a texel.

    The transform measures to centres of marked texels, so it errs by up to half a texel's
    diagonal, 0.71 mm.
    """
    uv = sheet(10, 10, box(0.0, 0.0, 1.0, 1.0))
    x = np.linspace(0.01, 799.99, 82)
    points = np.stack([x, 400.0 + 120.0 * np.sin(x / 90.0)], axis=1)
    made = garment(uv, pattern_mm=uv * 800.0, chains=(_hem(points),))
    layout = lay_out(made, 800, gutter_px=0)
    band = texels(layout, slice(0, 800))
    got = near(band, reach_of(made, 0, reach_mm=reach_mm))
    want = transform(_drawn(points, 800)).reshape(-1)
    np.testing.assert_allclose(got.distance_mm, want[band.index[got.at]], atol=0.75)
    sure = np.flatnonzero(want[band.index] < reach_mm - 0.75)
    assert np.isin(sure, got.at).all()
    assert len(sure) > 50_000


def _hem(points: F64) -> Chain:
    ends = np.stack([points[:-1], points[1:]], axis=1)
    at = np.concatenate([[0.0], np.cumsum(np.linalg.norm(ends[:, 1] - ends[:, 0], axis=1))])
    return Chain(
        kind="hem",
        panels=(0, -1),
        face=(np.zeros(len(ends), np.int32), np.empty(0, np.int32)),
        pattern_mm=(ends, np.empty((0, 2, 2))),
        points_mm=np.zeros((len(ends), 2, 3)),
        arc_mm=np.stack([at[:-1], at[1:]], axis=1),
        length_mm=float(at[-1]),
        closed=False,
    )


def _drawn(points: F64, size_px: int) -> Bool:
    """False on texels that the polyline passes, y up, one mm a texel; True elsewhere."""
    t = np.linspace(0.0, 1.0, 200)[:, None]
    along = np.concatenate([a * (1 - t) + b * t for a, b in pairwise(points)])
    column, row = np.floor(along[:, 0]).astype(int), np.floor(size_px - along[:, 1]).astype(int)
    image = np.ones((size_px, size_px), bool)
    image[row, column] = False
    return image
