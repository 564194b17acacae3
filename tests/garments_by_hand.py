"""Small garments put together by hand, for tests that need no mesh file."""

from pathlib import Path

import numpy as np

from texbake.arrays import F64, I32
from texbake.garment.values import Chain, Garment, Mesh, Panel


def garment(
    uv: F64,
    *,
    points_mm: F64 | None = None,
    pattern_mm: F64 | None = None,
    panel: I32 | None = None,
    island: I32 | None = None,
    chains: tuple[Chain, ...] = (),
) -> Garment:
    """A garment of loose triangles; by default one flat panel, one metre per unit of UV.

    uv and pattern_mm are (F, 3, 2), points_mm (F, 3, 3): corners, not welded.
    """
    uv = np.asarray(uv, np.float64)
    count = len(uv)
    pattern_mm = uv * 1000.0 if pattern_mm is None else pattern_mm
    if points_mm is None:
        points_mm = np.concatenate([pattern_mm, np.zeros((count, 3, 1))], axis=2)
    panel = np.zeros(count, np.int32) if panel is None else panel
    island = panel if island is None else island
    zeros = np.zeros(count, np.int32)
    corners = np.arange(3 * count, dtype=np.int32).reshape(-1, 3)
    mesh = Mesh(
        path=Path("by-hand.obj"),
        points_mm=points_mm.reshape(-1, 3),
        faces=corners,
        uv=uv,
        polygon=np.arange(count, dtype=np.int32),
        object_of=zeros,
        group_of=zeros,
        material_of=zeros,
        objects=("object",),
        groups=("group",),
        materials=("material",),
    )
    return Garment(
        mesh=mesh,
        weld=corners,
        island=island,
        panel=panel,
        panels=tuple(_panel(p, panel, island) for p in range(int(panel.max(initial=-1)) + 1)),
        pattern_mm=pattern_mm,
        chains=chains,
    )


def _panel(number: int, panel: I32, island: I32) -> Panel:
    faces = np.flatnonzero(panel == number).astype(np.int32)
    return Panel(
        name=f"panel-{number}",
        islands=tuple(np.unique(island[faces]).tolist()),
        faces=faces,
        area_mm2=1.0,
        stretch_rms=0.0,
        stretch_max=0.0,
    )


def sheet(columns: int, rows: int, corners: F64) -> F64:
    """A quadrilateral cut into 2 * columns * rows triangles. (F, 3, D).

    corners is (2, 2, D): [row, column], row 0 first. Vertices are shared to the bit.
    """
    s = np.linspace(0.0, 1.0, columns + 1)[None, :, None]
    t = np.linspace(0.0, 1.0, rows + 1)[:, None, None]
    corners = np.asarray(corners, np.float64)
    below = corners[0, 0] * (1 - s) + corners[0, 1] * s
    above = corners[1, 0] * (1 - s) + corners[1, 1] * s
    grid = below * (1 - t) + above * t
    a, b, c, d = grid[:-1, :-1], grid[:-1, 1:], grid[1:, 1:], grid[1:, :-1]
    cells = np.stack([np.stack([a, b, c], axis=2), np.stack([a, c, d], axis=2)], axis=2)
    return cells.reshape(-1, 3, corners.shape[2])


def box(left: float, bottom: float, right: float, top: float) -> F64:
    """Corners of an upright rectangle, for ``sheet``."""
    return np.array([[[left, bottom], [right, bottom]], [[left, top], [right, top]]])
