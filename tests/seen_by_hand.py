"""Surfaces, maps and cameras in closed form, to look at."""

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np

from tests.garments_by_hand import garment
from texbake.arrays import F32, F64
from texbake.garment.values import Garment
from texbake.garment.weld import weld
from texbake.maps import MapArrays, blank, normal_codes
from texbake.view import Camera
from texbake.view.views import axes_of

# From shares (u, v) of the surface to points or normals.
Shape = Callable[[F64, F64], F64]


def surface(
    columns: int, rows: int, place: Shape, *, normal: Shape | None = None, uv: Shape | None = None
) -> Garment:
    """A garment of one panel, laid out over a grid; without normals unless they are given."""
    s, t = np.meshgrid(np.linspace(0, 1, columns + 1), np.linspace(0, 1, rows + 1))

    def corners(shape: Shape) -> F64:
        grid = shape(s, t)
        a, b, c, d = grid[:-1, :-1], grid[:-1, 1:], grid[1:, 1:], grid[1:, :-1]
        both = np.stack([np.stack([a, b, c], 2), np.stack([a, c, d], 2)], 2)
        return both.reshape(-1, 3, grid.shape[2])

    made = garment(corners(uv or flat_uv), points_mm=corners(place))
    mesh = made.mesh
    if normal is not None:
        mesh = replace(mesh, normals=corners(normal))
    return replace(made, mesh=mesh, weld=weld(mesh.points_mm, mesh.faces))


def flat_uv(s: F64, t: F64) -> F64:
    return np.stack([s, t], axis=-1)


def on_ball(s: F64, t: F64) -> F64:
    """A ball of radius 1 about the origin; its back is where s is 0 and 1."""
    around, up = 2 * math.pi * (s - 0.75), math.pi * (t - 0.5)
    level = np.cos(up)
    return np.stack([level * np.cos(around), np.sin(up), -level * np.sin(around)], axis=-1)


def ball(radius_mm: float = 50.0, columns: int = 128, rows: int = 64) -> Garment:
    return surface(columns, rows, lambda s, t: radius_mm * on_ball(s, t), normal=on_ball)


def plain_maps(
    size: int = 16, *, albedo: int = 255, roughness: int = 255, metal: int = 0, bits: int = 16
) -> MapArrays:
    """Flat cloth of one colour."""
    maps = blank(size, height_lo_mm=-1, height_hi_mm=1, normal_bits=16 if bits == 16 else 8)
    maps.albedo[:] = albedo
    maps.roughness[:] = roughness
    maps.metal[:] = metal
    return maps


def slope_maps(across: F32, up: F32) -> MapArrays:
    """White cloth with relief: slopes (H, W) along +U and +V, row 0 at the top."""
    maps = plain_maps(len(across))
    codes = normal_codes(
        across.reshape(-1).astype(np.float32), up.reshape(-1).astype(np.float32), bits=16
    )
    maps.normal_up[:] = codes.reshape(maps.normal_up.shape)
    return maps


def camera(
    away_mm: float,
    px_per_mm: float,
    size_px: tuple[int, int],
    *,
    back: tuple[float, float, float] = (0.0, 0.0, 1.0),
) -> Camera:
    """Looks at the origin, which lies in the middle of the picture."""
    axis = np.array(back) / math.sqrt(sum(k * k for k in back))
    return Camera(
        eye_mm=away_mm * axis,
        axes=axes_of(axis),
        focal_px=px_per_mm * away_mm,
        centre_px=(size_px[0] / 2, size_px[1] / 2),
        size_px=size_px,
    )
