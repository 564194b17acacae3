"""Folds as strokes on the surface: where each starts, which way it runs, how it fades.

A stroke is walked over the surface in steps: one step straight on in the tangent plane, then to the
nearest place of the cloth. So it goes round limbs and over seams, and stops where the cloth ends.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from texbake.arrays import F64, I32, Bool
from texbake.garment.closest import Surface, closest

_STEPS = 5  # of the longer part of a fold: its nodes
_STEP_WIDTHS = 0.5  # of its width: a step is never shorter
_STUCK = 0.5  # of a step: who moves less has come to an edge
_SEAM_MM, _SEAM_CALM = 4.0, 0.35  # a seam is stiff: a fold is lower on it, over this distance


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Strokes:
    """N folds. Lengths in mm.

    Attributes
    ----------
    start, normal, way : (N, 3) float64
        A point of the surface, its normal, and the unit vector along which the fold runs.
    ahead_mm, behind_mm : (N,) float64
        How far it runs on each side of the start.
    width_mm : (N,) float64
        Of the whole fold.
    height_mm : (N,) float64
        May be negative: a valley.
    lean : (N,) float64
        Where its valley lies: -1 on the left, 1 on the right.
    bend : (N,) float64
        Turn to the left, rad per mm.
    seam : (N,) float64
        1 where the start lies on a seam, else 0.
    """

    start: F64
    normal: F64
    way: F64
    ahead_mm: F64
    behind_mm: F64
    width_mm: F64
    height_mm: F64
    lean: F64
    bend: F64
    seam: F64


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Nodes:
    """K places on folds, each the middle of a small piece of one. Lengths in mm.

    Attributes
    ----------
    point, along, normal : (K, 3) float64
        Place and unit vectors, at right angles.
    face : (K,) int32
        That it lies on.
    step_mm : (K,) float64
        To the next node of its fold.
    width_mm, height_mm, lean : (K,) float64
        As of its fold there.
    """

    point: F64
    along: F64
    normal: F64
    face: I32
    step_mm: F64
    width_mm: F64
    height_mm: F64
    lean: F64


def joined(parts: Sequence[Strokes]) -> Strokes:
    """All strokes as one."""
    names = Strokes.__slots__
    return Strokes(**{n: np.concatenate([getattr(part, n) for part in parts]) for n in names})


def walk(on: Surface, strokes: Strokes) -> Nodes:
    """Walk every stroke over the surface, ahead and behind.

    Parameters
    ----------
    on : Surface
    strokes : Strokes

    Returns
    -------
    Nodes
        Where a fold has faded or met an edge it has no more of them.
    """
    longer = np.maximum(strokes.ahead_mm, strokes.behind_mm)
    step = np.maximum(longer / _STEPS, _STEP_WIDTHS * strokes.width_mm)
    back = replace(strokes, way=-strokes.way, bend=-strokes.bend, lean=-strokes.lean)
    parts = _one_way(on, strokes, strokes.ahead_mm, step, start=True)
    parts += _one_way(on, back, strokes.behind_mm, step, start=False)
    names = Nodes.__slots__
    return Nodes(**{n: np.concatenate([getattr(part, n) for part in parts]) for n in names})


def move(on: Surface, point: F64, normal: F64, way: F64, by_mm: F64) -> tuple[F64, F64, F64]:
    """Move points over the surface, in up to eight steps: new points, normals, ways.

    All (N, 3) float64, ``by_mm`` (N,) may be negative.
    """
    steps = 8
    for _ in range(steps):
        _, point, normal, way = _step(on, point, normal, way, by_mm / steps)
    return point, normal, way


def _one_way(on: Surface, strokes: Strokes, length: F64, step: F64, *, start: bool) -> list[Nodes]:
    """Nodes of one side of the starts, with or without the starts themselves."""
    point, normal, way = strokes.start, strokes.normal, strokes.way
    face, point, normal, way = _step(on, point, normal, way, np.zeros(len(point)))
    alive = face >= 0
    nodes = [_nodes(strokes, (face, point, normal, way), step, 0.0 * step, length, alive)]
    for k in range(1, _STEPS + 1):
        way = _turned(way, normal, strokes.bend * step)
        face, fresh, normal, ahead = _step(on, point, normal, way, step)
        moved = np.linalg.norm(fresh - point, axis=1)
        alive = alive & (face >= 0) & (moved > _STUCK * step) & (k * step < length)
        if not alive.any():
            break
        point, way = fresh, ahead
        here = face, point, normal, way
        nodes.append(_nodes(strokes, here, step, k * step, length, alive))
    return nodes if start else nodes[1:]


def _step(on: Surface, point: F64, normal: F64, way: F64, step: F64) -> tuple[I32, F64, F64, F64]:
    """One step over the surface: face, place, normal, way; face -1 where there is no cloth."""
    aim = point + way * step[:, None]
    found = closest(on, aim, normals=normal, within_mm=np.maximum(np.abs(step), 2.0))
    hit = found.face >= 0
    face = np.where(hit, found.face, 0)
    there = (found.bary[:, :, None] * on.corners_mm[face]).sum(axis=1)
    up = np.where(hit[:, None], on.normal[face], normal)
    fresh = np.where(hit[:, None], there, point)
    flat = way - (way * up).sum(axis=1, keepdims=True) * up
    size = np.linalg.norm(flat, axis=1, keepdims=True)
    ahead = np.where(size > 1e-6, flat / np.maximum(size, 1e-6), way)
    return found.face, fresh, up, ahead


def _turned(way: F64, normal: F64, angle: F64) -> F64:
    """Turn directions about the normals."""
    left = np.cross(normal, way)
    out: F64 = way * np.cos(angle)[:, None] + left * np.sin(angle)[:, None]
    return out


def _nodes(
    strokes: Strokes,
    here: tuple[I32, F64, F64, F64],
    step: F64,
    gone: F64,
    length: F64,
    alive: Bool,
) -> Nodes:
    """The nodes of strokes that are still going, ``gone`` mm from their starts."""
    face, point, normal, way = here
    share = gone / np.maximum(length, 1e-9)
    fade = np.square(np.maximum(1.0 - share * share, 0.0))
    calm = 1.0 - _SEAM_CALM * strokes.seam * np.exp(-np.square(gone / _SEAM_MM))
    keep = np.flatnonzero(alive)
    return Nodes(
        point=point[keep],
        along=way[keep],
        normal=normal[keep],
        face=face[keep],
        step_mm=step[keep],
        width_mm=(strokes.width_mm * (0.8 + 0.4 * share))[keep],
        height_mm=(strokes.height_mm * fade * calm)[keep],
        lean=strokes.lean[keep],
    )
