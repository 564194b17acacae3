"""Which chains and which points of a garment are creased how.

As with seams and hems: an entry speaks of all chains between the panels that it names; where
several of one kind speak of one chain, the one that names more panels counts, of equals the last.
"""

from dataclasses import replace

import numpy as np

from texbake.arrays import F64
from texbake.errors import UserError, UserErrors
from texbake.garment.closest import on_triangle
from texbake.garment.panels import face_distances, panels_named
from texbake.garment.values import Garment
from texbake.recipe.crease_values import CreasePlace
from texbake.recipe.values import Recipe
from texbake.sewing.meant import chains_meant

_FAR_MM = 30.0  # from the cloth: no place for a crease


def chains_of(garment: Garment, recipe: Recipe) -> list[tuple[int, CreasePlace]]:
    """Chains that are creased, each with its place; strengths are final.

    Raises
    ------
    UserErrors
        For places that name no panel or no chain, all at once.
    """
    chosen: dict[tuple[int, str], tuple[int, CreasePlace]] = {}
    errors = []
    for place in _places(recipe):
        if place.at is not None:
            continue
        names = place.between or place.on or ()
        unknown = [n for n in names if not panels_named(garment.panels, n)]
        found = chains_meant(garment, place.between, place.on)
        if unknown or not (found or set(names) == {"all"}):
            errors.append(_nothing(garment, recipe, place, unknown))
        rank = len(names) - list(names).count("all")
        for k in found:
            if rank >= chosen.get((k, place.kind), (0, place))[0]:
                chosen[k, place.kind] = rank, place
    if errors:
        raise UserErrors(errors)
    return [(k, place) for (k, _), (_, place) in sorted(chosen.items())]


def points_of(garment: Garment, recipe: Recipe) -> list[tuple[CreasePlace, int, F64]]:
    """Points that are creased: place, face, and where on it; strengths are final.

    Raises
    ------
    UserErrors
        For points with no cloth near them, all at once.
    """
    corners = garment.mesh.points_mm[garment.mesh.faces]
    out, errors = [], []
    for place in _places(recipe):
        if place.at is None:
            continue
        on = garment.panel >= 0
        if place.panel is not None:
            named = panels_named(garment.panels, place.panel)
            if not named:
                errors.append(_nothing(garment, recipe, place, [place.panel]))
                continue
            on = np.isin(garment.panel, named)
        point, faces = np.array(place.at), np.flatnonzero(on)
        far = face_distances(point, corners[faces])
        face = int(faces[far.argmin()])
        if far.min() > _FAR_MM:
            what = f"{place.kind}: the nearest cloth is {far.min():.0f} mm away"
            fix = "move at onto the cloth, or name the panel that it lies on"
            errors.append(UserError(what, fix=fix, path=recipe.path, line=place.line))
            continue
        shares = on_triangle(point[None], corners[face][None])[0][0]
        out.append((place, face, (shares[:, None] * corners[face]).sum(axis=0)))
    if errors:
        raise UserErrors(errors)
    return out


def _places(recipe: Recipe) -> list[CreasePlace]:
    """The places of a recipe, each with its final strength."""
    creases = recipe.creases
    if creases is None:
        return []
    return [replace(p, strength=p.strength * creases.strength) for p in creases.places]


def _nothing(garment: Garment, recipe: Recipe, place: CreasePlace, unknown: list[str]) -> UserError:
    """Say that a place is not on the garment."""
    if unknown:
        what = f"there is no panel {unknown[0]!r}"
        names = ", ".join(sorted(panel.name for panel in garment.panels))
        fix = f"the panels are {names}"
    elif place.between:
        what = "there is no seam between " + " and ".join(repr(n) for n in place.between)
        fix = "name two panels that are sewn together, or give at, a point"
    else:
        what = "no open edge on " + ", ".join(repr(n) for n in place.on or ())
        fix = "name a panel with an open edge, or give at, a point"
    return UserError(what, fix=fix, path=recipe.path, line=place.line)
