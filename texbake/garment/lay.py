"""All panels of a garment, laid flat in their pattern planes."""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from texbake.arrays import F64, I32, I64, Bool
from texbake.garment.edges import Edges
from texbake.garment.flatten import borders, flatten, folded, reference_edges
from texbake.garment.grain import lay_on_grain
from texbake.garment.pieces import open_up, topology, whole_faces

# A tube also "lies flat" as a ring, badly. A piece with holes whose edges err more than this (RMS)
# is cut open and tried again; below, a little stretch is better than a line across the cloth.
RING_STRETCH = 0.05
# Pattern planes are rounded to a quarter of a micrometre, which float32 holds exactly: two kinds of
# processor solve to some 4e-8 mm of each other, and the same garment should give the same bytes.
GRID_MM = 2.0**-12


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Flat:
    """The pattern planes of a garment.

    Attributes
    ----------
    pattern_mm : (F, 3, 2) float64
        0 for a face that is on no panel.
    glued : (P,) bool
        Pairs of half-edges that are one cloth.
    stretch_rms, stretch_max : tuple of float
        Per panel: edge-length error as a share.
    notes : tuple of str
    """

    pattern_mm: F64
    glued: Bool
    stretch_rms: tuple[float, ...]
    stretch_max: tuple[float, ...]
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True, eq=False)
class _Piece:
    """A connected piece: its faces, vertices, and where they lie."""

    faces: I64  # (K,) of the garment
    corner: I64  # (K, 3) to vertex
    points_mm: F64  # (V, 3)
    flat_mm: F64  # (V, 2)
    glued: I64  # pairs that stay glued
    opened: bool


def lay_flat(
    points_mm: F64,
    weld: I32,
    edges: Edges,
    glued: Bool,
    cloth: I32,
    names: Sequence[str],
    grains_rad: Sequence[float],
) -> Flat:
    """Flatten every panel, piece by piece, and turn each piece to its grain.

    Parameters
    ----------
    points_mm : (W, 3) float64
        Welded places, mm.
    weld : (F, 3) int32
    edges : Edges
    glued : (P,) bool
        Pairs of half-edges that are one cloth, from ``pieces.glue``.
    cloth : (F,) int32
        Panel of each face; -1 for none.
    names, grains_rad : sequences, one per panel

    Returns
    -------
    Flat
    """
    pattern = np.zeros((len(weld), 3, 2))
    still = np.zeros(len(glued), np.bool_)
    middle = (points_mm.min(axis=0) + points_mm.max(axis=0)) / 2.0
    tallies = [_Tally(name) for name in names]
    for piece in _pieces(points_mm, weld, edges, np.flatnonzero(glued), cloth):
        panel = int(cloth[piece.faces[0]])
        laid = lay_on_grain(
            piece.points_mm,
            piece.corner,
            piece.flat_mm,
            grain_rad=grains_rad[panel],
            middle_mm=middle,
        )
        _put(pattern, piece, laid, edges.turned)
        still[piece.glued] = True
        tallies[panel].add(piece)
    _fill_collapsed(pattern, weld, cloth)
    return Flat(
        pattern_mm=np.round(pattern / GRID_MM) * GRID_MM,
        glued=still,
        stretch_rms=tuple(tally.rms for tally in tallies),
        stretch_max=tuple(tally.worst for tally in tallies),
        notes=tuple(note for tally in tallies for note in tally.notes()),
    )


def edge_errors(points_mm: F64, faces: I64, flat_mm: F64) -> F64:
    """Return length in the plane over length in space, less 1, of every edge (E,).

    Parameters
    ----------
    points_mm : (V, 3) float64
    faces : (K, 3) int64
    flat_mm : (V, 2) float64
    """
    ends = np.stack([faces.ravel(), np.roll(faces, -1, axis=1).ravel()], axis=1)
    ends = np.unique(np.sort(ends, axis=1), axis=0)
    space = np.linalg.norm(points_mm[ends[:, 0]] - points_mm[ends[:, 1]], axis=1)
    plane = np.linalg.norm(flat_mm[ends[:, 0]] - flat_mm[ends[:, 1]], axis=1)
    seen = space > 1e-6 * float(space.max(initial=0.0))
    return np.asarray(plane[seen] / space[seen] - 1.0)


def _pieces(points_mm: F64, weld: I32, edges: Edges, glued: I64, cloth: I32) -> Iterator[_Piece]:
    """Cut the cloth into connected pieces and flatten each, in the order of their first face."""
    faces = np.flatnonzero(whole_faces(weld) & (cloth >= 0))
    if len(faces) == 0:
        return
    shape = topology(weld, faces, edges.pairs[glued])
    pair_part = shape.part[np.searchsorted(faces, edges.pairs[glued, 0] // 3)]
    for part, (rows, pairs) in enumerate(
        zip(_grouped(shape.part), _grouped(pair_part, len(shape.loops)), strict=True)
    ):
        mine = _Cloth(points_mm, weld, edges.turned, faces[rows])
        which = glued[pairs]
        piece = None
        if shape.loops[part] > 0 and shape.handles[part] == 0:
            piece = _flattened(mine, shape.corner[rows], which)
        if piece is None or (shape.loops[part] > 1 and _rms(piece) > RING_STRETCH):
            piece = _opened(mine, edges, which, piece)
        yield piece


@dataclass(frozen=True, slots=True, eq=False)
class _Cloth:
    """The faces of a piece, and where they are."""

    points_mm: F64
    weld: I32
    turned: Bool
    faces: I64


def _flattened(mine: _Cloth, corner: I64, which: I64, *, opened: bool = False) -> _Piece | None:
    """Flatten a piece whose corners have these vertices (any numbers); None without a border."""
    _, first, corner = np.unique(corner, return_index=True, return_inverse=True)
    corner = corner.reshape(-1, 3)
    points = mine.points_mm[mine.weld[mine.faces].ravel()[first]]
    corner = np.where(mine.turned[mine.faces][:, None], corner[:, ::-1], corner)
    if not borders(corner):
        return None
    return _Piece(mine.faces, corner, points, flatten(points, corner), which, opened)


def _opened(mine: _Cloth, edges: Edges, which: I64, ring: _Piece | None) -> _Piece:
    """Cut a piece open and flatten it; a ring only if that halves its error."""
    kept = which[open_up(mine.points_mm, mine.weld, mine.faces, edges.pairs[which])]
    corner = topology(mine.weld, mine.faces, edges.pairs[kept]).corner
    slit = _flattened(mine, corner, kept, opened=True) or _loose(mine)
    return slit if ring is None or _rms(slit) < 0.5 * _rms(ring) else ring


def _loose(mine: _Cloth) -> _Piece:
    """Lay every face by itself: the last resort for tangles that no cut opens."""
    corner = np.arange(3 * len(mine.faces)).reshape(-1, 3)
    points = mine.points_mm[mine.weld[mine.faces].ravel()]
    corner = np.where(mine.turned[mine.faces][:, None], corner[:, ::-1], corner)
    flat = np.empty((len(points), 2))
    for face in corner:
        flat[face] = flatten(points[face], np.array([[0, 1, 2]]))
    return _Piece(mine.faces, corner, points, flat, np.zeros(0, np.int64), opened=True)


def _grouped(label: I64, count: int | None = None) -> list[I64]:
    """Return for each label the rows that have it, ascending."""
    sizes = np.bincount(label, minlength=count or 0)
    return np.split(np.argsort(label, kind="stable"), np.cumsum(sizes)[:-1])


def _rms(piece: _Piece) -> float:
    error = edge_errors(piece.points_mm, piece.corner, piece.flat_mm)
    return float(np.sqrt((error**2).mean())) if len(error) else 0.0


def _put(pattern: F64, piece: _Piece, laid: F64, turned: Bool) -> None:
    """Write a piece's corners; those of turned faces back in the file's order."""
    corner = np.where(turned[piece.faces][:, None], piece.corner[:, ::-1], piece.corner)
    pattern[piece.faces] = laid[corner]


def _fill_collapsed(pattern: F64, weld: I32, cloth: I32) -> None:
    """Give faces without three places the pattern of a neighbour's corner at the same place."""
    whole = whole_faces(weld)
    for face in np.flatnonzero(
        ~whole & (cloth >= 0)
    ):  # a Python loop: real meshes have at most some dozens
        for corner in range(3):
            twin = (weld == weld[face, corner]) & (whole & (cloth == cloth[face]))[:, None]
            if twin.any():
                pattern[face, corner] = pattern[twin][0]


class _Tally:
    """What flattening did to one panel."""

    def __init__(self, name: str) -> None:
        self.name, self.pieces, self.opened, self.folds = name, 0, 0, 0
        self.square, self.edges, self.worst = 0.0, 0, 0.0

    def add(self, piece: _Piece) -> None:
        """Count a piece."""
        error = edge_errors(piece.points_mm, piece.corner, piece.flat_mm)
        self.square += float((error**2).sum())
        self.edges += len(error)
        self.worst = max(self.worst, float(np.abs(error).max(initial=0.0)))
        reference = reference_edges(piece.points_mm, piece.corner)
        self.folds += int(folded(piece.flat_mm, piece.corner, reference).sum())
        self.pieces += 1
        self.opened += piece.opened

    @property
    def rms(self) -> float:
        """Root mean square of the edge-length error."""
        return math.sqrt(self.square / max(self.edges, 1))

    def notes(self) -> Iterator[str]:
        """Tell the user what is odd."""
        if self.opened:
            yield (
                f"panel '{self.name}' is closed or a tube in UV, and cannot lie flat as it is: "
                "it was cut open, and the cut is a seam of the panel with itself"
            )
        if self.pieces > 1:
            yield (
                f"panel '{self.name}' is {self.pieces} separate pieces, "
                "each with its own pattern plane"
            )
        if self.folds:
            yield f"panel '{self.name}' cannot lie flat without folds: {self.folds} faces overlap"
