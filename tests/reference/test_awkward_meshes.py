"""Real meshes, made by other people: each is read as its list says, or refused with a cure.

The figures are those of the list that came with the files (``shared/meshes/INDEX.md``), measured
by another program than this. The list counts as one island what is joined at a corner; here an
edge must be shared, so a piece that hangs on by one corner is an island of its own. Both counts
are checked: the list's by joining corners in this test, ours where it differs by hand.
"""

import re
from collections.abc import Mapping
from pathlib import Path

import numpy as np
import pytest

from texbake.arrays import F64, I32
from texbake.errors import UserError
from texbake.garment.health import check
from texbake.garment.islands import islands
from texbake.garment.read import read_mesh
from texbake.garment.values import Mesh
from texbake.garment.weld import weld

MESHES = Path(__file__).resolve().parents[2].parent / "shared" / "meshes"
FILES = sorted(
    path.relative_to(MESHES).as_posix()
    for path in MESHES.rglob("*")
    if path.suffix in {".obj", ".gltf", ".glb", ".ply"}
)
present = pytest.mark.skipif(not FILES, reason="the shared meshes are not here")

# Refused while reading: the word that must be in the message. All others are read.
REFUSED: Mapping[str, str] = {
    **dict.fromkeys(
        [
            "awkward/MeshesLibrary/Mesh_PrimitiveMode_05.gltf",
            "awkward/MeshesLibrary/Mesh_PrimitiveMode_11.gltf",
            "awkward/MeshesLibrary/Mesh_PrimitiveMode_14.gltf",
            "awkward/MeshesLibrary/Mesh_PrimitivesUV_04.gltf",
            "awkward/obj2gltf/box-incorrect-winding-order.obj",
            "awkward/obj2gltf/box-mixed-attributes-2.obj",
            "awkward/obj2gltf/box-negative-indices.obj",
            "awkward/obj2gltf/box-rotated.obj",
            "awkward/obj2gltf/box-triangles.obj",
            "awkward/obj2gltf/concave.obj",
            "awkward/tinyobjloader/cube-vertex-w-component.obj",
            "awkward/tinyobjloader/issue-161-inconsistent-f.obj",
            "awkward/tinyobjloader/issue-235-usemtl-then-o.obj",
            "awkward/tinyobjloader/leading-decimal-dot-issue-201.obj",
            "awkward/trimesh/face_in_group_name_mid_file.obj",
            "awkward/trimesh/groups.obj",
            "awkward/trimesh/joined_tetrahedra.obj",
            "awkward/trimesh/nancolor.obj",
            "awkward/trimesh/no_indices_3storybuilding.glb",
            "awkward/trimesh/notenoughindices.obj",
            "awkward/trimesh/rabbit.obj",
            "awkward/trimesh/reference.obj",
            "awkward/trimesh/simple_pole.glb",
            "awkward/trimesh/two_objects.obj",
        ],
        "mesh without UVs",
    ),
    "awkward/glTF-Transform/BoxDraco.gltf": "compressed",
    "awkward/glTF-Transform/BoxMeshopt.glb": "compressed",
    "awkward/obj2gltf/box-incomplete-positions.obj": "uses v 2",
    "awkward/obj2gltf/box-incomplete-uvs.obj": "uses vt 2",
    "awkward/tinyobjloader/invalid-relative-texture-index.obj": "uses v 1",
    "awkward/tinyobjloader/issue-140-zero-face-idx.obj": "uses v 0",
    "awkward/tinyobjloader/test-nan.obj": "1.#IND",
    "awkward/tinyobjloader/line-prim.obj": "no faces",
    "awkward/tinyobjloader/points-prim.obj": "no faces",
    "awkward/trimesh/cubevt.obj": "0 'vt' lines",
}
# Refused by ``check``: islands outside the sheet, or UVs without area.
UNFIT: Mapping[str, str] = {
    "awkward/common-3d-test-models/spot.obj": "u -0.05224..0.2538",
    "awkward/dedo/apron_4.obj": "useless UVs",
    "awkward/dedo/vest_00.obj": "useless UVs",
    "awkward/tinyobjloader/map-bump.obj": "v -1.165..2.127",
    "awkward/trimesh/BoxTextured.ply": "u 5..6",
    "awkward/trimesh/quadknot.obj": "useless UVs",
    "garments/shirt-two-tiles.obj": "tile [0, 1]",
    "garments/skirt-8-stacked.obj": "8 of 8 islands",
    "garments/sleeveless-uv-in-cm.obj": "3 of 3 islands",
    "garments/trousers-uv-in-cm.obj": "5 of 5 islands",
}
# Islands joined by edges, where that is not the list's count by corners. Boxes whose six sides
# are laid out corner to corner; garments of which one triangle hangs on by a corner.
BY_EDGE: Mapping[str, int] = {
    "awkward/obj2gltf/box-objects-groups-materials-2.obj": 18,
    "awkward/obj2gltf/box-uncleaned.obj": 6,
    "awkward/obj2gltf/box-unnormalized.obj": 6,
    "awkward/obj2gltf/box-windows-paths.obj": 6,
    "awkward/obj2gltf/box-with-tabs.obj": 6,
    "awkward/obj2gltf/box_with_space_mtllib.obj": 6,
    "awkward/tinyobjloader/issue-162-smoothing-group.obj": 6,
    "awkward/tinyobjloader/issue-295-trianguation-failure.obj": 14,
    "awkward/trimesh/fuze.obj": 8,
    "awkward/trimesh/negative_indices.obj": 2,
    "awkward/trimesh/quadknot.obj": 1438,
    "garments/mask-mirrored.obj": 10,
    "garments/sleeveless-uv-in-cm.obj": 3,
    "garments/trousers-uv-in-cm.obj": 5,
}
# The list's islands by corner that ours are not, and why.
OTHERWISE: Mapping[str, int] = {
    "awkward/trimesh/nested.glb": 3,  # three nodes put apart; the list has them all in one place
}


def listed() -> dict[str, tuple[int, int | None]]:
    """The list's triangles and islands (by position and UV) of each file."""
    index = MESHES / "INDEX.md"
    found: dict[str, tuple[int, int | None]] = {}
    for line in index.read_text(encoding="utf-8").splitlines() if index.exists() else []:
        row = re.match(r"\| (\S+\.\w+) \| (\d+) \| (?:\d+/(\d+)|\S+) \|", line)
        if row:
            found[row[1]] = (int(row[2]), None if row[3] is None else int(row[3]))
    return found


def by_corner(at: I32, uv: F64) -> int:
    """Count the pieces joined at a corner equal in place and UV: the least number spreads."""
    key = np.round(np.concatenate([at.reshape(-1, 1), uv.reshape(-1, 2) * 1e5], axis=1))
    _, corner = np.unique(key, axis=0, return_inverse=True)
    corner = corner.reshape(at.shape)
    piece = np.arange(len(at))
    while True:
        least = np.full(corner.max() + 1, len(at))
        np.minimum.at(least, corner, piece[:, None])
        spread = least[corner].min(axis=1)
        if np.array_equal(spread, piece):
            return len(np.unique(piece))
        piece = spread


def read(name: str) -> Mesh:
    return read_mesh(MESHES / name, unit_mm=None, up="y")


@present
@pytest.mark.parametrize("name", FILES)
def test_every_file_is_read_as_listed_or_refused_with_a_cure(name: str) -> None:
    if name in REFUSED:
        with pytest.raises(UserError) as caught:
            read(name)
        assert REFUSED[name] in caught.value.what
        assert caught.value.fix
        return
    mesh = read(name)
    at = weld(mesh.points_mm, mesh.faces)
    island = islands(at, mesh.uv)
    triangles, pieces = listed().get(name, (len(mesh.faces), None))
    assert len(mesh.faces) == triangles
    if pieces is not None:
        assert by_corner(at, mesh.uv) == OTHERWISE.get(name, pieces)
        assert island.max() + 1 == BY_EDGE.get(name, OTHERWISE.get(name, pieces))
    if name in UNFIT:
        with pytest.raises(UserError) as caught:
            check(mesh, island, weld=at)
        assert UNFIT[name] in caught.value.what
    else:
        assert check(mesh, island, weld=at)[0].any()


@present
def test_the_list_is_understood_and_no_exception_is_out_of_date() -> None:
    assert len(listed()) > 60
    assert {*REFUSED, *UNFIT, *BY_EDGE, *OTHERWISE} <= {*FILES}


@present
@pytest.mark.parametrize(
    ("name", "mirrored", "mixed"),
    [
        ("garments/tee-4-panels.obj", 1, 0),
        ("garments/shirt-5-panels.obj", 0, 0),
        ("garments/polo-2-materials.obj", 0, 0),
        ("garments/apron-215-islands.obj", 0, 0),
        ("garments/hoodie.glb", 0, 0),  # the list counts in glTF's own v, which runs down
        ("garments/tee-closed.glb", 0, 0),
    ],
)
def test_islands_are_mirrored_as_listed(name: str, mirrored: int, mixed: int) -> None:
    mesh = read(name)
    island = islands(weld(mesh.points_mm, mesh.faces), mesh.uv)
    b, c = mesh.uv[:, 1] - mesh.uv[:, 0], mesh.uv[:, 2] - mesh.uv[:, 0]
    area = b[:, 0] * c[:, 1] - b[:, 1] * c[:, 0]
    some = np.bincount(island, area < 0) > 0
    every = np.bincount(island, area >= 0) == 0
    assert every.sum() == mirrored
    assert (some & ~every).sum() == mixed


@present
def test_panels_in_two_tiles_are_baked_tile_by_tile() -> None:
    path = MESHES / "garments/shirt-two-tiles.obj"
    for tile, faces in (((0, 0), 24181 - 227), ((0, 1), 227)):
        mesh = read_mesh(path, unit_mm=None, up="y", tile=tile)
        usable, _ = check(mesh, islands(weld(mesh.points_mm, mesh.faces), mesh.uv))
        assert usable.sum() == faces


@present
def test_both_uv_sets_of_a_garment_are_the_ones_exported_beside_it() -> None:
    for uv_set, beside in enumerate("AB"):
        mesh = read_mesh(
            MESHES / "garments/tee-two-uv-sets.glb", unit_mm=None, up="y", uv_set=uv_set
        )
        pair = read(f"pairs/tee-two-uv-sets-{beside}.obj")
        assert np.allclose(mesh.uv, pair.uv, atol=1e-5)
        space = mesh.points_mm[mesh.faces]
        assert np.allclose(space / 100.0, pair.points_mm[pair.faces], atol=1e-3)


@present
def test_what_is_special_about_garments_is_noted() -> None:
    notes = {}
    for name in ("polo-2-materials.obj", "mask-mirrored.obj", "vest-folded.obj"):
        mesh = read(f"garments/{name}")
        at = weld(mesh.points_mm, mesh.faces)
        notes[name[:4]] = " ".join(check(mesh, islands(at, mesh.uv), weld=at)[1])
    assert "11 edges belong to more than two" in notes["polo"]
    assert "116 triangles have no area in UV" in notes["mask"]
    assert "208 of 646 triangles" in notes["vest"]


@present
def test_a_material_named_in_several_runs_is_one_material() -> None:
    path = MESHES / "garments/polo-2-materials.obj"
    faces: dict[str, int] = {}  # counted plainly: all faces of this file are triangles
    now = ""
    for line in path.read_text(encoding="latin-1").splitlines():
        now = line[7:] if line.startswith("usemtl ") else now
        if line.startswith("f "):
            faces[now] = faces.get(now, 0) + 1
    polo = read("garments/polo-2-materials.obj")
    assert polo.materials == tuple(faces)
    assert np.bincount(polo.material_of).tolist() == list(faces.values())
