"""Khronos's own validator of glTF has nothing to say about what is written.

It is the npm package `gltf-validator`, looked for in the folder that TEXBAKE_GLTF_VALIDATOR names
(a `node_modules` or the package itself), else in `node_modules` beside the tests. Without it, or
without node, these tests skip.
"""

import json
import os
import shutil
import subprocess
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from tests.garments_by_hand import box, garment, sheet
from texbake.deliver.glb import write_glb
from texbake.deliver.sheen import Sheen
from texbake.garment.build import build_garment
from texbake.garment.read import read_mesh
from texbake.garment.values import Garment
from texbake.maps import blank

ROOT = Path(__file__).resolve().parents[2]
MESHES = (
    ROOT / "recipes/meshes/ferry-pullover.obj",
    ROOT / "recipes/meshes/ferry-trousers.obj",
    ROOT / "recipes/meshes/ferry-vest.obj",
    *(
        ROOT.parent / "shared/meshes/garments" / name
        for name in ("hoodie.glb", "mask-mirrored.obj", "tee-4-panels.obj", "vest-folded.obj")
    ),
)

Validate = Callable[[Path], dict[str, Any]]


def _package() -> Path | None:
    """The folder of the package, if it is anywhere."""
    asked = os.environ.get("TEXBAKE_GLTF_VALIDATOR")
    for folder in (Path(asked) if asked else None, ROOT / "node_modules"):
        if folder is None:
            continue
        for place in (folder, folder / "gltf-validator", folder / "node_modules/gltf-validator"):
            if (place / "gltf_validator.dart.js").exists():
                return place.resolve()
    return None


@pytest.fixture(scope="module")
def validate() -> Validate:
    node, package = shutil.which("node"), _package()
    if node is None or package is None:
        pytest.skip("node or its package gltf-validator is not here")

    def run(path: Path) -> dict[str, Any]:
        asked = [node, str(ROOT / "tests/validate_glb.mjs"), str(package), str(path)]
        done = subprocess.run(asked, check=True, capture_output=True, text=True, timeout=60)
        report: dict[str, Any] = json.loads(done.stdout)
        return report

    return run


def written(path: Path, cloth: Garment) -> Path:
    fuzz = Sheen(colour_linear=(0.1, 0.2, 0.3), roughness=0.5)
    sheen = [None if k % 2 else fuzz for k in range(len(cloth.panels))]
    maps = blank(16, height_lo_mm=-1.0, height_hi_mm=1.0)
    with path.open("wb") as file:
        write_glb(file, cloth, maps, name="deck-coat", version="0", sheen=sheen)
    return path


@pytest.mark.parametrize("mesh", MESHES, ids=[path.stem for path in MESHES])
def test_garments_pass_without_error_warning_or_hint(
    validate: Validate, tmp_path: Path, mesh: Path
) -> None:
    if not mesh.exists():
        pytest.skip(f"{mesh} is not here")
    cloth = build_garment(read_mesh(mesh, unit_mm=None, up="y"))
    report = validate(written(tmp_path / "garment.glb", cloth))
    assert report["issues"]["messages"] == []
    assert report["info"]["totalTriangleCount"] == len(cloth.mesh.faces)
    assert report["info"]["resources"][1]["image"]["format"] == "rgb"


def test_the_validator_does_find_faults(validate: Validate, tmp_path: Path) -> None:
    cloth = garment(sheet(1, 1, box(0.0, 0.0, 1.0, 1.0)))
    path = written(tmp_path / "garment.glb", cloth)
    data = path.read_bytes()
    assert validate(path)["issues"]["numErrors"] == 0
    path.write_bytes(data.replace(b'"max":[1.0,', b'"max":[2.0,'))
    found = validate(path)["issues"]
    assert found["numErrors"] > 0
    assert found["messages"][0]["code"].startswith("ACCESSOR_M")
