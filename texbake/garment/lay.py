"""All panels of a garment, laid flat in their pattern planes."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from texbake.arrays import F64, I32, I64, Bool
from texbake.garment.edges import Edges
from texbake.garment.flatten import flatten, folded, reference_edges
from texbake.garment.grain import lay_on_grain
from texbake.garment.pieces import open_up, topology, whole_faces

# A tube also "lies flat" as a ring, badly. A piece with holes whose edges err more than this (RMS)
# is cut open and tried again; below, a little stretch is better than a line across the cloth.
RING_STRETCH = 0.05


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
    box = points_mm.min(axis=0), points_mm.max(axis=0)
    rms, worst, notes = [], [], []
    for panel, (name, grain_rad) in enumerate(zip(names, grains_rad, strict=True)):
        errors: list[F64] = [np.zeros(0)]
        upside_down = 0
        pieces = _pieces(points_mm, weld, edges, glued, cloth == panel)
        for piece in pieces:
            laid = lay_on_grain(
                piece.points_mm,
                piece.corner,
                piece.flat_mm,
                grain_rad=grain_rad,
                middle_mm=(box[0] + box[1]) / 2.0,
            )
            _put(pattern, piece, laid, edges.turned)
            still[piece.glued] = True
            errors.append(edge_errors(piece.points_mm, piece.corner, laid))
            reference = reference_edges(piece.points_mm, piece.corner)
            upside_down += int(folded(laid, piece.corner, reference).sum())
        error = np.concatenate(errors)
        rms.append(float(np.sqrt((error**2).mean())) if len(error) else 0.0)
        worst.append(float(np.abs(error).max(initial=0.0)))
        notes += _notes(name, pieces, upside_down)
    _fill_collapsed(pattern, weld, cloth)
    return Flat(
        pattern_mm=pattern,
        glued=still,
        stretch_rms=tuple(rms),
        stretch_max=tuple(worst),
        notes=tuple(notes),
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


def _pieces(points_mm: F64, weld: I32, edges: Edges, glued: Bool, mine: Bool) -> list[_Piece]:
    """Cut a panel into connected pieces and flatten each."""
    faces = np.flatnonzero(mine & whole_faces(weld))
    which = np.flatnonzero(glued & mine[edges.pairs[:, 0] // 3])
    if len(faces) == 0:
        return []
    part = topology(weld, faces, edges.pairs[which]).part
    pair_part = part[np.searchsorted(faces, edges.pairs[which, 0] // 3)]
    return [
        _piece(points_mm, weld, edges, faces[part == i], which[pair_part == i])
        for i in range(int(part.max()) + 1)
    ]


def _piece(points_mm: F64, weld: I32, edges: Edges, faces: I64, which: I64) -> _Piece:
    """Flatten one connected piece, cut open first where it could not lie flat."""
    shape = topology(weld, faces, edges.pairs[which])
    if shape.loops[0] > 0 and shape.handles[0] == 0:
        piece = _flattened(points_mm, weld, edges, faces, which, opened=False)
        if shape.loops[0] == 1 or _rms(piece) <= RING_STRETCH:
            return piece
        opened = which[open_up(points_mm, weld, faces, edges.pairs[which])]
        slit = _flattened(points_mm, weld, edges, faces, opened, opened=True)
        return slit if _rms(slit) < 0.5 * _rms(piece) else piece
    opened = which[open_up(points_mm, weld, faces, edges.pairs[which])]
    return _flattened(points_mm, weld, edges, faces, opened, opened=True)


def _flattened(
    points_mm: F64, weld: I32, edges: Edges, faces: I64, which: I64, *, opened: bool
) -> _Piece:
    corner = topology(weld, faces, edges.pairs[which]).corner
    place = np.empty(int(corner.max()) + 1, np.int64)
    place[corner] = weld[faces]
    corner = np.where(edges.turned[faces][:, None], corner[:, ::-1], corner)
    flat = flatten(points_mm[place], corner)
    return _Piece(faces, corner, points_mm[place], flat, which, opened)


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


def _notes(name: str, pieces: list[_Piece], upside_down: int) -> list[str]:
    notes = []
    opened = sum(piece.opened for piece in pieces)
    if opened:
        notes.append(
            f"panel '{name}' is closed or a tube in UV, and cannot lie flat as it is: "
            "it was cut open, and the cut is a seam of the panel with itself"
        )
    if len(pieces) > 1:
        notes.append(
            f"panel '{name}' is {len(pieces)} separate pieces, each with its own pattern plane"
        )
    if upside_down:
        notes.append(f"panel '{name}' cannot lie flat without folds: {upside_down} faces overlap")
    return notes
