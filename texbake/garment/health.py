"""What is wrong with a mesh, before anything is baked from it.

What cannot be baked is refused, with its cure: UVs without area, islands outside the sheet. What
can be is noted: real garments have folds, doubled layers and collapsed triangles.
"""

import numpy as np

from texbake.arrays import F64, I32, I64, Bool
from texbake.errors import UserError
from texbake.garment.islands import edge_groups
from texbake.garment.raw import counted, listed
from texbake.garment.values import Mesh
from texbake.garment.weld import weld as weld_corners

# A triangle lower than this share of its longest side has no area.
FLAT = 1e-6
# How far an island may reach over the edge of its tile: half a texel at 4096.
OVERHANG = 1e-4
# Lengths of one UV unit on the cloth that tell which unit UVs are written in, mm.
UV_UNITS = ((1.0, "millimetres"), (10.0, "centimetres"), (25.4, "inches"), (1000.0, "metres"))
# The greatest side of a garment, mm; outside these the unit is doubtful.
LEAST_SIZE_MM, MOST_SIZE_MM = 50.0, 5000.0
LIKELY_MM = (300.0, 2200.0)  # a child's vest to a long coat
UNITS_MM = (("mm", 1.0), ("cm", 10.0), ("in", 25.4), ("m", 1000.0))


def check(mesh: Mesh, island: I32, *, weld: I32 | None = None) -> tuple[Bool, tuple[str, ...]]:
    """Say which faces can be baked, and what is odd about the mesh.

    Islands must lie in the tile, up to 1e-4. Where ``mesh.tile`` names one, islands wholly in
    other tiles are left out with a note; an island across a border is refused all the same.

    Parameters
    ----------
    mesh : Mesh
        ``mesh.uv`` has the tile taken off already.
    island : (F,) int32
        From ``islands.islands``.
    weld : (F, 3) int32, optional
        From ``weld.weld``, if it is there already.

    Returns
    -------
    usable : (F,) bool
        False for faces without area in UV, and for islands in other tiles.
    notes : tuple of str

    Raises
    ------
    UserError
        If no face has area in UV; if an island lies outside the tile.
    """
    weld = weld_corners(mesh.points_mm, mesh.faces) if weld is None else weld
    area_uv, flat_uv = _area(mesh.uv)
    if flat_uv.all():
        same = " (all are equal)" if np.ptp(mesh.uv, axis=(0, 1)).max() == 0.0 else ""
        raise UserError(
            f"useless UVs{same}: none of the {len(area_uv)} triangles has area in UV",
            fix="unwrap the garment and export it with UVs",
            path=mesh.path,
        )
    elsewhere = _elsewhere(mesh, island, ~flat_uv)
    notes = [
        *_size(mesh),
        *_left_out(island, elsewhere),
        *_flat_faces(mesh, flat_uv),
        *_folds(island, area_uv, flat_uv),
        *_crowded_edges(mesh, weld, _whole(weld)),
        *_doubles(mesh, weld, _whole(weld)),
    ]
    return ~flat_uv & ~np.isin(island, elsewhere), tuple(notes)


def _area(corner: F64) -> tuple[F64, Bool]:
    """Return twice the signed area of triangles (F, 3, 2), and which have none."""
    b, c = corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0]
    area = b[:, 0] * c[:, 1] - b[:, 1] * c[:, 0]
    return area, np.abs(area) <= FLAT * _longest_square(corner)


def _longest_square(corner: F64) -> F64:
    """Return the square of each triangle's longest side (F,)."""
    side = corner - np.roll(corner, 1, axis=1)
    return np.asarray((side * side).sum(axis=2).max(axis=1))


def _boxes(island: I32, uv: F64, usable: Bool) -> tuple[F64, F64]:
    """Return the lower left and upper right (I, 2) of each island, flat faces left out."""
    count = int(island.max()) + 1
    low, high = np.full((count, 2), np.inf), np.full((count, 2), -np.inf)
    np.minimum.at(low, island[usable], uv[usable].min(axis=1))
    np.maximum.at(high, island[usable], uv[usable].max(axis=1))
    empty = low > high  # nothing to bake there, so it is nowhere outside
    low[empty], high[empty] = 0.0, 0.0
    return low, high


def _elsewhere(mesh: Mesh, island: I32, usable: Bool) -> I64:
    """Return the islands to leave out, for they lie in other tiles; raise if one must not be."""
    low, high = _boxes(island, mesh.uv, usable)
    out: Bool = np.any((low < -OVERHANG) | (high > 1.0 + OVERHANG), axis=1)
    apart = out & ((high <= OVERHANG) | (low >= 1.0 - OVERHANG)).any(axis=1)
    left = usable & ~np.isin(island, np.flatnonzero(apart))
    wrong = out & ~apart if mesh.tile is not None and left.any() else out
    if wrong.any():
        raise _outside(mesh, island, np.flatnonzero(wrong), low, high, usable)
    return np.flatnonzero(apart)


def _outside(mesh: Mesh, island: I32, which: I64, low: F64, high: F64, usable: Bool) -> UserError:
    """Say which islands lie outside, where they lie in the file, and what to do."""
    base = np.array(mesh.tile or (0, 0))
    low, high = low[which] + base, high[which] + base
    tile = np.floor(low + OVERHANG).astype(np.int64)
    whole = bool((high <= tile + 1 + OVERHANG).all())
    faces = np.bincount(island)[which]
    told = [
        f"island {k} ({n} triangles, u {a[0]:.4g}..{b[0]:.4g}, v {a[1]:.4g}..{b[1]:.4g}"
        + (f", tile {t})" if whole else ")")
        for k, n, a, b, t in zip(which, faces, low, high, tile.tolist(), strict=True)
    ]
    if whole:
        tiles = listed([f"`tile: {list(t)}`" for t in sorted({*map(tuple, tile.tolist())})])
        fix = f"set {tiles} to bake those, `tile: [0, 0]` to bake the others without them"
    elif (high - low).max() > 1.5:
        fix = f"{_uv_unit(mesh, usable)}; re-pack: scale and move all islands into 0..1"
    else:
        fix = "move or scale those islands until they lie in 0..1 (or wholly in another tile)"
    what = f"{len(which)} of {counted(int(island.max()) + 1, 'island lies', 'islands lie')}"
    what = f"{what} outside UV tile {base.tolist()}"
    return UserError(f"{what}: {listed(told, 4)}", fix=fix, path=mesh.path)


def _uv_unit(mesh: Mesh, usable: Bool) -> str:
    """Say which unit of length the UVs are written in, judged by the areas in space and in UV."""
    space = np.linalg.norm(_turn(mesh)[usable], axis=1).sum()
    unit_mm = float(np.sqrt(space / np.abs(_area(mesh.uv)[0][usable]).sum()))
    names = [name for mm, name in UV_UNITS if abs(unit_mm / mm - 1.0) < 0.2]
    looks = f"these UVs look like {names[0]}" if names else "these UVs are no shares of a sheet"
    return f"{looks} (one UV unit is about {unit_mm:.3g} mm on the cloth)"


def _turn(mesh: Mesh) -> F64:
    """Return normals of the triangles in space (F, 3), as long as twice their area, mm2."""
    a, b, c = (mesh.points_mm[mesh.faces[:, k]] for k in range(3))
    return np.asarray(np.cross(b - a, c - a))


def _size(mesh: Mesh) -> list[str]:
    """Doubt the unit of a garment for a doll or a giant."""
    used = mesh.points_mm[mesh.faces].reshape(-1, 3)
    side = np.ptp(used, axis=0)
    if LEAST_SIZE_MM <= side.max() <= MOST_SIZE_MM:
        return []
    size = " x ".join(f"{mm:.0f}" if mm >= 1000.0 else f"{mm:.3g}" for mm in side)
    longest = float(side.max()) / mesh.unit_mm
    fits = [
        f"`mesh_unit: {word}` makes it {longest * mm:.0f} mm long"
        for word, mm in UNITS_MM
        if LIKELY_MM[0] <= longest * mm <= LIKELY_MM[1]
    ]
    cure = " and ".join(fits) or "set `mesh_unit`"
    return [f"the garment measures {size} mm: is the unit of the mesh right? {cure}"]


def _left_out(island: I32, elsewhere: I64) -> list[str]:
    """Note the islands of other tiles."""
    if len(elsewhere) == 0:
        return []
    faces = int(np.isin(island, elsewhere).sum())
    names = listed([str(k) for k in elsewhere.tolist()], 8)
    return [f"left out, as they lie in other UV tiles: islands {names} ({faces} triangles)"]


def _flat_faces(mesh: Mesh, flat_uv: Bool) -> list[str]:
    """Note faces without area."""
    corner = mesh.points_mm[mesh.faces]
    flat = np.linalg.norm(_turn(mesh), axis=1) <= FLAT * _longest_square(corner)
    notes = []
    if flat_uv.any():
        notes.append(
            counted(
                int(flat_uv.sum()),
                "triangle has no area in UV and is not baked",
                "triangles have no area in UV and are not baked",
            )
        )
    if flat.any():
        told = counted(int(flat.sum()), "triangle has", "triangles have")
        where = _place(mesh, corner[int(flat.argmax()), 0])
        notes.append(f"{told} no area in space{where}")
    return notes


def _folds(island: I32, area_uv: F64, flat_uv: Bool) -> list[str]:
    """Note islands whose faces lie both ways round in UV."""
    count = int(island.max()) + 1
    ahead = np.bincount(island[(area_uv > 0.0) & ~flat_uv], minlength=count)
    mirrored = np.bincount(island[(area_uv < 0.0) & ~flat_uv], minlength=count)
    fewer, total = np.minimum(ahead, mirrored), ahead + mirrored
    told = [f"island {k} ({fewer[k]} of {total[k]} triangles)" for k in np.flatnonzero(fewer)]
    return [f"folded in UV, so that parts lie mirrored: {listed(told)}"] if told else []


def _whole(weld: I32) -> I64:
    """Return the faces with three corners apart: collapsed ones would count as layers."""
    return np.flatnonzero((weld != np.roll(weld, 1, axis=1)).all(axis=1))


def _crowded_edges(mesh: Mesh, weld: I32, whole: I64) -> list[str]:
    """Note edges of more than two faces."""
    half, first = edge_groups(weld[whole])
    crowded = np.flatnonzero(np.diff(first) > 2)
    if len(crowded) == 0:
        return []
    face, side = divmod(int(half[first[crowded[0]]]), 3)
    where = _place(mesh, mesh.points_mm[mesh.faces[whole[face], side]])
    told = counted(len(crowded), "edge belongs", "edges belong")
    return [f"{told} to more than two triangles{where}"]


def _doubles(mesh: Mesh, weld: I32, whole: I64) -> list[str]:
    """Note triangles that lie on another with the same corners."""
    corners = np.sort(weld[whole], axis=1)
    order = np.lexsort(corners.T)  # stable: of equal ones the first in the file comes first
    again = (np.diff(corners[order], axis=0) == 0).all(axis=1)
    if not again.any():
        return []
    where = _place(mesh, mesh.points_mm[mesh.faces[whole[order[1:][again].min()], 0]])
    told = counted(int(again.sum()), "triangle lies", "triangles lie")
    return [f"{told} on another with the same corners (layers){where}"]


def _place(mesh: Mesh, point_mm: F64) -> str:
    """Say where the first of several is, in the unit and the axes of the file."""
    point = mesh.as_in_file(point_mm)
    return f", the first at [{', '.join(f'{round(x, 3) + 0.0:.4g}' for x in point.tolist())}]"
