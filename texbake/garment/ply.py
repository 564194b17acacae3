"""PLY with UVs.

PLY has no fixed names for UVs: per vertex they are met as ``s t``, ``u v``, ``texture_u texture_v``
and the like, per face as a list ``texcoord`` of two numbers a corner.
"""

from pathlib import Path

import numpy as np

from texbake.arrays import F64, I64
from texbake.errors import UserError
from texbake.garment.ply_file import AGAIN, Columns, Lists, read_tables
from texbake.garment.raw import CROSSED, MOST_COORDINATE, MOST_UV, Raw, counted, listed
from texbake.garment.triangulate import triangulate

UV_NAMES = (
    *(("s", "t"), ("u", "v"), ("texture_u", "texture_v"), ("texture_s", "texture_t")),
    *(("texcoord_u", "texcoord_v"), ("tex_u", "tex_v")),
)
CORNER_NAMES = ("vertex_indices", "vertex_index")
UV_LISTS = ("texcoord", "texcoords")


def read_ply(path: Path, data: bytes) -> Raw:
    """Read a PLY file.

    Parameters
    ----------
    path : Path
        Where it came from, for messages.
    data : bytes
        Its content.

    Returns
    -------
    Raw
        No names; polygons are the file's faces. UVs of faces count more than those of vertices.

    Raises
    ------
    UserError
        If it is cut short, has no faces or no UVs, or indices and numbers that cannot be.
    """
    tables = read_tables(path, data)
    vertex, face = tables.get("vertex", {}), tables.get("face", {})
    points = _columns(path, vertex, ("x", "y", "z"), MOST_COORDINATE)
    corners = next((face[key] for key in CORNER_NAMES if key in face), None)
    if not isinstance(corners, Lists) or len(corners.count) == 0:
        has = listed(list(tables))
        raise UserError(f"no faces in the mesh: it has {has}", fix=AGAIN, path=path)
    wrong = ~((corners.values >= 0) & (corners.values < len(points)))
    wrong |= corners.values != np.floor(corners.values)
    if wrong.any():
        worst = f"{corners.values[wrong.argmax()]:g}"
        what = f"a face uses vertex {worst}, but the file has {len(points)} (from 0)"
        raise UserError(what, fix=AGAIN, path=path)
    at = corners.values.astype(np.int64)
    uv = _corner_uvs(path, vertex, face, at)
    whole = corners.count >= 3
    if not whole.any():
        raise UserError("no face has three corners", fix=AGAIN, path=path)
    keep = np.repeat(whole, corners.count)
    triangles, polygon, torn = triangulate(points, at[keep], corners.count[whole])
    notes = [counted(torn, *CROSSED)] * (torn > 0)
    if not whole.all():
        notes.append(f"faces of less than three corners left out: {int((~whole).sum())}")
    none = np.zeros(len(triangles), np.int32)
    return Raw(
        points=points,
        faces=at[keep][triangles].astype(np.int32),
        uv=uv[keep][triangles],
        polygon=np.flatnonzero(whole)[polygon].astype(np.int32),
        object_of=none,
        group_of=none,
        material_of=none,
        objects=("",),
        groups=("",),
        materials=("",),
        notes=tuple(notes),
    )


def _corner_uvs(path: Path, vertex: Columns, face: Columns, at: I64) -> F64:
    """Return the UV of each corner (C, 2)."""
    lists = next((face[key] for key in UV_LISTS if key in face), None)
    if isinstance(lists, Lists):
        if len(lists.values) != 2 * len(at):
            what = (
                f"{len(lists.values)} numbers of texcoord for {len(at)} corners, not two for each"
            )
            raise UserError(what, fix=AGAIN, path=path)
        return _checked(path, lists.values.reshape(-1, 2), MOST_UV)
    for pair in UV_NAMES:
        if vertex.keys() >= set(pair):
            return _columns(path, vertex, pair, MOST_UV)[at]
    has = listed(list(vertex), 12)
    raise UserError(
        f"mesh without UVs: its vertices have {has}",
        fix="unwrap it and export with UVs (s t, u v or texture_u texture_v of vertices, "
        "or texcoord of faces)",
        path=path,
    )


def _columns(path: Path, table: Columns, names: tuple[str, ...], most: float) -> F64:
    """Put columns of plain numbers side by side (N, len(names))."""
    found = [table.get(name) for name in names]
    plain = [column for column in found if isinstance(column, np.ndarray)]
    if len(plain) < len(names):
        what = f"vertices without {' '.join(names)}: they have {listed(list(table), 12)}"
        raise UserError(what, fix=AGAIN, path=path)
    return _checked(path, np.stack(plain, axis=1), most)


def _checked(path: Path, values: F64, most: float) -> F64:
    """Refuse numbers that are not finite or too large."""
    bad = ~(np.abs(values) <= most).all(axis=1)
    if bad.any():
        k = int(bad.argmax())
        what = f"row {k} of the vertices or UVs is {values[k].tolist()}: not finite or too large"
        raise UserError(what, fix=AGAIN, path=path)
    return values
