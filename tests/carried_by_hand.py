"""Pictures that are functions of space, painted into any UV layout: what a carried one must be."""

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from texbake.arrays import F64, I64, U8, Bool
from texbake.carry import Sheet, read_sheet, sheet_of
from texbake.carry.sheet import faces_at, snapped_at
from texbake.colour import srgb_encode
from texbake.garment.islands import edge_groups, uv_corners
from texbake.garment.values import Mesh
from texbake.garment.weld import weld
from texbake.layout.tables import affine

Paint = Callable[[F64], F64]
SHARED = Path(__file__).resolve().parents[1].parent / "shared" / "meshes"
DEMO = Path(__file__).resolve().parents[1] / "recipes" / "meshes"


def rewrapped(path: Path) -> tuple[Sheet, Sheet]:
    """A garment as its file has it, and unwrapped anew by xatlas."""
    xatlas = pytest.importorskip("xatlas", reason="xatlas is a test extra")
    old = read_sheet(path)
    mesh = old.mesh
    atlas, how = xatlas.Atlas(), xatlas.PackOptions()
    atlas.add_mesh(mesh.points_mm.astype(np.float32), mesh.faces.astype(np.uint32))
    how.padding, how.resolution = 4, 1024
    atlas.generate(pack_options=how)
    _, corner, uv = atlas[0]
    return old, sheet_of(replace(mesh, uv=uv[corner].astype(np.float64)))


def where(sheet: Sheet, size_px: int, shift: tuple[float, float] = (0.5, 0.5)) -> tuple[I64, F64]:
    """Covered texels (flat) of a layout, and a place of each in space (N, 3), mm."""
    snapped = snapped_at(sheet, size_px)
    face = faces_at(sheet, snapped, size_px)[0].reshape(-1)
    table = np.zeros((len(sheet.usable), 3, 3))
    corner = snapped.corner / float(1 << snapped.bits)
    table[snapped.face] = affine(corner, sheet.corners_mm[snapped.face])
    index = np.flatnonzero(face >= 0)
    row, column = np.divmod(index, size_px)
    at = np.stack([column + shift[0], row + shift[1], np.ones(len(row))], axis=1)
    return index, np.einsum("ndk,nk->nd", table[face[index]], at)


def painted(sheet: Sheet, size_px: int, paint: Paint, *, fine: int = 2) -> U8:
    """The mean of a colour in linear light over each texel, as sRGB codes (H, W, 3)."""
    steps = [(k + 0.5) / fine for k in range(fine)]
    total: F64 = np.zeros((size_px * size_px, 3))
    for x in steps:
        for y in steps:
            index, points = where(sheet, size_px, (x, y))
            total[index] += paint(points) / fine**2
    codes = np.floor(srgb_encode(np.clip(total, 0.0, 1.0)) * 255.0 + 0.5)
    return np.asarray(codes, np.uint8).reshape(size_px, size_px, 3)


def checks(side_mm: float) -> Paint:
    """Cubes of two colours."""

    def paint(points: F64) -> F64:
        odd = np.floor(points / side_mm + 0.137).sum(axis=1) % 2 > 0
        return np.where(odd[:, None], [0.80, 0.70, 0.60], [0.05, 0.10, 0.20])

    return paint


def scene(*, longest_mm: float = 400.0, seed: int = 1) -> Paint:
    """Waves of all lengths down to 2 mm, weaker the shorter, as in photographs.

    Field 1987, "Relations between the statistics of natural images and the response properties
    of cortical cells": amplitudes fall with frequency.
    """
    rng = np.random.default_rng(seed)
    count = 20
    direction = rng.normal(size=(count, 3)).astype(np.float32)
    direction /= np.linalg.norm(direction, axis=1)[:, None]
    length = longest_mm * 2.0 ** (-7.5 * rng.random(count))
    phase, tint = 6.28 * rng.random(count), 0.7 + 0.3 * np.cos(6.28 * rng.random((count, 3)))

    def paint(points: F64) -> F64:
        points = points.astype(np.float32)
        out: F64 = np.full((len(points), 3), 0.35)
        for k in range(count):
            along = points @ (direction[k] * np.float32(2.0 * np.pi / length[k]))
            wave = np.sin(along + np.float32(phase[k]))
            out += (0.3 * np.sqrt(length[k] / longest_mm) * wave)[:, None] * tint[k]
        return 0.5 * out

    return paint


def psnr(a: U8, b: U8, inside: Bool) -> float:
    """Peak signal to noise ratio of codes of 8 bits, dB."""
    error = a.astype(np.float64)[inside] - b[inside]
    return float(10.0 * np.log10(255.0**2 / np.mean(error * error)))


def coarser(mesh: Mesh, *, share: float = 0.1) -> Mesh:
    """The mesh with a share of its inner vertices drawn into a neighbour, UVs with them."""
    corner = uv_corners(weld(mesh.points_mm, mesh.faces), mesh.uv)
    place = np.zeros((int(corner.max()) + 1, 5))
    points = mesh.points_mm[mesh.faces]
    place[corner.reshape(-1)] = np.concatenate([points, mesh.uv], axis=2).reshape(-1, 5)
    half, first = edge_groups(corner)
    open_ = half[first[:-1][np.diff(first) == 1]]
    ends = np.stack(
        [corner.reshape(-1)[open_], corner.reshape(-1)[open_ - open_ % 3 + (open_ + 1) % 3]]
    )
    held = np.isin(np.arange(len(place)), ends)
    rng = np.random.default_rng(5)
    left = round(share * len(place))
    for v in rng.permutation(np.flatnonzero(~held)).tolist():
        fan = np.flatnonzero((corner == v).any(axis=1))
        around = np.unique(corner[fan])
        if left == 0 or held[around].any() or len(around) != len(fan) + 1:
            continue
        to = int(around[around != v][0])
        moved = np.where(corner[fan] == v, to, corner[fan])
        kept = (moved != np.roll(moved, 1, axis=1)).all(axis=1)
        if (_turns(place[moved[kept]]) * _turns(place[corner[fan[0]]])[None] <= 0).any():
            continue
        corner[fan] = moved
        held[around] = True
        left -= 1
    corner = corner[(corner != np.roll(corner, 1, axis=1)).all(axis=1)]
    nothing = np.zeros(len(corner), np.int32)
    return replace(
        mesh,
        points_mm=place[:, :3],
        faces=corner.astype(np.int32),
        uv=place[corner, 3:],
        polygon=np.arange(len(corner), dtype=np.int32),
        object_of=nothing,
        group_of=nothing,
        material_of=nothing,
        normals=None,
    )


def _turns(place: F64) -> F64:
    """Twice the signed areas in UV of triangles (..., 3, 5)."""
    a, b = (place[..., k, 3:] - place[..., 0, 3:] for k in (1, 2))
    return np.asarray(a[..., 0] * b[..., 1] - a[..., 1] * b[..., 0])
