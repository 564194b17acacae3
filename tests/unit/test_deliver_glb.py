"""The garment as one glTF file, read back by hand and by other people's libraries."""

from dataclasses import replace
from io import BytesIO
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from tests.bent_by_hand import tube, two_layers
from tests.garments_by_hand import box, garment, sheet
from tests.glb_by_hand import Read
from texbake.deliver.glb import write_glb
from texbake.deliver.sheen import Sheen, sheen_of
from texbake.garment.read import read_mesh
from texbake.garment.values import Garment
from texbake.maps import MapArrays, blank
from texbake.recipe.values import Colour, Fabric, Felt, Jersey, Plain, Rib, Yarn

FUZZ = Sheen(colour_linear=(0.25, 0.125, 0.5), roughness=0.5)
WHITE = (1.0, 1.0, 1.0)


def speckled(size: int = 16, *, bits: Any = 8) -> MapArrays:
    """Maps of hashed codes, so that no two channels are alike."""
    maps = blank(size, height_lo_mm=-1.0, height_hi_mm=1.0, normal_bits=bits)
    for k, image in enumerate(maps.images):
        code = np.arange(image.size, dtype=np.uint64).reshape(image.shape)
        image[:] = (code * 2654435761 + k * 40503) >> 7 & np.iinfo(image.dtype).max
    maps.normal_up[..., 2] |= 128 if bits == 8 else 32768
    return maps


def glb(cloth: Garment, **options: Any) -> bytes:
    out = BytesIO()
    said: dict[str, Any] = {"name": "deck-coat", "version": "1.2.3", **options}
    write_glb(out, cloth, said.pop("maps", None) or speckled(), **said)
    return out.getvalue()


def two_materials(cloth: Garment) -> Garment:
    """Even faces are drill, odd ones jersey; the last two faces are another object."""
    count = len(cloth.mesh.faces)
    material = (np.arange(count) % 2).astype(np.int32)
    item = (np.arange(count) >= count - 2).astype(np.int32)
    mesh = replace(
        cloth.mesh,
        material_of=material,
        materials=("drill", "Jersey für innen"),
        object_of=item,
        objects=("coat", "belt"),
    )
    return replace(cloth, mesh=mesh)


def test_the_same_input_gives_the_same_bytes_and_names_only_the_version() -> None:
    first, again = glb(tube()), glb(tube())
    assert first == again
    assert Read(first).document["asset"] == {"version": "2.0", "generator": "Texbake 1.2.3"}


def test_every_face_is_there_in_metres_with_uv_turned_over() -> None:
    cloth = tube()
    read = Read(glb(cloth))
    want = (cloth.mesh.points_mm[cloth.mesh.faces] / 1000.0).astype(np.float32)
    assert np.array_equal(read.corners("POSITION"), want)
    uv = cloth.mesh.uv
    assert read.corners("TEXCOORD_0") == pytest.approx(
        np.stack([uv[..., 0], 1.0 - uv[..., 1]], axis=-1), abs=1e-6
    )


def test_faces_without_a_panel_stay() -> None:
    cloth = tube()
    panel = cloth.panel.copy()
    panel[:5] = -1
    read = Read(glb(replace(cloth, panel=panel), sheen=[None]))
    assert len(read.corners("POSITION")) == len(cloth.panel)


def test_the_box_round_the_positions_is_that_of_the_stored_numbers() -> None:
    """Section 3.6.2.5: min and max must be equal to the stored values."""
    read = Read(glb(tube()))
    for part in read.primitives():
        accessor = read.document["accessors"][part["attributes"]["POSITION"]]
        stored = read.array(part["attributes"]["POSITION"])
        assert np.array_equal(np.array(accessor["min"], np.float32), stored.min(axis=0))
        assert np.array_equal(np.array(accessor["max"], np.float32), stored.max(axis=0))
        assert all(float(np.float32(v)) == v for v in accessor["min"] + accessor["max"])


def test_names_of_objects_and_materials_are_kept() -> None:
    read = Read(glb(two_materials(tube())))
    document = read.document
    assert [node["name"] for node in document["nodes"]] == ["coat", "belt"]
    assert [mesh["name"] for mesh in document["meshes"]] == ["coat", "belt"]
    assert [m["name"] for m in document["materials"]] == ["drill", "Jersey für innen"]
    assert [len(mesh["primitives"]) for mesh in document["meshes"]] == [2, 2]
    used = [part["material"] for part in read.primitives()]
    assert used == [0, 1, 0, 1]
    assert document["scenes"] == [{"name": "deck-coat", "nodes": [0, 1]}]


def test_what_has_no_name_takes_the_garments() -> None:
    cloth = tube()
    mesh = replace(cloth.mesh, objects=("",), materials=("",))
    document = Read(glb(replace(cloth, mesh=mesh))).document
    assert document["nodes"][0]["name"] == "deck-coat"
    assert document["materials"][0]["name"] == "deck-coat"


def test_textures_are_wired_by_the_standard() -> None:
    """Sections 3.9.2 and 3.9.3: roughness in G, metal in B, occlusion in R, green-up normals."""
    maps = speckled()
    read = Read(glb(tube(), maps=maps))
    (material,) = read.document["materials"]
    source = [texture["source"] for texture in read.document["textures"]]
    rough = material["pbrMetallicRoughness"]
    assert rough["metallicFactor"] == rough["roughnessFactor"] == 1
    assert material["doubleSided"] is True
    assert np.array_equal(read.image(source[rough["baseColorTexture"]["index"]]), maps.albedo)
    packed = read.image(source[rough["metallicRoughnessTexture"]["index"]])
    assert np.array_equal(packed[..., 1], maps.roughness)
    assert np.array_equal(packed[..., 2], maps.metal)
    occlusion = read.image(source[material["occlusionTexture"]["index"]])
    assert np.array_equal(occlusion[..., 0], maps.occlusion)
    assert np.array_equal(read.image(source[material["normalTexture"]["index"]]), maps.normal_up)
    assert len(read.document["images"]) == 3


def test_normals_of_16_bits_are_rounded_to_8() -> None:
    """PNG third edition, 13.12: floor(v * 255 / 65535 + 0.5)."""
    maps = speckled(bits=16)
    read = Read(glb(tube(), maps=maps))
    want = np.floor(maps.normal_up.astype(np.float64) * 255 / 65535 + 0.5)
    assert np.array_equal(read.image(2), want)
    assert read.image(2)[..., 2].min() >= 128


def test_fuzzy_cloth_shines_in_its_own_hue_and_smooth_weaves_do_not() -> None:
    mean = Colour((0.5, 0.25, 0.75)).linear
    yarn = Yarn(count_tex=20.0, per_cm=20.0, colour=Colour(WHITE))
    hairy = replace(yarn, hair=0.9)
    drill = Fabric(name="drill", structure=Plain(), warp=yarn, weft=yarn)
    assert sheen_of(drill, mean) is None
    shares = []
    for fabric in (
        Fabric(name="jersey", structure=Jersey(), yarn=yarn),
        Fabric(name="rib", structure=Rib(face=2, back=2), yarn=hairy),
        replace(drill, weft=hairy),
        Fabric(name="felt", structure=Felt(), yarn=yarn),
    ):
        fuzz = sheen_of(fabric, mean)
        assert fuzz is not None
        share = np.array(fuzz.colour_linear) / np.array(mean)
        assert share == pytest.approx(share[0], rel=1e-4)
        shares.append(float(share[0]))
    assert 0.0 < shares[0] < shares[1] < shares[3] < 1.0
    assert shares[0] < shares[2] < shares[3]


def test_sheen_of_what_cannot_be_is_refused() -> None:
    with pytest.raises(ValueError, match=r"0\.\.1"):
        Sheen(colour_linear=(1.5, 0.0, 0.0), roughness=0.5)


def test_one_material_on_two_kinds_of_cloth_is_split() -> None:
    cloth = two_layers()
    read = Read(glb(cloth, sheen=[None, FUZZ]))
    plain, fuzzy = read.document["materials"]
    assert (plain["name"], fuzzy["name"]) == ("material", "material sheen")
    assert "extensions" not in plain
    assert fuzzy["extensions"] == {
        "KHR_materials_sheen": {"sheenColorFactor": [0.25, 0.125, 0.5], "sheenRoughnessFactor": 0.5}
    }
    assert read.document["extensionsUsed"] == ["KHR_materials_sheen"]
    (_, part) = read.primitives()
    assert len(read.array(part["indices"])) == 3 * len(cloth.panels[1].faces)


def test_without_sheen_no_extension_is_named() -> None:
    assert "extensionsUsed" not in Read(glb(two_layers(), sheen=[None, None])).document


def test_sheen_for_other_panels_than_the_garments_is_refused() -> None:
    with pytest.raises(ValueError, match="3 panels of 2"):
        glb(two_layers(), sheen=[None, None, FUZZ])


@pytest.mark.parametrize("mirrored", [False, True])
def test_frames_of_a_tube_are_those_of_geometry(*, mirrored: bool) -> None:
    """On a cylinder normal, direction of +U and of +V are known in closed form."""
    cloth = tube(48, mirrored=mirrored)
    read = Read(glb(cloth))
    points = read.corners("POSITION").astype(np.float64)
    normal, tangent = read.corners("NORMAL"), read.corners("TANGENT")
    out = points * [1.0, 0.0, 1.0] / 0.1
    inner = np.abs(out[..., 0]) < 0.9  # at the rim there are faces on one side only
    assert (np.degrees(np.arccos(np.clip((out * normal).sum(-1), -1, 1)))[inner] < 0.5).all()
    round_it = np.cross([0.0, 1.0, 0.0], out) * (-1.0 if mirrored else 1.0)
    along = (round_it * tangent[..., :3]).sum(-1)
    assert (np.degrees(np.arccos(np.clip(along, -1, 1)))[inner] < 0.5).all()
    upwards = np.cross(normal, tangent[..., :3]) * tangent[..., 3:]
    assert (upwards[..., 1] > 0.999).all()  # +V is up on the tube, mirrored or not
    assert (tangent[..., 3] == (-1.0 if mirrored else 1.0)).all()


def test_a_files_own_normals_are_taken() -> None:
    cloth = tube()
    slanted = np.tile(np.array([0.0, 0.6, 0.8]), (len(cloth.panel), 3, 1))
    cloth = replace(cloth, mesh=replace(cloth.mesh, normals=slanted))
    assert (Read(glb(cloth)).corners("NORMAL") == np.array([0.0, 0.6, 0.8], np.float32)).all()


def test_indices_are_as_short_as_they_can_be() -> None:
    """Section 3.7.2.1: the largest value of the type is no index."""
    for columns, rows, kind in ((255, 255, 5125), (254, 256, 5123), (1, 1, 5123)):
        cloth = garment(sheet(columns, rows, box(0.0, 0.0, 1.0, 1.0)))
        read = Read(glb(cloth, maps=blank(1, height_lo_mm=0.0, height_hi_mm=1.0)))
        (part,) = read.primitives()
        assert read.document["accessors"][part["indices"]]["componentType"] == kind
        used = read.array(part["indices"])
        assert used.max() == (columns + 1) * (rows + 1) - 1


def test_another_library_reads_the_same_arrays() -> None:
    library = pytest.importorskip("pygltflib")
    data = glb(two_materials(tube()), sheen=[FUZZ])
    theirs, ours = library.GLTF2.load_from_bytes(data), Read(data)
    assert len(theirs.meshes) == 2
    for mesh, own in zip(theirs.meshes, ours.document["meshes"], strict=True):
        assert mesh.name == own["name"]
        for part, primitive in zip(mesh.primitives, own["primitives"], strict=True):
            for attribute, number in primitive["attributes"].items():
                accessor = theirs.accessors[getattr(part.attributes, attribute)]
                view = theirs.bufferViews[accessor.bufferView]
                start = view.byteOffset + (accessor.byteOffset or 0)
                values = np.frombuffer(theirs.binary_blob(), np.float32, -1, start)
                want = ours.array(number)
                assert np.array_equal(values[: want.size].reshape(want.shape), want)


def test_a_geometry_library_reads_the_same_mesh() -> None:
    trimesh = pytest.importorskip("trimesh")
    cloth, maps = two_materials(tube()), speckled()
    data = glb(cloth, maps=maps)
    scene = trimesh.load_scene(BytesIO(data), file_type="glb", process=False)
    ours = Read(data)
    parts = list(scene.geometry.values())
    assert len(parts) == 4
    points = np.concatenate([part.vertices[part.faces] for part in parts])
    assert np.array_equal(points.astype(np.float32), ours.corners("POSITION"))
    uv = np.concatenate([part.visual.uv[part.faces] for part in parts])
    turned = [0.0, 1.0] + ours.corners("TEXCOORD_0") * [1.0, -1.0]
    assert uv == pytest.approx(turned, abs=1e-6)
    normals = np.concatenate([part.vertex_normals[part.faces] for part in parts])
    assert normals == pytest.approx(ours.corners("NORMAL"), abs=1e-6)
    look = parts[0].visual.material
    assert {part.visual.material.name for part in parts} == {"drill", "Jersey für innen"}
    assert np.array_equal(np.asarray(look.baseColorTexture), maps.albedo)
    assert np.array_equal(np.asarray(look.normalTexture), maps.normal_up)


def test_texbake_itself_reads_it_back(tmp_path: Path) -> None:
    cloth = two_materials(tube())
    path = tmp_path / "coat.glb"
    path.write_bytes(glb(cloth))
    mesh = read_mesh(path, unit_mm=None, up="y")
    assert mesh.objects == ("coat", "belt")
    assert mesh.materials == ("drill", "Jersey für innen")
    assert len(mesh.faces) == len(cloth.mesh.faces)
    order = np.lexsort([cloth.mesh.material_of, cloth.mesh.object_of])
    want = cloth.mesh.points_mm[cloth.mesh.faces][order]
    assert mesh.points_mm[mesh.faces] == pytest.approx(want, abs=1e-4)
    assert mesh.uv == pytest.approx(cloth.mesh.uv[order], abs=1e-6)
