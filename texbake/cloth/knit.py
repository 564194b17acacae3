"""Knits: rows of loops, each the true path of one yarn, seen from above.

On the face of single jersey the two legs of each loop lie on top and lean apart upwards (the V of
a wale); head and foot pass behind the neighbours. The path is the sum of the first harmonics of a
loop: across, the run along the course and its second harmonic, which opens the legs; along the
wale, one cosine; in depth, one cosine of twice the frequency. On the back of the fabric, which a
rib shows in every other group of wales, depth changes its sign: heads and feet lie on top.
"""

import math
from dataclasses import dataclass

import numpy as np

from texbake.arrays import F32
from texbake.cloth.hash import draws
from texbake.cloth.tile import Relief
from texbake.cloth.yarn import diameter_mm, twist_angle_rad
from texbake.recipe.values import Jersey, Rib, Yarn

BULK = 1.30  # slack knitting yarn fills more room than Peirce's compact one (by eye, no source)
LEGS = 0.17  # how far the legs lean apart, in wales; 0.08 is upright (by eye, no source)
POINTS = 96  # points on a loop's path: 1 % ripple at most on the yarn's top
SOFT = 0.003  # as in woven, on a wale, which holds two legs
GAP_SHADE = 0.25  # what shows through between loops (by eye, no source)


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class _Path:
    """Points of one loop, in mm, with their running length and side direction. All (POINTS,)."""

    x: F32
    y: F32
    z: F32
    length: F32
    side_x: F32
    side_y: F32


def knitted(
    structure: Jersey | Rib, yarn: Yarn, wales: float, courses: float, *, cells: int = 32
) -> Relief:
    """Render one repeat at life size.

    Parameters
    ----------
    structure : Jersey or Rib
    yarn : Yarn
    wales, courses : float
        Per cm.
    cells : int
        Grid cells across one wale.

    Returns
    -------
    Relief
        One weight.
    """
    wale, course = 10.0 / wales, 10.0 / courses
    radius = 0.5 * BULK * diameter_mm(yarn.count_tex)
    faces = (True,) if isinstance(structure, Jersey) else _rib_wales(structure)
    columns, rows = cells * len(faces), max(8, round(cells * course / wale))
    x = (np.arange(columns, dtype=np.float32) + 0.5) * (wale / cells)
    y = (np.arange(rows, dtype=np.float32) + 0.5) * (course / rows)
    relief = _empty(rows, columns)
    for k in range(-1, len(faces) + 1):
        face = faces[k % len(faces)]
        path = _loop(wale, course, radius, face=face)
        depth = _depth(faces, k, radius)
        for up in (-2, -1, 0, 1, 2):
            _lay(relief, (x - k * wale, y - up * course), path, radius, depth, yarn)
    return _finish(relief, wale * len(faces), course, max(1, round(SOFT * cells * cells)))


def _rib_wales(rib: Rib) -> tuple[bool, ...]:
    """Face wales, then back wales."""
    return (True,) * rib.face + (False,) * rib.back


def _depth(faces: tuple[bool, ...], k: int, radius: float) -> float:
    """How far a wale stands forward: back wales of a rib sink behind the face wales."""
    if all(faces):
        return 0.0
    return 0.9 * radius if faces[k % len(faces)] else -1.6 * radius


def _loop(wale: float, course: float, radius: float, *, face: bool) -> _Path:
    """The path of one loop, its wale centred on ``wale / 2``."""
    t = np.linspace(0.0, 2.0 * math.pi, POINTS, endpoint=False, dtype=np.float32)
    half = 0.5 * (course + 4.2 * radius)  # heads reach over the next course's feet
    x = wale * t / (2.0 * math.pi) + LEGS * wale * np.sin(2.0 * t)
    y = -half * np.cos(t)
    z = (-0.75 * radius if face else 0.75 * radius) * np.cos(2.0 * t)
    dx, dy = np.gradient(x), np.gradient(y)
    run = np.hypot(dx, dy)
    return _Path(
        x=x, y=y, z=z, length=np.cumsum(run), side_x=dy / run, side_y=-dx / run
    )  # side: to the right of the way the yarn runs


def _empty(rows: int, columns: int) -> tuple[F32, F32]:
    """Height and shade before any yarn is laid."""
    return (
        np.full((rows, columns), -np.inf, np.float32),
        np.zeros((rows, columns), np.float32),
    )


def _lay(
    relief: tuple[F32, F32],
    place: tuple[F32, F32],
    path: _Path,
    radius: float,
    depth: float,
    yarn: Yarn,
) -> None:
    """Lay one loop on the grid: a round yarn of ``radius`` round its path, the highest wins."""
    height, shade = relief
    dx = place[0][None, :, None] - path.x  # (1, columns, points)
    dy = place[1][:, None, None] - path.y
    off2 = (dx * dx + dy * dy) / (radius * radius)
    top = np.where(off2 < 1.0, path.z + radius * (1.0 - off2**1.1), -np.inf)
    best = top.argmax(axis=2)
    highest = np.take_along_axis(top, best[:, :, None], 2)[:, :, 0] + depth
    side = dx[0][np.arange(dx.shape[1])[None, :], best] * path.side_x[best]
    side += dy[np.arange(len(dy))[:, None], 0, best] * path.side_y[best]
    lit = _strands(np.clip(side / radius, -1.0, 1.0), path.length[best], path.length[-1], yarn)
    wins = highest > height
    height[wins] = highest[wins]
    shade[wins] = lit[wins]


def _strands(q: F32, along: F32, loop_mm: float, yarn: Yarn) -> F32:
    """Fibre lines and roundness of the yarn; whole turns fit a loop."""
    turns = math.tan(twist_angle_rad(yarn.count_tex)) / (math.pi * diameter_mm(yarn.count_tex))
    winding = max(1, round(0.8 * turns * loop_mm)) / loop_mm  # knitting yarn is softer twisted
    phase = np.arcsin(q) / (2.0 * math.pi) + (-winding if yarn.twist == "Z" else winding) * along
    lines = np.zeros_like(q)
    for m, shift in zip((4, 7), draws(2, 23), strict=True):
        lines += 0.5 * np.cos(2.0 * math.pi * (m * phase + shift))
    out: F32 = (0.70 + 0.30 * (1.0 - np.abs(q) ** 2.2)) * (1.0 + 0.10 * lines)
    return out


def _finish(relief: tuple[F32, F32], width_mm: float, length_mm: float, soften: int) -> Relief:
    """Fill the gaps between loops with shadow, a little below the lowest yarn."""
    height, shade = relief
    gap = ~np.isfinite(height)
    low = float(height[~gap].min())
    return Relief(
        height_mm=np.where(gap, low, height),
        weights=np.where(gap, GAP_SHADE, shade)[None],
        cover=(~gap).astype(np.float32),
        width_mm=width_mm,
        length_mm=length_mm,
        soften=soften,
    )
