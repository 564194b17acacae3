"""From what the file says of sewing and creases to the values that the other stages use."""

from pathlib import Path
from typing import Any

import numpy as np

from texbake.recipe import models
from texbake.recipe.axes import default_unit_mm, to_y_up
from texbake.recipe.crease_keys import CreasePlaceKeys
from texbake.recipe.crease_values import CreasePlace, CreaseRecipe
from texbake.recipe.sewing_keys import DetailKeys, HemKeys, SeamKeys, Stitching, ThreadKeys
from texbake.recipe.tree import Node, find
from texbake.recipe.values import DetailRecipe, HemRecipe, SeamRecipe, Thread, Triple


def line_of(tree: Node, *at: int | str) -> int | None:
    """Return the line of a key, or None where the recipe does not have it."""
    node = find(tree, at)
    return None if node is None else home_of(node)


def home_of(node: Node) -> int:
    """Return the line of a key in the recipe; of another file's, that which names the file."""
    return node.home or node.key_line


def in_space(point: Triple, recipe: models.RecipeKeys) -> Triple:
    """Return a point of the mesh file in mm, +Y up, as the mesh itself will be read."""
    unit = recipe.mesh_unit
    unit_mm = default_unit_mm(Path(recipe.mesh)) if unit is None else unit
    x, y, z = to_y_up(np.array([point]) * unit_mm, recipe.up)[0].tolist()
    return x, y, z


def _thread(keys: ThreadKeys) -> Thread:
    return Thread(colour=keys.colour, count_tex=keys.count, metallic=keys.metallic)


def detail_of(keys: DetailKeys, recipe: models.RecipeKeys, line: int | None) -> DetailRecipe:
    """Return a bar tack or buttonhole."""
    return DetailRecipe(
        kind=keys.kind,
        at=None if keys.at is None else in_space(keys.at, recipe),
        between=keys.between,
        on=keys.on,
        shares=keys.share or (),
        every_mm=keys.every,
        from_edge_mm=keys.from_edge,
        panel=keys.panel,
        angle_rad=keys.angle,
        length_mm=keys.length,
        width_mm=keys.width,
        thread=_thread(keys.thread),
        scale=keys.scale,
        line=line,
    )


def details_of(keys: models.RecipeKeys, tree: Node) -> tuple[DetailRecipe, ...]:
    """Return bar tacks and buttonholes."""
    return tuple(
        detail_of(detail, keys, line_of(tree, "details", k))
        for k, detail in enumerate(keys.details)
    )


def creases_of(recipe: models.RecipeKeys, tree: Node) -> CreaseRecipe | None:
    """Return the creases; places left out are all seams and all open edges."""
    keys = recipe.creases
    if keys is None:
        return None
    if keys.places is None:
        everywhere = CreasePlace(between=("all", "all")), CreasePlace(on=("all",))
        return CreaseRecipe(strength=keys.strength, places=everywhere)
    lines = [line_of(tree, "creases", "places", k) for k in range(len(keys.places))]
    places = tuple(_crease(*each, recipe) for each in zip(keys.places, lines, strict=True))
    return CreaseRecipe(strength=keys.strength, places=places)


def _crease(keys: CreasePlaceKeys, line: int | None, recipe: models.RecipeKeys) -> CreasePlace:
    way = keys.direction
    return CreasePlace(
        kind=keys.kind,
        between=keys.between,
        on=keys.on,
        at=None if keys.at is None else in_space(keys.at, recipe),
        direction=None if way is None else in_space(way, recipe),
        panel=keys.panel,
        radius_mm=keys.radius,
        strength=keys.strength,
        width_mm=keys.width,
        length_mm=keys.length,
        spacing_mm=keys.spacing,
        line=line,
    )


def _stitching(keys: Stitching, line: int | None) -> dict[str, Any]:
    return {
        "stitch": keys.stitch,
        "seen": keys.seen,
        "gauge_mm": keys.gauge,
        "trim": keys.trim,
        "cloth": keys.cloth,
        "tack": keys.tack,
        "pucker": keys.pucker,
        "rows": keys.rows,
        "length_mm": keys.length,
        "from_edge_mm": keys.from_edge,
        "spacing_mm": keys.spacing,
        "thread": _thread(keys.thread),
        "scale": keys.scale,
        "line": line,
    }


def seam_of(seam: SeamKeys, line: int | None) -> SeamRecipe:
    """Return how seams are made."""
    return SeamRecipe(
        between=seam.between,
        side=seam.side,
        groove_mm=seam.groove,
        construction=seam.construction,
        cord_mm=seam.cord,
        **_stitching(seam, line),
    )


def hem_of(hem: HemKeys, line: int | None) -> HemRecipe:
    """Return how open edges are finished."""
    return HemRecipe(
        on=hem.on,
        width_mm=hem.width,
        construction=hem.construction,
        fold_mm=hem.fold,
        **_stitching(hem, line),
    )


def seams_of(keys: list[SeamKeys] | None, tree: Node) -> tuple[SeamRecipe, ...]:
    """Return the seams; left out, all seams are sewn from inside and show no stitches."""
    if keys is None:
        return (SeamRecipe(between=("all", "all"), stitch=None),)
    return tuple(seam_of(seam, line_of(tree, "seams", k)) for k, seam in enumerate(keys))


def hems_of(keys: list[HemKeys] | None, tree: Node) -> tuple[HemRecipe, ...]:
    """Return the hems; left out, every open edge is turned in 12 mm and stitched."""
    if keys is None:
        return (HemRecipe(on=("all",), stitch="301", width_mm=12.0),)
    return tuple(hem_of(hem, line_of(tree, "hems", k)) for k, hem in enumerate(keys))
