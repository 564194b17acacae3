"""What is drawn of a garment: its faces that lie on the maps, with a frame at every corner.

The frames are those of `texbake.garment.vertices`, which the GLB has too: so our picture and any
viewer's light the same relief.
"""

import numpy as np

from texbake.arrays import F32
from texbake.garment.values import Garment
from texbake.garment.vertices import Vertices, vertices
from texbake.view.values import Model

# Faces of other UV tiles have no texels in the maps.
_TILE_MARGIN = 1e-4


def model_of(garment: Garment) -> Model:
    """Gather what is drawn of a garment: all faces whose UVs lie on the maps.

    Parameters
    ----------
    garment : Garment

    Returns
    -------
    Model
        In the garment's order of faces.
    """
    mesh = garment.mesh
    inside = (mesh.uv > -_TILE_MARGIN) & (mesh.uv < 1.0 + _TILE_MARGIN)
    kept = np.flatnonzero((garment.panel >= 0) | inside.all(axis=(1, 2)))
    frame = vertices(garment)
    return Model(
        points_mm=mesh.points_mm[mesh.faces][kept],
        normals=corner_normals(frame)[kept].astype(np.float32),
        tangents=corner_tangents(frame)[kept].astype(np.float32),
        uv=mesh.uv[kept],
        face=kept.astype(np.int32),
    )


def corner_normals(frame: Vertices) -> F32:
    """Return the unit normal at each corner of each face, (F, 3, 3)."""
    out: F32 = frame.normal[frame.corner]
    return out


def corner_tangents(frame: Vertices) -> F32:
    """Return the tangent and the hand at each corner of each face, (F, 3, 4)."""
    out: F32 = frame.tangent[frame.corner]
    return out
