"""Names follow the cloth: what is decided, what is asked, and what the recipe says before all."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from tests.layout_edits import Edited, kept_of, mesh_of_faces, reorder
from tests.tube import Placing, upright, write_tube
from texbake.arrays import F64
from texbake.change import Kept, follow
from texbake.change.follow import Comparison
from texbake.change.questions import questions
from texbake.change.values import picks_of
from texbake.errors import UserError
from texbake.garment.read import read_mesh
from texbake.garment.values import Mesh
from texbake.recipe import Recipe, loads

SHARED = Path(__file__).resolve().parents[2].parent / "shared" / "meshes"


def _recipe(more: str = "") -> Recipe:
    text = f"garment: tube\nmesh: tube.obj\nfabric: plain\n{more}"
    return loads(text, Path("tube.yaml")).recipe


def _tube(folder: Path, placing: Placing = upright) -> Mesh:
    return read_mesh(write_tube(folder / "tube.obj", placing), unit_mm=10.0, up="y")


def _names(found: Comparison, which: np.ndarray) -> set[str]:
    return {found.known.panels[k].name for k in np.unique(found.known.face[which]).tolist()}


def _layers(*offsets_mm: float, turned: bool = False) -> tuple[F64, F64]:
    """Square sheets above each other, each an island of two triangles."""
    sheet = np.array(
        [[[0.0, 0, 0], [100, 0, 0], [0, 0, 100]], [[100, 0, 0], [100, 0, 100], [0, 0, 100]]]
    )
    corners = [sheet + np.array([0, offset, 0]) for offset in offsets_mm]
    uv = [0.2 * sheet[:, :, [0, 2]] / 100 + np.array([0.25 * k, 0]) for k in range(len(offsets_mm))]
    if turned:
        corners[1], uv[1] = corners[1][:, ::-1], uv[1][:, ::-1]
    return np.concatenate(corners), np.concatenate(uv)


def _moved(uv: F64) -> F64:
    return uv * 0.5 + 0.1


def test_faces_in_another_order_keep_their_panels(tmp_path: Path) -> None:
    mesh = _tube(tmp_path)
    kept = kept_of(mesh)
    edited = reorder(Edited(mesh, kept.panel), np.random.default_rng(1))
    found = follow(_recipe(), edited.mesh, kept)
    assert np.array_equal(found.known.face, edited.truth)
    assert questions(found, _recipe()) == []


def test_layers_back_to_back_are_told_apart_by_their_side() -> None:
    corners, uv = _layers(0.0, 0.0, turned=True)
    kept = kept_of(mesh_of_faces(corners, uv))
    found = follow(_recipe(), mesh_of_faces(corners[[2, 3, 0, 1]], _moved(uv[[2, 3, 0, 1]])), kept)
    assert found.known.face.tolist() == [1, 1, 0, 0]
    assert questions(found, _recipe()) == []


def test_layers_that_nothing_tells_apart_are_asked_for() -> None:
    corners, uv = _layers(0.0, 0.0)
    kept = kept_of(mesh_of_faces(corners, uv))
    asked = questions(follow(_recipe(), mesh_of_faces(corners, _moved(uv)), kept), _recipe())
    assert len(asked) == 2
    assert "could be 'bottom-1', 'bottom-2'" in asked[0].what
    assert "bottom-1: {islands: [0]}" in asked[0].fix


def test_materials_tell_layers_apart() -> None:
    corners, uv = _layers(0.0, 0.0)
    named = replace(
        mesh_of_faces(corners, uv),
        materials=("shell", "lining"),
        material_of=np.array([0, 0, 1, 1], np.int32),
    )
    kept = kept_of(named)
    now = replace(
        named,
        uv=_moved(uv),
        materials=("lining", "shell"),
        material_of=np.array([0, 0, 1, 1], np.int32),
    )
    found = follow(_recipe(), now, kept)
    assert found.known.face.tolist() == [1, 1, 0, 0]
    assert questions(found, _recipe()) == []


def test_a_pocket_laid_on_is_new_and_takes_nothing_from_the_cloth_below() -> None:
    corners, uv = _layers(0.0)
    kept = kept_of(mesh_of_faces(corners, uv))
    pocket, its_uv = _layers(0.0, 1.5)
    found = follow(_recipe(), mesh_of_faces(pocket, _moved(its_uv)), kept)
    assert found.known.face.tolist() == [0, 0, -1, -1]
    assert found.decision.fresh == (1,)
    assert questions(found, _recipe()) == []


def test_a_panel_that_is_gone_is_asked_for_until_the_recipe_says_so() -> None:
    corners, uv = _layers(0.0, 50.0)
    kept = kept_of(mesh_of_faces(corners, uv))
    name = kept.panels[1].name
    now = mesh_of_faces(corners[:2], _moved(uv[:2]))
    (asked,) = questions(follow(_recipe(), now, kept), _recipe())
    assert f"panel '{name}' is gone" in asked.what
    line = f"gone: [{name}]"
    assert line in asked.fix
    assert questions(follow(_recipe(line), now, kept), _recipe(line)) == []


def test_two_panels_in_one_island_keep_their_seam(tmp_path: Path) -> None:
    mesh = _tube(tmp_path)
    kept = kept_of(mesh)
    points = mesh.points_mm[mesh.faces]
    joined = 0.1 + 0.8 * (points[..., :2] - points[..., :2].min(axis=(0, 1))) / 120.0
    found = follow(_recipe(), replace(mesh, uv=joined), kept)
    assert found.island.max() == 0
    assert np.array_equal(found.known.face, kept.panel)


def test_triangles_across_a_seam_inside_an_island_are_asked_for() -> None:
    """Two squares side by side become one, cut along the other diagonal of both together."""
    corners, uv = _layers(0.0)
    other = corners + np.array([100, 0, 0])
    kept = kept_of(
        mesh_of_faces(
            np.concatenate([corners, other]), np.concatenate([uv, uv + np.array([0.5, 0])])
        )
    )
    wide = corners * [2.0, 1, 1]
    found = follow(_recipe(), mesh_of_faces(wide, _moved(uv)), kept)
    (asked,) = questions(found, _recipe())
    assert "triangles lie across their seam" in asked.what


def test_another_garment_is_refused_with_the_common_surface(tmp_path: Path) -> None:
    kept = kept_of(_tube(tmp_path))
    moved = _tube(tmp_path)
    moved = replace(moved, points_mm=moved.points_mm + np.array([0.0, 300.0, 0.0]))
    with pytest.raises(UserError, match=r"another garment .* 0% of their surface") as caught:
        follow(_recipe(), moved, kept)
    assert "--out" in caught.value.fix
    assert "garment: NAME" in caught.value.fix


def _numbered(kept: Kept, recipe: Recipe) -> Kept:
    """The record of a recipe that names island 0."""
    panels = (replace(kept.panels[0], name="sail", entry="sail"), *kept.panels[1:])
    entries = {name: picks_of(entry) for name, entry in recipe.panels.items()}
    return replace(kept, panels=panels, entries=entries)


def test_a_number_that_nobody_touched_means_the_island_of_its_time(tmp_path: Path) -> None:
    recipe = _recipe("panels:\n  sail: {island: 0, fabric: felt, grain: 10 deg}\n")
    mesh = _tube(tmp_path)
    kept = _numbered(kept_of(mesh), recipe)
    turned = replace(mesh, faces=mesh.faces[::-1], uv=mesh.uv[::-1])
    found = follow(recipe, turned, kept)
    assert _names(found, kept.panel[::-1] == 0) == {"sail"}
    assert set(found.island[kept.panel[::-1] == 0].tolist()) == {1}
    applied = found.apply(recipe)
    assert applied.panels["sail"].fabric == "felt"
    assert applied.panels["sail"].islands == ()
    assert found.known.panels[0].grain_rad == pytest.approx(np.radians(10))


def test_a_number_that_was_rewritten_means_the_mesh_as_it_is_now(tmp_path: Path) -> None:
    before = _recipe("panels:\n  sail: {island: 0}\n")
    mesh = _tube(tmp_path)
    kept = _numbered(kept_of(mesh), before)
    turned = replace(mesh, faces=mesh.faces[::-1], uv=mesh.uv[::-1])
    found = follow(_recipe("panels:\n  sail: {island: 1}\n"), turned, kept)
    assert found.literal == {"sail"}
    assert (found.known.face[found.island == 1] == -1).all()
    assert _names(found, found.island == 0) == {kept.panels[1].name}


@pytest.mark.skipif(not SHARED.exists(), reason="../shared/meshes is not there")
@pytest.mark.parametrize(
    ("before", "now"),
    [
        ("garments/tee-4-panels.obj", "pairs/tee-4-panels-reunwrapped.obj"),
        ("pairs/tee-two-uv-sets-A.obj", "pairs/tee-two-uv-sets-B.obj"),
    ],
)
def test_a_garment_unwrapped_by_another_library_is_the_same(before: str, now: str) -> None:
    old, new = (read_mesh(SHARED / name, unit_mm=10.0, up="y") for name in (before, now))
    kept = kept_of(old)
    found = follow(_recipe(), new, kept)
    assert questions(found, _recipe()) == []
    assert np.array_equal(found.known.face, kept.panel)  # the pairs are the same face by face
