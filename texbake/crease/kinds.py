"""The folds of each kind: how many, how long, which way; all sizes by eye, no source.

Terms are the trade's. Drag lines leave a place where cloth is held or pulled: a seam, an edge, a
point of strain; they are longest where nothing stops them. Roping is the twist of a hem that was
turned by a little more or less than it is long. Denim wears in whiskers across the hip, honeycombs
behind the knee, and stacks where a leg or a sleeve is longer than the limb and lies in rings.

Nothing here repeats: every gap, length, height, width, turn and bend is a hash of the place's seed
and the fold's number.
"""

import math
from dataclasses import dataclass

import numpy as np

from texbake.arrays import F64, I64
from texbake.cloth.hash import hash01
from texbake.crease.strokes import Strokes, joined, move
from texbake.garment.closest import Surface
from texbake.garment.values import Chain, Garment
from texbake.recipe.crease_values import CreaseKind, CreasePlace

HEIGHT = 0.11  # of a fold's width at full strength: its flanks are then about 25 degrees steep
_SLANT_RAD = math.radians(38.0)  # of the walls of a honeycomb against the way round the limb


@dataclass(frozen=True, slots=True, kw_only=True)
class Usual:
    """Usual sizes of one kind, mm."""

    width_mm: float
    length_mm: float
    spacing_mm: float


USUAL: dict[CreaseKind, Usual] = {
    "drag lines": Usual(width_mm=13.0, length_mm=70.0, spacing_mm=19.0),
    "roping": Usual(width_mm=7.0, length_mm=13.0, spacing_mm=9.0),
    "whiskers": Usual(width_mm=11.0, length_mm=90.0, spacing_mm=15.0),
    "honeycombs": Usual(width_mm=14.0, length_mm=45.0, spacing_mm=26.0),
    "stacks": Usual(width_mm=20.0, length_mm=110.0, spacing_mm=22.0),
}


class _Dice:
    """Hashed values of the folds of one place, (N,) each; every call is another."""

    def __init__(self, count: int, seed: int) -> None:
        self.number = np.arange(count)
        self.seed = seed
        self.turn = 0

    def __call__(self, low: float, high: float) -> F64:
        """Evenly spread from low to high."""
        self.turn += 1
        return low + (high - low) * hash01(self.number, self.turn, self.seed).astype(np.float64)


def along_chain(garment: Garment, chain: Chain, place: CreasePlace, seed: int) -> Strokes | None:
    """Folds that start on a chain and run into its panels.

    Parameters
    ----------
    garment : Garment
    chain : Chain
    place : CreasePlace
        Its kind and sizes count; ``strength`` is final.
    seed : int
        The chain's own.

    Returns
    -------
    Strokes or None
        None where a chain is too short for any.
    """
    usual = _sizes(place)
    parts = []
    for side in (0, 1) if chain.panels[1] >= 0 else (0,):
        own = seed + 7919 * side
        arcs = _arcs(chain, usual.spacing_mm, own)
        if not arcs.size:
            continue
        edge = np.minimum(np.searchsorted(chain.arc_mm[:, 1], arcs), len(chain.arc_mm) - 1)
        parts.append(_from_edge(garment, chain, side, edge, arcs, place, usual, own))
    return joined(parts) if parts else None


def _from_edge(
    garment: Garment,
    chain: Chain,
    side: int,
    edge: I64,
    arcs: F64,
    place: CreasePlace,
    usual: Usual,
    seed: int,
) -> Strokes:
    """Folds of one side of a chain, from the given arcs."""
    dice = _Dice(len(arcs), seed)
    ends, span = chain.points_mm[edge], chain.arc_mm[edge]
    share = (arcs - span[:, 0]) / np.maximum(span[:, 1] - span[:, 0], 1e-9)
    start = ends[:, 0] + share[:, None] * (ends[:, 1] - ends[:, 0])
    corners = garment.mesh.points_mm[garment.mesh.faces[chain.face[side][edge]]]
    normal = _unit(np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]))
    along = _unit(ends[:, 1] - ends[:, 0])
    inward = np.cross(normal, along)
    inside = ((corners.mean(axis=1) - start) * inward).sum(axis=1)
    inward *= np.sign(inside)[:, None]
    roping = place.kind == "roping"
    # Neighbours lean alike, as they hang from one strain; a slow wave along the chain says which.
    slow = np.sin(arcs / (4.0 * usual.length_mm) + 6.0 * hash01(np.arange(1), 91, seed)[0])
    tilt = dice(0.6, 0.95) if roping else 0.35 * slow + dice(-0.4, 0.4)
    way = inward * np.cos(tilt)[:, None] + along * np.sin(tilt)[:, None]
    short = dice(0.0, 1.0)
    length = usual.length_mm * (dice(0.8, 1.2) if roping else 0.3 + 0.7 * short * short)
    width = usual.width_mm * (dice(0.8, 1.2) if roping else 0.55 + 0.8 * short) * dice(0.85, 1.15)
    size = dice(0.7, 1.0) if roping else dice(0.35, 1.0)
    return Strokes(
        start=start,
        normal=normal,
        way=way,
        ahead_mm=np.maximum(length, 1.2 * width),
        behind_mm=np.zeros_like(length) if chain.panels[1] < 0 else length * dice(0.1, 0.4),
        width_mm=width,
        height_mm=HEIGHT * place.strength * width * size,
        lean=np.ones_like(length) if roping else np.sign(dice(-1.0, 1.0)) * dice(0.5, 1.0),
        bend=dice(-0.5, 0.5) / usual.length_mm,
        seam=np.full(len(arcs), float(chain.panels[1] >= 0)),
    )


def _arcs(chain: Chain, spacing_mm: float, seed: int) -> F64:
    """Uneven places along a chain, some of them close together."""
    # A chain shorter than the spacing has a fold as often as it is long: many short ones in a row
    # are creased like a long one.
    count = int(chain.length_mm / spacing_mm + float(hash01(np.arange(1), 92, seed)[0]))
    gap = 0.25 + 1.5 * hash01(np.arange(count + 1), 90, seed).astype(np.float64)
    place = np.cumsum(gap)
    if chain.closed:
        return np.asarray(place[:count] * (chain.length_mm / place[-1]))
    return np.asarray((place[:count] - 0.5 * gap[0]) * (chain.length_mm / place[-1]))


def at_point(
    on: Surface, place: CreasePlace, point: F64, normal: F64, way: F64, seed: int
) -> Strokes:
    """Folds round a point.

    Parameters
    ----------
    on : Surface
    place : CreasePlace
    point, normal, way : (3,) float64
        On the surface; ``way`` is the unit vector in it along which folds run.
    seed : int
    """
    usual = _sizes(place)
    if place.kind == "drag lines":
        return _rays(on, place, usual, point, normal, way, seed)
    along, aside, turn = _grid(place, usual, seed)
    dice = _Dice(len(along), seed)
    far = np.hypot(along / 1.4, aside) / place.radius_mm
    keep = far < 1.0
    start, up, ahead = _placed(on, point, normal, way, along, aside)
    left = np.cross(up, ahead)
    heading = ahead * np.cos(turn)[:, None] + left * np.sin(turn)[:, None]
    half = 0.5 * usual.length_mm * dice(0.6, 1.1)
    width = usual.width_mm * dice(0.7, 1.2)
    fade = np.square(np.maximum(1.0 - far * far, 0.0))
    strokes = Strokes(
        start=start,
        normal=up,
        way=heading,
        ahead_mm=np.maximum(half, width),
        behind_mm=np.maximum(half, width) * dice(0.7, 1.0),
        width_mm=width,
        height_mm=HEIGHT * place.strength * width * dice(0.5, 1.0) * (0.25 + 0.75 * fade),
        lean=np.sign(dice(-1.0, 1.0)) * dice(0.3, 1.0),
        bend=dice(-0.6, 0.6) / usual.length_mm,
        seam=np.zeros_like(half),
    )
    return Strokes(**{n: getattr(strokes, n)[keep] for n in Strokes.__slots__})


def _grid(place: CreasePlace, usual: Usual, seed: int) -> tuple[F64, F64, F64]:
    """Middles of folds along and aside of the way round, mm, and how far each is turned, rad."""
    rows = max(1, math.ceil(2.0 * place.radius_mm / usual.spacing_mm))
    row = np.arange(rows) - 0.5 * (rows - 1)
    if place.kind == "honeycombs":  # two walls to a cell, cells staggered from row to row
        cells = max(1, math.ceil(2.8 * place.radius_mm / usual.length_mm))
        r, c = (g.ravel() for g in np.meshgrid(row, np.arange(2 * cells) - cells, indexing="ij"))
        dice = _Dice(len(r), seed + 1)
        odd = np.mod(np.arange(len(r)) // (2 * cells) + np.arange(len(r)), 2.0)
        along = 0.62 * usual.length_mm * (c + 0.5) + usual.length_mm * dice(-0.14, 0.14)
        aside = usual.spacing_mm * (r + dice(-0.2, 0.2))
        return along, aside, (2.0 * odd - 1.0) * _SLANT_RAD + dice(-0.2, 0.2)
    dice = _Dice(rows, seed + 1)
    aside = usual.spacing_mm * (row + dice(-0.35, 0.35))
    if place.kind == "whiskers":  # a fan: the outer ones spread
        return dice(-0.2, 0.2) * usual.length_mm, aside, 0.35 * aside / place.radius_mm
    return dice(-0.6, 0.6) * usual.length_mm, aside, dice(-0.22, 0.22)


def _placed(
    on: Surface, point: F64, normal: F64, way: F64, along: F64, aside: F64
) -> tuple[F64, F64, F64]:
    """Move from a point aside, then along: points, normals, ways."""
    many = (len(along), 3)
    left = np.broadcast_to(np.cross(normal, way), many)
    start, up = np.broadcast_to(point, many), np.broadcast_to(normal, many)
    start, up, left = move(on, start, up, left, aside)
    return move(on, start, up, np.cross(left, up), along)


def _rays(
    on: Surface, place: CreasePlace, usual: Usual, point: F64, normal: F64, way: F64, seed: int
) -> Strokes:
    """Drag lines from a point of strain: to all sides, or in a fan where a way is given."""
    fan = math.pi if place.direction is None else math.radians(50.0)
    least = 0.12 * place.radius_mm
    count = max(3, round(2.0 * fan * 0.45 * place.radius_mm / usual.spacing_mm))
    dice = _Dice(count, seed)
    turn = fan * (2.0 * (np.arange(count) + dice(0.1, 0.9)) / count - 1.0)
    left = np.cross(normal, way)
    heading = way * np.cos(turn)[:, None] + left * np.sin(turn)[:, None]
    many = (count, 3)
    start, up = np.broadcast_to(point, many), np.broadcast_to(normal, many)
    length = place.radius_mm * dice(0.4, 1.0)
    width = usual.width_mm * dice(0.6, 1.1)
    start, up, heading = move(on, start, up, heading, least + 0.3 * length * dice(0.3, 1.0))
    return Strokes(
        start=start,
        normal=up,
        way=heading,
        ahead_mm=length,
        behind_mm=0.4 * length,
        width_mm=width,
        height_mm=HEIGHT * place.strength * width * dice(0.4, 1.0),
        lean=np.sign(dice(-1.0, 1.0)) * dice(0.5, 1.0),
        bend=dice(-0.5, 0.5) / place.radius_mm,
        seam=np.zeros(count),
    )


def _sizes(place: CreasePlace) -> Usual:
    """Sizes of a place: its own, else usual."""
    usual = USUAL[place.kind]
    return Usual(
        width_mm=place.width_mm or usual.width_mm,
        length_mm=place.length_mm or usual.length_mm,
        spacing_mm=place.spacing_mm or usual.spacing_mm,
    )


def _unit(vector: F64) -> F64:
    size = np.linalg.norm(vector, axis=-1, keepdims=True)
    out: F64 = vector / np.where(size > 0.0, size, 1.0)
    return out
