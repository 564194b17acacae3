"""A mesh file becomes a ``Mesh``: in mm, +Y up, one UV tile.

The content decides the format where it is plain (GLB, glTF and PLY announce themselves); OBJ has
no mark and is what is left over. Nothing is welded, merged or put in another order here.
"""

import re
from glob import escape
from pathlib import Path
from types import MappingProxyType

import numpy as np

from texbake.errors import MachineError, UserError
from texbake.garment.raw import Raw, listed
from texbake.garment.values import Mesh
from texbake.recipe.axes import default_unit_mm, to_y_up
from texbake.recipe.mistake import nearest
from texbake.recipe.values import Up

ENDINGS = (".obj", ".gltf", ".glb", ".ply")
PACKED = MappingProxyType(
    {b"PK\x03\x04": "zip", b"\x1f\x8b": "gzip", b"BZh": "bzip2", b"\xfd7zXZ": "xz", b"7z\xbc": "7z"}
)
EXPORT = "export the garment as OBJ, glTF, GLB or PLY, with UVs"


def read_mesh(
    path: Path,
    *,
    unit_mm: float | None,
    up: Up,
    uv_set: int = 0,
    tile: tuple[int, int] | None = None,
) -> Mesh:
    """Read a garment from an OBJ, glTF 2.0, GLB or PLY file.

    Parameters
    ----------
    path : Path
        The file. Its content decides the format, not its ending.
    unit_mm : float or None
        Millimetres in one unit of the file; None for the format's own (glTF: metres) or what is
        usual (OBJ, PLY: centimetres).
    up : str
        The file's axis that points up: ``x``, ``y``, ``z``, ``-x``, ``-y`` or ``-z``.
    uv_set : int
        For glTF, which TEXCOORD; other formats have only set 0.
    tile : (int, int), optional
        The UV tile to bake, if the recipe names one: its lower left corner becomes (0, 0), and
        islands in other tiles may be left out. None: tile (0, 0), and nothing may be left out.

    Returns
    -------
    Mesh
        All faces of the file, in order. Whether they lie in the tile is for ``health.check``.

    Raises
    ------
    UserError
        The file is missing, empty, cut short, packed, no mesh, or has no UVs; each with its cure.
    MachineError
        The disk failed.
    """
    data = read_bytes(path)
    kind = _kind(path, data)
    if uv_set != 0 and kind in {".obj", ".ply"}:
        fix = "leave uv_set out, or export as glTF with several UV sets"
        raise UserError(
            f"no UV set {uv_set}: {kind[1:].upper()} has one set, 0", fix=fix, path=path
        )
    raw = _raw(path, data, kind, uv_set)
    unit_mm = default_unit_mm(Path(f"mesh{kind}")) if unit_mm is None else unit_mm
    notes = raw.notes
    if path.suffix.lower() != kind:
        notes = (f"the content is {kind[1:].upper()}, whatever the name's ending", *notes)
    return _mesh(path, raw, unit_mm=unit_mm, up=up, tile=tile, notes=notes)


def _raw(path: Path, data: bytes, kind: str, uv_set: int) -> Raw:
    """Read one format; only its own modules are imported."""
    if kind == ".obj":
        from texbake.garment.obj import read_obj

        return read_obj(path, data)
    if kind == ".ply":
        from texbake.garment.ply import read_ply

        return read_ply(path, data)
    from texbake.garment.gltf import read_gltf

    return read_gltf(path, data, uv_set=uv_set)


def _mesh(
    path: Path,
    raw: Raw,
    *,
    unit_mm: float,
    up: Up,
    tile: tuple[int, int] | None,
    notes: tuple[str, ...],
) -> Mesh:
    """Apply unit, axes and tile."""
    normals = raw.normals
    if normals is not None:
        normals = to_y_up(normals.reshape(-1, 3), up).reshape(normals.shape)
    return Mesh(
        path=path,
        points_mm=to_y_up(raw.points * unit_mm, up),
        faces=raw.faces,
        uv=raw.uv - np.array(tile or (0, 0), np.float64),
        polygon=raw.polygon,
        object_of=raw.object_of,
        group_of=raw.group_of,
        material_of=raw.material_of,
        objects=raw.objects,
        groups=raw.groups,
        materials=raw.materials,
        normals=normals,
        notes=notes,
        tile=tile,
        unit_mm=unit_mm,
        up=up,
    )


def read_bytes(path: Path) -> bytes:
    """Read a mesh file's bytes, or say why not.

    Raises
    ------
    UserError
        It is missing, a directory, empty, or not to be read by this user.
    MachineError
        The disk failed.
    """
    if path.is_dir():
        inside = f"name one of its files: {_meshes_in(path)}"
        raise UserError("the mesh is a directory", fix=inside, path=path)
    try:
        data = path.read_bytes()
    except FileNotFoundError:
        raise UserError("no such mesh file", fix=missing_cure(path), path=path) from None
    except PermissionError:
        fix = "let yourself read it, or copy it to where you can"
        raise UserError("no permission to read the mesh file", fix=fix, path=path) from None
    except OSError as error:
        what = f"the mesh file cannot be read: {error.strerror}"
        raise MachineError(what, fix="check the disk and the name", path=path) from None
    if not data.strip():
        raise UserError("the mesh file is empty", fix=EXPORT, path=path)
    return data


def missing_cure(path: Path) -> str:
    """Return what to do where there is no mesh: the nearest name there is, and all others."""
    near = nearest(path.name, _mesh_names(path.parent))
    guess = "correct the name" if near is None else f"did you mean {near!r}?"
    elsewhere = [] if near == path.name else _namesakes(path)
    if elsewhere:
        guess = f"did you mean {' or '.join(elsewhere[:3])}?"
        near = elsewhere[0]
    return f"{guess}{';' if near is None else ''} meshes in that directory: " + _meshes_in(
        path.parent
    )


def _namesakes(path: Path) -> list[str]:
    """Files of the same name in the folders about one that is not there."""
    there = next((up for up in path.parents if up.is_dir()), None)
    if there is None:
        return []
    name = path.name
    try:
        found = [there / name, there.parent / name, *sorted(there.glob(f"*/{escape(name)}"))]
        return list(dict.fromkeys(str(p) for p in found if p.is_file()))
    except OSError:
        return []


def _mesh_names(folder: Path) -> list[str]:
    """Names of the meshes in a folder, sorted; none if it cannot be looked into."""
    try:
        return sorted(p.name for p in folder.iterdir() if p.suffix.lower() in ENDINGS)
    except OSError:
        return []


def _meshes_in(folder: Path) -> str:
    """List the meshes in a folder."""
    if not folder.is_dir():
        return f"none, as there is no directory {folder}"
    names = _mesh_names(folder)
    return listed(names, 8) if names else "none"


def _kind(path: Path, data: bytes) -> str:
    """Tell the format by content: the ending that it ought to have."""
    for mark, packing in PACKED.items():
        if data.startswith(mark):
            raise UserError(
                f"packed as {packing}", fix="unpack it and name what is in it", path=path
            )
    start = data[:1000].removeprefix(b"\xef\xbb\xbf").lstrip()
    if start.startswith(b"glTF"):
        return ".glb"
    if start.startswith(b"{"):
        return ".gltf"
    if re.match(rb"ply[ \t]*[\r\n]", start):
        return ".ply"
    wide = start.startswith((b"\xff\xfe", b"\xfe\xff"))
    if wide or re.search(rb"(?m)^[ \t]*(v|vt|f|usemtl|mtllib)[ \t]", data[:1_000_000]):
        return ".obj"
    raise UserError(
        f"not a mesh that can be read: it begins with {data[:12]!r}", fix=EXPORT, path=path
    )
