"""200 random edits of mesh and layout on five garments: right or asked, never wrong in silence."""

from pathlib import Path

import numpy as np
import pytest

from tests.layout_edits import EDITS, Edited, kept_of, mesh_of_faces
from tests.tube import cut_once_more, write_tube
from texbake.change.follow import face_areas, follow
from texbake.change.questions import questions
from texbake.garment.read import read_mesh
from texbake.garment.values import Mesh
from texbake.recipe import loads

RECIPES = Path(__file__).resolve().parents[2] / "recipes"
# How often each garment is edited; of a quarter at most may be asked.
TIMES = {"vest": 8, "trousers": 10, "pullover": 8, "tube": 87, "layers": 87}


def _garment(name: str, folder: Path) -> Mesh:
    if name in {"tube", "layers"}:
        path = write_tube(folder / "tube.obj", cut_once_more, split=True)
    else:
        path = RECIPES / "meshes" / f"ferry-{name}.obj"
    mesh = read_mesh(path, unit_mm=10.0, up="y")
    return _doubled(mesh) if name == "layers" else mesh


def _doubled(mesh: Mesh) -> Mesh:
    """A tube with a lining back to back with it, and a cuff 2 mm above a part of it."""
    corners, uv = mesh.points_mm[mesh.faces], mesh.uv * 0.3
    cuff = corners[:, :, 1].max(axis=1) < 40.0
    out = corners[cuff] * np.array([1.05, 1.0, 1.05])
    parts = [(corners, uv), (corners[:, ::-1], uv[:, ::-1] + 0.35), (out, uv[cuff] + [0.0, 0.65])]
    return mesh_of_faces(
        np.concatenate([part[0] for part in parts]), np.concatenate([part[1] for part in parts])
    )


@pytest.mark.parametrize("name", TIMES)
def test_no_edit_is_matched_wrongly_in_silence(name: str, tmp_path: Path) -> None:
    recipe = loads("garment: edited\nmesh: x.obj\nfabric: plain\n", tmp_path / "x.yaml").recipe
    mesh = _garment(name, tmp_path)
    kept = kept_of(mesh)
    asked = 0
    for seed in range(TIMES[name]):
        rng = np.random.default_rng(seed)
        edited, done = Edited(mesh, kept.panel), []
        for edit in rng.choice(list(EDITS), rng.integers(1, 4)).tolist():
            edited = EDITS[edit](edited, rng)
            done.append(edit)
        followed = follow(recipe, edited.mesh, kept)
        if questions(followed, recipe):
            asked += 1
            continue
        area = face_areas(edited.mesh.points_mm[edited.mesh.faces])
        wrong = float(area[followed.known.face != edited.truth].sum())
        assert wrong <= 1e-9 * float(area.sum()), (seed, done, wrong)
    assert asked <= 0.25 * TIMES[name]
