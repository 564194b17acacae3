"""Law 1: the pattern plane has the lengths of the surface, whatever the UVs look like.

Outside references: the unrolled cylinder and the cone's development, which are school geometry
(each strip between two rulings is flat, so the polyhedron itself unrolls exactly); and the
as-rigid-as-possible energy written out with singular values (Liu, Zhang, Xu, Gotsman and Gortler,
SGP 2008, equation 2) and minimised by a general optimiser.
"""

import math
from collections.abc import Callable

import numpy as np
import pytest
from scipy.optimize import minimize
from scipy.spatial import Delaunay

from tests.sewn_by_hand import Map, apart_mm, around, grid, patch, sew
from texbake.arrays import F64, I64
from texbake.garment.build import build_garment
from texbake.garment.flatten import flatten, folded
from texbake.garment.lay import edge_errors

LAW_RMS = 0.001
LAW_STARTS_MM = 0.05


def cone(s: F64, t: F64) -> F64:
    """A skirt: radius 120 mm at the top, 300 mm at the hem, 500 mm high, open at the back."""
    angle, radius = (s - 0.5) * 2 * math.pi * 0.95, 300.0 - 180.0 * t
    return np.stack([radius * np.sin(angle), 500.0 * t, radius * np.cos(angle)], axis=-1)


def saddle(s: F64, t: F64) -> F64:
    x, y = 400 * (s - 0.5), 400 * (t - 0.5)
    return np.stack([x, y, x * y / 250], axis=-1)


def shoulder(s: F64, t: F64) -> F64:
    x, y = 400 * (s - 0.5), 500 * (t - 0.5)
    return np.stack([x, y, 120 * np.cos(x / 130) + 20 * np.sin(y / 60)], axis=-1)


TUBE = around(100.0, 400.0, -2.5, 2.5)
UVS: dict[str, Map] = {
    "straight": lambda s, t: np.stack([s, t], axis=-1),
    "stretched": lambda s, t: np.stack([s, 0.05 * t], axis=-1),
    "turned": lambda s, t: np.stack([0.5 + 0.4 * (s - t), 0.4 * (s + t)], axis=-1),
    "mirrored": lambda s, t: np.stack([1 - s, t], axis=-1),
    "bent": lambda s, t: np.stack([(s + t * t) / 2, t * (0.5 + s / 2)], axis=-1),
}


def scattered(space: Map, side: int, seed: int) -> tuple[F64, I64]:
    """A surface whose triangles know nothing of its rulings: vertices off a grid by a third."""
    random = np.random.default_rng(seed)
    steps = np.stack(np.meshgrid(np.arange(side), np.arange(side)), axis=-1).reshape(-1, 2)
    inner = np.asarray((steps > 0) & (steps < side - 1)).all(axis=1, keepdims=True)
    flat: F64 = (steps + inner * random.uniform(-1 / 3, 1 / 3, steps.shape)) / (side - 1)
    faces = Delaunay(flat).simplices.astype(np.int64)
    a, b, c = (flat[faces[:, i]] for i in range(3))
    down = (b - a)[:, 0] * (c - a)[:, 1] < (b - a)[:, 1] * (c - a)[:, 0]
    faces[down] = faces[down][:, ::-1]
    return space(flat[:, 0], flat[:, 1]), faces


def rms(values: F64) -> float:
    return float(np.sqrt((values**2).mean()))


@pytest.mark.parametrize("uv", UVS)
@pytest.mark.parametrize("space", [TUBE, cone], ids=["cylinder", "cone"])
def test_a_developable_panel_keeps_its_lengths_whatever_its_uvs(space: Map, uv: str) -> None:
    garment = build_garment(sew(patch(space, columns=24, rows=12, uv=UVS[uv])))
    corner, flat = garment.mesh.points_mm[garment.mesh.faces], garment.pattern_mm
    length = np.linalg.norm(corner - np.roll(corner, 1, axis=1), axis=2)
    laid = np.linalg.norm(flat - np.roll(flat, 1, axis=1), axis=2)
    assert rms(laid / length - 1.0) <= LAW_RMS
    assert garment.panels[0].stretch_rms <= LAW_RMS
    assert garment.panels[0].stretch_max <= LAW_RMS


@pytest.mark.parametrize("space", [TUBE, cone], ids=["cylinder", "cone"])
def test_vertices_anywhere_keep_their_lengths_too(space: Map) -> None:
    points, faces = scattered(space, 40, seed=4)
    assert rms(edge_errors(points, faces, flatten(points, faces))) <= LAW_RMS


def test_a_cylinder_unrolls_to_its_rectangle() -> None:
    columns, rows = 30, 8
    vertices, faces = grid(columns, rows)
    points = TUBE(*vertices.T)
    chord = 2 * 100.0 * math.sin(5.0 / columns / 2)
    want = np.stack([vertices[:, 0] * columns * chord, vertices[:, 1] * 400.0], axis=1)
    assert apart_mm(flatten(points, faces), want) < 1e-4


def test_a_cone_unrolls_to_its_sector() -> None:
    columns, rows = 40, 6
    vertices, faces = grid(columns, rows)
    points = cone(*vertices.T)
    slant = math.hypot(180.0, 500.0) / 180.0  # of each mm of radius, along a ruling
    chord = 2 * math.sin(2 * math.pi * 0.95 / columns / 2)  # of each mm of radius, across
    turn = 2 * math.asin(chord / slant / 2) * columns * vertices[:, 0]
    reach = (300.0 - 180.0 * vertices[:, 1]) * slant
    want = np.stack([reach * np.sin(turn), -reach * np.cos(turn)], axis=1)
    assert apart_mm(flatten(points, faces), want) < 1e-4


@pytest.mark.parametrize(
    "space", [TUBE, cone, saddle, shoulder], ids=["tube", "cone", "saddle", "shoulder"]
)
def test_two_starts_agree(space: Map) -> None:
    points, faces = scattered(space, 39, seed=7)
    one, other = flatten(points, faces), flatten(points, faces, start="tutte")
    assert apart_mm(one, other) <= LAW_STARTS_MM
    assert not folded(one, faces).any()


def test_a_long_soft_band_agrees_from_two_starts() -> None:
    """Bending a band in its plane costs least: the slowest case to converge."""
    vertices, faces = grid(120, 2)
    points = around(150.0, 30.0, -2.9, 2.9)(*vertices.T)
    points[:, 1] += 15 * np.sin(9 * vertices[:, 0])
    one, other = flatten(points, faces), flatten(points, faces, start="tutte")
    assert apart_mm(one, other) <= LAW_STARTS_MM


def rigidity(points: F64, faces: I64) -> Callable[[F64], float]:
    """Sum over faces of area times (s1 - 1)^2 + (s2 - 1)^2, s the singular values."""
    a, b, c = (points[faces[:, i]] for i in range(3))
    first = (b - a) / np.linalg.norm(b - a, axis=1)[:, None]
    normal = np.cross(b - a, c - a)
    second = np.cross(normal, first) / np.linalg.norm(normal, axis=1)[:, None]
    shape = np.stack(
        [np.stack([((v - a) * e).sum(axis=1) for v in (b, c)], axis=1) for e in (first, second)],
        axis=1,
    )
    inverse, area = np.linalg.inv(shape), np.linalg.norm(normal, axis=1) / 2

    def energy(flat: F64) -> float:
        corner = flat.reshape(-1, 2)[faces]
        sides = np.stack([corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0]], axis=2)
        stretch = np.linalg.svd(sides @ inverse, compute_uv=False)
        return float((area * ((stretch - 1) ** 2).sum(axis=1)).sum())

    return energy


def test_the_result_is_the_least_of_the_published_energy() -> None:
    vertices, faces = grid(4, 4)
    points = shoulder(*vertices.T)
    energy = rigidity(points, faces)
    flat = flatten(points, faces)
    other = minimize(energy, points[:, :2].ravel(), method="BFGS", options={"gtol": 1e-3})
    assert energy(flat) > 100  # there is something to trade
    assert energy(flat) <= energy(other.x) * (1 + 1e-6)
    assert apart_mm(flat, other.x.reshape(-1, 2)) < LAW_STARTS_MM
