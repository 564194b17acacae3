"""Pills: small balls of fibre that rubbing raises, strewn through space.

Space is cut into turned cubes; a cube may hold one pill at a hashed place. A pill shows where the
cloth passes through its middle by less than its radius: then it is a full, soft dome around the
foot of the perpendicular. Cubes hold r pills a mm3, so a mm2 of cloth, however it lies, shows r
times twice that radius. Two panels that meet see the same pills, so none is cut at a seam.

A texel larger than a pill gets a wider and flatter dome of equal volume; far larger ones get the
mean of all pills, which is next to nothing, and their slopes go to the variance.
Size and density are the recipe's; ISO 12945 grades pilling by eye, so no number of it is used.
"""

import math
from dataclasses import dataclass

import numpy as np

from texbake.arrays import F32, I32, I64
from texbake.cloth.hash import draws, hash32
from texbake.finish.space import turn
from texbake.layout.values import Layout, Texels

ROWS = 8192  # of the table of places that cubes draw from
OFTEN = 0.55  # of the cubes that hold a pill, if they are not too small
ROOM = 2.6  # radii that a cube's side has at least
HIGH = 0.5  # height of a pill over its radius: it hangs in the cloth (by eye, no source)
REACH = 0.9  # radii from the surface within which a pill shows (half of its fall-off)
SOFT = 0.2  # radii over which it falls off there
SMALLEST = 0.5  # radius of the smallest pill over that of the largest (by eye, no source)
SHADE = 0.06  # how much pills differ in brightness, either way (by eye, no source)
ALPHA2 = 0.9**4  # fibres all ways: about as rough as felt
# A dome (1 - q^2)^2 of radius 1: volume and mean squared slope per area, from the integrals
VOLUME = math.pi / 3.0
SLOPE2 = 4.0 * math.pi / 3.0  # of |grad|^2, over the disc


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Pills:
    """All pills of one cloth.

    Attributes
    ----------
    radius_mm, cube_mm : float
    chance : float
        That a cube holds one.
    per_mm2 : float
    table : (ROWS, 6) float32
        Place in the cube (three, in mm), whether it holds one (0 to 1), brightness (-1 to 1),
        radius over ``radius_mm``.
    seed : int
    """

    radius_mm: float
    cube_mm: float
    chance: float
    per_mm2: float
    table: F32
    seed: int


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Pilled:
    """What pills add to the M texels that they touch; fields as of `Cloth`, all added but cover.

    ``shade`` is brightness less 1, ``cover`` how much of the texel is pill.
    """

    at: I64
    height_mm: F32
    slope: F32
    cover: F32
    shade: F32


def pills(per_dm2: float, diameter_mm: float, seed: int) -> Pills:
    """Strew pills.

    Parameters
    ----------
    per_dm2, diameter_mm : float
        > 0. What is denser than cubes of ROOM radii can hold gets smaller cubes.
    seed : int
    """
    radius, per_mm2 = 0.5 * diameter_mm, per_dm2 * 1e-4
    per_mm3 = per_mm2 / (2.0 * REACH * radius)
    cube = max((OFTEN / per_mm3) ** (1.0 / 3.0), ROOM * radius)
    chance = min(per_mm3 * cube**3, 1.0)
    if chance == 1.0:
        cube = max(per_mm3 ** (-1.0 / 3.0), 2.05 * radius)
    table = np.empty((ROWS, 6), np.float32)
    margin = 1.02 * radius
    for k in range(3):
        table[:, k] = margin + (cube - 2.0 * margin) * draws(ROWS, seed + 11 * k)
    table[:, 3] = draws(ROWS, seed + 71)
    table[:, 4] = 2.0 * draws(ROWS, seed + 83) - 1.0
    table[:, 5] = SMALLEST + (1.0 - SMALLEST) * draws(ROWS, seed + 97)
    return Pills(
        radius_mm=radius, cube_mm=cube, chance=chance, per_mm2=per_mm2, table=table, seed=seed
    )


def to_space(layout: Layout) -> F32:
    """Steps in space per mm of the pattern plane, of each face: (F, 3, 2) float32."""
    box, step = layout.footprint_mm.astype(np.float64), layout.to_space[:, :, :2].astype(np.float64)
    area = box[:, 0, 0] * box[:, 1, 1] - box[:, 0, 1] * box[:, 1, 0]
    scale = np.where(np.abs(area) > 1e-12, 1.0 / np.where(area == 0.0, 1.0, area), 0.0)
    inverse = np.empty_like(box)
    inverse[:, 0, 0], inverse[:, 1, 1] = box[:, 1, 1], box[:, 0, 0]
    inverse[:, 0, 1], inverse[:, 1, 0] = -box[:, 0, 1], -box[:, 1, 0]
    inverse *= scale[:, None, None]
    out = np.empty((len(box), 3, 2))
    for k in (0, 1):
        out[:, :, k] = step[:, :, 0] * inverse[:, :1, k] + step[:, :, 1] * inverse[:, 1:, k]
    return out.astype(np.float32)


def pilled(
    strewn: Pills, texels: Texels, points_mm: F32, jacobian: F32, texel_mm: F32
) -> Pilled | None:
    """Find the pills on the texels of a band; about 25 ns a texel.

    Parameters
    ----------
    strewn : Pills
    texels : Texels
        N.
    points_mm : (3, N) float32
    jacobian : (F, 3, 2) float32
        As of ``to_space``.
    texel_mm : (F,) float32
        Size of a texel on the surface.
    """
    rows, place = _cubes(strewn, points_mm)
    near = np.flatnonzero(np.take(strewn.table[:, 3], rows) < strewn.chance)
    if not near.size:
        return None
    rows = np.take(rows, near)
    away = [np.take(p, near) - np.take(strewn.table[:, k], rows) for k, p in enumerate(place)]
    far2 = away[0] * away[0] + away[1] * away[1] + away[2] * away[2]
    size = np.take(texel_mm, np.take(texels.face, near))
    close = np.flatnonzero(far2 < _wide2(strewn.radius_mm, size, strewn) + strewn.radius_mm**2)
    near, rows, size = near[close], rows[close], size[close]
    drawn = np.take(strewn.table[:, 4:], rows, 0).T
    steps = np.take(jacobian, np.take(texels.face, near), 0)
    return _domes(strewn, near, drawn, np.stack(away)[:, close], (steps, size))


def _wide2(radius_mm: F32 | float, texel_mm: F32, strewn: Pills) -> F32:
    """Square of the radius of a dome that texels see, at most what a cube holds."""
    wide2 = texel_mm * texel_mm
    wide2 *= 0.5
    wide2 += np.square(radius_mm)
    return np.minimum(wide2, (0.5 * strewn.cube_mm) ** 2)


def _cubes(strewn: Pills, points_mm: F32) -> tuple[I32, list[F32]]:
    """Row of the table that each point's cube drew, and its place in the cube, mm, turned."""
    cells, place = [], []
    for row in turn() / strewn.cube_mm:
        at = points_mm[0] * float(row[0])
        at += points_mm[1] * float(row[1])
        at += points_mm[2] * float(row[2])
        low = np.floor(at)
        at -= low
        at *= strewn.cube_mm
        place.append(at)
        cells.append(low.astype(np.int32))
    mixed = cells[1] * np.int32(7919)
    mixed += cells[2]
    key = hash32(cells[0], mixed, strewn.seed)
    key &= np.uint32(ROWS - 1)
    return key.astype(np.int32), place


def _domes(strewn: Pills, at: I64, drawn: F32, away: F32, face: tuple[F32, F32]) -> Pilled | None:
    """The domes on texels ``at``; ``away``: from the pill's middle, (3, M), turned."""
    jacobian, texel = face
    turned = turn().astype(np.float32)
    back = np.stack([sum(turned[k, j] * away[k] for k in range(3)) for j in range(3)])
    normal = np.cross(jacobian[:, :, 0], jacobian[:, :, 1]).T
    normal /= np.maximum(np.sqrt((normal * normal).sum(0)), 1e-9)
    off = (back * normal).sum(0)
    back -= normal * off
    shown = np.clip((REACH + 0.5 * SOFT - np.abs(off) / strewn.radius_mm) / SOFT, 0.0, 1.0)
    radius = strewn.radius_mm * drawn[1]
    wide2 = _wide2(radius, texel, strewn)
    left = np.maximum(1.0 - (back * back).sum(0) / wide2, 0.0)
    shown *= present(texel, strewn.cube_mm)
    hit = np.flatnonzero(left * shown)
    if not hit.size:
        return None
    left, wide2, radius = left[hit], wide2[hit], radius[hit]
    shown = shown[hit] * (radius * radius / wide2)
    high = HIGH * radius * shown
    by_space = back[:, hit] * (-4.0 * high * left / wide2)
    slope = np.stack([(jacobian[hit, :, k].T * by_space).sum(0) for k in (0, 1)])
    cover = np.minimum(1.0, 2.0 * left) * shown
    return Pilled(
        at=at[hit],
        height_mm=high * left * left,
        slope=slope,
        cover=cover,
        shade=SHADE * drawn[0, hit] * cover,
    )


def present(texel_mm: F32, cube_mm: float) -> F32:
    """1 where texels are fine enough to show pills, falling to 0 where a cube fits in a texel."""
    out: F32 = np.clip(2.0 - 4.0 * texel_mm / cube_mm, 0.0, 1.0)
    return out


def mean_height_mm(strewn: Pills) -> float:
    """Mean over the cloth of what pills add to its height."""
    cubes = float((strewn.table[:, 5] ** 3).mean())
    return strewn.per_mm2 * VOLUME * HIGH * strewn.radius_mm**3 * cubes


def mean_variance(strewn: Pills) -> float:
    """Mean over the cloth of their slope variance, both axes' mean."""
    squares = float((strewn.table[:, 5] ** 2).mean())
    return 0.5 * strewn.per_mm2 * SLOPE2 * (HIGH * strewn.radius_mm) ** 2 * squares
