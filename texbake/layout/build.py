"""From a garment to its texels at one size."""

import numpy as np

from texbake.arrays import I32, I64
from texbake.errors import UserError
from texbake.garment.values import Garment
from texbake.layout import border, raster
from texbake.layout.gutter import gutter
from texbake.layout.tables import tables
from texbake.layout.values import Layout, Overlap

SIZES_PX = (16, 16384)


def lay_out(garment: Garment, size_px: int, *, gutter_px: int) -> Layout:
    """Find which face lies at each texel, and the tables that place texels on the cloth.

    Parameters
    ----------
    garment : Garment
        Faces of panel -1 are left out. Islands may be mirrored and may overlap: the lower face
        number then wins, and ``Layout.overlaps`` counts the texels.
    size_px : int
        Width and height, 16 to 16384.
    gutter_px : int
        >= 0; mip levels k with 2**k up to it stay clean.

    Returns
    -------
    Layout

    Raises
    ------
    ValueError
        For a size or gutter out of range.
    UserError
        Where UVs of a face in the image reach hundreds of tiles away.
    """
    low, high = SIZES_PX
    if not low <= size_px <= high:
        raise ValueError(f"size_px is {size_px}; it must be {low} to {high}")
    try:
        snapped = raster.snap(garment.mesh.uv, garment.panel, size_px)
    except ValueError as error:
        fix = "move the islands into 0..1, or name the right UV set and tile"
        raise UserError(str(error), fix=fix, path=garment.mesh.path) from error
    face, overlaps = raster.paint(snapped, size_px, garment.panel)
    partial = _add_partial(face, snapped, garment.island)
    table = tables(garment, snapped)
    to, source = gutter(face, gutter_px)
    return Layout(
        size_px=size_px,
        face=face,
        partial=partial,
        to_pattern=table.to_pattern,
        to_space=table.to_space,
        footprint_mm=table.footprint_mm,
        frame=table.frame,
        texel_mm=table.texel_mm,
        gutter_to=to,
        gutter_from=source,
        overlaps=tuple(Overlap(panels=p, texels=n) for p, n in overlaps.items()),
    )


def _add_partial(face: I32, snapped: raster.Snapped, island: I32) -> I64:
    """Write the partly covered texels into the image that ``lay_out`` has just made."""
    edge, owner = border.border(snapped, island)
    index, claim = border.partly(edge, owner, snapped.bits, face, face.shape[0])
    np.put(face, index, claim)
    return index
