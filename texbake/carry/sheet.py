"""A mesh with its UV layout, as far as carrying needs it: no panels, no pattern planes."""

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from texbake.arrays import F64, I32, Bool
from texbake.errors import UserError
from texbake.garment.health import check
from texbake.garment.islands import islands
from texbake.garment.read import read_mesh
from texbake.garment.values import Mesh
from texbake.garment.weld import weld
from texbake.layout import border, raster
from texbake.recipe.values import Up


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Sheet:
    """A mesh and what is joined in it.

    Attributes
    ----------
    mesh : Mesh
    weld : (F, 3) int32
        Corner to welded position.
    island : (F,) int32
    usable : (F,) bool
        False for faces without area in UV, and for islands in other tiles.
    notes : tuple of str
        What was met, for the user to know.
    """

    mesh: Mesh
    weld: I32
    island: I32
    usable: Bool
    notes: tuple[str, ...] = ()

    @property
    def corners_mm(self) -> F64:
        """Corners of the faces in space, (F, 3, 3), mm."""
        return self.mesh.points_mm[self.mesh.faces]


def sheet_of(mesh: Mesh) -> Sheet:
    """Find what is joined in a mesh, and which faces can be used.

    Raises
    ------
    UserError
        If no face has area in UV; if an island lies outside the tile.
    """
    welded = weld(mesh.points_mm, mesh.faces)
    island = islands(welded, mesh.uv)
    usable, notes = check(mesh, island, weld=welded)
    return Sheet(mesh=mesh, weld=welded, island=island, usable=usable, notes=(*mesh.notes, *notes))


def read_sheet(
    path: Path,
    *,
    unit_mm: float | None = None,
    up: Up = "y",
    uv_set: int = 0,
    tile: tuple[int, int] | None = None,
) -> Sheet:
    """Read a mesh file; see `read_mesh` for the options and what is raised."""
    return sheet_of(read_mesh(path, unit_mm=unit_mm, up=up, uv_set=uv_set, tile=tile))


def snapped_at(sheet: Sheet, size_px: int) -> raster.Snapped:
    """Return a sheet's usable faces on the integer grid of a picture.

    Raises
    ------
    UserError
        Where UVs of a face in the picture reach hundreds of tiles away.
    """
    panel = np.where(sheet.usable, np.int32(0), np.int32(-1))
    try:
        return raster.snap(sheet.mesh.uv, panel, size_px)
    except ValueError as error:
        fix = "move the islands into 0..1, or name the right UV set"
        raise UserError(str(error), fix=fix, path=sheet.mesh.path) from error


def faces_at(
    sheet: Sheet, snapped: raster.Snapped, size_px: int
) -> tuple[I32, dict[tuple[int, int], int]]:
    """Find which face lies at each texel, texels that islands only partly cover too.

    Returns
    -------
    face : (H, W) int32
        -1 for background; where faces overlap, the lowest.
    overlaps : dict
        (lower island, higher island) -> texels that they both claim.
    """
    face, overlaps = raster.paint(snapped, size_px, sheet.island)
    edge, owner = border.border(snapped, sheet.island)
    index, claim = border.partly(edge, owner, snapped.bits, face, size_px)
    np.put(face, index, claim)
    return face, overlaps
