"""Corners at one place in space share a number."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from texbake.arrays import F64, I32
from texbake.garment.weld import components, first_seen, same_place, weld

TWO_SPLIT = np.array([[0, 1, 2], [3, 4, 5]], np.int32)


def two_triangles(gap_mm: float) -> F64:
    """Two triangles of one metre that share an edge, up to ``gap_mm``."""
    return np.array(
        [[0, 0, 0], [1000, 0, 0], [0, 1000, 0], [0, 1000, gap_mm], [1000, 0, 0], [1000, 1000, 0]],
        np.float64,
    )


def test_corners_at_one_place_share_a_number_in_order_of_appearance() -> None:
    assert weld(two_triangles(0.0), TWO_SPLIT).tolist() == [[0, 1, 2], [2, 1, 3]]


def test_already_shared_corners_stay_shared() -> None:
    points = two_triangles(0.0)[[0, 1, 2, 5]]
    faces = np.array([[3, 2, 1], [0, 1, 2]], np.int32)
    assert weld(points, faces).tolist() == [[0, 1, 2], [3, 2, 1]]


def test_default_tolerance_is_a_millionth_of_the_diagonal() -> None:
    diagonal = np.sqrt(2.0) * 1000.0
    assert weld(two_triangles(0.9e-6 * diagonal), TWO_SPLIT).max() == 3
    assert weld(two_triangles(1.1e-6 * diagonal), TWO_SPLIT).max() == 4


def test_default_tolerance_is_never_under_a_nanometre() -> None:
    points = two_triangles(0.0) * 1e-5
    points[3, 2] = 0.9e-6
    assert weld(points, TWO_SPLIT).max() == 3


def test_a_given_tolerance_is_used() -> None:
    assert weld(two_triangles(0.4), TWO_SPLIT, tolerance_mm=0.5).max() == 3
    assert weld(two_triangles(0.6), TWO_SPLIT, tolerance_mm=0.5).max() == 4


def test_points_that_no_face_uses_do_not_widen_the_tolerance() -> None:
    far = np.array([[1e9, 0.0, 0.0]])
    points = np.concatenate([two_triangles(0.1), far])
    assert weld(points, TWO_SPLIT).max() == 4


def test_minus_zero_is_zero() -> None:
    points = two_triangles(0.0)
    points[3, 2] = -0.0
    assert weld(points, TWO_SPLIT, tolerance_mm=0.0).max() == 3


def test_no_faces_give_no_corners() -> None:
    assert weld(np.zeros((0, 3)), np.zeros((0, 3), np.int32)).shape == (0, 3)


def test_labels_are_renumbered_by_first_appearance_in_any_shape() -> None:
    assert first_seen(np.array([[5, 3], [3, 8]])).tolist() == [[0, 1], [1, 2]]


def test_components_are_numbered_by_their_first_node() -> None:
    assert components(np.array([[4, 1], [3, 2]]), 5).tolist() == [0, 1, 2, 2, 1]


def brute_places(points: F64, tolerance: float) -> I32:
    """Single linkage by looking at every pair."""
    far = np.linalg.norm(points[:, None] - points[None], axis=2)
    reach = far <= tolerance
    for _ in range(len(points)):
        reach = (reach.astype(np.int64) @ reach.astype(np.int64)) > 0
    return first_seen(reach.argmax(axis=1))


@settings(max_examples=60, deadline=None)
@given(st.lists(st.tuples(*[st.integers(0, 4)] * 3), min_size=1, max_size=12))
def test_near_points_are_found_wherever_they_lie_on_a_grid(
    cells: list[tuple[int, int, int]],
) -> None:
    points = np.array(cells, np.float64) * 0.25
    got = first_seen(same_place(points, 0.3))
    assert got.tolist() == brute_places(points, 0.3).tolist()


def test_many_near_twins_are_found_as_well_as_few() -> None:
    # On a grid every point has another as near on each axis, so all 3,375 are candidates.
    grid = np.stack(np.meshgrid(*[np.arange(15.0)] * 3), axis=-1).reshape(-1, 3)
    twins = grid + np.array([0.0, 1e-4, 0.0])
    label = same_place(np.concatenate([grid, twins]), 2e-4)
    assert len(np.unique(label)) == 15**3
    assert np.array_equal(label[: 15**3], label[15**3 :])


@pytest.mark.parametrize("shift", [0.0, 0.5e-3, 1.0 / 3.0, 1e4])
def test_places_do_not_depend_on_where_the_origin_is(shift: float) -> None:
    points = two_triangles(1e-4) + shift
    assert weld(points, TWO_SPLIT).max() == 3


def test_the_order_of_points_in_the_file_changes_nothing() -> None:
    rng = np.random.default_rng(7)
    points = rng.integers(0, 4, (60, 3)).astype(np.float64)
    faces = rng.integers(0, 60, (40, 3)).astype(np.int32)
    order = rng.permutation(60)
    where = np.argsort(order)[faces].astype(np.int32)
    assert np.array_equal(weld(points, faces), weld(points[order], where))
