"""Distance to a chain and arc length along it, at texels."""

import math
from dataclasses import replace

import numpy as np
import pytest

from tests.garments_by_hand import box, garment, sheet
from texbake.arrays import F64, I32, bands
from texbake.garment.values import Chain, Garment
from texbake.layout import (
    Layout,
    Near,
    Reach,
    Texels,
    lay_out,
    near,
    reach_of,
    runs_of,
    space_mm,
    texels,
)

SIZE = 128


def hem(points: F64, face: I32, *, stretch: float = 1.0, closed: bool = False) -> Chain:
    """A hem along the points of a pattern plane (K, 2); arc length ``stretch`` times longer."""
    ends = np.stack([points[:-1], points[1:]], axis=1)
    at = np.concatenate([[0.0], np.cumsum(np.linalg.norm(ends[:, 1] - ends[:, 0], axis=1))])
    at *= stretch
    return Chain(
        kind="hem",
        panels=(0, -1),
        face=(face, np.empty(0, np.int32)),
        pattern_mm=(ends, np.empty((0, 2, 2))),
        points_mm=np.zeros((len(ends), 2, 3)),
        arc_mm=np.stack([at[:-1], at[1:]], axis=1),
        length_mm=float(at[-1]),
        closed=closed,
    )


def square(chain: Chain, cells: int = 8) -> Garment:
    """A square of cloth, 800 mm wide, in the middle of the image."""
    uv = sheet(cells, cells, box(0.1, 0.1, 0.9, 0.9))
    return garment(uv, pattern_mm=sheet(cells, cells, box(0, 0, 800, 800)), chains=(chain,))


def bottom(cells: int = 8, *, stretch: float = 1.0) -> Garment:
    points = np.stack([np.linspace(0, 800, cells + 1), np.zeros(cells + 1)], axis=1)
    return square(hem(points, np.arange(0, 2 * cells, 2, dtype=np.int32), stretch=stretch), cells)


def ask(made: Garment, reach_mm: float) -> tuple[Layout, Texels, Near]:
    """Texels whose centre lies on the cloth; those partly covered have tests of their own."""
    layout = lay_out(made, SIZE, gutter_px=0)
    band = texels(layout, slice(0, SIZE))
    on = ~np.isin(band.index, layout.partial)
    band = Texels(index=band.index[on], face=band.face[on], x_mm=band.x_mm[on], y_mm=band.y_mm[on])
    return layout, band, near(band, reach_of(made, 0, reach_mm=reach_mm))


def brute(band: Texels, chain: Chain, side: int = 0) -> F64:
    """Distance of every texel to every segment of one side, float64. (N, E)."""
    point = np.stack([band.x_mm, band.y_mm], axis=1).astype(np.float64)[:, None]
    start, end = chain.pattern_mm[side][:, 0], chain.pattern_mm[side][:, 1]
    along = end - start
    t = (((point - start) * along).sum(2) / (along * along).sum(1)).clip(0, 1)
    far: F64 = np.linalg.norm(point - start - t[..., None] * along, axis=2)
    return far


@pytest.mark.parametrize("reach_mm", [5.0, 30.0, 250.0])
def test_a_straight_hem_in_closed_form(reach_mm: float) -> None:
    _, band, got = ask(bottom(), reach_mm)
    want = np.flatnonzero(band.y_mm <= reach_mm)
    np.testing.assert_array_equal(got.at, want)
    np.testing.assert_allclose(got.distance_mm, band.y_mm[want], atol=1e-3)
    np.testing.assert_allclose(got.arc_mm, band.x_mm[want], atol=1e-3)
    np.testing.assert_allclose(got.away, [[0.0] * len(want), [1.0] * len(want)], atol=1e-5)
    np.testing.assert_allclose(got.along, [[1.0] * len(want), [0.0] * len(want)], atol=1e-5)
    assert not got.side.any()


def test_arc_length_is_that_of_space_where_the_pattern_is_stretched() -> None:
    _, band, got = ask(bottom(stretch=1.25), 30.0)
    np.testing.assert_allclose(got.arc_mm, 1.25 * band.x_mm[got.at], atol=1e-3)
    np.testing.assert_allclose(got.along[0], 1.25, rtol=1e-6)


def disk(cells: int = 48, radius_mm: float = 300.0) -> Garment:
    """A round of cloth, its hem a regular polygon."""
    angle = np.linspace(0, 2 * math.pi, cells + 1)
    rim = radius_mm * np.stack([np.cos(angle), np.sin(angle)], axis=1)
    rim[-1] = rim[0]
    pattern = np.stack([np.zeros((cells, 2)), rim[:-1], rim[1:]], axis=1)
    chain = hem(rim, np.arange(cells, dtype=np.int32), closed=True)
    return garment(0.5 + pattern / 800.0, pattern_mm=pattern, chains=(chain,))


def test_a_circular_hem_in_closed_form() -> None:
    """A polygon of 48 sides departs from its circle by r (1 - cos(pi / 48)) = 0.64 mm."""
    made = disk()
    _, band, got = ask(made, 60.0)
    x, y = band.x_mm[got.at].astype(np.float64), band.y_mm[got.at].astype(np.float64)
    from_middle = np.hypot(x, y)
    np.testing.assert_allclose(got.distance_mm, np.abs(300.0 - from_middle), atol=0.65)
    angle = np.arctan2(y, x) % (2 * math.pi)
    arc = angle / (2 * math.pi) * made.chains[0].length_mm
    # beside a side of the polygon its points are equally long, on circles they are not
    assert (np.abs(got.arc_mm - arc) < got.distance_mm * math.tan(math.pi / 48) + 0.05).all()
    radial, tangent = -np.stack([x, y]) / from_middle, np.stack([-y, x]) / from_middle
    assert (got.away * radial).sum(axis=0).min() > math.cos(math.pi / 48 + 1e-3)
    assert (got.along * tangent).sum(axis=0).min() > math.cos(math.pi / 48 + 1e-3)


def crooked(seed: int) -> Garment:
    """A hem that wanders across the square, with sharp corners and a repeated point."""
    random = np.random.default_rng(seed)
    points = np.cumsum(random.normal(0, 60, (30, 2)), axis=0) + 400.0
    points[10] = points[9]
    return square(hem(points, random.integers(0, 128, 29).astype(np.int32)))


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("reach_mm", [12.0, 90.0, 2000.0])
def test_distances_and_arcs_agree_with_all_segments_tried(seed: int, reach_mm: float) -> None:
    made = crooked(seed)
    _, band, got = ask(made, reach_mm)
    with np.errstate(invalid="ignore"):
        far = np.nan_to_num(brute(band, made.chains[0]), nan=np.inf)
    least = far.min(axis=1)
    clear = np.abs(least - reach_mm) > 1e-3
    np.testing.assert_array_equal(
        np.isin(np.arange(len(least)), got.at)[clear], (least <= reach_mm)[clear]
    )
    np.testing.assert_allclose(got.distance_mm, least[got.at], atol=1e-3)
    # the point that the arc names is as far away as the distance says
    arc, ends = made.chains[0].arc_mm, made.chains[0].pattern_mm[0]
    place = np.stack([np.interp(got.arc_mm, arc[:, 0], ends[:, 0, k]) for k in (0, 1)])
    place = np.where(got.arc_mm <= arc[-1, 0], place, np.nan)
    there = np.hypot(*(np.stack([band.x_mm, band.y_mm])[:, got.at] - place))
    known = ~np.isnan(there)
    assert known.mean() > 0.5
    np.testing.assert_allclose(there[known], got.distance_mm[known], atol=5e-3)


@pytest.mark.parametrize("outside", [False, True])
def test_eased_arcs_run_on_smoothly_inside_and_outside_a_bend(*, outside: bool) -> None:
    """Beside a circle told as 48 sides, arc length is the angle, to a twentieth of its steps."""
    made = disk()
    if outside:  # the same round, as a hole in the cloth
        around = disk(radius_mm=400.0)
        made = garment(
            around.mesh.uv, pattern_mm=around.pattern_mm, chains=(disk(radius_mm=200.0).chains[0],)
        )
    layout = lay_out(made, SIZE, gutter_px=0)
    band = texels(layout, slice(0, SIZE))
    got, plain = (near(band, reach_of(made, 0, reach_mm=60.0, eased=e)) for e in (True, False))
    x, y = band.x_mm[got.at].astype(np.float64), band.y_mm[got.at].astype(np.float64)
    chain = made.chains[0]
    arc = np.arctan2(y, x) % (2 * math.pi) / (2 * math.pi) * chain.length_mm
    inside = np.hypot(x, y) < float(np.abs(chain.pattern_mm[0]).max())
    far = (got.distance_mm > 20.0) & (inside != outside)
    off, jumps = (
        np.abs((n.arc_mm - arc + 50.0) % chain.length_mm - 50.0)[far].max() for n in (got, plain)
    )
    assert far.sum() > 500
    assert jumps > 1.5
    assert off < 0.15
    np.testing.assert_array_equal(got.distance_mm, plain.distance_mm)


@pytest.mark.parametrize("seed", range(4))
def test_away_is_the_gradient_of_distance_and_along_of_arc(seed: int) -> None:
    """Finite differences, away from where the nearest segment changes."""
    made = crooked(seed)
    band, reach = (
        texels(lay_out(made, SIZE, gutter_px=0), slice(0, SIZE)),
        reach_of(made, 0, reach_mm=90.0),
    )
    step = 0.25
    here = near(band, reach)
    moved = [
        near(
            Texels(index=band.index, face=band.face, x_mm=band.x_mm + dx, y_mm=band.y_mm + dy),
            reach,
        )
        for dx, dy in ((step, 0.0), (-step, 0.0), (0.0, step), (0.0, -step))
    ]
    common = here.at
    for other in moved:
        common = np.intersect1d(common, other.at)
    pick = [np.searchsorted(n.at, common) for n in moved]
    own = np.searchsorted(here.at, common)
    far = [n.distance_mm[p].astype(np.float64) for n, p in zip(moved, pick, strict=True)]
    slope = np.stack([far[0] - far[1], far[2] - far[3]]) / (2 * step)
    good = np.abs(slope - here.away[:, own]).max(axis=0) < 0.02
    assert good.mean() > 0.97
    np.testing.assert_allclose(np.hypot(*here.away), 1.0, atol=1e-5)
    arc = [n.arc_mm[p].astype(np.float64) for n, p in zip(moved, pick, strict=True)]
    slope = np.stack([arc[0] - arc[1], arc[2] - arc[3]]) / (2 * step)
    square_on = np.abs((here.away[:, own] * here.along[:, own]).sum(axis=0)) < 1e-3
    good = np.abs(slope - here.along[:, own]).max(axis=0) < 0.02
    assert good[square_on].mean() > 0.95
    assert square_on.mean() > 0.3


def seam(*, same_panel: bool) -> Garment:
    """Two rectangles sewn along 600 mm; in UV apart, the second turned over and stretched.

    In space both lie in one plane and meet at x = 0. As pattern pieces they lie elsewhere: two
    panels over each other, since each has a plane of its own.
    """
    shift = np.array([-40.0, -7.0]) if same_panel else np.array([880.0, 660.0])
    left, right = box(-200, 0, 0, 600), box(0, 0, 200, 600)
    pattern = np.concatenate(
        [sheet(2, 6, left + np.array([900.0, 50.0])), sheet(2, 6, shift - right)]
    )
    points = np.concatenate([sheet(2, 6, left), sheet(2, 6, right)])
    points = np.concatenate([points, np.zeros((48, 3, 1))], axis=2)
    uv = np.concatenate(
        [sheet(2, 6, box(0.05, 0.1, 0.4, 0.9)), sheet(2, 6, box(0.95, 0.8, 0.6, 0.15))]
    )
    at = np.linspace(0.0, 600.0, 7)
    line = np.stack([np.zeros(7), at], axis=1)
    ends = np.stack([line[:-1], line[1:]], axis=1)
    chain = Chain(
        kind="seam",
        panels=(0, 0 if same_panel else 1),
        face=(
            np.arange(2, 24, 4, dtype=np.int32),
            np.arange(25, 48, 4, dtype=np.int32),
        ),
        pattern_mm=(ends + np.array([900.0, 50.0]), shift - ends),
        points_mm=np.concatenate([ends, np.zeros((6, 2, 1))], axis=2),
        arc_mm=np.stack([at[:-1], at[1:]], axis=1),
        length_mm=600.0,
        closed=False,
    )
    island = np.repeat(np.arange(2, dtype=np.int32), 24)
    panel = np.zeros(48, np.int32) if same_panel else island
    return garment(
        uv,
        pattern_mm=pattern,
        points_mm=points.reshape(-1, 3, 3),
        panel=panel,
        island=island,
        chains=(chain,),
    )


@pytest.mark.parametrize("same_panel", [False, True])
def test_both_sides_of_a_seam_agree_on_distance_and_arc_in_space(*, same_panel: bool) -> None:
    layout, band, got = ask(seam(same_panel=same_panel), 80.0)
    points = space_mm(layout, band)[:, got.at]
    np.testing.assert_allclose(got.distance_mm, np.abs(points[0]), atol=2e-3)
    inside = (points[1] > 0) & (points[1] < 600)
    np.testing.assert_allclose(got.arc_mm[inside], points[1][inside], atol=2e-3)
    np.testing.assert_array_equal(got.side, band.face[got.at] >= 24)
    assert 0.2 < got.side.mean() < 0.8
    np.testing.assert_array_equal(got.at, np.flatnonzero(np.abs(space_mm(layout, band)[0]) <= 80.0))


def test_away_points_into_each_side_of_a_seam() -> None:
    """In the pattern plane to the left on both: the second piece lies turned by half a turn."""
    _, _, got = ask(seam(same_panel=False), 80.0)
    assert set(got.side.tolist()) == {0, 1}
    np.testing.assert_allclose(got.away[0], -1.0, atol=1e-4)
    np.testing.assert_allclose(got.along[1], np.where(got.side == 0, 1.0, -1.0), atol=1e-6)


def test_partly_covered_texels_beyond_a_hem_are_near_it_too() -> None:
    made = bottom()
    layout = lay_out(made, SIZE, gutter_px=0)
    band = texels(layout, slice(0, SIZE))
    got = near(band, reach_of(made, 0, reach_mm=3.0))
    beyond = np.flatnonzero((band.y_mm < 0) & (band.x_mm > 0) & (band.x_mm < 800))
    assert len(beyond) > 90
    assert np.isin(beyond, got.at).all()
    assert got.distance_mm.min() >= 0


def test_a_chain_asks_nothing_of_other_panels() -> None:
    """Two panels that lie over each other in their pattern planes, one with a hem."""
    made = bottom()
    uv = np.concatenate([made.mesh.uv * 0.5, made.mesh.uv * 0.5 + 0.5])
    panel = np.repeat(np.arange(2, dtype=np.int32), 128)
    both = garment(
        uv, pattern_mm=np.concatenate([made.pattern_mm] * 2), panel=panel, chains=made.chains
    )
    _, band, got = ask(both, 50.0)
    assert band.face[got.at].max() < 128
    assert len(got.at) > 50


def test_on_the_chain_itself_away_points_into_the_cloth() -> None:
    made = bottom()
    index = np.arange(3, dtype=np.int64)
    x = np.array([10.0, 400.0, 799.0], np.float32)
    band = Texels(
        index=index, face=np.array([0, 8, 14], np.int32), x_mm=x, y_mm=np.zeros(3, np.float32)
    )
    got = near(band, reach_of(made, 0, reach_mm=5.0))
    assert not got.distance_mm.any()
    np.testing.assert_array_equal(got.away, [[0, 0, 0], [1, 1, 1]])


def test_on_a_chain_that_runs_the_other_way_round_away_points_into_the_cloth_too() -> None:
    points = np.array([[0.0, 800.0], [800.0, 800.0]])
    made = square(hem(points, np.array([127], np.int32)))
    band = one_texel(700.0, 800.0, 127)
    got = near(band, reach_of(made, 0, reach_mm=5.0))
    np.testing.assert_array_equal(got.away, [[0], [-1]])


def test_a_texel_just_outside_of_its_face_is_not_missed() -> None:
    """The face lies 10 mm from the chain, out of reach; its partly covered texel 8 mm."""
    points = np.array([[0.0, -10.0], [800.0, -10.0]])
    made = square(hem(points, np.array([0], np.int32)))
    got = near(one_texel(40.0, -2.0, 0), reach_of(made, 0, reach_mm=9.0, spare_mm=2.0))
    np.testing.assert_allclose(got.distance_mm, [8.0])


def one_texel(x_mm: float, y_mm: float, face: int) -> Texels:
    return Texels(
        index=np.zeros(1, np.int64),
        face=np.array([face], np.int32),
        x_mm=np.array([x_mm], np.float32),
        y_mm=np.array([y_mm], np.float32),
    )


def test_of_equally_near_segments_the_first_counts() -> None:
    """In the middle between the two sides of a fold, and where two segments meet."""
    points = np.array([[0.0, 0.0], [800.0, 0.0], [800.0, 100.0], [0.0, 100.0]])
    made = square(hem(points, np.array([0, 14, 30], np.int32)), 8)
    band = one_texel(90.0, 50.0, 0)
    assert near(band, reach_of(made, 0, reach_mm=60.0)).arc_mm[0] == pytest.approx(90.0)


def corner_of_two(*, inside: bool) -> Garment:
    """A square with hems along two lines that meet in its middle.

    Taken as the border of the lower left quarter (``inside``) or of the three others: what lies
    past the end of one hem is then the other's, or equally near to both.
    """
    middle, left, low = (400.0, 400.0), (0.0, 400.0), (400.0, 0.0)
    first = hem(np.array([left, middle]), np.array([0], np.int32))
    second = hem(np.array([middle, low]), np.array([0], np.int32))
    made = square(first)
    keep = made.pattern_mm.mean(axis=1)
    quarter = (keep < 400.0).all(axis=1)
    panel = np.where(quarter if inside else ~quarter, 0, -1).astype(np.int32)
    return replace(made, chains=(first, second), panel=panel)


@pytest.mark.parametrize("inside", [True, False])
def test_where_hems_meet_each_texel_belongs_to_one(*, inside: bool) -> None:
    made = corner_of_two(inside=inside)
    layout = lay_out(made, SIZE, gutter_px=0)
    band = texels(layout, slice(0, SIZE))
    parts = [near(band, reach_of(made, k, reach_mm=150.0, rivals=[1 - k])) for k in (0, 1)]
    alone = [near(band, reach_of(made, k, reach_mm=150.0)) for k in (0, 1)]
    assert np.intersect1d(alone[0].at, alone[1].at).size > 100
    together = np.union1d(alone[0].at, alone[1].at)
    assert np.array_equal(np.sort(np.concatenate([part.at for part in parts])), together)
    far = np.full((2, len(band.index)), np.inf)
    for k in (0, 1):
        far[k, alone[k].at] = alone[k].distance_mm
    for k, part in enumerate(parts):
        assert np.allclose(part.distance_mm, far.min(axis=0)[part.at], atol=1e-3)
        assert np.isin(part.at, alone[k].at).all()


def test_a_chain_may_be_named_among_its_rivals() -> None:
    made = corner_of_two(inside=True)
    band = texels(lay_out(made, SIZE, gutter_px=0), slice(0, SIZE))
    one, other = (near(band, reach_of(made, 0, reach_mm=90.0, rivals=r)) for r in ([1], [1, 0]))
    assert np.array_equal(one.at, other.at)


def test_types_shapes_and_order() -> None:
    _, band, got = ask(crooked(1), 90.0)
    count = len(got.at)
    assert got.at.dtype == np.int64
    assert (np.diff(got.at) > 0).all()
    for name, shape in {
        "distance_mm": (count,),
        "arc_mm": (count,),
        "away": (2, count),
        "along": (2, count),
    }.items():
        assert getattr(got, name).shape == shape
        assert getattr(got, name).dtype == np.float32
    assert got.distance_mm.min() >= 0
    assert 0 < count < len(band.index)


def test_bands_of_rows_do_not_change_what_is_near() -> None:
    made = crooked(2)
    layout, reach = lay_out(made, SIZE, gutter_px=0), reach_of(made, 0, reach_mm=70.0)
    whole = near(texels(layout, slice(0, SIZE)), reach)
    before, parts = 0, []
    for rows in bands(SIZE, 9):
        band = texels(layout, rows)
        part = near(band, reach)
        parts.append((part.at + before, part.distance_mm, part.arc_mm, *part.away, *part.along))
        before += len(band.index)
    wanted = (whole.at, whole.distance_mm, whole.arc_mm, *whole.away, *whole.along)
    for got, want in zip(zip(*parts, strict=True), wanted, strict=True):
        np.testing.assert_array_equal(np.concatenate(got), want)


def test_runs_found_beforehand_change_nothing() -> None:
    made = crooked(3)
    band = texels(lay_out(made, SIZE, gutter_px=0), slice(30, 90))
    reach, runs = reach_of(made, 0, reach_mm=70.0), runs_of(band)
    assert (np.diff(runs.start) > 0).all()
    np.testing.assert_array_equal(
        near(band, reach, runs=runs).distance_mm, near(band, reach).distance_mm
    )


def test_nothing_near_gives_empty_arrays() -> None:
    made = bottom()
    layout = lay_out(made, SIZE, gutter_px=0)
    got = near(texels(layout, slice(0, 40)), reach_of(made, 0, reach_mm=5.0))
    assert got.at.size == 0
    assert got.away.shape == got.along.shape == (2, 0)
    empty = near(texels(layout, slice(0, 4)), reach_of(made, 0, reach_mm=5.0))
    assert empty.at.size == 0


def test_a_chain_without_length_is_near_nothing() -> None:
    made = square(hem(np.full((3, 2), 400.0), np.zeros(2, np.int32)))
    _, _, got = ask(made, 50.0)
    assert got.at.size == 0


@pytest.mark.parametrize("reach_mm", [0.0, -1.0, math.nan])
def test_a_reach_that_is_not_positive_is_refused(reach_mm: float) -> None:
    with pytest.raises(ValueError, match="reach_mm"):
        reach_of(bottom(), 0, reach_mm=reach_mm)


def test_faces_keep_few_candidates() -> None:
    """400 segments, but a face beside them looks at those that can be nearest to some part."""
    reach: Reach = reach_of(disk(400), 0, reach_mm=20.0)
    assert reach.count.max() < 12
    assert reach.count.min() > 0
