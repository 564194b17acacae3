"""Which face lies at which texel, and where on the cloth that is."""

import math
from fractions import Fraction

import numpy as np
import pytest

from tests.garments_by_hand import box, garment, sheet
from texbake.arrays import F32, F64, bands
from texbake.errors import UserError
from texbake.layout import Overlap, lay_out, raster, space_mm, texels
from texbake.layout.tables import tables
from texbake.layout.values import Layout


def centres(size_px: int) -> tuple[F64, F64]:
    """Column and row centres from the top left, and that is all a test may assume."""
    at = np.arange(size_px) + 0.5
    return np.broadcast_to(at, (size_px, size_px)), np.broadcast_to(at[:, None], (size_px, size_px))


def everything(layout: Layout) -> tuple[F64, F64]:
    band = texels(layout, slice(0, layout.size_px))
    x, y = (np.full(layout.size_px**2, np.nan) for _ in range(2))
    x[band.index], y[band.index] = band.x_mm, band.y_mm
    return x.reshape(layout.face.shape), y.reshape(layout.face.shape)


def test_row_0_is_at_the_top_and_u_runs_to_the_right() -> None:
    layout = lay_out(garment(sheet(1, 1, box(0.5, 0.75, 1.0, 1.0))), 16, gutter_px=0)
    want = np.zeros((16, 16), bool)
    want[:4, 8:] = True
    np.testing.assert_array_equal(layout.face >= 0, want)


def test_an_island_on_the_texel_grid_has_no_partial_texels() -> None:
    layout = lay_out(garment(sheet(2, 2, box(0.25, 0.25, 0.75, 0.75))), 16, gutter_px=0)
    assert (layout.face >= 0).sum() == 64
    assert layout.partial.size == 0


@pytest.mark.parametrize("size_px", [16, 17, 100, 2048])
def test_the_pattern_plane_is_read_at_texel_centres(size_px: int) -> None:
    layout = lay_out(garment(sheet(3, 5, box(0.0, 0.0, 1.0, 1.0))), size_px, gutter_px=0)
    column, row = centres(size_px)
    x, y = everything(layout)
    np.testing.assert_allclose(x, column / size_px * 1000.0, atol=2e-4)
    np.testing.assert_allclose(y, 1000.0 - row / size_px * 1000.0, atol=2e-4)


def test_texels_do_not_depend_on_the_band() -> None:
    layout = lay_out(garment(sheet(4, 4, TILTED)), 64, gutter_px=0)
    whole = texels(layout, slice(0, 64))
    parts = [texels(layout, band) for band in bands(64, 7)]
    for name in ("index", "face", "x_mm", "y_mm"):
        joined = np.concatenate([getattr(p, name) for p in parts])
        np.testing.assert_array_equal(joined, getattr(whole, name))
        assert joined.dtype == getattr(whole, name).dtype
    spaces = np.concatenate([space_mm(layout, p) for p in parts], axis=1)
    np.testing.assert_array_equal(spaces, space_mm(layout, whole))


def test_bands_without_cloth_are_empty() -> None:
    layout = lay_out(garment(sheet(1, 1, box(0.0, 0.0, 0.5, 0.25))), 32, gutter_px=0)
    band = texels(layout, slice(0, 8))
    assert band.index.size == band.x_mm.size == 0
    assert space_mm(layout, band).shape == (3, 0)


def test_texels_keep_their_types() -> None:
    layout = lay_out(garment(sheet(2, 2, TILTED)), 32, gutter_px=4)
    band = texels(layout, slice(0, 32))
    whole = [band.index, layout.partial, layout.gutter_to, layout.gutter_from]
    assert {a.dtype.name for a in whole} == {"int64"}
    assert {a.dtype.name for a in (band.face, layout.face)} == {"int32"}
    real = [band.x_mm, band.y_mm, space_mm(layout, band), layout.to_pattern, layout.frame]
    assert {a.dtype.name for a in real} == {"float32"}
    np.testing.assert_array_equal(band.face, layout.face.reshape(-1)[band.index])
    np.testing.assert_array_equal(np.flatnonzero(layout.face >= 0), band.index)


@pytest.mark.parametrize("size_px", [8192, 16384])
def test_float32_tables_place_texels_within_2_micrometres(size_px: int) -> None:
    """A sheet of 1.6 m, no image made: the tables' own form, at random points of each face."""
    uv, pattern = sheet(9, 7, TILTED), sheet(9, 7, PATTERN)
    made = garment(uv, pattern_mm=pattern)
    table = tables(made, raster.snap(uv, made.panel, size_px)).to_pattern
    weight = np.random.default_rng(1).dirichlet([1.0, 1.0, 1.0], (50, len(uv)))
    point, want = (np.sum(weight[..., None] * corners, axis=2) for corners in (uv, pattern))
    column = (point[..., 0] * size_px).astype(np.float32)
    row = (size_px - point[..., 1] * size_px).astype(np.float32)
    got = table[:, :, 0] * column[..., None] + table[:, :, 1] * row[..., None] + table[:, :, 2]
    assert got.dtype == np.float32
    assert np.abs(got - want).max() < 0.002


TILTED = np.array([[[0.12, 0.07], [0.91, 0.18]], [[0.05, 0.83], [0.88, 0.95]]])
PATTERN = np.array([[[-700.0, 30.0], [800.0, -40.0]], [[-650.0, 1500.0], [830.0, 1600.0]]])


def test_faces_without_a_panel_are_left_out() -> None:
    uv = sheet(1, 1, box(0.0, 0.0, 1.0, 1.0))
    layout = lay_out(garment(uv, panel=np.array([0, -1], np.int32)), 32, gutter_px=0)
    assert set(np.unique(layout.face)) <= {-1, 0}
    assert not layout.to_pattern[1].any()


def test_faces_without_area_give_zeros_and_no_texels() -> None:
    uv = np.concatenate([sheet(1, 1, box(0.1, 0.1, 0.9, 0.5)), np.full((1, 3, 2), 0.7)])
    line = np.array([[[0.25, 0.5], [0.5, 0.625], [0.75, 0.75]]])
    layout = lay_out(garment(np.concatenate([uv, line])), 64, gutter_px=4)
    assert layout.face.max() == 1
    for name in ("to_pattern", "to_space", "footprint_mm", "frame", "texel_mm"):
        table = getattr(layout, name)
        assert np.isfinite(table).all()
        assert not table[2:].any()


def test_a_face_as_thin_as_a_hair_takes_no_texels_beside_it() -> None:
    """Its map, extended by half a texel, would point metres away."""
    sliver = np.array([[[0.1, 0.6], [0.5, 0.7], [0.9, 0.8]]])  # in line but for rounding
    uv = np.concatenate([sheet(1, 1, box(0.1, 0.1, 0.9, 0.5)), sliver])
    layout = lay_out(garment(uv), 64, gutter_px=0)
    assert layout.face.max() == 1
    band = texels(layout, slice(0, 64))
    assert max(band.x_mm.max(), band.y_mm.max()) < 1010.0


def test_a_hair_between_two_faces_leaves_no_gap_beside_it() -> None:
    fine = 1e-4
    left = sheet(1, 1, box(0.1, 0.1, 0.5, 0.9))
    hair = sheet(1, 1, box(0.5, 0.1, 0.5 + fine, 0.9))
    layout = lay_out(garment(np.concatenate([left, hair])), 101, gutter_px=0)
    want = lay_out(garment(sheet(1, 1, box(0.1, 0.1, 0.5 + fine, 0.9))), 101, gutter_px=0)
    np.testing.assert_array_equal(layout.face >= 0, want.face >= 0)


def test_a_face_collapsed_in_space_has_a_zero_frame() -> None:
    uv = sheet(1, 1, box(0.1, 0.1, 0.9, 0.9))
    points = np.zeros((2, 3, 3))
    points[0, 1:] = [[1.0, 0.0, 0.0], [2.0, 0.0, 0.0]]
    layout = lay_out(garment(uv, points_mm=points), 32, gutter_px=0)
    assert not layout.frame.any()
    assert not layout.texel_mm.any()


def test_the_lower_face_wins_and_overlaps_are_counted() -> None:
    uv = np.concatenate(
        [sheet(1, 1, box(0.0, 0.0, 0.5, 0.5)), sheet(1, 1, box(0.25, 0.25, 0.75, 0.75))]
    )
    panel = np.array([1, 1, 0, 0], np.int32)
    layout = lay_out(garment(uv, panel=panel), 64, gutter_px=0)
    assert layout.overlaps == (Overlap(panels=(0, 1), texels=16 * 16),)
    assert set(np.unique(layout.face[32:48, 16:32])) <= {0, 1}


def test_mirrored_halves_on_the_same_texels_are_a_panel_over_itself() -> None:
    half = sheet(3, 3, box(0.1, 0.1, 0.6, 0.9))
    layout = lay_out(garment(np.concatenate([half, half[:, ::-1]])), 100, gutter_px=0)
    assert layout.overlaps == (Overlap(panels=(0, 0), texels=50 * 80),)
    assert layout.face.max() < len(half)


def test_three_layers_count_what_each_lower_one_hides() -> None:
    one = sheet(1, 1, box(0.0, 0.0, 0.5, 0.5))
    layout = lay_out(
        garment(np.concatenate([one, one, one]), panel=np.repeat(np.arange(3, dtype=np.int32), 2)),
        32,
        gutter_px=0,
    )
    assert layout.overlaps == (
        Overlap(panels=(0, 1), texels=256),
        Overlap(panels=(0, 2), texels=256),
    )


def test_mirrored_islands_are_covered_like_others() -> None:
    quad = sheet(5, 4, TILTED)
    mirrored = quad.copy()
    mirrored[..., 0] = 1.0 - mirrored[..., 0]
    a = lay_out(garment(quad), 128, gutter_px=0)
    b = lay_out(garment(mirrored), 128, gutter_px=0)
    np.testing.assert_array_equal(a.face, b.face[:, ::-1])


def test_a_shared_edge_is_no_border_and_an_island_border_is() -> None:
    snapped = raster.snap(sheet(1, 1, TILTED), np.zeros(2, np.int32), 64)
    layout = lay_out(garment(sheet(1, 1, TILTED)), 64, gutter_px=0)
    assert len(snapped.face) == 2
    column, row = layout.partial % 64, layout.partial // 64
    middle = (TILTED[0, 0] + TILTED[1, 1]) / 2  # on the diagonal that both faces share
    away = np.hypot((column + 0.5) / 64 - middle[0], 1 - (row + 0.5) / 64 - middle[1])
    assert away.min() > 0.2


def clipped_area(triangle: list[tuple[Fraction, Fraction]], column: int, row: int) -> Fraction:
    """Area of a triangle within a texel's square, by Sutherland and Hodgman's clipping, exact."""
    points = triangle
    for axis, bound, sign in ((0, column, 1), (0, column + 1, -1), (1, row, 1), (1, row + 1, -1)):
        kept = []
        for p, q in zip(points, points[1:] + points[:1], strict=True):
            a, b = sign * (p[axis] - bound), sign * (q[axis] - bound)
            if a >= 0:
                kept.append(p)
            if a * b < 0:
                t = a / (a - b)
                kept.append((p[0] + t * (q[0] - p[0]), p[1] + t * (q[1] - p[1])))
        points = kept
    pairs = zip(points, points[1:] + points[:1], strict=True)
    return abs(sum((p[0] * q[1] - p[1] * q[0] for p, q in pairs), Fraction(0)))


@pytest.mark.parametrize("seed", range(4))
def test_partial_texels_are_those_that_meet_the_island_beside_their_centre(seed: int) -> None:
    """Against exact clipping of the triangle to each texel's square."""
    size = 16
    grid = np.random.default_rng(seed).integers(-40, 296, (1, 3, 2))
    layout = lay_out(garment(grid / 256), size, gutter_px=0)
    corners = [(Fraction(int(x), 16), Fraction(256 - int(y), 16)) for x, y in grid[0]]
    meets = np.array([[clipped_area(corners, c, r) > 0 for c in range(size)] for r in range(size)])
    np.testing.assert_array_equal(layout.face >= 0, meets)
    assert 0 < layout.partial.size < meets.sum()


def test_partial_texels_take_the_nearest_of_the_faces_that_they_hold_a_part_of() -> None:
    uv = sheet(20, 20, TILTED)
    layout = lay_out(garment(uv), 50, gutter_px=0)
    assert len(layout.partial) > 50
    several = 0
    for index in layout.partial:
        row, column = divmod(int(index), 50)
        far = _distance_to_triangles(np.array([(column + 0.5) / 50, 1 - (row + 0.5) / 50]), uv)
        close = np.flatnonzero(far < 0.75 / 50)
        held = [f for f in close if clipped_area(_in_texels(uv[f], 50), column, row) > 0]
        assert far[layout.face[row, column]] == pytest.approx(far[held].min(), abs=1e-7)
        several += len(held) > 1
    assert several > 10


def _in_texels(face: F64, size_px: int) -> list[tuple[Fraction, Fraction]]:
    return [(Fraction(float(u)) * size_px, (1 - Fraction(float(v))) * size_px) for u, v in face]


def test_a_face_as_wide_as_the_image_is_read_row_by_row() -> None:
    uv = np.array([[[-1.0, -1.0], [3.0, -1.0], [-1.0, 3.0]]])
    layout = lay_out(garment(uv), 32, gutter_px=0)
    column, row = centres(32)
    x, y = everything(layout)
    np.testing.assert_allclose(x, column / 32 * 1000.0, atol=1e-3)
    np.testing.assert_allclose(y, 1000.0 - row / 32 * 1000.0, atol=1e-3)
    points = space_mm(layout, texels(layout, slice(0, 32))).reshape(3, 32, 32)
    np.testing.assert_allclose(points[:2], [x, y], atol=1e-3)


def _distance_to_triangles(point: F64, uv: F64) -> F64:
    a, b = uv, np.roll(uv, -1, axis=1)
    along = b - a
    t = (((point - a) * along).sum(-1) / (along * along).sum(-1)).clip(0, 1)
    far: F64 = np.linalg.norm(a + t[..., None] * along - point, axis=-1).min(axis=1)
    return far


@pytest.mark.parametrize("size_px", [15, 16385, 0, -4])
def test_sizes_out_of_range_are_refused(size_px: int) -> None:
    with pytest.raises(ValueError, match=str(size_px)):
        lay_out(garment(sheet(1, 1, TILTED)), size_px, gutter_px=0)


def test_islands_outside_of_the_image_are_cut_off() -> None:
    layout = lay_out(garment(sheet(4, 4, box(-0.5, 0.5, 0.5, 2.5))), 32, gutter_px=2)
    want = np.zeros((32, 32), bool)
    want[:16, :16] = True
    np.testing.assert_array_equal(layout.face >= 0, want)


def test_islands_far_outside_do_not_matter_unless_they_cross_the_image() -> None:
    far = sheet(1, 1, box(1e7, 0.0, 2e7, 1.0))
    near = sheet(1, 1, box(0.0, 0.0, 1.0, 1.0))
    layout = lay_out(garment(np.concatenate([near, far])), 32, gutter_px=0)
    assert set(np.unique(layout.face)) == {0, 1}
    with pytest.raises(UserError, match="too far outside"):
        lay_out(garment(sheet(1, 1, box(-1e7, 0.0, 1e7, 1.0))), 32, gutter_px=0)


def test_a_garment_without_faces_in_the_image_is_all_background() -> None:
    layout = lay_out(garment(sheet(1, 1, box(3.0, 3.0, 4.0, 4.0))), 16, gutter_px=4)
    assert (layout.face == -1).all()
    assert layout.partial.size == layout.gutter_to.size == 0


def rotated(angle: float, shear: float, mirror: float, scale: float) -> F64:
    """UV per metre of cloth: any invertible 2 x 2."""
    turn = np.array([[math.cos(angle), -math.sin(angle)], [math.sin(angle), math.cos(angle)]])
    both: F64 = turn @ np.array([[mirror * scale, shear], [0.0, 0.4]])
    return both


LAYOUTS = {
    "upright": rotated(0.0, 0.0, 1.0, 0.4),
    "rotated": rotated(2.1, 0.0, 1.0, 0.4),
    "sheared": rotated(0.4, 0.3, 1.0, 0.4),
    "mirrored": rotated(-0.7, 0.1, -1.0, 0.4),
    "stretched": rotated(0.2, 0.0, 1.0, 0.05),
}
# A plane in space, 0.5 m along x and 0.6 m along y of the cloth.
RIGHT = np.array([0.6, 0.48, -0.64])
UP = np.array([0.0, 0.8, 0.6])


def plane(uv_per_metre: F64) -> tuple[F64, F64, F64]:
    """UV, pattern and points of a flat sheet."""
    pattern = sheet(3, 2, box(-250.0, -300.0, 250.0, 300.0))
    uv = 0.5 + pattern / 1000.0 @ uv_per_metre.T
    return uv, pattern, pattern @ np.stack([RIGHT, UP])


@pytest.mark.parametrize("name", LAYOUTS)
def test_footprint_and_texel_size_follow_the_layout(name: str) -> None:
    uv, pattern, points = plane(LAYOUTS[name])
    layout = lay_out(garment(uv, pattern_mm=pattern, points_mm=points), 128, gutter_px=0)
    inverse = np.linalg.inv(LAYOUTS[name]) * 1000.0 / 128
    want = inverse * np.array([1.0, -1.0])  # a row down is -v
    np.testing.assert_allclose(layout.footprint_mm, np.broadcast_to(want, (12, 2, 2)), atol=1e-4)
    area = abs(np.linalg.det(inverse))
    np.testing.assert_allclose(layout.texel_mm, math.sqrt(area), rtol=1e-6)


@pytest.mark.parametrize("name", LAYOUTS)
def test_the_frame_turns_a_pattern_gradient_into_the_surface_gradient(name: str) -> None:
    """h = a . X is linear on the cloth; its gradient in space is known in closed form."""
    uv, pattern, points = plane(LAYOUTS[name])
    layout = lay_out(garment(uv, pattern_mm=pattern, points_mm=points), 64, gutter_px=0)
    slope = np.array([0.3, -0.7])
    gradient = slope[0] * RIGHT + slope[1] * UP  # the plane is isometric to the cloth
    cloth_of_uv = np.linalg.inv(LAYOUTS[name])
    tangent = _unit(cloth_of_uv[0, 0] * RIGHT + cloth_of_uv[1, 0] * UP)
    raw = cloth_of_uv[0, 1] * RIGHT + cloth_of_uv[1, 1] * UP
    across = _unit(raw - (raw @ tangent) * tangent)
    want = [gradient @ tangent, gradient @ across]
    np.testing.assert_allclose(layout.frame @ slope.astype(np.float32), [want] * 12, atol=1e-5)


@pytest.mark.parametrize("name", LAYOUTS)
def test_the_frame_keeps_steepness_where_cloth_is_stretched_over_the_body(name: str) -> None:
    """Cloth 10 % longer in space than in its pattern: slopes are per mm of the surface."""
    uv, pattern, points = plane(LAYOUTS[name])
    layout = lay_out(garment(uv, pattern_mm=pattern, points_mm=points * 1.1), 64, gutter_px=0)
    got = np.linalg.norm(layout.frame @ np.array([0.3, -0.7], np.float32), axis=1)
    np.testing.assert_allclose(got, math.hypot(0.3, 0.7) / 1.1, rtol=1e-5)


def _unit(vector: F64) -> F64:
    unit: F64 = vector / np.linalg.norm(vector)
    return unit


@pytest.mark.parametrize("name", LAYOUTS)
def test_points_in_space_lie_where_the_pattern_says(name: str) -> None:
    uv, pattern, points = plane(LAYOUTS[name])
    layout = lay_out(garment(uv, pattern_mm=pattern, points_mm=points), 64, gutter_px=0)
    band = texels(layout, slice(10, 50))
    want = np.outer(RIGHT, band.x_mm) + np.outer(UP, band.y_mm)
    np.testing.assert_allclose(space_mm(layout, band), want, atol=1e-3)
    assert len(band.index) > 20


def test_a_texel_is_read_from_its_faces_table() -> None:
    layout = lay_out(garment(sheet(4, 4, TILTED), pattern_mm=sheet(4, 4, CURVED)), 64, gutter_px=0)
    band = texels(layout, slice(0, 64))
    at = np.stack([band.index % 64 + 0.5, band.index // 64 + 0.5, np.ones(len(band.index))])
    want: F32 = np.einsum("nik,kn->in", layout.to_pattern[band.face], at)
    np.testing.assert_allclose(np.stack([band.x_mm, band.y_mm]), want, atol=2e-3)


CURVED = np.array([[[0.0, 0.0], [300.0, 120.0]], [[-80.0, 400.0], [500.0, 700.0]]])
