"""One loop of a knit: the path of its yarn in space, and how that looks from above.

On the face the two legs of a loop lie on top and lean apart upwards, the V of a wale: they come up
between the shoulders of the loop below, and pass in front of its head. Their own head is behind
the next loop's legs. The path is the sum of the first harmonics of a loop: across, the run along
the course and its second harmonic, which opens the legs; along the wale, one cosine; in depth, one
cosine of twice the frequency, drawn towards the shoulders. On the back, depth changes its sign:
heads and feet lie on top, as arcs.
"""

import math
from dataclasses import dataclass

import numpy as np

from texbake.arrays import F32
from texbake.cloth.hash import draws
from texbake.cloth.yarn import diameter_mm, twist_angle_rad
from texbake.recipe.values import Yarn

BULK = 1.30  # slack knitting yarn fills more room than Peirce's compact one (by eye, no source)
FLAT = 1.35  # width over thickness of a leg is its square: loops are pressed flat (by eye)
LEGS = 0.25  # how far the legs lean apart, in wales; 0.08 is upright (by eye, no source)
REACH = 2.3  # heads and feet reach over the neighbours by this many half yarns (as yarns touch)
BACK_REACH = 3.1  # on the back, heads and feet pass each other in one wavy line (by eye)
DEPTH = 0.8  # amplitude of the path in depth, in half yarns: crossing yarns nearly touch
LONE_LEGS = 0.05  # of a lone back loop, as in moss: its legs close, a bead without a hole (by eye)
PINCH, SQUAT, BUMP = 0.76, 0.66, 1.6  # how narrow, short and high it is (by eye, no source)
SHOULDER = 0.3  # how far the highest point lies above the middle of a leg (by eye)
PLY_TWIST, PLY_GROOVE = 0.65, 0.55  # as in woven; of half a thickness (by eye, no source)
PLY_TURN = 0.12  # turns: where plies lie, so that legs show a groove
POINTS = 96  # points on a loop's path: 1 % ripple at most on the yarn's top


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Path:
    """Points of one loop, mm: x from its left border, y from its middle, z towards the eye.

    All (POINTS,); ``length`` runs along the path, ``side`` points to the right of the way.
    """

    x: F32
    y: F32
    z: F32
    length: F32
    side_x: F32
    side_y: F32


@dataclass(frozen=True, slots=True, kw_only=True)
class Gauge:
    """Sizes of a loop, mm: wale and course spacing, half width and half thickness of the yarn."""

    wale_mm: float
    course_mm: float
    half_width_mm: float
    half_thick_mm: float


def gauge_of(yarn: Yarn, wale_mm: float, course_mm: float) -> Gauge:
    """Size of the yarn in a loop: it is pressed flat, but two legs always fit a wale."""
    half = 0.5 * BULK * diameter_mm(yarn.count_tex)
    width = min(half * FLAT, 0.30 * wale_mm)
    return Gauge(
        wale_mm=wale_mm,
        course_mm=course_mm,
        half_width_mm=width,
        half_thick_mm=half * half / max(width, 0.5 * half),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Shape:
    """What a loop looks like.

    Attributes
    ----------
    face : bool
        It shows its legs, not its head.
    left, right : bool
        The neighbour there is of the same kind; else the yarn passes through the cloth to it.
    slant : float
        How far it leans to the right, in wales per course.
    lone : bool
        Above and below, too, its neighbours are of the other kind, as in moss.
    """

    face: bool
    left: bool = True
    right: bool = True
    slant: float = 0.0
    lone: bool = False


def loop_path(gauge: Gauge, shape: Shape) -> Path:
    """The path of one loop, from the middle of one sinker to the middle of the next."""
    t = np.linspace(0.0, 2.0 * math.pi, POINTS, endpoint=False, dtype=np.float32)
    alone = not (shape.left or shape.right)
    reach = REACH if shape.face or alone else BACK_REACH
    half = 0.5 * gauge.course_mm + reach * 0.5 * (gauge.half_width_mm + gauge.half_thick_mm)
    bump = shape.lone and not shape.face
    legs = LONE_LEGS if bump else LEGS
    x = gauge.wale_mm * (t / (2.0 * math.pi) + legs * np.sin(2.0 * t))
    y = -half * np.cos(t)
    x += shape.slant * (gauge.wale_mm / gauge.course_mm) * y
    depth = DEPTH * gauge.half_thick_mm
    if bump:  # drawn together by its neighbours, it stands up as a bump
        x = 0.5 * gauge.wale_mm + PINCH * (x - 0.5 * gauge.wale_mm)
        y *= SQUAT
        depth *= BUMP
    z = (-depth if shape.face else depth) * np.cos(2.0 * (t - SHOULDER * np.sin(t)))
    z *= _through(t, shape)
    return path_through(x, y, z, over_mm=gauge.wale_mm)


def path_through(x: F32, y: F32, z: F32, *, over_mm: float) -> Path:
    """A path through points, mm; the next one begins ``over_mm`` to the right of its start."""
    dx, dy = (_step(v, over) for v, over in ((x, over_mm), (y, 0.0)))
    run = np.hypot(dx, dy)
    return Path(x=x, y=y, z=z, length=np.cumsum(run), side_x=dy / run, side_y=-dx / run)


def _through(t: F32, shape: Shape) -> F32:
    """0 where the yarn passes from one side of the cloth to the other, 1 on the loop itself."""
    out = np.ones_like(t)
    if not shape.left:
        out *= np.clip(t / 0.8, 0.0, 1.0)
    if not shape.right:
        out *= np.clip((2.0 * math.pi - t) / 0.8, 0.0, 1.0)
    return out


def loop_length_mm(gauge: Gauge) -> float:
    """Length of yarn in one loop, mm: what a mill calls stitch length."""
    path = loop_path(gauge, Shape(face=True))
    steps = [_step(v, over) for v, over in ((path.x, gauge.wale_mm), (path.y, 0.0), (path.z, 0.0))]
    return float(np.sqrt(sum(s * s for s in steps)).sum())


def _step(values: F32, over: float) -> F32:
    """Central difference along the path; the next loop begins ``over`` further on."""
    after = np.append(values[1:], values[0] + over)
    before = np.insert(values[:-1], 0, values[-1] - over)
    out: F32 = (0.5 * (after - before)).astype(np.float32)
    return out


def stamp(x_mm: F32, y_mm: F32, path: Path, gauge: Gauge, yarn: Yarn) -> tuple[F32, F32]:
    """Height (mm; -inf beside the yarn) and shade of a loop on a grid, row by row.

    Parameters
    ----------
    x_mm : (C,) float32
        From the loop's left border.
    y_mm : (R,) float32
        From its middle.

    Returns
    -------
    height, shade : (R, C) float32
    """
    height = np.empty((len(y_mm), len(x_mm)), np.float32)
    shade = np.empty_like(height)
    dx = x_mm[:, None] - path.x
    across2 = dx * dx
    columns = np.arange(len(x_mm))
    for k, y in enumerate(y_mm):  # a row at a time: the points of the whole grid would be large
        dy = y - path.y
        off2 = (across2 + dy * dy) / (gauge.half_width_mm * gauge.half_width_mm)
        top = np.where(off2 < 1.0, path.z + gauge.half_thick_mm * (1.0 - off2), -np.inf)
        best = top.argmax(axis=1)
        height[k] = top[columns, best]
        side = dx[columns, best] * path.side_x[best] + dy[best] * path.side_y[best]
        q = np.clip(side / gauge.half_width_mm, -1.0, 1.0)
        shade[k], groove = strands(q, path.length[best], float(path.length[-1]), yarn)
        height[k] -= PLY_GROOVE * gauge.half_thick_mm * groove
    return height, shade


def strands(q: F32, along: F32, loop_mm: float, yarn: Yarn) -> tuple[F32, F32]:
    """Shade by fibre lines, plies and roundness, and grooves of the plies, 0 to 1.

    Whole turns fit a loop, so that they run on from one to the next.
    """
    turns = math.tan(twist_angle_rad(yarn.count_tex)) / (math.pi * diameter_mm(yarn.count_tex))
    winding = max(1, round(0.8 * turns * loop_mm)) / loop_mm  # knitting yarn is softer twisted
    phase = np.arcsin(q) / (2.0 * math.pi) + (-winding if yarn.twist == "Z" else winding) * along
    lines = np.zeros_like(q)
    for m, shift in zip((4, 7), draws(2, 23), strict=True):
        lines += 0.5 * np.cos(2.0 * math.pi * (m * phase + shift))
    groove = _grooves(q, along, loop_mm, yarn, turns)
    round_ = (1.0 - np.abs(q) ** 2.2) * (1.0 - groove)
    lines *= 0.10 * (1.0 - 0.5 * min(1.0, max(0.0, yarn.lustre - 0.2)))
    shade: F32 = (0.74 + 0.26 * round_) * (1.0 + lines)
    return shade, groove


def _grooves(q: F32, along: F32, loop_mm: float, yarn: Yarn, turns: float) -> F32:
    """Depth between plies: they wind against the single yarns, less often."""
    if yarn.plies < 2:
        return np.zeros_like(q)
    winding = max(1, round(PLY_TWIST * turns * loop_mm)) / loop_mm
    winding = -winding if yarn.twist == "Z" else winding
    phase = np.arcsin(q) / (2.0 * math.pi) + winding * along + PLY_TURN
    out: F32 = 1.0 - np.sqrt(np.abs(np.sin(math.pi * yarn.plies * phase)))
    return out
