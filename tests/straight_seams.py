"""Straight seams and hems, put together by hand, and texels beside them."""

import numpy as np

from texbake.arrays import F32, I64
from texbake.garment.values import Chain
from texbake.layout.values import Near
from texbake.recipe.values import Colour, HemRecipe, SeamRecipe, Thread
from texbake.sewing.spec import SewnSpec, spec_for_hem, spec_for_seam

CREAM = Thread(colour=Colour((0.85, 0.81, 0.72)))
NAVY = (0.05, 0.09, 0.14)


def straight(length_mm: float, *, closed: bool = False, kind: str = "seam") -> Chain:
    """A chain along x, with a panel above it and, for a seam, one below."""
    ends = np.array([[[0.0, 0.0, 0.0], [length_mm, 0.0, 0.0]]])
    face = np.zeros(1, np.int32)
    return Chain(
        kind="seam" if kind == "seam" else "hem",
        panels=(0, 1 if kind == "seam" else -1),
        face=(face, face),
        pattern_mm=(ends[:, :, :2], ends[:, :, :2]),
        points_mm=ends,
        arc_mm=np.array([[0.0, length_mm]]),
        length_mm=length_mm,
        closed=closed,
    )


def grid(texel_mm: float, length_mm: float, width_mm: float) -> tuple[Near, F32]:
    """Texels above a straight chain, on side 0."""
    x = (np.arange(int(length_mm / texel_mm)) + 0.5) * texel_mm
    y = (np.arange(int(width_mm / texel_mm)) + 0.5) * texel_mm
    arc, distance = (a.ravel().astype(np.float32) for a in np.meshgrid(x, y))
    zero, one = np.zeros_like(arc), np.ones_like(arc)
    near = Near(
        at=np.arange(arc.size),
        distance_mm=distance,
        arc_mm=arc,
        away=np.stack([zero, one]),
        along=np.stack([one, zero]),
        side=np.zeros(arc.size, np.int32),
    )
    return near, np.full(arc.size, texel_mm, np.float32)


def topstitched() -> SewnSpec:
    recipe = SeamRecipe(stitch="301", tack=False, rows=2, spacing_mm=3.0, thread=CREAM)
    return spec_for_seam(straight(61.0), recipe, NAVY, 0.6, (True, True))


def large() -> SewnSpec:
    """Three times life size, as a coarse texture needs it."""
    recipe = SeamRecipe(stitch="301", tack=False, thread=CREAM, scale=3.0, from_edge_mm=4.0)
    return spec_for_seam(straight(61.0), recipe, NAVY, 0.6, (True, True))


def hemmed() -> SewnSpec:
    recipe = HemRecipe(stitch="301", tack=False, rows=1, width_mm=5.0, thread=CREAM)
    return spec_for_hem(straight(61.0, kind="hem"), recipe, NAVY, 0.6)


def part(near: Near, pick: slice | I64) -> Near:
    """Some of the texels."""
    at = near.at[pick]
    return Near(
        at=at,
        distance_mm=near.distance_mm[pick],
        arc_mm=near.arc_mm[pick],
        away=near.away[:, pick],
        along=near.along[:, pick],
        side=near.side[pick],
    )
