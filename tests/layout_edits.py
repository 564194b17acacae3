"""What people do to a garment's mesh and UV layout, at random, with the truth carried along."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from types import MappingProxyType

import numpy as np

from texbake.arrays import F64, I32, I64
from texbake.change import Kept
from texbake.change.keep import face_tags
from texbake.change.values import KeptPanel
from texbake.garment.islands import edge_groups, edge_pairs, islands, uv_corners
from texbake.garment.panels import plan_panels
from texbake.garment.values import Mesh
from texbake.garment.weld import weld


@dataclass(frozen=True, eq=False)
class Edited:
    """A mesh, and the panel that each of its faces was of before all edits."""

    mesh: Mesh
    truth: I32


def mesh_of_faces(corners_mm: F64, uv: F64, *, path: Path = Path("edited.obj")) -> Mesh:
    """A mesh of loose triangles without names."""
    count = len(corners_mm)
    none = np.zeros(count, np.int32)
    return Mesh(
        path=path,
        points_mm=corners_mm.reshape(-1, 3),
        faces=np.arange(3 * count, dtype=np.int32).reshape(-1, 3),
        uv=uv,
        polygon=np.arange(count, dtype=np.int32),
        object_of=none,
        group_of=none,
        material_of=none,
        objects=("",),
        groups=("",),
        materials=("",),
    )


def island_of(mesh: Mesh) -> I32:
    return islands(weld(mesh.points_mm, mesh.faces), mesh.uv)


def kept_of(mesh: Mesh) -> Kept:
    """What the layout record would keep, each island a panel; nothing is laid flat."""
    island = island_of(mesh)
    plans = plan_panels(mesh, island, np.ones(len(island), np.bool_), {})
    tag, tags = face_tags(mesh)
    number = np.empty(len(plans), np.int32)
    number[[plan.islands[0] for plan in plans]] = np.arange(len(plans))
    none = np.zeros((0, 2, 3))
    return Kept(
        garment="edited",
        mesh_name=mesh.path.name,
        mesh_digest="",
        mesh_key="",
        unit_mm=mesh.unit_mm,
        up=mesh.up,
        size_px=1024,
        points_mm=mesh.points_mm,
        faces=mesh.faces,
        uv=mesh.uv,
        island=island,
        panel=number[island],
        tag=tag,
        tags=tags,
        panels=tuple(
            KeptPanel(name=p.name, entry=None, islands=p.islands, sewn_mm=none) for p in plans
        ),
        known=np.full(len(island), -1, np.int32),
    )


def _take(edited: Edited, which: I64) -> Edited:
    """Some faces, in another order."""
    mesh = edited.mesh
    return Edited(
        replace(
            mesh,
            faces=mesh.faces[which],
            uv=mesh.uv[which],
            polygon=mesh.polygon[which],
            object_of=mesh.object_of[which],
            group_of=mesh.group_of[which],
            material_of=mesh.material_of[which],
        ),
        edited.truth[which],
    )


def _uv(edited: Edited, uv: F64) -> Edited:
    """Another layout, fitted into the square."""
    low, high = uv.min(axis=(0, 1)), uv.max(axis=(0, 1))
    fitted = 0.02 + 0.96 * (uv - low) / max(float((high - low).max()), 1e-12)
    return Edited(replace(edited.mesh, uv=fitted), edited.truth)


def _some_island(edited: Edited, rng: np.random.Generator) -> I64:
    island = island_of(edited.mesh)
    return np.flatnonzero(island == rng.integers(0, island.max() + 1))


def move(edited: Edited, rng: np.random.Generator) -> Edited:
    uv = edited.mesh.uv.copy()
    uv[_some_island(edited, rng)] += rng.uniform(-0.3, 0.3, 2)
    return _uv(edited, uv)


def rotate(edited: Edited, rng: np.random.Generator) -> Edited:
    uv, mine = edited.mesh.uv.copy(), _some_island(edited, rng)
    angle, scale = rng.uniform(0, 2 * np.pi), rng.uniform(0.6, 1.4)
    turn = scale * np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    middle = uv[mine].mean(axis=(0, 1))
    uv[mine] = (uv[mine] - middle) @ turn.T + middle
    return _uv(edited, uv)


def mirror(edited: Edited, rng: np.random.Generator) -> Edited:
    uv, mine = edited.mesh.uv.copy(), _some_island(edited, rng)
    uv[mine, :, 0] = uv[mine, :, 0].max() + uv[mine, :, 0].min() - uv[mine, :, 0]
    return _uv(edited, uv)


def split(edited: Edited, rng: np.random.Generator) -> Edited:
    """Cut an island in two across a plane in space."""
    mesh, mine = edited.mesh, _some_island(edited, rng)
    middle = mesh.points_mm[mesh.faces[mine]].mean(axis=1) @ rng.normal(size=3)
    uv = mesh.uv.copy()
    uv[mine[middle > np.quantile(middle, rng.uniform(0.2, 0.8))]] += [0.7, 0.1]
    return _uv(edited, uv)


def join(edited: Edited, rng: np.random.Generator) -> Edited:
    """Lay two islands out together: where they meet in space, they are one in UV now."""
    mesh, mine = edited.mesh, _some_island(edited, rng)
    both = np.concatenate([mine, _some_island(edited, rng)])
    plane = np.linalg.qr(rng.normal(size=(3, 2)))[0]
    flat = mesh.points_mm[mesh.faces[both]] @ plane
    uv = mesh.uv.copy()
    uv[both] = 0.4 * (flat - flat.min(axis=(0, 1))) / np.ptp(flat, axis=(0, 1)).max() + [1.1, 0.0]
    return _uv(edited, uv)


def reorder(edited: Edited, rng: np.random.Generator) -> Edited:
    """Other order of faces, of vertices, and of the corners of each face."""
    out = _take(edited, rng.permutation(len(edited.truth)))
    mesh = out.mesh
    start = rng.integers(0, 3, len(mesh.faces))
    corner = (np.arange(3) + start[:, None]) % 3
    order = rng.permutation(len(mesh.points_mm)).astype(np.int32)
    points = np.empty_like(mesh.points_mm)
    points[order] = mesh.points_mm
    faces = order[np.take_along_axis(mesh.faces, corner, axis=1)]
    uv = np.take_along_axis(mesh.uv, corner[..., None], axis=1)
    return Edited(replace(mesh, points_mm=points, faces=faces, uv=uv), out.truth)


def triangulate(edited: Edited, rng: np.random.Generator) -> Edited:
    """Lay the diagonal of some pairs of faces the other way, where they are about level."""
    mesh = edited.mesh
    welded, faces, uv = weld(mesh.points_mm, mesh.faces), mesh.faces.copy(), mesh.uv.copy()
    island = island_of(mesh)
    normal = _normals(mesh.points_mm[faces])
    normal /= np.maximum(np.linalg.norm(normal, axis=1), 1e-300)[:, None]
    done = np.zeros(len(faces), np.bool_)
    pairs = edge_pairs(uv_corners(welded, mesh.uv))
    for a, b in rng.permutation(pairs)[: len(pairs) // 3].tolist():
        f, g = a // 3, b // 3
        level = normal[f] @ normal[g] > 0.999 and island[f] == island[g]
        if done[f] or done[g] or not level:
            continue
        i, j = a % 3, b % 3
        ring = [(f, (i + 2) % 3), (f, i), (g, (j + 2) % 3), (f, (i + 1) % 3)]
        points = mesh.points_mm[[faces[k, c] for k, c in ring]]
        new = np.array([[0, 1, 2], [0, 2, 3]])
        if (_normals(points[new]) @ normal[f] <= 1e-3).any():
            continue  # the four do not stand round
        corners, places = [faces[k, c] for k, c in ring], [mesh.uv[k, c] for k, c in ring]
        for face, order in zip((f, g), new.tolist(), strict=True):
            faces[face] = [corners[k] for k in order]
            uv[face] = [places[k] for k in order]
        done[[f, g]] = True
    return Edited(replace(mesh, faces=faces, uv=uv), edited.truth)


def decimate(edited: Edited, rng: np.random.Generator) -> Edited:
    """Take out a tenth of the vertices, none of them on the border of an island.

    Half-edges are collapsed one by one: the faces round a vertex that nothing touched yet are
    fanned from one of its neighbours, unless that turns one over.
    """
    mesh = edited.mesh
    welded = weld(mesh.points_mm, mesh.faces)
    count = int(welded.max()) + 1
    place = np.empty((count, 3))
    place[welded.ravel()] = mesh.points_mm[mesh.faces.ravel()]
    border = _on_border(welded, island_of(mesh), count)
    of: dict[int, list[int]] = {}
    for face, corners in enumerate(welded.tolist()):
        for corner in corners:
            of.setdefault(corner, []).append(face)
    uv, welded = mesh.uv.copy(), welded.copy()
    keep, touched = np.ones(len(welded), np.bool_), np.zeros(count, np.bool_)
    goal = max(1, count // 10)
    for vertex in rng.permutation(np.flatnonzero(~border)).tolist():
        if goal == 0:
            break
        if touched[welded[of[vertex]].ravel()].any():
            continue
        if _collapse(vertex, of[vertex], welded, uv, place, keep):
            touched[welded[of[vertex]].ravel()] = True
            goal -= 1
    left = _take(edited, np.flatnonzero(keep))
    faces = welded[keep].astype(np.int32)
    return Edited(replace(left.mesh, points_mm=place, faces=faces, uv=uv[keep]), left.truth)


def _on_border(welded: I32, island: I32, count: int) -> np.ndarray:
    half, first = edge_groups(welded)
    on = np.zeros(count, np.bool_)
    for g in range(len(first) - 1):
        edge = half[first[g] : first[g + 1]]
        if len(edge) != 2 or island[edge[0] // 3] != island[edge[1] // 3]:
            on[[welded[edge[0] // 3, edge[0] % 3], welded[edge[0] // 3, (edge[0] + 1) % 3]]] = True
    return on


def _collapse(
    vertex: int, ring: list[int], welded: I32, uv: F64, place: F64, keep: np.ndarray
) -> bool:
    """Move a vertex onto its first good neighbour; False if there is none."""
    for target in sorted(set(welded[ring].ravel().tolist()) - {vertex}):
        source = next(f for f in ring if target in welded[f])
        new_uv = uv[source, welded[source].tolist().index(target)]
        stay = [f for f in ring if target not in welded[f]]
        faces = np.where(welded[stay] == vertex, target, welded[stay])
        was, now = (_normals(place[corner]) for corner in (welded[stay], faces))
        if (
            not stay
            or (
                (was * now).sum(axis=1)
                < 0.7 * np.linalg.norm(was, axis=1) * np.linalg.norm(now, axis=1)
            ).any()
        ):
            continue
        for face in stay:
            uv[face][welded[face] == vertex] = new_uv
        welded[stay] = faces
        keep[[f for f in ring if f not in stay]] = False
        return True
    return False


def _normals(corners: F64) -> F64:
    return np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])


EDITS: Mapping[str, Callable[[Edited, np.random.Generator], Edited]] = MappingProxyType(
    {
        "move": move,
        "rotate": rotate,
        "mirror": mirror,
        "split": split,
        "join": join,
        "reorder": reorder,
        "decimate": decimate,
        "triangulate": triangulate,
    }
)
