"""The demo garments, measured on the OBJ files that ship: shape, seams, normals and UV layout."""

import filecmp
import math
import os
import subprocess
import sys
from collections import Counter
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from texbake.demo import copy_demo, demo_files, demo_folder
from texbake.demo.garments import GARMENTS, write_meshes
from texbake.errors import UserError
from texbake.recipe import Project, load

ROOT = Path(__file__).resolve().parents[2]
NAMES = tuple(GARMENTS)
MATERIALS = {
    "ferry-vest": {"shell", "lining"},
    "ferry-pullover": {"body", "rib"},
    "ferry-trousers": {"denim"},
}
# Islands that lie mirrored: one in each garment.
MIRRORED = {
    "ferry-vest": {"front-right"},
    "ferry-pullover": {"sleeve-right"},
    "ferry-trousers": {"back-right"},
}


@dataclass(frozen=True, eq=False)
class Read:
    """An OBJ, read the plain way: triangles as fans of each face's corners."""

    points: NDArray[np.float64]
    uv: NDArray[np.float64]
    normals: NDArray[np.float64]
    corners: NDArray[np.int64]  # (F, 3, 3): v, vt, vn
    group: NDArray[np.str_]
    material: NDArray[np.str_]


@cache
def read(name: str) -> Read:
    rows: dict[str, list[list[float]]] = {"v": [], "vt": [], "vn": []}
    corners, group, material = [], [], []
    now = {"g": "", "usemtl": ""}
    for line in (demo_folder() / "meshes" / f"{name}.obj").read_text(encoding="ascii").splitlines():
        key, *rest = line.split()
        if key in rows:
            rows[key].append([float(part) for part in rest])
        elif key in now:
            now[key] = rest[0]
        elif key == "f":
            face = [[int(number) - 1 for number in corner.split("/")] for corner in rest]
            for k in range(1, len(face) - 1):
                corners.append([face[0], face[k], face[k + 1]])
                group.append(now["g"])
                material.append(now["usemtl"])
    v, vt, vn = (np.array(rows[key]) for key in ("v", "vt", "vn"))
    return Read(v, vt, vn, np.array(corners), np.array(group), np.array(material))


def edge_counts(mesh: Read, groups: NDArray[np.bool_] | None = None) -> Counter[tuple[int, int]]:
    faces = mesh.corners[..., 0] if groups is None else mesh.corners[groups][..., 0]
    pairs = np.sort(np.stack([faces, np.roll(faces, -1, axis=1)], axis=-1).reshape(-1, 2), axis=1)
    return Counter(map(tuple, pairs.tolist()))


def uv_areas(mesh: Read) -> NDArray[np.float64]:
    a, b, c = mesh.uv[mesh.corners[..., 1]].transpose(1, 0, 2)
    return np.asarray(((b - a)[:, 0] * (c - a)[:, 1] - (b - a)[:, 1] * (c - a)[:, 0]) / 2.0)


def areas(mesh: Read) -> NDArray[np.float64]:
    a, b, c = mesh.points[mesh.corners[..., 0]].transpose(1, 0, 2)
    return np.asarray(np.linalg.norm(np.cross(b - a, c - a), axis=1) / 2.0)


def covered(mesh: Read, size: int) -> tuple[NDArray[np.int64], NDArray[np.str_]]:
    """How often each texel's centre is covered, and by which group last."""
    count = np.zeros((size, size), np.int64)
    owner = np.full((size, size), "", dtype="<U32")
    for triangle, group in zip(mesh.uv[mesh.corners[..., 1]] * size, mesh.group, strict=True):
        low = np.maximum(np.floor(triangle.min(axis=0)).astype(int), 0)
        high = np.minimum(np.ceil(triangle.max(axis=0)).astype(int), size)
        x, y = np.meshgrid(
            np.arange(low[0], high[0]) + 0.5, np.arange(low[1], high[1]) + 0.5, indexing="ij"
        )
        inside = np.ones(x.shape, bool)
        turned = triangle if cross(*triangle) > 0 else triangle[::-1]
        for p, q in zip(turned, np.roll(turned, -1, axis=0), strict=True):
            inside &= (q[0] - p[0]) * (y - p[1]) - (q[1] - p[1]) * (x - p[0]) > 1e-7
        count[low[0] : high[0], low[1] : high[1]] += inside
        owner[low[0] : high[0], low[1] : high[1]][inside] = group
    return count, owner


def cross(a: NDArray[np.float64], b: NDArray[np.float64], c: NDArray[np.float64]) -> float:
    return float((b - a)[0] * (c - a)[1] - (b - a)[1] * (c - a)[0])


def girth(mesh: Read, groups: set[str], height: float, beyond_x: float = -math.inf) -> float:
    """Length of the cut of a level plane through some groups, cm."""
    keep = np.isin(mesh.group, list(groups))
    total = 0.0
    for triangle in mesh.points[mesh.corners[keep][..., 0]]:
        up = triangle[:, 1] - height
        ends = [
            triangle[i] + (triangle[j] - triangle[i]) * up[i] / (up[i] - up[j])
            for i, j in ((0, 1), (1, 2), (2, 0))
            if up[i] * up[j] < 0
        ]
        if len(ends) == 2 and min(end[0] for end in ends) > beyond_x:
            total += float(np.linalg.norm(ends[0] - ends[1]))
    return total


def test_the_shipped_meshes_are_what_the_scripts_make(tmp_path: Path) -> None:
    made = write_meshes(tmp_path)
    assert [path.stem for path in made] == list(NAMES)
    for path in made:
        assert filecmp.cmp(path, demo_folder() / "meshes" / path.name, shallow=False), path.name


@pytest.mark.parametrize("name", NAMES)
def test_a_garment_is_low_poly_with_named_pieces_and_materials(name: str) -> None:
    mesh = read(name)
    assert 2000 <= len(mesh.corners) < 4000
    assert set(mesh.material.tolist()) == MATERIALS[name]
    assert len(set(mesh.group.tolist())) >= 8


@pytest.mark.parametrize("name", NAMES)
def test_every_edge_has_one_face_or_two_that_run_opposite_ways(name: str) -> None:
    mesh = read(name)
    faces = mesh.corners[..., 0]
    assert set(edge_counts(mesh).values()) == {1, 2}
    ways = Counter(
        zip(faces.ravel().tolist(), np.roll(faces, -1, axis=1).ravel().tolist(), strict=True)
    )
    assert max(ways.values()) == 1


@pytest.mark.parametrize("name", NAMES)
def test_pieces_that_meet_share_their_points(name: str) -> None:
    from scipy.spatial import cKDTree

    mesh = read(name)
    assert len(np.unique(mesh.points, axis=0)) == len(mesh.points)
    assert not cKDTree(mesh.points).query_pairs(0.1)  # 1 mm: nearer would be a seam missed


@pytest.mark.parametrize("name", NAMES)
def test_no_face_is_without_area_or_a_sliver(name: str) -> None:
    mesh = read(name)
    corner = mesh.points[mesh.corners[..., 0]]
    longest = np.linalg.norm(corner - np.roll(corner, -1, axis=1), axis=2).max(axis=1)
    assert areas(mesh).min() > 0.2  # cm2
    assert (areas(mesh) / longest**2).min() > 0.04


@pytest.mark.parametrize("name", NAMES)
def test_normals_are_unit_and_agree_with_their_faces(name: str) -> None:
    mesh = read(name)
    assert np.abs(np.linalg.norm(mesh.normals, axis=1) - 1.0).max() < 2e-4
    a, b, c = mesh.points[mesh.corners[..., 0]].transpose(1, 0, 2)
    face = np.cross(b - a, c - a)
    face /= np.linalg.norm(face, axis=1, keepdims=True)
    agree = (face[:, None] * mesh.normals[mesh.corners[..., 2]]).sum(axis=2)
    assert np.quantile(agree, 0.01) > 0.7
    assert agree.min() > -0.2


@pytest.mark.parametrize("name", NAMES)
def test_the_outside_is_outside(name: str) -> None:
    mesh = read(name)
    centre = mesh.points[mesh.corners[..., 0]].mean(axis=1)
    a, b, c = mesh.points[mesh.corners[..., 0]].transpose(1, 0, 2)
    forwards = np.cross(b - a, c - a)[:, 2]
    outer = mesh.material != "lining"
    in_front = outer & np.isin(mesh.group, ["front", "front-left", "front-right"])
    behind = outer & np.isin(mesh.group, ["back", "back-left", "back-right"])
    assert forwards[in_front].sum() > 0.4 * areas(mesh)[in_front].sum() * 2
    assert forwards[behind].sum() < -0.4 * areas(mesh)[behind].sum() * 2
    assert centre[in_front][:, 2].mean() > 3 > -3 > centre[behind][:, 2].mean()
    if name == "ferry-vest":
        lining = ~outer & (centre[:, 2] > 3)
        assert forwards[lining].sum() < -0.4 * areas(mesh)[lining].sum() * 2


@pytest.mark.parametrize("name", NAMES)
def test_each_piece_is_one_island_unfolded_and_one_of_them_mirrored(name: str) -> None:
    mesh = read(name)
    signs = np.sign(uv_areas(mesh))
    mirrored = set()
    for group in set(mesh.group.tolist()):
        mine = signs[mesh.group == group]
        assert abs(int(mine.sum())) == len(mine), f"{group} is folded in UV"
        if mine[0] < 0:
            mirrored.add(group)
    assert mirrored == MIRRORED[name]


@pytest.mark.parametrize("name", NAMES)
def test_islands_fill_three_fifths_of_the_square_without_overlap(name: str) -> None:
    mesh = read(name)
    count, _ = covered(mesh, 512)
    assert count.max() == 1
    assert 0.58 <= (count > 0).mean() <= 0.72
    assert abs(uv_areas(mesh)).sum() == pytest.approx((count > 0).mean(), abs=0.01)
    assert mesh.uv.min() > 0.008
    assert mesh.uv.max() < 0.992


@pytest.mark.parametrize("name", NAMES)
def test_margins_between_islands_are_two_hundredths_of_the_square(name: str) -> None:
    from scipy.ndimage import distance_transform_edt

    size = 512
    _, owner = covered(read(name), size)
    for group in sorted(set(owner.ravel().tolist()) - {""}):
        away = np.asarray(distance_transform_edt(owner != group))
        others = (owner != group) & (owner != "")
        assert away[others].min() / size > 0.02, group


@pytest.mark.parametrize("name", NAMES)
def test_stretch_is_what_an_artist_leaves_neither_none_nor_gross(name: str) -> None:
    mesh = read(name)
    density = np.sqrt(np.abs(uv_areas(mesh)) / areas(mesh))
    shell = density[mesh.material != "lining"]
    low, high = np.quantile(shell, [0.02, 0.98]) / np.median(shell)
    assert 0.75 < low < 0.99
    assert 1.005 < high < 1.3
    if name == "ferry-vest":
        lining = np.median(density[mesh.material == "lining"]) / np.median(shell)
        assert lining == pytest.approx(0.8, abs=0.06)


def test_girths_are_a_mans_and_ease() -> None:
    """Body: chest 100, waist 86, hip 102, thigh 60, knee 42, upper arm 34 cm (the brief)."""
    vest, pullover, trousers = (read(name) for name in NAMES)
    shell = {"front-left", "front-right", "back"}
    legs = {"front-left", "back-left"}
    assert 102 < girth(vest, shell, 122.0) < 114
    assert 90 < girth(vest, shell, 108.0) < 104
    assert 104 < girth(pullover, {"front", "back"}, 122.0) < 118
    assert 102 < girth(trousers, {*legs, "front-right", "back-right"}, 88.0) < 114
    assert 60 < girth(trousers, legs, 70.0) < 70
    assert 44 < girth(trousers, legs, 46.0) < 54
    assert 40 < girth(trousers, legs, 6.0) < 50
    slanted = girth(pullover, {"sleeve-left"}, 121.0)  # the arm hangs 37 degrees off the plumb
    assert 36 < slanted * math.sqrt((1 + 0.8**2) / 2) < 50


def test_the_wearer_stands_upright_and_faces_forwards() -> None:
    for name, (low, high) in zip(NAMES, ((86, 151), (88, 154), (3, 109)), strict=True):
        points = read(name).points
        assert low < points[:, 1].min()
        assert points[:, 1].max() < high
        assert abs(points[:, 0].max() + points[:, 0].min()) < 1.5
    vest = read("ferry-vest")
    left = vest.points[vest.corners[vest.group == "front-left"][..., 0]]
    assert left[..., 0].mean() > 5  # the wearer's left is +X
    assert left[..., 2].mean() > 5


def test_hems_are_open_where_a_tailor_leaves_them_open() -> None:
    vest = read("ferry-vest")
    shell = vest.material == "shell"
    whole, outer = edge_counts(vest), edge_counts(vest, shell)
    fronts = np.isin(vest.group, ["front-left", "front-right"])
    joined = [e for e in edge_counts(vest, fronts) if outer[e] == 1 and whole[e] == 2]
    assert len(joined) == 2 * 22  # front edges and neck: sewn to the lining
    trousers = read("ferry-trousers")
    open_y = np.array(
        [
            trousers.points[list(edge), 1].mean()
            for edge, count in edge_counts(trousers).items()
            if count == 1
        ]
    )
    assert (open_y < 6).sum() == 32  # two legs of 16 quads round
    assert ((open_y > 6) & (open_y < 70)).sum() == 0


@pytest.mark.parametrize("name", NAMES)
def test_the_recipe_loads_and_has_its_colourways_at_2048(name: str) -> None:
    project: Project = load(demo_folder() / f"{name}.yaml")
    assert len(project.colourways) == (3 if name == "ferry-trousers" else 2)
    assert project.recipe.garment == name
    assert project.recipe.size_px == 2048
    assert project.recipe.mesh_unit_mm == 10.0
    assert project.recipe.mesh.is_file()
    groups = set(read(name).group.tolist())
    found = {panel.group for panel in project.recipe.panels.values() if panel.group}
    assert found <= groups


@pytest.mark.parametrize("name", NAMES)
def test_every_line_of_a_recipe_that_a_beginner_meets_first_is_explained(name: str) -> None:
    lines = (demo_folder() / f"{name}.yaml").read_text(encoding="utf-8").splitlines()
    for key in ("garment", "mesh", "mesh_unit", "size", "gutter", "fabric"):
        line = next(line for line in lines if line.startswith(f"{key}:"))
        assert "# " in line, key


def test_the_demo_lies_in_the_checkouts_recipes() -> None:
    assert demo_folder().resolve() == ROOT / "recipes"
    assert demo_files()[0] == Path("ferry-pullover.yaml")
    assert {path.stem for path in demo_files()} >= set(NAMES)


def test_a_copy_has_the_recipes_and_meshes_and_may_be_repeated(tmp_path: Path) -> None:
    target = tmp_path / "my" / "demo"
    first = copy_demo(target)
    assert [path.relative_to(target) for path in first] == demo_files()
    for path in demo_files():
        assert filecmp.cmp(target / path, demo_folder() / path, shallow=False)
    before = {path: path.stat().st_mtime_ns for path in first}
    assert copy_demo(target) == first
    assert {path: path.stat().st_mtime_ns for path in first} == before


def test_a_users_changed_file_is_never_overwritten(tmp_path: Path) -> None:
    mine = tmp_path / "ferry-vest.yaml"
    mine.write_text("garment: mine\n", encoding="utf-8")
    with pytest.raises(UserError, match=r"ferry-vest\.yaml") as caught:
        copy_demo(tmp_path)
    assert caught.value.path == tmp_path
    assert mine.read_text(encoding="utf-8") == "garment: mine\n"
    assert list(tmp_path.iterdir()) == [mine]


def test_the_scripts_run_from_the_command_line(tmp_path: Path) -> None:
    environment = os.environ | {"PYTHONPATH": str(ROOT)}
    command = [sys.executable, "-m", "texbake.demo", str(tmp_path / "new")]
    subprocess.run(command, check=True, env=environment, cwd=tmp_path)
    assert sorted(path.stem for path in (tmp_path / "new").iterdir()) == sorted(NAMES)
