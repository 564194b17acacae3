"""How a recipe can point at a panel so that it finds the same again.

A name of material, group or object is best, as it survives any change of shape. Where none belongs
to one panel alone, it is a point on the cloth, as far from other panels as the panel allows; where
cloth lies on cloth and no point can tell, the number of the island.
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from texbake.arrays import F64, I64
from texbake.garment.names import Places, island_places
from texbake.garment.panels import face_distances
from texbake.garment.values import Garment, Panel
from texbake.recipe.axes import to_y_up
from texbake.recipe.values import Up
from texbake.starter.quoting import scalar

# As shares of the garment's diagonal: a point this much nearer to its panel than to any other is
# safe; one less than this is a guess. Picking itself takes 1e-6 for a tie.
SAFE, LEAST = 0.01, 1e-5
_TRIES = 24
_OUTWARDS = (("right", "left"), ("down", "up"), ("back", "front"))


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Cloth:
    """A garment's usable faces, for picking.

    Attributes
    ----------
    corners_mm : (K, 3, 3) float64
    panel : (K,) int
    places : Places
        Of islands.
    unit_mm : float
        What the garment was read with.
    up : str
    """

    corners_mm: F64
    panel: I64
    places: Places
    unit_mm: float
    up: Up


def cloth_of(garment: Garment, *, unit_mm: float, up: Up) -> Cloth:
    """Gather what picking needs."""
    usable = garment.panel >= 0
    return Cloth(
        corners_mm=garment.mesh.points_mm[garment.mesh.faces[usable]],
        panel=garment.panel[usable].astype(np.int64),
        places=island_places(garment.mesh, garment.island, usable),
        unit_mm=unit_mm,
        up=up,
    )


def pick(garment: Garment, cloth: Cloth, index: int) -> str:
    """Return the keys that find a panel, as they stand between braces in a recipe.

    Parameters
    ----------
    garment : Garment
    cloth : Cloth
        From ``cloth_of``.
    index : int
        Of the panel.

    Returns
    -------
    str
        ``material: lining``, ``at: [0, 120, 14]``, ``island: 3`` or ``islands: [2, 5]``.
    """
    panel = garment.panels[index]
    if len(panel.islands) > 1:
        return f"islands: [{', '.join(map(str, panel.islands))}]"
    named = _own_name(garment, panel, index)
    if named is not None:
        return named
    point = point_on(cloth, index)
    if point is None:
        return f"island: {panel.islands[0]}"
    return f"at: [{', '.join(point)}]"


def _own_name(garment: Garment, panel: Panel, index: int) -> str | None:
    """Return a name in the mesh that all of a panel has and no other panel."""
    mesh = garment.mesh
    other = np.flatnonzero((garment.panel >= 0) & (garment.panel != index))
    for kind, names, of in (
        ("material", mesh.materials, mesh.material_of),
        ("group", mesh.groups, mesh.group_of),
        ("object", mesh.objects, mesh.object_of),
    ):
        mine = {names[k] for k in np.unique(of[panel.faces]).tolist()}
        if len(mine) != 1 or mine & {names[k] for k in np.unique(of[other]).tolist()}:
            continue
        (name,) = mine
        if writable(name):
            return f"{kind}: {scalar(name)}"
    return None


def writable(name: str) -> bool:
    """Say whether a recipe can write a name: it reads names without blanks around them."""
    return 0 < len(name) <= 200 and name == name.strip() and name.isprintable()


def point_on(cloth: Cloth, index: int) -> tuple[str, str, str] | None:
    """Find a point that only this panel is near to, in the mesh's own unit and axes.

    Returns
    -------
    tuple of three str or None
        Numbers with as few decimals as the choice allows, at most a ten-thousandth of the
        garment each. None if another panel lies on this one.
    """
    diagonal = cloth.places.diagonal_mm
    places = max(0, min(6, math.ceil(4.0 - math.log10(max(diagonal / cloth.unit_mm, 1e-9)))))
    for decimals in (places, places + 1, places + 2):
        best, most = None, LEAST * diagonal
        for point in _candidates(cloth, index):
            rounded = np.round(point / cloth.unit_mm, decimals)
            spare = _spare_mm(cloth, rounded * cloth.unit_mm, index)
            if spare > most:
                best, most = rounded, spare
            if most >= SAFE * diagonal:
                break
        if best is not None:
            return _written(best, decimals, cloth.up)
    return None


def _candidates(cloth: Cloth, index: int) -> Iterator[F64]:
    """Yield middles of faces: the one nearest to the panel's median first, then some all over."""
    corners = cloth.corners_mm[cloth.panel == index]
    middle = corners.mean(axis=1)
    area = np.linalg.norm(
        np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]), axis=1
    )
    median = np.array([_median(middle[:, axis], area) for axis in range(3)])
    order = np.argsort(np.linalg.norm(middle - median, axis=1), kind="stable")
    step = max(1, len(order) // _TRIES)
    yield from middle[order[::step]]


def _median(values: F64, weight: F64) -> float:
    """Return the weighted median."""
    order = np.argsort(values, kind="stable")
    upto = np.cumsum(weight[order])
    half = int(np.searchsorted(upto, 0.5 * float(upto[-1])))
    return float(values[order[min(half, len(order) - 1)]])


def _spare_mm(cloth: Cloth, point_mm: F64, index: int) -> float:
    """Return how much nearer a point is to its panel than to any other, mm."""
    distance = face_distances(point_mm, cloth.corners_mm)
    own = cloth.panel == index
    others = distance[~own]
    far = float(others.min()) if len(others) else cloth.places.diagonal_mm
    return far - float(distance[own].min())


def _written(point: F64, decimals: int, up: Up) -> tuple[str, str, str]:
    """Write a point, turned back to the file's own axes."""
    turn = to_y_up(np.eye(3), up)  # row k: where the file's axis k points
    x, y, z = (f"{v + 0.0:.{decimals}f}" for v in (turn @ point).tolist())
    return x, y, z


def whereabouts(cloth: Cloth, panel: Panel) -> str:
    """Say in words where a panel lies, seen by the wearer: ``top left, faces front``."""
    places = cloth.places
    islands = list(panel.islands)
    middle = places.middle[islands].mean(axis=0)
    half = np.maximum((places.high - places.low) / 2, 1e-300)
    x, y, _ = ((middle - (places.low + places.high) / 2) / half).tolist()
    level = "top" if y > 1 / 3 else "bottom" if y < -1 / 3 else "middle"
    side = "left" if x > 0.25 else "right" if x < -0.25 else ""
    outside = places.outside[islands].mean(axis=0)
    axis = int(np.abs(outside).argmax())
    if abs(outside[axis]) < 0.3:
        facing = "goes all round"
    else:
        facing = f"faces {_OUTWARDS[axis][int(outside[axis] >= 0)]}"
    return f"{f'{level} {side}'.strip()}, {facing}"
