"""`texbake new`: a first recipe that bakes as it is."""

from pathlib import Path

import pytest

from tests.cli_run import everything, refused, texbake, tube_recipe
from texbake.recipe import load

MESHES = Path(__file__).resolve().parents[2].parent / "shared" / "meshes" / "garments"


def test_a_new_recipe_lists_every_panel_and_bakes_as_it_is(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    tube_recipe(tmp_path)
    (tmp_path / "tube.yaml").unlink()
    monkeypatch.chdir(tmp_path)
    run = texbake("new", "tube.obj")
    assert (run.code, run.err) == (0, "")
    assert run.out.splitlines() == ["recipe: tube.yaml", "bake it: texbake bake tube.yaml"]
    project = load(Path("tube.yaml"))
    assert set(project.recipe.panels) == {"front", "back"}
    assert project.recipe.mesh == (tmp_path / "tube.obj").resolve()
    baked = texbake("bake", "tube.yaml", "--out", "sets")
    assert baked.code == 0, baked.err
    assert not any("too fine" in note for note in baked.notes)
    assert [p.name for p in sorted(Path("sets/tube").glob("*/"))] == sorted(project.colourways)


def test_a_recipe_in_another_folder_points_back_at_the_mesh(tmp_path: Path) -> None:
    tube_recipe(tmp_path)
    (tmp_path / "recipes").mkdir()
    where = tmp_path / "recipes" / "mine.yaml"
    assert texbake("new", tmp_path / "tube.obj", "--recipe", where).code == 0
    assert "mesh: ../tube.obj" in where.read_text(encoding="utf-8")
    assert texbake("bake", where, "--size", 64, "--out", tmp_path).code == 0


def test_a_recipe_that_is_there_is_never_written_over(tmp_path: Path) -> None:
    recipe = tube_recipe(tmp_path)
    ((what, fix),) = refused(tmp_path, "new", tmp_path / "tube.obj", "--recipe", recipe)
    assert what == f"{recipe}: a file of this name is there already"
    assert "--recipe" in fix


def test_what_is_no_mesh_is_told(tmp_path: Path) -> None:
    recipe = tube_recipe(tmp_path)
    ((what, fix),) = refused(tmp_path, "new", recipe)
    assert what == f"{recipe}: this is a recipe, not a mesh"
    assert "texbake bake" in fix
    ((what, fix),) = refused(tmp_path, "new", tmp_path / "tub.obj")
    assert what == f"{tmp_path}/tub.obj: no such mesh file"
    assert "'tube.obj'" in fix
    where = tmp_path / "no" / "a.yaml"
    ((what, _),) = refused(tmp_path, "new", tmp_path / "tube.obj", "--recipe", where, code=3)
    assert what == f"{where}: there is no such folder"


@pytest.mark.skipif(not MESHES.exists(), reason="the shared meshes are not here")
@pytest.mark.parametrize("name", ["hoodie.glb", "mask-mirrored.obj"])
def test_a_real_garment_goes_from_mesh_to_maps_in_two_commands(tmp_path: Path, name: str) -> None:
    recipe = tmp_path / "it.yaml"
    run = texbake("new", MESHES / name, "--recipe", recipe)
    assert run.code == 0, run.err
    run = texbake("bake", recipe, "--size", 128, "--out", tmp_path / "sets")
    assert run.code == 0, run.err
    ways = load(recipe).colourways
    files = [path for path in everything(tmp_path / "sets") if path.endswith(".png")]
    assert len(files) == 7 * len(ways)
