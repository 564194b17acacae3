"""Normals and tangents at the corners of a mesh."""

import math
from dataclasses import replace

import numpy as np
import pytest

from tests.garments_by_hand import garment
from tests.seen_by_hand import ball, on_ball, surface
from texbake.arrays import F64
from texbake.garment.values import Garment
from texbake.garment.vertices import vertices
from texbake.garment.weld import weld
from texbake.view import corner_normals, corner_tangents, model_of


def tube(s: F64, t: F64) -> F64:
    angle = 2 * math.pi * s
    return np.stack([50 * np.sin(angle), 200 * t, 50 * np.cos(angle)], axis=-1)


def angle_deg(a: F64, b: F64) -> F64:
    return np.asarray(np.degrees(np.arccos(np.clip((a * b).sum(axis=-1), -1, 1))))


def test_normals_of_the_file_are_kept() -> None:
    made = ball(columns=8, rows=4)
    assert made.mesh.normals is not None
    assert np.array_equal(corner_normals(vertices(made)), made.mesh.normals.astype(np.float32))


def test_normals_made_from_the_faces_of_a_tube_point_away_from_its_axis() -> None:
    made = surface(48, 8, tube)
    points = made.mesh.points_mm[made.mesh.faces]
    radial = points * [1.0, 0.0, 1.0] / 50.0
    # The tube closes at s = 0 and 1, where UV is cut: there too.
    assert angle_deg(corner_normals(vertices(made)), radial).max() < 0.1


def test_normals_made_from_the_faces_of_a_ball_are_within_a_degree() -> None:
    made = surface(64, 32, lambda s, t: 50 * on_ball(s, t))
    points = made.mesh.points_mm[made.mesh.faces]
    seen = (made.weld != np.roll(made.weld, 1, axis=1)).all(axis=1)  # not what the poles collapse
    assert seen.sum() == len(seen) - 2 * 64
    assert angle_deg(corner_normals(vertices(made)), points / 50.0)[seen].max() < 1.0


def lined() -> Garment:
    """A curved shell with a lining that lies on it to the bit and is wound the other way."""
    shell = surface(6, 6, lambda s, t: tube(s / 4, t)).mesh
    points = shell.points_mm[shell.faces]
    both = np.concatenate([points, points[:, ::-1]])
    uv = np.concatenate([shell.uv / 2, shell.uv[:, ::-1] / 2 + 0.5])
    made = garment(uv, points_mm=both, panel=np.repeat([0, 1], len(points)).astype(np.int32))
    return replace(made, weld=weld(made.mesh.points_mm, made.mesh.faces))


def test_a_lining_on_its_shell_keeps_normals_of_its_own() -> None:
    normals = corner_normals(vertices(lined()))
    shell, lining = normals[: len(normals) // 2], normals[len(normals) // 2 :][:, ::-1]
    assert np.abs(shell + lining).max() < 1e-6  # float32
    assert angle_deg(shell, tube_normals(lined())).max() < 8.0


def tube_normals(made: Garment) -> F64:
    points = made.mesh.points_mm[made.mesh.faces][: len(made.panel) // 2]
    return np.asarray(points * [1.0, 0.0, 1.0] / 50.0)


def test_a_fold_stays_sharp() -> None:
    def folded(s: F64, t: F64) -> F64:
        return np.stack([0.5 - np.abs(s - 0.5), t, 0.1 * np.maximum(s - 0.5, 0.0)], axis=-1)

    normals = corner_normals(vertices(surface(2, 1, folded)))
    assert normals[:2, :, 2].min() > 0.99
    assert normals[2:, :, 2].max() < -0.99


def test_a_face_without_area_has_a_unit_normal() -> None:
    made = surface(2, 2, lambda s, t: np.stack([s, 0 * t, 0 * t], axis=-1))
    assert np.linalg.norm(corner_normals(vertices(made)), axis=-1) == pytest.approx(1.0)


@pytest.mark.parametrize("mirrored", [False, True])
def test_tangents_run_along_u_and_bitangents_along_v(mirrored: bool) -> None:
    sign = -1.0 if mirrored else 1.0
    made = surface(24, 4, tube, uv=lambda s, t: np.stack([0.5 + sign * (s - 0.5), t], axis=-1))
    normals = corner_normals(vertices(made))
    tangents = corner_tangents(vertices(made))
    around = np.stack([normals[..., 2], 0 * normals[..., 0], -normals[..., 0]], axis=-1)
    assert angle_deg(tangents[..., :3], sign * around).max() < 1.0
    assert (tangents[..., 3] == sign).all()
    bitangent = np.cross(normals, tangents[..., :3]) * tangents[..., 3:]
    assert angle_deg(bitangent, np.array([0.0, 1.0, 0.0])).max() < 1.0


def test_tangents_are_unit_and_square_to_normals_even_where_uv_has_no_area() -> None:
    made = surface(4, 4, tube, uv=lambda s, t: np.stack([s, 0 * t], axis=-1))
    normals = corner_normals(vertices(made))
    tangents = corner_tangents(vertices(made))[..., :3]
    assert np.linalg.norm(tangents, axis=-1) == pytest.approx(1.0)
    assert (tangents * normals).sum(axis=-1) == pytest.approx(0.0, abs=1e-6)


def test_faces_of_other_tiles_are_not_drawn() -> None:
    made = surface(2, 1, tube, uv=lambda s, t: np.stack([2 * s, t], axis=-1))
    made = replace(made, panel=np.array([0, 0, -1, -1], np.int32))
    assert model_of(made).face.tolist() == [0, 1]
