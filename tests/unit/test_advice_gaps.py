"""How far islands are apart: known layouts, another way of measuring, and brute-force filtering."""

import itertools
import math

import numpy as np
import pytest
from numpy.typing import NDArray

from tests.garments_by_hand import box, garment, sheet
from texbake.advice import clean_level, gap_wanted, gaps
from texbake.arrays import F64, I32
from texbake.garment.values import Garment
from texbake.layout.gutter import gutter

SIZE = 256
NONE: set[tuple[int, int]] = set()


def islands(*uvs: F64) -> Garment:
    """One island for each array of triangles, each a panel."""
    number = np.concatenate([np.full(len(uv), k, np.int32) for k, uv in enumerate(uvs)])
    return garment(np.concatenate(uvs), panel=number)


def square(left: float, bottom: float, wide: float = 32.0, high: float = 32.0) -> F64:
    """A rectangle, in texels from the bottom left."""
    corners = box(left, bottom, left + wide, bottom + high)
    return sheet(3, 2, corners) / SIZE


def nearest(made: Garment, within: float = 8.0) -> tuple[tuple[int, int], float]:
    first = gaps(made, SIZE, within=within, apart=NONE)[0]
    return first.islands, first.texels


def assert_apart(
    first: int, second: int, texels: object, got: tuple[tuple[int, int], float]
) -> None:
    assert got[0] == (first, second)
    assert got[1] == texels


@pytest.mark.parametrize(
    ("right", "up", "texels"),
    [(32.0 + 5.25, 0.0, 5.25), (32.0 + 3.0, 32.0 + 4.0, 5.0), (10.0, 32.0 + 7.5, 7.5), (32, 0, 0)],
)
def test_the_distance_of_two_squares_is_a_rulers(right: float, up: float, texels: float) -> None:
    made = islands(square(20, 20), square(20 + right, 20 + up))
    assert_apart(0, 1, pytest.approx(texels, abs=1e-5), nearest(made))


def test_a_corner_over_the_middle_of_a_long_edge_is_measured_to_the_edge() -> None:
    low = square(10, 10, 200, 20)
    tip = np.array([[[110.3, 33.0], [140.0, 90.0], [80.0, 90.0]]]) / SIZE
    (gap,) = gaps(islands(low, tip), SIZE, within=8, apart=NONE)
    assert gap.texels == pytest.approx(3.0, abs=1e-5)
    assert gap.uv == pytest.approx((110.3 / SIZE, 31.5 / SIZE), abs=1e-6)


def test_slivers_that_cross_between_texel_centres_touch() -> None:
    across = square(10, 100.05, 100, 0.2)
    up = square(60.05, 50, 0.2, 100)
    assert nearest(islands(across, up)) == ((0, 1), 0.0)


def test_an_island_in_the_hole_of_another_is_measured_to_the_holes_rim() -> None:
    bars = (10, 10, 90, 20), (10, 80, 90, 20), (10, 30, 20, 50), (80, 30, 20, 50)
    frame = np.concatenate([square(*bar) for bar in bars])
    assert_apart(0, 1, pytest.approx(6, abs=1e-5), nearest(islands(frame, square(36, 50, 20, 20))))


def test_far_islands_have_their_distance_too_and_near_ones_come_in_order() -> None:
    made = islands(square(0, 0), square(200, 0), square(200, 44))
    assert_apart(1, 2, pytest.approx(12.0, abs=1e-5), nearest(made, within=1.0))
    found = gaps(made, SIZE, within=170.0, apart=NONE)
    assert [gap.islands for gap in found] == [(1, 2), (0, 1), (0, 2)]
    assert found[1].texels == pytest.approx(168.0, abs=1e-4)


def test_islands_that_are_told_otherwise_are_left_out() -> None:
    made = islands(square(0, 0), square(34, 0), square(80, 0))
    assert nearest(made)[0] == (0, 1)
    assert gaps(made, SIZE, within=8, apart={(0, 1)})[0].islands == (1, 2)
    assert gaps(islands(square(0, 0)), SIZE, within=8, apart=NONE) == []
    assert gaps(made, SIZE, within=8, apart={(0, 1), (0, 2), (1, 2)}) == []


def test_random_triangles_agree_with_points_strewn_on_their_outlines() -> None:
    rng = np.random.default_rng(5)
    places = itertools.product((0.15, 0.5, 0.85), repeat=2)
    tris = [np.array(p) + rng.uniform(-0.13, 0.13, (1, 3, 2)) for p in places]
    found = gaps(islands(*tris), SIZE, within=400.0, apart=NONE)
    assert len(found) == 9 * 8 // 2
    share = np.linspace(0.0, 1.0, 400)[:, None]
    strewn = [
        np.concatenate(
            [a * (1 - share) + b * share for a, b in zip(t, np.roll(t, 1, 0), strict=True)]
        )
        for t in (tri[0] * SIZE for tri in tris)
    ]
    # Neighbours on an outline are at most this far apart, so a pair misses by less.
    step = 0.26 * math.sqrt(2) * SIZE / 399
    for gap in found:
        a, b = (strewn[k] for k in gap.islands)
        away = np.hypot(a[:, None, 0] - b[None, :, 0], a[:, None, 1] - b[None, :, 1]).min()
        assert away - step <= gap.texels <= away + 1e-4


def test_distance_does_not_depend_on_the_size_or_on_how_faces_are_cut() -> None:
    coarse = islands(square(20, 20), square(61.5, 30))
    fine = islands(sheet(40, 40, box(20, 20, 52, 52)) / SIZE, square(61.5, 30))
    assert_apart(0, 1, pytest.approx(nearest(coarse)[1], abs=1e-5), nearest(fine))
    large = gaps(coarse, 4 * SIZE, within=8, apart=NONE)[0].texels
    assert large == pytest.approx(4 * nearest(coarse)[1], abs=1e-4)


def stained(gap_px: int, level: int, offset: int) -> float:
    """The most of another island that a bilinear read inside an island sees at a mip level.

    Two halves of a picture, black and white, their gap filled by the gutter.
    """
    size, edge = 128, 40 + offset
    face: I32 = np.full((8 << level, size), -1, np.int32)
    face[:, :edge], face[:, edge + gap_px :] = 0, 1
    to, source = gutter(face, 64)
    flat: NDArray[np.float64] = face.astype(np.float64).ravel()
    flat[to] = flat[source]
    row = flat.reshape(face.shape)[0].reshape(-1, 1 << level).mean(axis=1)
    at = np.linspace(edge - 2.0, edge, 33) / (1 << level) - 0.5
    return float(np.interp(at, np.arange(len(row)), row).max())


@pytest.mark.parametrize("level", [0, 1, 2, 3, 4])
def test_three_times_two_to_the_level_is_what_keeps_a_level_clean(level: int) -> None:
    """Brute force over every alignment of the border with the mip level's texels."""
    wanted = gap_wanted(1 << level)
    assert clean_level(wanted) == level
    offsets = range(1 << level)
    assert max(stained(wanted, level, offset) for offset in offsets) == 0.0
    # Borders lie on whole texels here, which saves up to two; the other half of a gap, two more.
    assert max(stained(max(wanted - 4, 0), level, offset) for offset in offsets) > 0.0
    assert clean_level(wanted - 0.5) == level - 1
