"""Meshes of sewn cloth put together by hand: grids of triangles bent through space."""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from texbake.arrays import F64, I64
from texbake.garment.values import Garment, Mesh

# Two numbers in [0, 1] (right and up, seen from outside) to space in mm, or to UV.
Map = Callable[[F64, F64], F64]


@dataclass(frozen=True, kw_only=True)
class Cloth:
    """Triangles with corners in space (K, 3, 3) and in UV (K, 3, 2), and their names."""

    points_mm: F64
    uv: F64
    material: str = "drill"
    group: str = ""
    object: str = ""


def grid(columns: int, rows: int) -> tuple[F64, I64]:
    """Vertices (V, 2) in the unit square and triangles, diagonals both ways in turn."""
    s, t = np.meshgrid(np.linspace(0, 1, columns + 1), np.linspace(0, 1, rows + 1))
    n = np.arange((columns + 1) * (rows + 1)).reshape(rows + 1, columns + 1)
    a, b, c, d = n[:-1, :-1].ravel(), n[:-1, 1:].ravel(), n[1:, 1:].ravel(), n[1:, :-1].ravel()
    odd = ((np.arange(len(a)) + np.arange(len(a)) // columns) % 2 == 1)[:, None, None]
    one = np.stack([np.stack([a, b, c], 1), np.stack([a, c, d], 1)], axis=1)
    other = np.stack([np.stack([a, b, d], 1), np.stack([b, c, d], 1)], axis=1)
    faces = np.where(odd, other, one).reshape(-1, 3)
    return np.stack([s.ravel(), t.ravel()], axis=1), faces.astype(np.int64)


def patch(
    space: Map,
    *,
    columns: int = 8,
    rows: int = 8,
    uv: Map | None = None,
    material: str = "drill",
    group: str = "",
    object: str = "",  # noqa: A002 - the word of the mesh file
) -> Cloth:
    """One grid of cloth; its UVs are the unit square unless said otherwise."""
    vertices, faces = grid(columns, rows)
    s, t = vertices.T
    to_uv = uv or (lambda s, t: np.stack([s, t], axis=-1))
    return Cloth(
        points_mm=space(s, t)[faces],
        uv=to_uv(s, t)[faces],
        material=material,
        group=group,
        object=object,
    )


def sew(*cloths: Cloth, apart: bool = True) -> Mesh:
    """Put cloths into one mesh, no vertex shared; side by side in UV unless ``apart`` is False."""
    count = len(cloths)
    uvs = [
        (cloth.uv * [0.9, 1.0] + [i + 0.05, 0.0]) / [count, 1.0] if apart else cloth.uv
        for i, cloth in enumerate(cloths)
    ]
    points = np.concatenate([cloth.points_mm for cloth in cloths])
    corners = np.arange(3 * len(points), dtype=np.int32).reshape(-1, 3)
    sizes = [len(cloth.uv) for cloth in cloths]
    objects, object_of = _names([cloth.object for cloth in cloths], sizes)
    groups, group_of = _names([cloth.group for cloth in cloths], sizes)
    materials, material_of = _names([cloth.material for cloth in cloths], sizes)
    return Mesh(
        path=Path("sewn.obj"),
        points_mm=points.reshape(-1, 3),
        faces=corners,
        uv=np.concatenate(uvs),
        polygon=np.arange(len(points), dtype=np.int32),
        object_of=object_of,
        group_of=group_of,
        material_of=material_of,
        objects=objects,
        groups=groups,
        materials=materials,
    )


def _names(
    names: Sequence[str], sizes: Sequence[int]
) -> tuple[tuple[str, ...], "np.ndarray[tuple[int], np.dtype[np.int32]]"]:
    table = tuple(dict.fromkeys(names))
    of = np.repeat([table.index(name) for name in names], sizes)
    return table, of.astype(np.int32)


def around(radius_mm: float, height_mm: float, start_rad: float, end_rad: float) -> Map:
    """A piece of an upright tube; angle 0 is the front (+Z), positive to the wearer's left (+X)."""

    def space(s: F64, t: F64) -> F64:
        angle = start_rad + (end_rad - start_rad) * s
        return np.stack(
            [radius_mm * np.sin(angle), height_mm * t, radius_mm * np.cos(angle)], axis=-1
        )

    return space


def level(width_mm: float, height_mm: float, *, z_mm: float = 0.0) -> Map:
    """An upright rectangle that faces the front, in the middle."""

    def space(s: F64, t: F64) -> F64:
        return np.stack([width_mm * (s - 0.5), height_mm * t, np.full_like(s, z_mm)], axis=-1)

    return space


def front_and_back(columns: int = 8, rows: int = 6) -> tuple[Cloth, Cloth]:
    """The body of a vest: a tube of radius 150 mm, 400 mm high, in two halves."""
    half = math.pi / 2
    return (
        patch(around(150.0, 400.0, -half, half), columns=columns, rows=rows),
        patch(around(150.0, 400.0, half, 3 * half), columns=columns, rows=rows),
    )


def shuffled(mesh: Mesh, seed: int) -> tuple[Mesh, I64]:
    """The same mesh with its faces, corners and vertices in another order; and the faces' order."""
    random = np.random.default_rng(seed)
    order = random.permutation(len(mesh.faces))
    roll = random.integers(0, 3, len(order))
    corner = (np.arange(3)[None, :] + roll[:, None]) % 3
    rows = np.arange(len(order))[:, None]
    name = random.permutation(len(mesh.points_mm))
    points = np.empty_like(mesh.points_mm)
    points[name] = mesh.points_mm
    return (
        Mesh(
            path=mesh.path,
            points_mm=points,
            faces=name[mesh.faces[order][rows, corner]].astype(np.int32),
            uv=mesh.uv[order][rows, corner],
            polygon=mesh.polygon[order],
            object_of=mesh.object_of[order],
            group_of=mesh.group_of[order],
            material_of=mesh.material_of[order],
            objects=mesh.objects,
            groups=mesh.groups,
            materials=mesh.materials,
        ),
        order,
    )


def apart_mm(a: F64, b: F64) -> float:
    """Greatest distance between two (N, 2) sets of points after the best turn and shift."""
    za = (a - a.mean(axis=0)) @ np.array([1, 1j])
    zb = (b - b.mean(axis=0)) @ np.array([1, 1j])
    turn = np.vdot(zb, za)
    return float(np.abs(za - zb * turn / abs(turn)).max())


def middles_mm(garment: Garment) -> F64:
    """Middle of each face in its pattern plane (F, 2)."""
    return np.asarray(garment.pattern_mm.mean(axis=1))
