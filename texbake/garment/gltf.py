"""glTF 2.0 and GLB: the scene's nodes, their meshes, and the triangles in them.

Every primitive of every node of the default scene is read, in the order of the tree. The node's
transform is applied, and where it mirrors (negative determinant) the winding is turned over
(section 3.7.4). A skinned mesh stays where its vertices are stored: its node's transform does not
count (section 3.7.3.3), and its pose is not applied. glTF's v runs down; it is turned over here.
"""

from collections import Counter
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from texbake.arrays import F64, I64
from texbake.garment.gltf_file import (
    COMPRESSED,
    Document,
    Fields,
    fail_compressed,
    indices,
    numbers,
    open_document,
)
from texbake.garment.raw import MOST_COORDINATE, MOST_UV, Raw, counted, listed, used_names

TRIANGLES, STRIP, FAN = 4, 5, 6
OTHER_MODES = ("points", "lines", "line loops", "line strips")


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class _Part:
    """A primitive as the document has it, and where it stands."""

    primitive: Fields
    matrix: F64
    name: str
    material: str


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class _Piece:
    """A primitive in its place: triangles (T, 3) over its own V points."""

    points: F64
    triangles: I64
    uv: F64
    normals: F64 | None


def read_gltf(path: Path, data: bytes, *, uv_set: int) -> Raw:
    """Read the triangles of a glTF file's default scene.

    Parameters
    ----------
    path : Path
        Where it came from; external buffers are looked for beside it.
    data : bytes
        Content of a .gltf or .glb.
    uv_set : int
        Which TEXCOORD to read.

    Returns
    -------
    Raw
        In metres. ``objects`` has the names of nodes, or of meshes where a node has none; groups
        are all ''. Each triangle is one polygon.

    Raises
    ------
    UserError
        If the file is cut short, compressed, breaks the standard where it counts, holds no
        triangles, or has a primitive without this UV set.
    """
    document = open_document(path, data)
    parts, notes = _parts(document)
    _demand_uvs(document, parts, uv_set)
    pieces = [_piece(document, part, f"TEXCOORD_{uv_set}") for part in parts]
    size = np.array([len(piece.triangles) for piece in pieces])
    start = np.cumsum([0, *(len(piece.points) for piece in pieces[:-1])])
    faces = np.concatenate([p.triangles + at for p, at in zip(pieces, start, strict=True)])
    if len(faces) == 0:
        document.fail("no triangles in the mesh", "export the garment as polygons")
    uv = np.concatenate([piece.uv for piece in pieces])[faces]
    normals = [piece.normals for piece in pieces if piece.normals is not None]
    which = np.repeat(np.arange(len(parts)), size)
    object_of, objects = used_names([part.name for part in parts], which)
    material_of, materials = used_names([part.material for part in parts], which)
    return Raw(
        points=np.concatenate([piece.points for piece in pieces]),
        faces=faces.astype(np.int32),
        uv=uv,
        polygon=np.arange(len(faces), dtype=np.int32),
        object_of=object_of,
        group_of=np.zeros(len(faces), np.int32),
        material_of=material_of,
        objects=objects,
        groups=("",),
        materials=materials,
        normals=np.concatenate(normals)[faces] if len(normals) == len(pieces) else None,
        notes=tuple(notes),
    )


def _parts(document: Document) -> tuple[list[_Part], list[str]]:
    """List the primitives that hold triangles, in the order of the scene."""
    parts, other, skins = [], Counter[str](), 0
    for node, matrix in _nodes(document):
        skins += "skin" in node
        number = document.count(node, "mesh")
        mesh = document.entry("meshes", number)
        name = document.name(node, document.name(mesh, f"mesh {number}"))
        for at in range(len(document.items(mesh, "primitives"))):
            primitive = document.member(mesh, "primitives", at)
            mode = document.count(primitive, "mode", TRIANGLES)
            if mode not in {TRIANGLES, STRIP, FAN}:
                other[OTHER_MODES[mode] if mode < 4 else f"mode {mode}"] += 1
            elif "POSITION" not in document.fields(primitive, "attributes"):
                other["primitives without positions"] += 1
            else:
                _demand_plain(document, primitive)
                material = _material(document, primitive)
                parts.append(
                    _Part(primitive=primitive, matrix=matrix, name=name, material=material)
                )
    left_out = listed([f"{what} ({n})" for what, n in other.items()])
    if not parts:
        has = f", only {left_out}" if other else ""
        document.fail(f"no triangles in the scene{has}", "export the garment as polygons")
    notes = [f"left out: {left_out}"] if other else []
    if skins:
        meshes = counted(skins, "skinned mesh", "skinned meshes")
        notes.append(f"{meshes}: read as stored, in bind pose, without the skeleton")
    if "KHR_texture_transform" in document.items(document.root, "extensionsUsed"):
        notes.append("KHR_texture_transform is not applied: UVs are read as stored")
    return parts, notes


def _demand_plain(document: Document, primitive: Fields) -> None:
    """Raise if a primitive's numbers are stored in a compressed form only."""
    position = document.count(document.fields(primitive, "attributes"), "POSITION")
    how = sorted(COMPRESSED & document.fields(primitive, "extensions").keys())
    if how and "bufferView" not in document.entry("accessors", position):
        fail_compressed(document, how)


def _material(document: Document, primitive: Fields) -> str:
    """Return the material's name; '' where there is none."""
    if "material" not in primitive:
        return ""
    number = document.count(primitive, "material")
    return document.name(document.entry("materials", number), f"material {number}")


def _nodes(document: Document) -> list[tuple[Fields, F64]]:
    """List the nodes that bear meshes, depth first, with their transforms (4, 4) to the scene."""
    if not document.items(document.root, "nodes"):
        meshes = range(len(document.items(document.root, "meshes")))
        return [({"mesh": number}, np.eye(4)) for number in meshes]
    found: list[tuple[Fields, F64]] = []
    seen = set()
    waiting = [(number, np.eye(4)) for number in reversed(_roots(document))]
    while waiting:
        number, above = waiting.pop()
        if number in seen:
            document.fail(f"nodes[{number}] hangs in the tree twice")
        seen.add(number)
        node = document.entry("nodes", number)
        matrix = above @ _transform(document, node)
        if "mesh" in node:
            found.append((node, np.eye(4) if "skin" in node else matrix))
        children = [document.whole(k, "a child") for k in document.items(node, "children")]
        waiting += [(child, matrix) for child in reversed(children)]
    return found


def _roots(document: Document) -> list[int]:
    """Return the nodes at the top of the default scene, or of the file if it has no scenes."""
    if document.items(document.root, "scenes"):
        scene = document.entry("scenes", document.count(document.root, "scene", 0))
        return [document.whole(k, "a scene's node") for k in document.items(scene, "nodes")]
    count = len(document.items(document.root, "nodes"))
    nodes = [document.entry("nodes", number) for number in range(count)]
    below = {document.whole(k, "a child") for n in nodes for k in document.items(n, "children")}
    return [number for number in range(count) if number not in below]


def _transform(document: Document, node: Fields) -> F64:
    """Return a node's own transform (4, 4), section 3.5.3: a matrix, or T * R * S."""
    if "matrix" in node:
        columns = document.floats(node, "matrix", tuple(np.eye(4).ravel()))
        return columns.reshape(4, 4).T
    out = np.eye(4)
    turn = document.floats(node, "rotation", (0.0, 0.0, 0.0, 1.0))
    length = float(np.linalg.norm(turn))
    if length == 0.0:
        document.fail("a node has a rotation of length 0")
    x, y, z, w = turn / length
    out[:3, :3] = [
        [1 - 2 * (y * y + z * z), 2 * (x * y - z * w), 2 * (x * z + y * w)],
        [2 * (x * y + z * w), 1 - 2 * (x * x + z * z), 2 * (y * z - x * w)],
        [2 * (x * z - y * w), 2 * (y * z + x * w), 1 - 2 * (x * x + y * y)],
    ]
    out[:3, :3] *= document.floats(node, "scale", (1.0, 1.0, 1.0))
    out[:3, 3] = document.floats(node, "translation", (0.0, 0.0, 0.0))
    return out


def _demand_uvs(document: Document, parts: list[_Part], uv_set: int) -> None:
    """Raise if a primitive lacks the UV set: say which, and which sets all have."""
    has = [set(document.fields(part.primitive, "attributes")) for part in parts]
    bare = [part.name for part, keys in zip(parts, has, strict=True) if _lacks(keys, uv_set)]
    if not bare:
        return
    shared = sorted(int(key[9:]) for key in set.intersection(*has) if _is_uv(key))
    fix = "unwrap every mesh and export with UVs"
    if shared:
        fix = f"set uv_set to one that all have: {listed([str(k) for k in shared])}"
    names = listed([f"'{name}'" for name in dict.fromkeys(bare)])
    what = f"mesh without UVs: no UV set {uv_set} in {len(bare)} of {len(parts)} primitives"
    document.fail(f"{what} ({names})", fix)


def _lacks(keys: set[str], uv_set: int) -> bool:
    return f"TEXCOORD_{uv_set}" not in keys


def _is_uv(key: str) -> bool:
    return key.startswith("TEXCOORD_") and key[9:].isdecimal()


def _piece(document: Document, part: _Part, uv_key: str) -> _Piece:
    """Read one primitive and put it in its place."""
    attributes = document.fields(part.primitive, "attributes")
    points = numbers(document, document.count(attributes, "POSITION"), 3)
    uv = numbers(document, document.count(attributes, uv_key), 2)
    normals = None
    if "NORMAL" in attributes:
        normals = numbers(document, document.count(attributes, "NORMAL"), 3)
    if len(uv) != len(points) or (normals is not None and len(normals) != len(points)):
        document.fail(
            f"'{part.name}' has {len(points)} positions, but other counts of UV or normal"
        )
    points = points @ part.matrix[:3, :3].T + part.matrix[:3, 3]
    if not ((np.abs(points) <= MOST_COORDINATE).all() and (np.abs(uv) <= MOST_UV).all()):
        document.fail(f"'{part.name}' has coordinates beyond all measure")
    triangles = _triangles(document, part, len(points))
    if np.linalg.det(part.matrix[:3, :3]) < 0.0:
        triangles = triangles[:, [0, 2, 1]]
    uv[:, 1] = 1.0 - uv[:, 1]
    return _Piece(
        points=points, triangles=triangles, uv=uv, normals=_turned(normals, part.matrix[:3, :3])
    )


def _turned(normals: F64 | None, matrix: F64) -> F64 | None:
    """Turn normals with a transform, by its cofactors; None if any loses its length."""
    if normals is None:
        return None
    x_axis, y_axis, z_axis = matrix.T
    cofactors = [np.cross(y_axis, z_axis), np.cross(z_axis, x_axis), np.cross(x_axis, y_axis)]
    turned = normals @ np.stack(cofactors)
    turned *= -1.0 if np.linalg.det(matrix) < 0.0 else 1.0
    length = np.linalg.norm(turned, axis=1, keepdims=True)
    return None if (length == 0.0).any() else turned / length


def _triangles(document: Document, part: _Part, count: int) -> I64:
    """Return a primitive's triangles (T, 3), section 3.7.2.1."""
    corner = np.arange(count)
    if "indices" in part.primitive:
        corner = indices(document, document.count(part.primitive, "indices"))
    if len(corner) and corner.max() >= count:
        document.fail(f"'{part.name}' uses vertex {corner.max()}, but has {count} (from 0)")
    mode = document.count(part.primitive, "mode", TRIANGLES)
    if mode == TRIANGLES:
        if len(corner) % 3:
            document.fail(f"'{part.name}' has {len(corner)} corners, not three for each triangle")
        return corner.reshape(-1, 3)
    at = np.arange(max(len(corner) - 2, 0))
    if mode == FAN:
        return np.stack([corner[at + 1], corner[at + 2], corner[at * 0]], axis=1)
    odd = at % 2
    strip = np.stack([corner[at], corner[at + 1 + odd], corner[at + 2 - odd]], axis=1)
    # A strip jumps to a new place by repeating corners; those triangles are not meant to be seen.
    jump = (strip == np.roll(strip, 1, axis=1)).any(axis=1)
    return np.asarray(strip[~jump])
