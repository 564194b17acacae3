"""Vertices with normals and tangent frames: split where they must be, and nowhere else."""

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from tests.bent_by_hand import tube, two_layers, welded
from tests.garments_by_hand import box, garment, sheet
from tests.glb_by_hand import Read
from texbake.garment.build import build_garment
from texbake.garment.read import read_mesh
from texbake.garment.values import Garment
from texbake.garment.vertices import smooth_normals, vertices
from texbake.garment.weld import weld


def test_normals_and_tangents_are_unit_and_upright() -> None:
    for cloth in (tube(), two_layers(), lopsided()):
        made = vertices(cloth)
        normal, tangent = made.normal.astype(np.float64), made.tangent.astype(np.float64)
        assert np.linalg.norm(normal, axis=1) == pytest.approx(1.0, abs=1e-6)
        assert np.linalg.norm(tangent[:, :3], axis=1) == pytest.approx(1.0, abs=1e-6)
        assert (normal * tangent[:, :3]).sum(axis=1) == pytest.approx(0.0, abs=1e-6)
        assert set(tangent[:, 3].tolist()) <= {1.0, -1.0}


def lopsided() -> Garment:
    """A tube with a collapsed face, one without area in UV, and one wound the wrong way."""
    cloth = tube()
    points = cloth.mesh.points_mm.reshape(-1, 3, 3).copy()
    points[3, 1] = points[3, 0]
    points[9] = points[9, ::-1]
    uv = cloth.mesh.uv.copy()
    uv[6] = uv[6, 0]
    return welded(replace(cloth, mesh=replace(cloth.mesh, uv=uv)), points_mm=points)


def test_halves_that_meet_their_mirror_image_split_at_the_hand_alone() -> None:
    """Two halves share their texels; on the line between them all but the hand is equal."""
    half = sheet(2, 2, box(0.0, 0.0, 0.5, 0.5))
    other = half[:, ::-1]
    points = np.concatenate([half * [-1.0, 1.0], other])[..., [0, 1, 1]] * [400.0, 400.0, 0.0]
    cloth = welded(garment(np.concatenate([half, other])), points_mm=points)
    cloth = replace(cloth, mesh=replace(cloth.mesh, normals=np.tile([0.0, 0.0, -1.0], (16, 3, 1))))
    made = vertices(cloth)
    assert len(made.uv) == 2 * 9
    line = made.points_m[:, 0] == 0.0
    assert line.sum() == 2 * 3
    assert len(np.unique(made.points_m[line], axis=0)) == 3
    assert sorted(made.tangent[line, 3].tolist()) == [-1.0] * 3 + [1.0] * 3
    # Seen from -z, +U is away from the line on both sides, and +V is up on both.
    assert made.tangent[line, 0] == pytest.approx(-made.tangent[line, 3])
    upwards = np.cross(made.normal, made.tangent[:, :3]) * made.tangent[:, 3:]
    assert upwards[:, 1] == pytest.approx(1.0)


def test_corners_that_are_alike_are_one_vertex() -> None:
    made = vertices(tube(24))
    assert len(made.uv) == 25 * 5
    assert made.corner.ravel()[np.unique(made.corner, return_index=True)[1]].tolist() == list(
        range(125)
    )


def test_layers_at_one_place_keep_their_own_normals() -> None:
    cloth = two_layers()
    made = vertices(cloth)
    facing = made.normal[made.corner][..., 2]
    assert (facing[cloth.panel == 0] == 1.0).all()
    assert (facing[cloth.panel == 1] == -1.0).all()


def test_both_layers_of_a_lined_tube_are_smooth() -> None:
    """Every inner edge has four faces there; each layer is followed on its own side."""
    shell = tube(48)
    points = shell.mesh.points_mm.reshape(-1, 3, 3)
    both = np.concatenate([points, points[:, ::-1]])
    corners = np.arange(3 * len(both), dtype=np.int32).reshape(-1, 3)
    normal = smooth_normals(both, weld(both.reshape(-1, 3), corners))
    out = both * [1.0, 0.0, 1.0] / 100.0
    facing = (out * normal).sum(-1)
    inner = np.abs(out[..., 0]) < 0.9
    assert (facing[: len(points)][inner[: len(points)]] > 0.9999).all()
    assert (facing[len(points) :][inner[len(points) :]] < -0.9999).all()


def test_normals_run_on_over_bends_and_stop_at_folds() -> None:
    """Two squares that meet at an angle: under 80 degrees they are one bend."""
    flat = sheet(1, 1, box(0.0, 0.0, 0.5, 1.0))
    for bend, smooth in ((40.0, True), (120.0, False), (180.0, False)):
        c, s = math.cos(math.radians(bend)), math.sin(math.radians(bend))
        left = np.concatenate([flat * [-1.0, 1.0], np.zeros((2, 3, 1))], axis=2)[:, ::-1]
        right = np.stack([flat[..., 0] * c, flat[..., 1], -flat[..., 0] * s], axis=-1)
        points = np.concatenate([left, right])
        corners = np.arange(12, dtype=np.int32).reshape(-1, 3)
        normal = smooth_normals(points, weld(points.reshape(-1, 3), corners))
        edge = np.abs(points[..., 0]) + np.abs(points[..., 2]) < 1e-9
        half = math.radians(bend) / 2
        mean = np.tile([math.sin(half), 0.0, math.cos(half)], (edge.sum(), 1))
        assert (normal[edge] == pytest.approx(mean, abs=1e-9)) == smooth
        assert normal[~edge][-1] == pytest.approx([s, 0.0, c], abs=1e-9)


def test_tangents_agree_with_those_that_another_program_wrote() -> None:
    """A tee with TANGENT in the file: the hand is the same at every corner."""
    folder = Path(__file__).resolve().parents[2].parent / "shared" / "meshes" / "garments"
    path = folder / "tee-closed.glb"
    if not path.exists():
        pytest.skip(f"{path} is not here")
    theirs = Read(path.read_bytes())
    mesh = read_mesh(path, unit_mm=None, up="y")
    made = vertices(build_garment(mesh))
    want, got = theirs.corners("TANGENT"), made.tangent[made.corner]
    assert np.array_equal(want[..., 3], got[..., 3])
    apart = np.degrees(np.arccos(np.clip((want[..., :3] * got[..., :3]).sum(-1), -1.0, 1.0)))
    assert np.median(apart) < 0.2
    assert apart.max() < 15.0
    smooth = smooth_normals(mesh.points_mm[mesh.faces], weld(mesh.points_mm, mesh.faces))
    assert mesh.normals is not None
    slant = np.degrees(np.arccos(np.clip((smooth * mesh.normals).sum(-1), -1.0, 1.0)))
    assert np.median(slant) < 1.0
