"""The nearest place on a surface, against every triangle tried one by one."""

import numpy as np
import pytest

from texbake.arrays import F64
from texbake.garment.closest import closest, on_triangle, surface
from texbake.garment.panels import face_distances


def _shreds(seed: int, count: int = 300, slim: float = 1.0) -> F64:
    """Triangles here and there, some of them ten times as large as others."""
    rng = np.random.default_rng(seed)
    size = 10.0 ** rng.uniform(-1.0, 0.5, (count, 1, 1))
    shape = rng.normal(size=(count, 3, 3)) * [1.0, 1.0, slim]
    return np.asarray(rng.uniform(-10, 10, (count, 1, 3)) + size * shape)


@pytest.mark.parametrize("slim", [1.0, 1e-3])
def test_no_triangle_is_nearer_than_the_one_found(slim: float) -> None:
    corners = _shreds(1, slim=slim)
    points = np.random.default_rng(2).uniform(-14, 14, (400, 3))
    found = closest(surface(corners), points)
    every = np.array([face_distances(point, corners) for point in points])
    assert found.distance_mm == pytest.approx(every.min(axis=1), abs=1e-9)
    foot = (found.bary[..., None] * corners[found.face]).sum(axis=1)
    assert np.linalg.norm(foot - points, axis=1) == pytest.approx(found.distance_mm, abs=1e-12)
    assert found.bary.min() >= 0.0
    assert found.bary.sum(axis=1) == pytest.approx(1.0)


def test_a_single_triangle_and_one_without_area_are_searched_too() -> None:
    corners = np.array([[[0.0, 0, 0], [2, 0, 0], [4, 0, 0]]])
    found = closest(surface(corners), np.array([[1.0, 1, 0], [9, 0, 0]]))
    assert found.distance_mm.tolist() == [1.0, 5.0]


def test_back_to_back_layers_are_told_apart_by_their_side() -> None:
    sheet = np.array([[[0.0, 0, 0], [9, 0, 0], [0, 9, 0]]])
    both = np.concatenate([sheet, sheet[:, ::-1]])
    points = np.array([[1.0, 1, 0.2], [1.0, 1, 0.2]])
    found = closest(surface(both), points, normals=np.array([[0.0, 0, 1], [0, 0, -1]]))
    assert found.face.tolist() == [0, 1]


def test_what_is_out_of_reach_or_to_be_avoided_is_not_found() -> None:
    sheet = np.array([[[0.0, 0, 0], [9, 0, 0], [0, 9, 0]]])
    layers = np.concatenate([sheet + np.array([0, 0, up]) for up in (0, 1, 3)])
    points = np.array([[1.0, 1, 0]] * 3)
    found = closest(
        surface(layers),
        points,
        within_mm=np.array([5.0, 2.0, 0.5]),
        label=np.array([0, 0, 1], np.int32),
        avoid=np.array([0, 1, 0], np.int32),
    )
    assert found.face.tolist() == [2, 0, -1]
    assert found.distance_mm.tolist() == [3.0, 0.0, np.inf]


def test_the_order_of_the_points_changes_nothing() -> None:
    corners = _shreds(3)
    points = corners.mean(axis=1)
    backwards = closest(surface(corners), points[::-1])
    forwards = closest(surface(corners), points)
    assert np.array_equal(backwards.face[::-1], forwards.face)
    assert np.array_equal(backwards.bary[::-1], forwards.bary)


def test_of_equally_near_faces_the_lowest_is_taken() -> None:
    sheet = np.array([[[0.0, 0, 0], [9, 0, 0], [0, 9, 0]]])
    found = closest(surface(np.repeat(sheet, 40, axis=0)), np.array([[1.0, 1, 2]]))
    assert found.face.tolist() == [0]


def test_faces_that_are_not_kept_are_never_found() -> None:
    corners = _shreds(4)
    keep = np.arange(len(corners)) % 2 == 0
    found = closest(surface(corners, keep=keep), corners.mean(axis=1))
    assert keep[found.face].all()
    with pytest.raises(ValueError, match="at least one"):
        surface(corners, keep=keep & False)


def test_a_place_on_a_triangle_is_its_own_nearest() -> None:
    corners = _shreds(5)
    bary = np.random.default_rng(6).dirichlet([1.0, 1, 1], len(corners))
    point = (bary[..., None] * corners).sum(axis=1)
    shares, away = on_triangle(point, corners)
    assert away.max() < 1e-12
    assert shares == pytest.approx(bary, abs=1e-6)
