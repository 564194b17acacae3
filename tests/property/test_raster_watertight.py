"""Any triangulation of the image covers every texel exactly once."""

from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.garments_by_hand import garment
from texbake.arrays import F64, I32
from texbake.layout import lay_out, raster


def triangulation(points: F64) -> F64:
    """Delaunay triangles (Qhull) of points, as UV corners. (F, 3, 2)."""
    from scipy.spatial import Delaunay

    triangles: F64 = points[Delaunay(points).simplices]
    return triangles


def scattered(seed: int, count: int) -> F64:
    """Random points of the square with its corners and some of its border."""
    random = np.random.default_rng(seed)
    inside = random.random((count, 2))
    side = random.random((4, 6))
    zero, one = np.zeros(6), np.ones(6)
    border = [(side[0], zero), (side[1], one), (zero, side[2]), (one, side[3])]
    corners = np.array([[0.0, 0.0], [1.0, 0.0], [0.0, 1.0], [1.0, 1.0]])
    return np.concatenate([corners, inside, *(np.stack(b, axis=1) for b in border)])


@settings(deadline=None, max_examples=40)
@given(
    seed=st.integers(0, 2**32 - 1),
    count=st.integers(0, 300),
    size_px=st.sampled_from([16, 31, 64, 100]),
)
def test_a_triangulated_square_covers_each_texel_once(seed: int, count: int, size_px: int) -> None:
    layout = lay_out(garment(triangulation(scattered(seed, count))), size_px, gutter_px=4)
    assert layout.face.min() >= 0
    assert layout.overlaps == ()
    assert layout.partial.size == 0
    assert layout.gutter_to.size == 0


@settings(deadline=None, max_examples=25)
@given(seed=st.integers(0, 2**32 - 1), flips=st.integers(0, 2**32 - 1))
def test_corners_on_texel_centres_lose_and_double_nothing(seed: int, flips: int) -> None:
    """Vertices and edges through centres are where a rasteriser's tie rule shows."""
    grid = np.stack(np.meshgrid(np.arange(9), np.arange(9)), axis=2).reshape(-1, 2)
    inner = (grid > 0).all(axis=1) & (grid < 8).all(axis=1)
    points = grid * 4.0
    points[inner] += np.random.default_rng(seed).integers(-1, 2, (inner.sum(), 2)) * 0.5
    uv = triangulation(points / 32.0)
    turned = np.random.default_rng(flips).random(len(uv)) < 0.5
    uv[turned] = uv[turned][:, ::-1]
    layout = lay_out(garment(uv), 32, gutter_px=0)
    assert layout.face.min() >= 0
    assert layout.overlaps == ()


def owners(uv: F64, size_px: int) -> list[list[tuple[set[int], set[int]]]]:
    """Per texel: faces that hold its centre strictly inside, and at all. Exact rationals."""
    corners = [
        [(Fraction(float(u)) * size_px, (1 - Fraction(float(v))) * size_px) for u, v in face]
        for face in uv
    ]
    return [[_owners(corners, c, r) for c in range(size_px)] for r in range(size_px)]


def _owners(
    corners: list[list[tuple[Fraction, Fraction]]], column: int, row: int
) -> tuple[set[int], set[int]]:
    x, y = column + Fraction(1, 2), row + Fraction(1, 2)
    inside, touching = set(), set()
    for number, face in enumerate(corners):
        signs = [
            (q[0] - p[0]) * (y - p[1]) - (q[1] - p[1]) * (x - p[0])
            for p, q in zip(face, face[1:] + face[:1], strict=True)
        ]
        if min(signs) > 0 or max(signs) < 0:
            inside.add(number)
        if min(signs) >= 0 or max(signs) <= 0:
            touching.add(number)
    return inside, touching


@pytest.mark.parametrize("seed", range(6))
def test_faces_agree_with_exact_point_in_triangle(seed: int) -> None:
    """Loose triangles that overlap, corners on a fine grid that the raster holds exactly."""
    size = 16
    uv = np.random.default_rng(seed).integers(-64, 320, (7, 3, 2)) / 256
    layout = lay_out(garment(uv), size, gutter_px=0)
    centre = layout.face.copy()
    centre.reshape(-1)[layout.partial] = -1
    for row, line in enumerate(owners(uv, size)):
        for column, (inside, touching) in enumerate(line):
            got = int(centre[row, column])
            assert got in touching | ({-1} if not inside else set())
            assert got <= min(inside, default=99)
            if got == -1:
                assert not inside


@pytest.mark.parametrize("seed", range(6))
def test_overlaps_agree_with_exact_point_in_triangle(seed: int) -> None:
    size = 16
    uv = np.random.default_rng(100 + seed).integers(0, 2**20, (5, 3, 2)) / 2**20
    panel: I32 = np.array([0, 1, 0, 2, 1], np.int32)
    layout = lay_out(garment(uv, panel=panel), size, gutter_px=0)
    want: dict[tuple[int, int], int] = {}
    for line in owners(uv, size):
        for inside, touching in line:
            assert inside == touching  # none of these random edges meets a centre
            for loser in sorted(inside)[1:]:
                pair = sorted((int(panel[min(inside)]), int(panel[loser])))
                want[pair[0], pair[1]] = want.get((pair[0], pair[1]), 0) + 1
    assert {o.panels: o.texels for o in layout.overlaps} == want
    assert want


def test_the_number_of_spans_at_once_changes_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    uv = np.concatenate([triangulation(scattered(3, 60)), triangulation(scattered(4, 20)) * 0.5])
    panel = (np.arange(len(uv)) % 3).astype(np.int32)
    whole = lay_out(garment(uv, panel=panel), 70, gutter_px=0)
    monkeypatch.setattr(raster, "SPANS_AT_ONCE", 50)
    parts = lay_out(garment(uv, panel=panel), 70, gutter_px=0)
    np.testing.assert_array_equal(parts.face, whole.face)
    assert parts.overlaps == whole.overlaps != ()


@settings(deadline=None, max_examples=25)
@given(seed=st.integers(0, 2**32 - 1), angle=st.floats(0.0, 6.28))
def test_a_turned_island_has_no_holes(seed: int, angle: float) -> None:
    """Every texel whose centre lies well inside a turned square is covered, none outside."""
    points = scattered(seed, 40) - 0.5
    turn = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    layout = lay_out(garment(0.5 + triangulation(points) * 0.6 @ turn.T), 80, gutter_px=0)
    column, row = np.meshgrid((np.arange(80) + 0.5) / 80, (np.arange(80) + 0.5) / 80)
    back = np.stack([column - 0.5, 0.5 - row], axis=2) @ turn / 0.6
    reach = np.abs(back).max(axis=2)
    covered = layout.face >= 0
    assert covered[reach < 0.5 - 1e-9].all()
    assert not covered[reach > 0.5 + 1.5 / 80 / 0.6].any()
    assert layout.overlaps == ()
