"""From mesh files to garments: real ones, made by other people (see /work/shared/meshes)."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from tests.sewn_by_hand import front_and_back, sew
from texbake.garment.build import build_garment
from texbake.garment.read import read_mesh
from texbake.garment.values import Garment, Mesh

FOLDER = Path(__file__).resolve().parents[2].parent / "shared" / "meshes" / "garments"
NAMES = (
    "apron-215-islands.obj",
    "hoodie.glb",
    "mask-mirrored.obj",
    "polo-2-materials.obj",
    "shirt-5-panels.obj",
    "skirt-8-stacked.obj",
    "sleeveless-uv-in-cm.obj",
    "tee-4-panels.obj",
    "tee-closed.glb",
    "trousers-uv-in-cm.obj",
    "vest-folded.obj",
)


def read(name: str) -> Mesh:
    """Read a garment; UVs in centimetres are brought into the tile, which the reader leaves."""
    path = FOLDER / name
    if not path.exists():
        pytest.skip(f"{path} is not here")
    mesh = read_mesh(path, unit_mm=None, up="y")
    low, size = mesh.uv.min(axis=(0, 1)), np.ptp(mesh.uv, axis=(0, 1)).max()
    return mesh if (low >= -1e-4).all() and size <= 1 else replace(mesh, uv=(mesh.uv - low) / size)


@pytest.fixture(scope="module", params=NAMES)
def garment(request: pytest.FixtureRequest) -> Garment:
    return build_garment(read(request.param))


def test_every_baked_face_is_on_one_panel_and_lies_flat(garment: Garment) -> None:
    on = np.concatenate([panel.faces for panel in garment.panels])
    assert sorted(on.tolist()) == np.flatnonzero(garment.panel >= 0).tolist()
    assert np.isfinite(garment.pattern_mm).all()
    assert np.array_equal(garment.pattern_mm.astype(np.float32), garment.pattern_mm)
    assert len({panel.name.lower() for panel in garment.panels}) == len(garment.panels)


def test_the_pattern_has_the_area_of_the_cloth(garment: Garment) -> None:
    """As-rigid-as-possible trades stretch for squeeze: areas stay within some per cent."""
    a, b, c = (garment.pattern_mm[:, i] for i in range(3))
    twice = (b - a)[:, 0] * (c - a)[:, 1] - (b - a)[:, 1] * (c - a)[:, 0]
    for panel in garment.panels:
        if len(panel.faces) > 1:
            flat = 0.5 * float(np.abs(twice[panel.faces]).sum())
            assert flat == pytest.approx(panel.area_mm2, rel=0.1)


def test_both_sides_of_a_seam_have_its_length(garment: Garment) -> None:
    for chain in garment.chains:
        error = max(garment.panels[p].stretch_max for p in chain.panels if p >= 0)
        for side in chain.pattern_mm:
            if len(side):
                length = float(np.linalg.norm(side[:, 1] - side[:, 0], axis=1).sum())
                assert length == pytest.approx(chain.length_mm, rel=error + 1e-3, abs=0.01)


def test_no_half_edge_is_in_two_chains(garment: Garment) -> None:
    used = [
        (int(face), *np.round(np.sort(ends, axis=0).ravel(), 6).tolist())
        for chain in garment.chains
        for side in chain.face
        for face, ends in zip(side, chain.points_mm, strict=False)
    ]
    assert len(set(used)) == len(used)


def test_a_shirt_is_sewn_as_a_shirt() -> None:
    garment = build_garment(read("tee-4-panels.obj"))
    names = [panel.name for panel in garment.panels]
    assert sorted(names) == ["back", "front", "left", "right"]
    pairs = [{names[p] for p in chain.panels} for chain in garment.chains if chain.kind == "seam"]
    assert len([pair for pair in pairs if pair == {"front", "back"}]) == 4  # sides and shoulders
    for sleeve in ("left", "right"):
        assert {sleeve} in pairs  # sewn to itself under the arm
        assert {sleeve, "front"} in pairs
        assert {sleeve, "back"} in pairs
    cuffs = [chain for chain in garment.chains if chain.kind == "hem" and chain.closed]
    assert sorted(names[chain.panels[0]] for chain in cuffs) == ["left", "right"]
    assert max(panel.stretch_rms for panel in garment.panels) < 0.01


def test_two_uv_layouts_of_one_garment_give_one_pattern() -> None:
    pairs = FOLDER.parent / "pairs"
    if not pairs.exists():
        pytest.skip(f"{pairs} is not here")
    one, other = (
        build_garment(read_mesh(pairs / f"tee-two-uv-sets-{x}.obj", unit_mm=None, up="y"))
        for x in "AB"
    )
    np.testing.assert_allclose(one.pattern_mm, other.pattern_mm, atol=1e-3)


def test_the_same_mesh_gives_the_same_bytes() -> None:
    mesh = sew(*front_and_back())
    one, other = build_garment(mesh), build_garment(mesh)
    assert one.pattern_mm.tobytes() == other.pattern_mm.tobytes()
