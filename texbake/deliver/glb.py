"""The garment in its cloth as one file that any viewer opens: binary glTF 2.0.

The mesh is the file's own: every face, one node for each of its objects, its names of objects and
materials. It is static: of a skinned mesh the bind pose is there, without skeleton or weights. The
maps go in as three pictures wired by the standard (section 3.9):

- base colour, sRGB;
- occlusion in red, roughness in green, metal in blue, linear, one picture for both textures;
- normals, green-up, always 8 bits, since not all readers take more.

The pictures are PNG without a word on colour, as readers must not heed it (section 3.8.2).
Nothing in the file tells of time or place: the same set gives the same bytes.
"""

import json
import struct
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from io import BytesIO
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from texbake.arrays import I32, I64, U8
from texbake.deliver.png import Sink, encode_png, write_png_rows
from texbake.deliver.sheen import Sheen
from texbake.garment.values import Garment
from texbake.garment.vertices import Vertices, vertices
from texbake.maps.values import MapArrays

_FLOAT, _U16, _U32 = 5126, 5123, 5125
_VERTEX_DATA, _INDEX_DATA = 34962, 34963
_LINEAR, _TRILINEAR, _TO_EDGE = 9729, 9987, 33071
_SHEEN: Final = "KHR_materials_sheen"

Json = dict[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Part:
    """Faces of one object that look the same: one primitive."""

    item: int
    material: int
    sheen: Sheen | None
    faces: I64


@dataclass(frozen=True, slots=True, eq=False)
class _Binary:
    """The buffer as it grows: pieces of bytes, views of them, accessors."""

    pieces: list[bytes] = field(default_factory=list)
    views: list[Json] = field(default_factory=list)
    accessors: list[Json] = field(default_factory=list)

    def view(self, data: bytes, **said: int) -> int:
        """Add bytes, to the next multiple of four; return the view's number."""
        start = sum(map(len, self.pieces))
        self.pieces.extend((data, bytes(-len(data) % 4)))
        self.views.append({"buffer": 0, "byteOffset": start, "byteLength": len(data), **said})
        return len(self.views) - 1

    def accessor(self, values: NDArray[Any], kind: str, target: int, **said: object) -> int:
        """Add an array; return the accessor's number."""
        component = {"f4": _FLOAT, "u2": _U16, "u4": _U32}[values.dtype.str[1:]]
        little = np.ascontiguousarray(values, values.dtype.newbyteorder("<"))
        view = self.view(little.tobytes(), target=target)
        self.accessors.append(
            {
                "bufferView": view,
                "componentType": component,
                "count": len(values),
                "type": kind,
                **said,
            }
        )
        return len(self.accessors) - 1


def write_glb(
    out: Sink,
    garment: Garment,
    maps: MapArrays,
    *,
    name: str,
    version: str,
    sheen: Sequence[Sheen | None] = (),
) -> None:
    """Write a garment with its maps as GLB. At 2048 px it takes 0.5 s on one core.

    Parameters
    ----------
    out : Sink
        A binary file, or anything else that bytes can be written to.
    garment : Garment
    maps : MapArrays
    name : str
        Of the scene; stands for objects and materials that have no name.
    version : str
        Texbake's, for ``asset.generator``.
    sheen : sequence of Sheen or None
        One for each of the garment's panels; none at all if empty. Faces of one material with
        different sheen become different materials, the later ones named ``NAME sheen``.

    Raises
    ------
    ValueError
        If ``sheen`` is neither empty nor as long as the garment's panels.
    OSError
        From ``out``.
    """
    if len(sheen) not in (0, len(garment.panels)):
        raise ValueError(f"sheen is for {len(sheen)} panels of {len(garment.panels)}")
    binary = _Binary()
    parts = _parts(garment, sheen or [None] * len(garment.panels))
    looks = list(dict.fromkeys((part.material, part.sheen) for part in parts))
    meshes = _meshes(binary, vertices(garment), parts, looks)
    names = [_named(garment.mesh.objects, item, name) for item in meshes]
    document: Json = {
        "asset": {"version": "2.0", "generator": f"Texbake {version}"},
        "scene": 0,
        "scenes": [{"name": name, "nodes": list(range(len(meshes)))}],
        "nodes": [{"name": label, "mesh": k} for k, label in enumerate(names)],
        "meshes": [
            {"name": label, "primitives": primitives}
            for label, primitives in zip(names, meshes.values(), strict=True)
        ],
        "materials": _materials(garment, looks, name),
        **_pictures(binary, maps),
        "accessors": binary.accessors,
        "bufferViews": binary.views,
        "buffers": [{"byteLength": sum(map(len, binary.pieces))}],
    }
    if any(fuzz is not None for _, fuzz in looks):
        document["extensionsUsed"] = [_SHEEN]
    _write_container(out, document, binary.pieces)


def _write_container(out: Sink, document: Json, pieces: Iterable[bytes]) -> None:
    """Write header, JSON chunk and binary chunk (glTF 2.0, section 4.4)."""
    text = json.dumps(document, ensure_ascii=False, allow_nan=False, separators=(",", ":")).encode()
    text += b" " * (-len(text) % 4)
    binary_bytes = document["buffers"][0]["byteLength"]
    out.write(struct.pack("<4sII", b"glTF", 2, 12 + 8 + len(text) + 8 + binary_bytes))
    out.write(struct.pack("<I4s", len(text), b"JSON"))
    out.write(text)
    out.write(struct.pack("<I4s", binary_bytes, b"BIN\0"))
    for piece in pieces:
        out.write(piece)


def _named(names: Sequence[str], index: int, spare: str) -> str:
    """Return a name of the file's, or another for one that is empty."""
    return names[index] or spare


def _parts(garment: Garment, sheen: Sequence[Sheen | None]) -> list[_Part]:
    """Cut the faces by object, material and sheen, in the order of the file."""
    mesh = garment.mesh
    kinds = list(dict.fromkeys([None, *sheen]))  # faces of no panel have none
    of_panel = np.array([kinds.index(one) for one in sheen] + [0])
    keys = np.stack([mesh.object_of, mesh.material_of, of_panel[garment.panel]], axis=1)
    distinct, which = np.unique(keys, axis=0, return_inverse=True)
    found = []
    for number, (item, material, kind) in enumerate(distinct.tolist()):
        faces = np.flatnonzero(which.ravel() == number)
        found.append(_Part(item=item, material=material, sheen=kinds[kind], faces=faces))
    return found


def _meshes(
    binary: _Binary,
    whole: Vertices,
    parts: Sequence[_Part],
    looks: Sequence[tuple[int, Sheen | None]],
) -> Mapping[int, list[Json]]:
    """Put every part into the buffer; return the primitives of each object."""
    meshes: dict[int, list[Json]] = {}
    for part in parts:
        primitive = _primitive(binary, whole, whole.corner[part.faces])
        primitive["material"] = looks.index((part.material, part.sheen))
        meshes.setdefault(part.item, []).append(primitive)
    return meshes


def _primitive(binary: _Binary, whole: Vertices, corner: I32) -> Json:
    """Put the triangles (T, 3) and the vertices that they use into the buffer."""
    used, index = np.unique(corner, return_inverse=True)
    points = whole.points_m[used]
    uv = whole.uv[used]
    uv[:, 1] = 1.0 - uv[:, 1]  # v runs down in glTF
    # 65535 itself is no index: it is kept for restarting strips (section 3.7.2.1).
    indices = index.ravel().astype(np.uint16 if len(used) <= 65535 else np.uint32)
    low, high = points.min(axis=0).tolist(), points.max(axis=0).tolist()
    return {
        "attributes": {
            "POSITION": binary.accessor(points, "VEC3", _VERTEX_DATA, min=low, max=high),
            "NORMAL": binary.accessor(whole.normal[used], "VEC3", _VERTEX_DATA),
            "TANGENT": binary.accessor(whole.tangent[used], "VEC4", _VERTEX_DATA),
            "TEXCOORD_0": binary.accessor(uv, "VEC2", _VERTEX_DATA),
        },
        "indices": binary.accessor(indices, "SCALAR", _INDEX_DATA),
    }


def _materials(
    garment: Garment, looks: Sequence[tuple[int, Sheen | None]], spare: str
) -> list[Json]:
    """Return a material for each pair of a name and a sheen; names stay different."""
    found: list[Json] = []
    taken: set[str] = set()
    for material, sheen in looks:
        label = first = _named(garment.mesh.materials, material, spare)
        count = 1
        while label in taken:
            label = f"{first} sheen" if count == 1 else f"{first} sheen {count}"
            count += 1
        taken.add(label)
        found.append(_material(label, sheen))
    return found


def _material(name: str, sheen: Sheen | None) -> Json:
    """Return one material: the three textures, factors 1, both sides of the cloth."""
    material: Json = {
        "name": name,
        "pbrMetallicRoughness": {
            "baseColorTexture": {"index": 0},
            "metallicRoughnessTexture": {"index": 1},
            "metallicFactor": 1,
            "roughnessFactor": 1,
        },
        "occlusionTexture": {"index": 1},
        "normalTexture": {"index": 2},
        "doubleSided": True,
    }
    if sheen is not None:
        if sheen.see_through:  # glTF 2.0, 3.9.4: alpha of the base colour is coverage
            material["alphaMode"] = "BLEND"
        fuzz = {
            "sheenColorFactor": list(sheen.colour_linear),
            "sheenRoughnessFactor": sheen.roughness,
        }
        material["extensions"] = {_SHEEN: fuzz}
    return material


def _pictures(binary: _Binary, maps: MapArrays) -> Json:
    """Put the three images into the buffer; return images, sampler and textures."""
    height, width = maps.roughness.shape
    encoded = {"base-colour": _base_colour(maps)}
    for label, rows in (
        ("occlusion-roughness-metal", lambda band: _packed(maps, band)),
        ("normal-up", lambda band: _normal8(maps, band)),
    ):
        image = BytesIO()
        write_png_rows(image, rows, (height, width, 3))
        encoded[label] = image.getvalue()
    images = [
        {"name": label, "mimeType": "image/png", "bufferView": binary.view(data)}
        for label, data in encoded.items()
    ]
    # Clamped: a texel at the picture's border must not be mixed with that on the other side.
    sampler = {
        "magFilter": _LINEAR,
        "minFilter": _TRILINEAR,
        "wrapS": _TO_EDGE,
        "wrapT": _TO_EDGE,
    }
    textures = [{"name": one["name"], "sampler": 0, "source": k} for k, one in enumerate(images)]
    return {"images": images, "samplers": [sampler], "textures": textures}


def _base_colour(maps: MapArrays) -> bytes:
    """Albedo as PNG; where cloth has holes, with opacity as its alpha."""
    if maps.opacity is None:
        return encode_png(maps.albedo)
    opacity, image = maps.opacity[..., None], BytesIO()

    def rows(band: slice) -> U8:
        return np.concatenate([maps.albedo[band], opacity[band]], axis=-1)

    write_png_rows(image, rows, (*maps.roughness.shape, 4))
    return image.getvalue()


def _packed(maps: MapArrays, band: slice) -> U8:
    """Occlusion, roughness and metal of a band of rows as red, green and blue."""
    channels = (maps.occlusion[band], maps.roughness[band], maps.metal[band])
    return np.stack(channels, axis=-1)


def _normal8(maps: MapArrays, band: slice) -> U8:
    """Normals of a band of rows in 8 bits: codes times 255 / 65535, rounded (PNG, 13.12)."""
    rows = maps.normal_up[band]
    if rows.dtype == np.uint8:
        return np.asarray(rows, np.uint8)
    return ((rows.astype(np.uint32) + 128) // 257).astype(np.uint8)
