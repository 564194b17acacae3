"""The gutter repeats the border so that filtering never reaches bare background."""

import numpy as np
import pytest

from tests.garments_by_hand import box, garment, sheet
from texbake.arrays import F64, I32, Bool
from texbake.layout import Layout, gutter, lay_out


def blobs(size_px: int, seed: int) -> I32:
    """Background with islands of all shapes: single texels, lines, blocks at the borders."""
    random = np.random.default_rng(seed)
    face = np.full((size_px, size_px), -1, np.int32)
    for number, (row, column) in enumerate(random.integers(0, size_px, (9, 2))):
        height, width = random.integers(1, size_px // 4, 2)
        face[row : row + height, column : column + width] = number
    return face


def reference(face: I32, reach: int) -> tuple[Bool, F64]:
    """Which texels the gutter has, and how far their source is, by brute force."""
    row, column = np.nonzero(face >= 0)
    rows, columns = np.indices(face.shape)
    down = np.expand_dims(rows, 2) - row
    across = np.expand_dims(columns, 2) - column
    steps = np.maximum(np.abs(down), np.abs(across)).min(axis=2)
    return (steps > 0) & (steps <= reach), np.sqrt((down**2 + across**2).min(axis=2))


@pytest.mark.parametrize("gutter_px", [1, 2, 5, 16, 200])
@pytest.mark.parametrize("seed", range(3))
def test_every_gutter_texel_repeats_a_nearest_covered_one(seed: int, gutter_px: int) -> None:
    face = blobs(48, seed)
    to, source = gutter.gutter(face, gutter_px)
    inside, far = reference(face, gutter.reach_px(gutter_px))
    np.testing.assert_array_equal(np.flatnonzero(inside), to)
    assert (face.reshape(-1)[source] >= 0).all()
    got = np.hypot(to // 48 - source // 48, to % 48 - source % 48)
    np.testing.assert_allclose(got, far.reshape(-1)[to], rtol=1e-12)


def test_between_two_islands_each_half_repeats_its_own_side() -> None:
    face = np.full((16, 16), -1, np.int32)
    face[:, :3], face[:, 9:] = 0, 1
    to, source = gutter.gutter(face, 4)
    row = to // 16 == 5
    assert (to[row] % 16).tolist() == [3, 4, 5, 6, 7, 8]
    assert (source[row] % 16).tolist() == [2, 2, 2, 9, 9, 9]


def test_of_equally_near_texels_the_left_and_the_upper_count() -> None:
    face = np.full((16, 16), -1, np.int32)
    face[4, 4] = face[4, 8] = face[12, 4] = 0
    to, source = gutter.gutter(face, 16)
    by = dict(zip(to.tolist(), source.tolist(), strict=True))
    assert by[4 * 16 + 6] == 4 * 16 + 4
    assert by[8 * 16 + 4] == 4 * 16 + 4


def test_no_gutter_asked_no_gutter_made() -> None:
    to, source = gutter.gutter(blobs(32, 0), 0)
    assert to.size == source.size == 0
    assert to.dtype == source.dtype == np.int64


def test_a_negative_gutter_is_refused() -> None:
    with pytest.raises(ValueError, match="-3"):
        gutter.gutter(blobs(32, 0), -3)


@pytest.mark.parametrize("fill", [-1, 0])
def test_an_image_all_bare_or_all_covered_has_none(fill: int) -> None:
    to, _ = gutter.gutter(np.full((20, 20), fill, np.int32), 8)
    assert to.size == 0


def test_the_gutter_does_not_wrap_around_the_image() -> None:
    face = np.full((32, 32), -1, np.int32)
    face[:, 0] = face[0] = 0
    to, _ = gutter.gutter(face, 4)
    assert np.minimum(to % 32, to // 32).max() == 5
    assert len(to) == 31 * 31 - 26 * 26


def test_bands_of_rows_do_not_change_the_gutter(monkeypatch: pytest.MonkeyPatch) -> None:
    face = blobs(100, 7)
    whole = gutter.gutter(face, 5)
    monkeypatch.setattr(gutter, "ROWS", 1)
    for got, want in zip(gutter.gutter(face, 5), whole, strict=True):
        np.testing.assert_array_equal(got, want)


ROUND = np.array([[[0.21, 0.26], [0.71, 0.31]], [[0.3, 0.77], [0.77, 0.7]]])


@pytest.mark.parametrize("gutter_px", [1, 2, 3, 8, 16])
def test_bilinear_reads_inside_an_island_never_see_bare_background(gutter_px: int) -> None:
    """Law 7, at every mip level that the gutter promises; mip levels by box filter."""
    layout = lay_out(garment(sheet(4, 4, ROUND)), 128, gutter_px=gutter_px)
    bare = _bare(layout)
    points = _points_inside()
    for level in range(gutter_px.bit_length()):
        assert _bilinear(bare, points).max() == 0.0, level
        bare = (bare[::2, ::2] + bare[1::2, ::2] + bare[::2, 1::2] + bare[1::2, 1::2]) / 4


def test_a_gutter_that_is_too_narrow_would_be_noticed() -> None:
    layout = lay_out(garment(sheet(4, 4, ROUND)), 128, gutter_px=2)
    bare = _bare(layout).reshape(16, 8, 16, 8).mean(axis=(1, 3))
    assert _bilinear(bare, _points_inside()).max() > 0.0


def _bare(layout: Layout) -> F64:
    bare = (layout.face < 0).astype(np.float64)
    bare.reshape(-1)[layout.gutter_to] = 0.0
    return bare


def _points_inside() -> F64:
    """Points of the island, its border included, as UV from the top left."""
    s, t = np.meshgrid(np.linspace(0, 1, 301), np.linspace(0, 1, 301))
    s, t = s.reshape(-1, 1), t.reshape(-1, 1)
    low, high = (ROUND[k, 0] * (1 - s) + ROUND[k, 1] * s for k in (0, 1))
    points: F64 = low * (1 - t) + high * t
    return np.stack([points[:, 0], 1.0 - points[:, 1]], axis=1)


def _bilinear(image: F64, points: F64) -> F64:
    at = points * len(image) - 0.5
    low = np.floor(at).astype(int)
    part = at - low
    column, row = low.T
    x, y = part.T
    read: F64 = (
        image[row, column] * (1 - x) * (1 - y)
        + image[row, column + 1] * x * (1 - y)
        + image[row + 1, column] * (1 - x) * y
        + image[row + 1, column + 1] * x * y
    )
    return read


def test_islands_keep_their_faces_under_their_own_gutter() -> None:
    uv = np.concatenate(
        [sheet(2, 2, box(0.0, 0.0, 0.4, 1.0)), sheet(2, 2, box(0.6, 0.0, 1.0, 1.0))]
    )
    layout = lay_out(
        garment(uv, panel=np.repeat(np.arange(2, dtype=np.int32), 8)), 64, gutter_px=16
    )
    panel = layout.face.reshape(-1)[layout.gutter_from] // 8
    np.testing.assert_array_equal(panel == 1, layout.gutter_to % 64 >= 32)
