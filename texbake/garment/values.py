"""The garment as a tailor sees it: panels, seams and hems, in millimetres.

``Mesh`` is what the file holds. ``Garment`` is what it means: which faces are one island, which
islands are one panel, where panels are sewn together and where cloth ends. All lengths are mm in
float64, because flattening is a geometry solve.
"""

from dataclasses import dataclass
from pathlib import Path
from typing import Literal

import numpy as np

from texbake.arrays import F64, I32
from texbake.recipe.axes import from_y_up
from texbake.recipe.values import Up


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Mesh:
    """A mesh as its file has it: triangles in file order, in mm, +Y up, right-handed.

    Attributes
    ----------
    points_mm : (V, 3) float64
        Positions after node transforms, unit and up axis. Not welded.
    faces : (F, 3) int32
        Triangles, as indices into ``points_mm``; counter-clockwise seen from outside.
    uv : (F, 3, 2) float64
        Per corner; (0, 0) at the bottom left; the ``tile`` of the recipe already taken off.
    polygon : (F,) int32
        The file's polygon that each triangle came from, counted from 0.
    object_of, group_of, material_of : (F,) int32
        Index of each face's name in ``objects``, ``groups``, ``materials``.
    normals : (F, 3, 3) float64 or None
        Unit normals per corner, where the file has them for every face.
    notes : tuple of str
        What the reader met and mended, for the user to know.
    tile : (int, int) or None
        The UV tile that was asked for by name; islands wholly in others may then be left out.
        None: none was, so all islands must lie in tile (0, 0).
    unit_mm, up : float, str
        Unit and up axis of the file, for messages that name a point as the file has it.
    """

    path: Path
    points_mm: F64
    faces: I32
    uv: F64
    polygon: I32
    object_of: I32
    group_of: I32
    material_of: I32
    objects: tuple[str, ...]
    groups: tuple[str, ...]
    materials: tuple[str, ...]
    normals: F64 | None = None
    notes: tuple[str, ...] = ()
    tile: tuple[int, int] | None = None
    unit_mm: float = 1.0
    up: Up = "y"

    def as_in_file(self, point_mm: F64) -> F64:
        """Return a point (3,) in the unit and the axes of the file."""
        return np.asarray(from_y_up(point_mm[None] / self.unit_mm, self.up)[0])


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Panel:
    """One piece of cloth, flattened to its pattern plane.

    Attributes
    ----------
    name : str
    islands : tuple of int
        The islands joined into it.
    faces : (K,) int32
        Its faces, ascending.
    area_mm2 : float
        Its area in space.
    stretch_rms, stretch_max : float
        Edge-length error of the flattening against space, as a share (0.01 is 1 %).
    line : int or None
        The line of the recipe that names it; None for a default panel.
    """

    name: str
    islands: tuple[int, ...]
    faces: I32
    area_mm2: float
    stretch_rms: float
    stretch_max: float
    line: int | None = None


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Chain:
    """A run of mesh edges: a seam (two sides), a hem (one side), or a cut (two, nothing sewn).

    Side 0 always exists. For a hem ``panels[1]`` is -1 and side 1 of every array is empty (E = 0).
    Edges are in order along the chain and run the same way on both sides.

    Attributes
    ----------
    kind : 'seam', 'hem' or 'cut'
    panels : (int, int)
        Panel index of each side; equal where a panel meets itself; -1 for no panel.
    face : tuple of two (E,) int32
        The face that owns the edge, per side.
    pattern_mm : tuple of two (E, 2, 2) float64
        Per side and edge: start and end in that panel's pattern plane.
    points_mm : (E, 2, 3) float64
        Start and end in space.
    arc_mm : (E, 2) float64
        Arc length along the chain at start and end, the same for both sides.
    length_mm : float
    closed : bool
        The chain's end is its start (an armhole, a trouser hem).
    """

    kind: Literal["seam", "hem", "cut"]
    panels: tuple[int, int]
    face: tuple[I32, I32]
    pattern_mm: tuple[F64, F64]
    points_mm: F64
    arc_mm: F64
    length_mm: float
    closed: bool


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Garment:
    """The garment in mm.

    Attributes
    ----------
    mesh : Mesh
    weld : (F, 3) int32
        Corner to welded position: corners at one place in space share a number.
    island : (F,) int32
        Faces connected in UV (edges equal in position and in UV), numbered from 0 by first face.
    panel : (F,) int32
        Index into ``panels``; -1 for a face with no area in UV.
    panels : tuple of Panel
    pattern_mm : (F, 3, 2) float64
        Each corner in its panel's pattern plane: x across the grain, y along it.
    chains : tuple of Chain
        Seams, hems and cuts, in a fixed order.
    notes : tuple of str
        What was met (coincident layers, non-manifold edges, folds), for the user to know.
    """

    mesh: Mesh
    weld: I32
    island: I32
    panel: I32
    panels: tuple[Panel, ...]
    pattern_mm: F64
    chains: tuple[Chain, ...]
    notes: tuple[str, ...] = ()
