"""The slow steps before the first texel, each kept in the user's cache folder.

What depends on mesh and layout only (flattening, raster), on the cloth only (filtered tiles,
streaks), and on a stitch's measures only is the same in the next bake.
"""

from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import lru_cache
from typing import TYPE_CHECKING

from texbake import cloth
from texbake.arrays import F32, F64, I32, Bool
from texbake.garment.known import Known
from texbake.garment.values import Chain, Garment, Mesh
from texbake.layout import Layout, Reach, lay_out
from texbake.recipe import Fabric, Recipe
from texbake.sewing import details, reach, stitch_types
from texbake.sewing.reach import reach_facts
from texbake.sewing.spec import SewnSpec
from texbake.sewing.sums import Plane
from texbake.store import Store

if TYPE_CHECKING:
    from texbake import crease


def garment(store: Store, mesh: Mesh, recipe: Recipe, known: Known | None = None) -> Garment:
    """`garment.build_garment`, kept by the mesh and what is known or said of panels."""
    names_known = set() if known is None else {panel.name for panel in known.panels}
    panels = {name: entry for name, entry in recipe.panels.items() if name not in names_known}

    def made() -> tuple[object, ...]:
        from texbake.garment.build import build_garment

        built = build_garment(mesh, panels, path=recipe.path, known=known)
        return tuple(getattr(built, name) for name in names)

    names = ("weld", "island", "panel", "panels", "pattern_mm", "chains", "notes")
    arrays = (
        *(mesh.points_mm, mesh.faces, mesh.uv, mesh.polygon),
        *(mesh.object_of, mesh.group_of, mesh.material_of),
    )
    words = (mesh.objects, mesh.groups, mesh.materials, mesh.notes, mesh.tile, mesh.unit_mm)
    parts = (*arrays, words, mesh.up, panels, *_known_parts(known))
    values = store.keep("garment", parts, made)
    return Garment(mesh=mesh, **dict(zip(names, values, strict=True)))  # type: ignore[arg-type]


def _known_parts(known: Known | None) -> tuple[object, ...]:
    if known is None:
        return ()
    words = tuple((panel.name, panel.grain_rad, panel.line) for panel in known.panels)
    return (known.face, words, *(panel.sewn_mm for panel in known.panels))


def layout(store: Store, built: Garment, size_px: int, gutter_px: int) -> Layout:
    """`layout.lay_out`, kept by all that it reads of the garment."""
    mesh = built.mesh
    parts = (mesh.points_mm, mesh.faces, mesh.uv, built.island, built.panel, built.pattern_mm)
    return store.keep(
        "layout",
        (*parts, size_px, gutter_px),
        lambda: lay_out(built, size_px, gutter_px=gutter_px),
    )


def weaver(
    store: Store, fabric: Fabric, laid: Layout, worn: Bool, shift: F32, seed: int
) -> cloth.Weaver:
    """`cloth.prepare`, kept by the fabric without its colours and by the texels' footprints."""
    return store.keep(
        "cloth",
        (replace(fabric.undyed, line=None), laid.footprint_mm, worn, shift, seed),
        lambda: cloth.prepare(fabric, laid, worn, shift, seed),
    )


def reaches(store: Store, built: Garment, sewn: Sequence[SewnSpec]) -> tuple[Reach, ...]:
    """`sewing.reach.reaches`, kept by the flattened garment and how far each chain reaches."""
    parts = (built.weld, built.panel, built.pattern_mm, _chains(built), reach_facts(sewn))
    return store.keep("reach", parts, lambda: reach.reaches(built, sewn))


def creases(store: Store, built: Garment, laid: Layout, recipe: Recipe) -> "crease.Field | None":
    """`crease.prepare`, kept by the garment, the texels' footprints and what is creased."""
    asked = recipe.creases
    if asked is None:
        return None
    from texbake import crease

    bare = replace(asked, places=tuple(replace(place, line=None) for place in asked.places))
    names = tuple(panel.name for panel in built.panels)
    mesh = (built.mesh.points_mm, built.mesh.faces, built.weld, built.panel, built.pattern_mm)
    parts = (*mesh, names, _chains(built), laid.footprint_mm, laid.texel_mm, bare, recipe.seed)
    return store.keep("crease", parts, lambda: crease.prepare(built, laid, recipe))


def _chains(built: Garment) -> tuple[object, ...]:
    """All that chains are."""
    return tuple(
        (chain.kind, chain.panels, chain.closed, *(array.tobytes() for array in _arrays(chain)))
        for chain in built.chains
    )


def _arrays(chain: Chain) -> tuple[F64 | I32, ...]:
    return (*chain.face, *chain.pattern_mm, chain.points_mm, chain.arc_mm)


def stitches(store: Store) -> Callable[[str, bool, float, float, float], Plane]:
    """`sewing.stitch_types.stitches`, kept by its arguments."""

    def draw(number: str, inside: bool, *mm: float) -> Plane:  # as the original
        return _stitch(store, number, inside, mm)

    return draw


@lru_cache(maxsize=16)  # of about 1 MiB; all colourways of a run have the same few
def _stitch(store: Store, number: str, inside: bool, mm: tuple[float, float, float]) -> Plane:
    """Draw one kind of stitch, or take it from where it is kept."""
    return store.keep(
        "stitch",
        (number, inside, mm),
        lambda: stitch_types.stitches(number, inside, *mm),
    )


def tacks(store: Store) -> Callable[[str, float, float, float], Plane]:
    """`sewing.details.draw`, kept by its arguments."""

    def draw(kind: str, diameter_mm: float, length_mm: float, width_mm: float) -> Plane:
        return store.keep(
            "detail",
            (kind, diameter_mm, length_mm, width_mm),
            lambda: details.draw(kind, diameter_mm, length_mm, width_mm),
        )

    return draw
