"""From a recipe's creases to the texels that show them."""

from collections.abc import Sequence

import numpy as np

from texbake.arrays import F64
from texbake.crease.field import Field, field, humps, read
from texbake.crease.kinds import along_chain, at_point
from texbake.crease.match import chains_of, points_of
from texbake.crease.strokes import Strokes, joined, walk
from texbake.garment.closest import Surface, surface
from texbake.garment.values import Garment
from texbake.layout import Layout, Texels, face_starts
from texbake.layout.raster import spread
from texbake.recipe.values import Recipe
from texbake.sewing.values import Sewn

_DARK = 1.1  # light that a valley loses, per slope of its flanks (by eye, no source)
_MOST_DARK = 0.4


def prepare(garment: Garment, layout: Layout, recipe: Recipe) -> Field | None:
    """Lay the creases of a recipe on a garment.

    Returns
    -------
    Field or None
        None where there are none.

    Raises
    ------
    UserErrors
        For places that are not on the garment, all at once.
    """
    if recipe.creases is None:
        return None
    on = surface(garment.mesh.points_mm[garment.mesh.faces], keep=garment.panel >= 0)
    found = [s for s in _strokes(garment, on, recipe) if s is not None and len(s.start)]
    if not found:
        return None
    return field(garment, layout, humps(walk(on, joined(found))))


def _strokes(garment: Garment, on: Surface, recipe: Recipe) -> Sequence[Strokes | None]:
    """Return the folds of every place."""
    out: list[Strokes | None] = []
    for index, place in chains_of(garment, recipe):
        if place.strength > 0.0:
            chain = garment.chains[index]
            seed = _seed(chain.points_mm.mean(axis=(0, 1)), recipe.seed)
            out.append(along_chain(garment, chain, place, seed))
    for place, face, point in points_of(garment, recipe):
        if place.strength > 0.0:
            normal = on.normal[face]
            way = _way(normal, place.direction)
            out.append(at_point(on, place, point, normal, way, _seed(point, recipe.seed)))
    return out


def _seed(point: F64, seed: int) -> int:
    """Seed that belongs to a place in space."""
    for part in np.rint(point).astype(np.int64).tolist():
        seed = (seed * 0x01000193 + part) & 0x7FFFFFFF
    return seed


def _way(normal: F64, direction: tuple[float, float, float] | None) -> F64:
    """Unit vector in the surface: as asked for, else around the body."""
    asked = np.cross([0.0, 1.0, 0.0], normal) if direction is None else np.array(direction)
    flat = asked - (asked @ normal) * normal
    if np.linalg.norm(flat) < 1e-6 * max(float(np.linalg.norm(asked)), 1e-9) or not asked.any():
        flat = np.array([1.0, 0.0, 0.0]) - normal[0] * normal
    out: F64 = flat / np.linalg.norm(flat)
    return out


def crease(texels: Texels, of: Field) -> Sewn | None:
    """Crease the texels of a band.

    Parameters
    ----------
    texels : Texels
    of : Field

    Returns
    -------
    Sewn or None
        It covers nothing and bends all; None where no texel is touched.
    """
    start = face_starts(texels.face)
    face = texels.face[start]
    length = np.diff(start, append=len(texels.face))
    hit = np.flatnonzero(of.count[face])
    if not hit.size:
        return None
    face, start, length = face[hit], start[hit], length[hit]
    at = spread(start, length)[1]
    height, *slope = read(of, face, length, texels.x_mm[at], texels.y_mm[at])
    none = np.zeros_like(height)
    np.clip(height, of.low_mm, of.high_mm, out=height)
    dark = height * (-_DARK * of.steep_per_mm)
    np.clip(dark, 0.0, _MOST_DARK, out=dark)
    return Sewn(
        at=at,
        height_mm=height,
        slope=np.stack(slope),
        variance=none,
        occlusion=1.0 - dark,
        cover=none,
        shade=none,
        thread=np.zeros(3, np.float32),
        alpha2=0.0,
        metal=0.0,
    )
