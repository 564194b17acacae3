"""Every real mesh, four lines of recipe: it bakes, or is refused with a cure; never a traceback."""

from pathlib import Path

import pytest

from tests.cli_run import everything, texbake

MESHES = Path(__file__).resolve().parents[2].parent / "shared" / "meshes"
ENDINGS = {".obj", ".gltf", ".glb", ".ply"}
FILES = sorted(p for p in MESHES.rglob("*") if p.suffix in ENDINGS)
# The garments that their list calls fit as they are: these must bake, whatever else is refused.
FIT = (
    "tee-4-panels.obj",
    "shirt-5-panels.obj",
    "polo-2-materials.obj",
    "apron-215-islands.obj",
    "mask-mirrored.obj",
    "vest-folded.obj",
    "tee-closed.glb",
    "hoodie.glb",
    "tee-two-uv-sets.glb",
)


@pytest.mark.skipif(not FILES, reason="the shared meshes are not here")
@pytest.mark.parametrize("mesh", FILES, ids=lambda path: path.name)
def test_it_bakes_or_is_refused_with_a_cure(tmp_path: Path, mesh: Path) -> None:
    recipe = tmp_path / "recipe.yaml"
    recipe.write_text(f"garment: it\nmesh: {mesh}\nfabric: single jersey\ncolour: '#3d5a6c'\n")
    run = texbake("bake", recipe, "--size", 64, "--out", tmp_path / "sets")
    assert run.code in (0, 2), run.err
    if run.code == 0:
        assert len(everything(tmp_path / "sets" / "it" / "standard")) == 8
        return
    assert mesh.name not in FIT
    assert run.out == ""
    assert list(everything(tmp_path)) == ["recipe.yaml"]
    assert all(mesh.name in what or "recipe.yaml:" in what for what, _ in run.mistakes)
    assert all(len(what) + len(fix) < 1000 for what, fix in run.mistakes)
