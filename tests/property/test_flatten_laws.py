"""Flattening knows the cloth in space, and nothing of UVs, numbering or where it stands."""

import math
from dataclasses import replace

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from tests.sewn_by_hand import Cloth, apart_mm, around, front_and_back, grid, patch, sew, shuffled
from texbake.arrays import F64
from texbake.garment.build import build_garment
from texbake.garment.flatten import flatten
from texbake.garment.values import Mesh
from texbake.recipe.values import PanelRecipe

ANGLES = st.floats(-math.pi, math.pi)
SCALES = st.floats(0.2, 1.0)
SEEDS = st.integers(0, 2**32 - 1)


def shoulder(s: F64, t: F64) -> F64:
    x, y = 300 * (s - 0.5), 400 * t
    return np.stack([x, y, 100 * np.cos(x / 110) + 15 * np.sin(y / 60)], axis=-1)


def garment_mesh() -> Mesh:
    sleeve = patch(around(60.0, 300.0, -math.pi, math.pi), columns=10, rows=4)
    return sew(patch(shoulder, columns=8, rows=8), sleeve)


def moved_uv(mesh: Mesh, turn: float, wide: float, high: float, mirrored: bool) -> Mesh:
    """Give each of two islands other UVs: turned, stretched, perhaps mirrored, in its own half."""
    uv = mesh.uv.copy()
    for half in (0, 1):
        mine = (uv[..., 0].mean(axis=1) > 0.5) == half
        flat = (uv[mine] - uv[mine].mean(axis=(0, 1))) * [2 * wide, high]
        flat = flat * [-1.0 if mirrored else 1.0, 1.0]
        c, s = math.cos(turn), math.sin(turn)
        uv[mine] = flat @ [[0.2 * c, 0.4 * s], [-0.2 * s, 0.4 * c]] + [0.25 + 0.5 * half, 0.5]
    return replace(mesh, uv=uv)


@settings(max_examples=15, deadline=None)
@given(ANGLES, SCALES, SCALES, st.booleans())
def test_uvs_do_not_move_the_pattern(turn: float, wide: float, high: float, mirrored: bool) -> None:
    mesh = garment_mesh()
    one, other = build_garment(mesh), build_garment(moved_uv(mesh, turn, wide, high, mirrored))
    np.testing.assert_allclose(other.pattern_mm, one.pattern_mm, atol=2e-3)


@settings(max_examples=15, deadline=None)
@given(SEEDS)
def test_the_files_order_does_not_move_the_pattern(seed: int) -> None:
    mesh = garment_mesh()
    other, order = shuffled(mesh, seed)
    one, two = build_garment(mesh), build_garment(other)
    middle = one.pattern_mm[order].mean(axis=1)
    np.testing.assert_allclose(two.pattern_mm.mean(axis=1), middle, atol=2e-3)


@settings(max_examples=10, deadline=None)
@given(SEEDS)
def test_one_more_cut_in_uv_does_not_move_the_pattern_of_joined_islands(seed: int) -> None:
    """Law 2: a panel cut once more in UV, anywhere, shows no line there."""
    whole = patch(shoulder, columns=8, rows=8)
    random = np.random.default_rng(seed)
    middle = whole.uv.mean(axis=1)
    across = random.normal(size=2)
    side = (middle - 0.5) @ across > 0
    parts = [Cloth(points_mm=whole.points_mm[s], uv=whole.uv[s]) for s in (side, ~side)]
    cut = sew(*parts)
    count = len(build_garment(cut).panels)
    recipe = PanelRecipe(name="p", islands=tuple(range(count)))
    one, two = build_garment(sew(whole)), build_garment(cut, {"p": recipe})
    assert {chain.kind for chain in two.chains} == {"hem", "cut"}
    order = np.concatenate([np.flatnonzero(side), np.flatnonzero(~side)])
    np.testing.assert_allclose(two.pattern_mm, one.pattern_mm[order], atol=2e-3)


@settings(max_examples=20, deadline=None)
@given(
    arrays(np.float64, (3, 3), elements=st.floats(-1, 1)),
    arrays(np.float64, 3, elements=st.floats(-1e3, 1e3)),
)
def test_where_the_cloth_stands_does_not_matter(frame: F64, shift: F64) -> None:
    turn = np.linalg.qr(frame + 2 * np.eye(3))[0]
    turn *= np.linalg.det(turn)
    vertices, faces = grid(8, 8)
    points = shoulder(*vertices.T)
    one, other = flatten(points, faces), flatten(points @ turn.T + shift, faces)
    assert apart_mm(one, other) < 1e-3


@settings(max_examples=20, deadline=None)
@given(st.floats(0.01, 100.0))
def test_a_larger_garment_has_a_larger_pattern_of_the_same_shape(scale: float) -> None:
    vertices, faces = grid(6, 6)
    points = shoulder(*vertices.T)
    one, other = flatten(points, faces), flatten(points * scale, faces)
    assert apart_mm(other, one * scale) < 1e-3 * scale


@settings(max_examples=40, deadline=None)
@given(SEEDS, st.integers(0, 12))
def test_any_crumpled_cloth_gives_numbers(seed: int, collapsed: int) -> None:
    random = np.random.default_rng(seed)
    vertices, faces = grid(5, 5)
    points = np.column_stack([100 * vertices, random.normal(size=len(vertices)) * 30])
    for face in random.integers(0, len(faces), collapsed):
        points[faces[face][: 2 + face % 2]] = points[faces[face][0]]
    assert np.isfinite(flatten(points, faces)).all()


@settings(max_examples=25, deadline=None)
@given(SEEDS)
def test_any_tangle_of_triangles_is_built(seed: int) -> None:
    """Few places, many faces: doubled layers, crowded edges, both windings, closed parts."""
    random = np.random.default_rng(seed)
    places = random.integers(0, 3, (7, 3)) * 50.0
    faces = random.integers(0, 7, (24, 3))
    uv = random.integers(0, 4, (7, 2)) / 4.0
    tangle = Cloth(points_mm=places[faces], uv=uv[faces])
    triangle = front_and_back(1, 1)[0]  # something to bake in any case
    mesh = sew(triangle, tangle)
    garment = build_garment(mesh)
    assert np.isfinite(garment.pattern_mm).all()
    used = np.concatenate([face for chain in garment.chains for face in chain.face])
    assert (garment.panel[used] >= 0).all()
    assert np.bincount(used).max() <= 3  # a face has three edges
