"""Polygons become triangles that cover them, once."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from texbake.arrays import F64
from texbake.garment.triangulate import triangulate


def cut(ring: F64) -> tuple[F64, int]:
    """Signed areas of the triangles of one flat polygon (n, 2), and whether it tore."""
    points = np.concatenate([ring, np.zeros((len(ring), 1))], axis=1)
    corner = np.arange(len(ring))
    triangles, polygon, torn = triangulate(points, corner, np.array([len(ring)]))
    assert len(triangles) == len(ring) - 2
    assert (polygon == 0).all()
    a, b, c = (ring[triangles[:, k]] for k in range(3))
    return 0.5 * ((b - a)[:, 0] * (c - a)[:, 1] - (b - a)[:, 1] * (c - a)[:, 0]), torn


def shoelace(ring: F64) -> float:
    x, y = ring.T
    return float(0.5 * (x * np.roll(y, -1) - y * np.roll(x, -1)).sum())


L_SHAPE = np.array([[0.0, 0], [2, 0], [2, 1], [1, 1], [1, 2], [0, 2]])
COLLINEAR = np.array([[0.0, 0], [1, 0], [2, 0], [2, 1], [1, 1], [0, 1]])
# A square with a square hole: the bridge between them is passed twice.
HOLED = np.array([[0.0, 0], [4, 0], [4, 4], [0, 4], [0, 0], [1, 1], [1, 3], [3, 3], [3, 1], [1, 1]])


@pytest.mark.parametrize("ring", [L_SHAPE, COLLINEAR, HOLED])
@pytest.mark.parametrize("start", range(6))
def test_triangles_cover_the_polygon_wherever_it_starts(ring: F64, start: int) -> None:
    area, torn = cut(np.roll(ring, start, axis=0))
    assert torn == 0
    assert area.min() > 0.0
    assert area.sum() == pytest.approx(shoelace(ring))


@settings(max_examples=60, deadline=None)
@given(st.lists(st.floats(0.2, 1.0), min_size=4, max_size=30))
def test_star_shaped_polygons_are_covered_once(radius: list[float]) -> None:
    angle = np.linspace(0.0, 2.0 * np.pi, len(radius), endpoint=False)
    ring = np.array(radius)[:, None] * np.stack([np.cos(angle), np.sin(angle)], axis=1)
    area, torn = cut(ring)
    assert torn == 0
    assert area.min() >= -1e-12
    assert area.sum() == pytest.approx(shoelace(ring))


def test_a_polygon_keeps_its_turn_in_any_plane() -> None:
    turn = np.linalg.qr(np.random.default_rng(5).normal(size=(3, 3)))[0]
    turn *= np.linalg.det(turn)
    flat = np.concatenate([L_SHAPE, np.zeros((6, 1))], axis=1)
    points = flat @ turn.T + 100.0
    triangles, _, torn = triangulate(points, np.array([3, 4, 5, 0, 1, 2]), np.array([6]))
    a, b, c = (points[np.array([3, 4, 5, 0, 1, 2])[triangles[:, k]]] for k in range(3))
    along = np.cross(b - a, c - a) @ turn[:, 2]
    assert torn == 0
    assert along.min() > 0.0
    assert along.sum() == pytest.approx(6.0)


def test_polygons_of_all_sizes_stay_in_order() -> None:
    points = np.concatenate([L_SHAPE, np.zeros((6, 1))], axis=1)
    corner = np.array([0, 1, 2, 0, 1, 2, 3, 4, 5, 0, 1, 2, 3])
    triangles, polygon, _ = triangulate(points, corner, np.array([3, 6, 4]))
    assert polygon.tolist() == [0, 1, 1, 1, 1, 2, 2]
    assert sorted(triangles[0].tolist()) == [0, 1, 2]
    assert triangles[1:5].min() == 3
    assert triangles[1:5].max() == 8
    assert triangles[5:].min() == 9


def test_a_polygon_that_crosses_itself_or_has_no_area_is_still_n_minus_2_triangles() -> None:
    assert cut(np.array([[0.0, 0], [1, 1], [1, 0], [0, 1]]))[1] == 1
    assert cut(np.zeros((5, 2)))[1] == 1
