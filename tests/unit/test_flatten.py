"""One piece of cloth laid flat, and turned to its grain."""

import math

import numpy as np
import pytest
from scipy.spatial import Delaunay

from tests.sewn_by_hand import Map, apart_mm, around, grid, level
from texbake.arrays import F64, I64
from texbake.garment.flatten import borders, flatten, folded, reference_edges
from texbake.garment.grain import lay_on_grain

MIDDLE = np.zeros(3)


def bent(space: Map, columns: int = 10, rows: int = 8) -> tuple[F64, I64]:
    vertices, faces = grid(columns, rows)
    return space(vertices[:, 0], vertices[:, 1]), faces


def ring(space: Map) -> tuple[F64, I64]:
    """A grid of 9 by 9 cells without the middle 3 by 3."""
    points, faces = bent(space, 9, 9)
    vertices, _ = grid(9, 9)
    middle = vertices[faces].mean(axis=1)
    kept = faces[(np.abs(middle - 0.5) > 1 / 6).any(axis=1)]
    used, renumbered = np.unique(kept, return_inverse=True)
    return points[used], renumbered.reshape(-1, 3)


def areas(flat_mm: F64, faces: I64) -> F64:
    a, b, c = (flat_mm[faces[:, i]] for i in range(3))
    u, v = b - a, c - a
    return 0.5 * (u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0])


def dome(s: F64, t: F64) -> F64:
    x, y = 300 * (s - 0.5), 300 * (t - 0.5)
    return np.stack([x, y, 150 * np.cos(x / 120) * np.cos(y / 120)], axis=-1)


def test_a_flat_rectangle_keeps_its_shape_wherever_it_lies() -> None:
    points, faces = bent(level(300.0, 200.0))
    turn = np.linalg.qr(np.array([[0.2, 0.9, 0.1], [0.7, -0.3, 0.4], [0.1, 0.5, 0.8]]))[0]
    assert apart_mm(flatten(points @ turn.T * np.linalg.det(turn), faces), points[:, :2]) < 1e-6


def test_a_single_triangle_keeps_its_sides() -> None:
    points = np.array([[0.0, 0, 0], [0, 30, 0], [0, 0, 40]])
    flat = flatten(points, np.array([[0, 1, 2]]))
    sides = np.linalg.norm(flat - np.roll(flat, -1, axis=0), axis=1)
    assert sides == pytest.approx([30, 50, 40])


@pytest.mark.parametrize(
    "space",
    [level(300.0, 200.0), around(100.0, 200.0, 0.0, 4.0), dome],
    ids=["flat", "tube", "dome"],
)
def test_the_outside_stays_up(space: Map) -> None:
    points, faces = bent(space)
    assert (areas(flatten(points, faces), faces) > 0).all()
    assert (areas(flatten(points, faces[:, ::-1]), faces[:, ::-1]) > 0).all()


def test_a_mirrored_start_gives_no_mirrored_piece() -> None:
    points, faces = bent(around(100.0, 200.0, 0.0, 3.0))
    flat = flatten(points, faces)
    again = flatten(points, faces, start=flat * [-1.0, 1.0])
    assert apart_mm(flat, again) < 1e-3


def test_both_starts_end_in_one_place() -> None:
    points, faces = bent(dome, 20, 20)
    assert apart_mm(flatten(points, faces), flatten(points, faces, start="tutte")) < 0.001


def test_a_crumpled_piece_ends_without_folds_and_in_one_place() -> None:
    random = np.random.default_rng(3)
    flat = [random.uniform(-1, 1, (60, 2)) for _ in range(3)][2]
    faces = Delaunay(flat).simplices.astype(np.int64)
    down = areas(flat, faces) < 0
    faces[down] = faces[down][:, ::-1]
    bump = 80 * np.cos(4 * flat[:, 0]) * np.cos(3 * flat[:, 1])
    points = np.column_stack([100 * flat, bump])  # a conformal map of it has four faces folded
    a, b = flatten(points, faces), flatten(points, faces, start="tutte")
    assert not folded(a, faces).any()
    assert not folded(b, faces).any()
    assert apart_mm(a, b) < 0.001


def test_a_flat_ring_stays_a_ring() -> None:
    points, faces = ring(level(300.0, 300.0))
    assert len(borders(faces)) == 2
    assert apart_mm(flatten(points, faces), points[:, :2]) < 1e-6
    assert apart_mm(flatten(points, faces, start="tutte"), points[:, :2]) < 0.001


def test_borders_run_with_the_faces() -> None:
    _, faces = grid(2, 1)
    (loop,) = borders(faces)
    at = loop.tolist().index(0)
    assert np.roll(loop, -at).tolist() == [0, 1, 2, 5, 4, 3]


def test_a_closed_piece_is_refused() -> None:
    points = np.array([[0.0, 0, 0], [1, 0, 0], [0, 1, 0], [0, 0, 1]])
    faces = np.array([[0, 2, 1], [0, 1, 3], [1, 2, 3], [2, 0, 3]])
    with pytest.raises(ValueError, match="without a border"):
        flatten(points, faces)


def test_faces_without_area_are_borne() -> None:
    points, faces = bent(level(300.0, 200.0))
    points = points.copy()
    inner = faces[40]
    points[inner[0]] = points[inner[1]]  # two corners at one place
    points[faces[90]] = points[faces[90]].mean(axis=0)  # three corners at one place
    flat = flatten(points, faces)
    assert np.isfinite(flat).all()
    assert not folded(flat, faces, reference_edges(points, faces)).any()


def test_needles_are_borne() -> None:
    points, faces = bent(lambda s, t: np.stack([300 * s, 1e-7 * t, 0 * s], axis=-1))
    flat = flatten(points, faces)
    assert np.isfinite(flat).all()
    assert np.ptp(flat @ [[1, 1], [1, -1]], axis=0).max() > 200


def test_a_piece_without_any_size_is_borne() -> None:
    points, faces = bent(lambda s, t: 0.0 * np.stack([s, t, s], axis=-1), 3, 3)
    assert not flatten(points, faces).any()


def test_folded_faces_are_told() -> None:
    flat = np.array([[0.0, 0], [1, 0], [0, 1]])
    assert folded(flat, np.array([[0, 1, 2], [0, 2, 1]])).tolist() == [False, True]


def test_reference_edges_are_as_long_as_in_space() -> None:
    points, faces = bent(dome)
    edges = reference_edges(points, faces)
    corner = points[faces]
    want = np.linalg.norm(np.roll(corner, -2, axis=1) - np.roll(corner, -1, axis=1), axis=2)
    np.testing.assert_allclose(np.abs(edges), want, rtol=1e-12)
    np.testing.assert_allclose(edges.sum(axis=1), 0, atol=1e-10)


def test_on_a_front_y_is_up_and_x_is_the_viewers_right() -> None:
    points, faces = bent(level(300.0, 200.0, z_mm=100.0))
    laid = lay_on_grain(points, faces, flatten(points, faces), middle_mm=MIDDLE)
    np.testing.assert_allclose(laid, points[:, :2] - [0.0, 100.0], atol=1e-6)


def test_on_a_back_x_is_the_viewers_right_too() -> None:
    points, faces = bent(level(300.0, 200.0))
    points = points * [-1.0, 1.0, -1.0]  # turned to the back
    laid = lay_on_grain(points, faces, flatten(points, faces), middle_mm=MIDDLE)
    np.testing.assert_allclose(laid, points[:, :2] * [-1.0, 1.0] - [0.0, 100.0], atol=1e-6)


def test_the_warp_leans_counter_clockwise_by_the_grain() -> None:
    points, faces = bent(level(300.0, 200.0))
    flat = flatten(points, faces)
    laid = lay_on_grain(points, faces, flat, grain_rad=math.radians(30), middle_mm=MIDDLE)
    # A step along the warp (+y of the pattern plane) goes up and to the viewer's left.
    affine = np.linalg.lstsq(laid - laid.mean(axis=0), points[:, :2] - [0, 100], rcond=None)[0]
    np.testing.assert_allclose(np.array([0.0, 1.0]) @ affine, [-0.5, math.sqrt(0.75)], atol=1e-6)


def test_the_origin_is_the_middle_of_the_area_however_it_is_cut_into_faces() -> None:
    fine = bent(lambda s, t: level(300.0, 200.0)(s**3, t), 12, 3)
    laid = lay_on_grain(*fine, flatten(*fine), middle_mm=MIDDLE)
    assert laid.min(axis=0) == pytest.approx([-150, -100])
    assert laid.max(axis=0) == pytest.approx([150, 100])


@pytest.mark.parametrize(
    ("top", "up"), [(True, [0.0, 0.0, -1.0]), (False, [0.0, 0.0, 1.0])], ids=["yoke", "underside"]
)
def test_lying_cloth_goes_on_where_the_front_leads(top: bool, up: list[float]) -> None:
    points, faces = bent(level(300.0, 200.0))
    points = points[:, [0, 2, 1]] * ([1, 1, -1] if top else [1, 1, 1])
    laid = lay_on_grain(points, faces, flatten(points, faces), middle_mm=MIDDLE)
    np.testing.assert_allclose(laid[:, 1], points @ up - (points @ up).mean(), atol=1e-6)
    np.testing.assert_allclose(laid[:, 0], points[:, 0], atol=1e-6)


@pytest.mark.parametrize("side", [-1, 1])
def test_a_sleeve_held_out_has_its_grain_along_the_arm_to_the_shoulder(side: int) -> None:
    points, faces = bent(around(60.0, 500.0, -math.pi, math.pi), 24, 8)
    points = points[:, [1, 0, 2]] * [side, -side, 1] + [side * 200, 0, 0]  # along x, not mirrored
    laid = lay_on_grain(points, faces, flatten(points, faces), middle_mm=MIDDLE)
    along = -side * points[:, 0]
    np.testing.assert_allclose(laid[:, 1], along - along.mean(), atol=1e-3)
    assert (areas(laid, faces) > 0).all()
