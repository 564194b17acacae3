"""Where details lie: at a point of the cloth, or at places along an edge or a seam.

Along a chain a place is a share of its arc length, or one of many at even distances; from there it
lies so far into the cloth, in the pattern plane, as the recipe says. None sticks out over an end
of its chain: bar tacks at 0 % and 100 % of a pocket's opening lie just inside its corners.
"""

import math
from dataclasses import dataclass

import numpy as np

from texbake.arrays import F64
from texbake.garment.panels import face_distances, panels_named
from texbake.garment.values import Chain, Garment
from texbake.recipe.values import DetailRecipe
from texbake.sewing.meant import chains_meant, distance_mm

_FAR_MM = 30.0  # from the cloth: no place for a detail


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Spot:
    """Where one detail lies.

    Attributes
    ----------
    panel : int
    centre, along : (2,) float64
        In the pattern plane: its middle, mm, and the unit vector along it.
    """

    panel: int
    centre: F64
    along: F64


@dataclass(frozen=True, slots=True, kw_only=True)
class Lost:
    """Why an entry lies nowhere, and what helps."""

    what: str
    fix: str


def spots(garment: Garment, entry: DetailRecipe, size_mm: tuple[float, float]) -> list[Spot] | Lost:
    """Find where an entry's details lie.

    Parameters
    ----------
    garment : Garment
    entry : DetailRecipe
    size_mm : (float, float)
        Length and width of a detail.

    Returns
    -------
    list of Spot, or Lost
        In the order of chains and along each.
    """
    if entry.panel is not None and not panels_named(garment.panels, entry.panel):
        names = ", ".join(sorted(panel.name for panel in garment.panels))
        return Lost(what=f"there is no panel {entry.panel!r}", fix=f"the panels are {names}")
    if entry.on is None and entry.between is None:
        return _at_point(garment, entry)
    found = chains_meant(garment, entry.between, entry.on)
    if entry.at is not None:
        point = np.array(entry.at)
        found = sorted(found, key=lambda k: distance_mm(garment.chains[k], point))[:1]
    chains = [(garment.chains[k], _side(garment, garment.chains[k], entry)) for k in found]
    out = [s for c, side in chains if side >= 0 for s in _along(garment, c, side, entry, size_mm)]
    return out or _no_chain(entry)


def _no_chain(entry: DetailRecipe) -> Lost:
    """Say that there is no such edge or seam."""
    names = " and ".join(repr(name) for name in entry.between or entry.on or ())
    if entry.between is None:
        return Lost(what=f"no open edge on {names}", fix="name a panel that has one, or give at")
    own = "" if entry.panel is None else f" that lies on {entry.panel!r}"
    fix = "name two panels that are sewn together, or give at"
    return Lost(what=f"there is no seam between {names}{own}", fix=fix)


def _side(garment: Garment, chain: Chain, entry: DetailRecipe) -> int:
    """Side of a chain that a detail lies on; -1 for none."""
    if chain.panels[1] < 0:
        wanted = entry.panel
    else:
        first = (entry.between or ("all",))[0]
        wanted = entry.panel or first
    named = range(len(garment.panels)) if wanted is None else panels_named(garment.panels, wanted)
    return next((side for side in (0, 1) if chain.panels[side] in named), -1)


def _along(
    garment: Garment, chain: Chain, side: int, entry: DetailRecipe, size_mm: tuple[float, float]
) -> list[Spot]:
    """Places along one side of a chain."""
    edges = chain.pattern_mm[side]
    flat = np.linalg.norm(edges[:, 1] - edges[:, 0], axis=1)
    own = np.flatnonzero(flat > 0.0)
    turn = np.array(
        [
            [math.cos(entry.angle_rad), -math.sin(entry.angle_rad)],
            [math.sin(entry.angle_rad), math.cos(entry.angle_rad)],
        ]
    )
    out = []
    for arc in _arcs(chain, entry, size_mm):
        k = int(own[min(int(np.searchsorted(chain.arc_mm[own, 1], arc)), len(own) - 1)])
        span = chain.arc_mm[k]
        share = min(max((arc - span[0]) / (span[1] - span[0]), 0.0), 1.0)
        way = (edges[k, 1] - edges[k, 0]) / flat[k]
        inward = np.array([-way[1], way[0]])
        inside = garment.pattern_mm[chain.face[side][k]].mean(axis=0) - edges[k, 0]
        if inward @ inside < 0.0:
            inward = -inward
        foot = edges[k, 0] + share * (edges[k, 1] - edges[k, 0])
        centre = foot + entry.from_edge_mm * inward
        out.append(Spot(panel=chain.panels[side], centre=centre, along=turn @ way))
    return out


def _arcs(chain: Chain, entry: DetailRecipe, size_mm: tuple[float, float]) -> list[float]:
    """Arc lengths of places along a chain."""
    length = chain.length_mm
    if entry.every_mm is not None and entry.shares:
        low, high = entry.shares
        count = max(1, round((high - low) * length / entry.every_mm))
        return [(low + (high - low) * k / count) * length for k in range(count + 1)]
    if entry.every_mm is not None:
        count = max(1, round(length / entry.every_mm))
        return [(k + 0.5) * length / count for k in range(count)]
    if chain.closed:
        return [share * length for share in entry.shares]
    ahead, aside = abs(math.cos(entry.angle_rad)), abs(math.sin(entry.angle_rad))
    half = min(0.5 * (size_mm[0] * ahead + size_mm[1] * aside), 0.5 * length)
    return [min(max(share * length, half), length - half) for share in entry.shares]


def _at_point(garment: Garment, entry: DetailRecipe) -> list[Spot] | Lost:
    """The place of the cloth that is nearest to a point."""
    on = garment.panel >= 0
    if entry.panel is not None:
        on = np.isin(garment.panel, panels_named(garment.panels, entry.panel))
    faces, point = np.flatnonzero(on), np.array(entry.at)
    far = face_distances(point, garment.mesh.points_mm[garment.mesh.faces[faces]])
    best = int(far.argmin())
    if far[best] > _FAR_MM:
        what = f"{entry.kind}: the nearest cloth is {far[best]:.0f} mm away"
        return Lost(what=what, fix="move at onto the cloth, or name the panel that it lies on")
    face = int(faces[best])
    along = np.array([-math.sin(entry.angle_rad), math.cos(entry.angle_rad)])
    centre = _on_pattern(garment, face, point)
    return [Spot(panel=int(garment.panel[face]), centre=centre, along=along)]


def _on_pattern(garment: Garment, face: int, point: F64) -> F64:
    """Place in the pattern plane of the foot of a point on a face's plane."""
    a, b, c = garment.mesh.points_mm[garment.mesh.faces[face]]
    shares, *_ = np.linalg.lstsq(np.stack([b - a, c - a], axis=1), point - a, rcond=None)
    flat = garment.pattern_mm[face]
    out: F64 = flat[0] + shares[0] * (flat[1] - flat[0]) + shares[1] * (flat[2] - flat[0])
    return out
