"""A tube of two panels, front and back, in any UV layout: the simplest garment with seams and hems.

It is developable, so the pattern plane is known in closed form: arc length across, height along.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from texbake.arrays import F32, F64, I64
from texbake.bake import render
from texbake.colour import linear_to_lab, srgb_decode
from texbake.maps import MapArrays
from texbake.prepared import Prepared, prepare
from texbake.recipe import loads

RADIUS_CM, HEIGHT_CM, AROUND, UP = 4.0, 10.0, 12, 6

# From (panel, share across, share up) to UV.
Placing = Callable[[int, F64, F64], tuple[F64, F64]]


def upright(panel: int, s: F64, t: F64) -> tuple[F64, F64]:
    """Side by side, square to the picture."""
    return 0.04 + 0.5 * panel + 0.42 * s, 0.04 + 0.42 * 10.0 / (4.0 * math.pi) * t


def turned(panel: int, s: F64, t: F64) -> tuple[F64, F64]:
    """Turned by 30 degrees, elsewhere on the sheet, at the same density."""
    u, v = 0.42 * s, 0.42 * 10.0 / (4.0 * math.pi) * t
    c, d = math.cos(math.radians(30)), math.sin(math.radians(30))
    return (
        0.2 + 0.4 * panel + c * u * 0.9 - d * v * 0.9,
        0.1 + 0.3 * panel + d * u * 0.9 + c * v * 0.9,
    )


def half_turned(panel: int, s: F64, t: F64) -> tuple[F64, F64]:
    """The upright sheet, turned by 180 degrees."""
    u, v = upright(panel, s, t)
    return 1.0 - u, 1.0 - v


def in_one_island(panel: int, s: F64, t: F64) -> tuple[F64, F64]:
    """The two panels beside each other, joined at one of their seams."""
    return 0.04 + 0.45 * panel + 0.45 * s, 0.04 + 0.45 * 10.0 / (4.0 * math.pi) * t


def mirrored_and_stretched(panel: int, s: F64, t: F64) -> tuple[F64, F64]:
    """Mirrored, and 30 % wider than it should be."""
    return 0.48 + 0.5 * panel - 0.44 * s, 0.05 + 0.26 * t


def cut_once_more(panel: int, s: F64, t: F64) -> tuple[F64, F64]:
    """The front is cut in two islands at half its width."""
    u, v = upright(panel, s, t)
    return u, np.where((panel == 0) & (s > 0.5), v + 0.45, v)


def write_tube(path: Path, placing: Placing, *, split: bool = False, top: float = 1.0) -> Path:
    """Write the tube as OBJ in cm; ``top`` is the radius of its upper end, as a share."""
    lines, count = ["o tube"], 0
    for panel, name in enumerate(("front", "back")):
        lines.append(f"g {name}")
        for part in ((0.0, 0.5), (0.5, 1.0)) if split and panel == 0 else ((0.0, 1.0),):
            columns = round(AROUND * (part[1] - part[0]))
            s = np.linspace(*part, columns + 1)
            count = _grid(lines, placing, (panel, s), top, count)
    path.write_text("\n".join(lines) + "\n")
    return path


def _grid(
    lines: list[str], placing: Placing, across: tuple[int, F64], top: float, count: int
) -> int:
    """One island as a grid of quads; the vertices so far are ``count``."""
    panel, s = across
    middle = float(s.mean())
    for t in np.linspace(0.0, 1.0, UP + 1):
        for share in s:
            angle = math.pi * (share + panel)
            radius = RADIUS_CM * (1.0 + (top - 1.0) * t)
            x, z = -radius * math.cos(angle), radius * math.sin(angle)
            # A vertex on the cut belongs to the island whose middle it is asked with.
            inner = np.array(share + 1e-9 * (middle - share))
            u, v = placing(panel, inner, np.array(t))
            lines.append(f"v {x:.6f} {HEIGHT_CM * t:.6f} {z:.6f}")
            lines.append(f"vt {float(u):.7f} {float(v):.7f}")
    wide = len(s)
    for row in range(UP):
        for column in range(wide - 1):
            a = count + row * wide + column + 1
            corners = (a, a + 1, a + wide + 1, a + wide)
            lines.append("f " + " ".join(f"{c}/{c}" for c in corners))
    return count + wide * (UP + 1)


@dataclass(frozen=True)
class BakedTube:
    prepared: Prepared
    maps: MapArrays


def bake_tube(folder: Path, placing: Placing, recipe: str, **mesh: bool | float) -> BakedTube:
    """Write the mesh, read a recipe of the given lines, bake its first colourway."""
    path = write_tube(folder / f"{placing.__name__}.obj", placing, **mesh)  # type: ignore[arg-type]
    text = f"garment: tube\nmesh: {path.name}\nmesh_unit: cm\n{recipe}"
    loaded = next(iter(loads(text, folder / "tube.yaml").colourways.values()))
    prepared = prepare(loaded)
    return BakedTube(prepared=prepared, maps=render(prepared, loaded))


def surface_points(count: int, *, seed: int = 3, margin: float = 0.06) -> tuple[I64, F64, F64]:
    """Random (panel, share across, share up), not too near the edges."""
    rng = np.random.default_rng(seed)
    panel = rng.integers(0, 2, count)
    s, t = rng.uniform(margin, 1.0 - margin, (2, count))
    return panel, s, t


def read_at(image: F64, placing: Placing, points: tuple[I64, F64, F64]) -> F64:
    """Bilinear read of (H, W, C) at surface points through a layout, (N, C)."""
    panel, s, t = points
    u, v = np.empty_like(s), np.empty_like(s)
    for k in (0, 1):
        at = panel == k
        u[at], v[at] = placing(k, s[at], t[at])
    size = len(image)
    x, y = u * size - 0.5, (1.0 - v) * size - 0.5
    x0, y0 = np.floor(x).astype(np.int64), np.floor(y).astype(np.int64)
    fx, fy = (x - x0)[:, None], (y - y0)[:, None]
    low = image[y0, x0] * (1 - fx) + image[y0, x0 + 1] * fx
    high = image[y0 + 1, x0] * (1 - fx) + image[y0 + 1, x0 + 1] * fx
    out: F64 = low * (1 - fy) + high * fy
    return out


def linear_albedo(maps: MapArrays) -> F64:
    """Albedo in linear light, (H, W, 3)."""
    out: F64 = np.asarray(srgb_decode(maps.albedo.astype(np.float64) / 255.0))
    return out


def lab_at(maps: MapArrays, placing: Placing, points: tuple[I64, F64, F64]) -> F32:
    """CIE Lab of the albedo at surface points, (N, 3)."""
    return linear_to_lab(read_at(linear_albedo(maps), placing, points))
