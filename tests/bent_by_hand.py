"""Garments that are not flat, for normals and tangents: a tube, and two layers at one place."""

import math
from dataclasses import replace

import numpy as np

from tests.garments_by_hand import box, garment, sheet
from texbake.arrays import F64
from texbake.garment.values import Garment
from texbake.garment.weld import weld


def welded(cloth: Garment, *, points_mm: F64) -> Garment:
    """The garment with its corners moved, and numbered by place."""
    mesh = replace(cloth.mesh, points_mm=points_mm.reshape(-1, 3))
    return replace(cloth, mesh=mesh, weld=weld(mesh.points_mm, mesh.faces))


def tube(columns: int = 24, *, mirrored: bool = False) -> Garment:
    """Half a tube of radius 100 mm round the y axis, seen from outside; u runs round it."""
    uv = sheet(columns, 4, box(0.1, 0.1, 0.9, 0.9))
    angle, height = math.pi * uv[..., 0], 300.0 * uv[..., 1]
    points = np.stack([-100 * np.cos(angle), height, 100 * np.sin(angle)], axis=-1)
    if mirrored:
        uv = np.stack([1.0 - uv[..., 0], uv[..., 1]], axis=-1)
    return welded(garment(uv), points_mm=points)


def two_layers() -> Garment:
    """A shell and a lining at the same places, looking opposite ways."""
    shell = sheet(3, 3, box(0.0, 0.0, 0.4, 0.4))
    uv = np.concatenate([shell, shell[:, ::-1] + 0.5])
    flat = np.concatenate([shell, shell[:, ::-1]]) * 500.0
    points = np.concatenate([flat, np.zeros((len(flat), 3, 1))], axis=2)
    panel = np.repeat([0, 1], len(shell)).astype(np.int32)
    return welded(garment(uv, panel=panel), points_mm=points)
