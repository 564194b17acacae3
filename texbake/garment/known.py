"""What is known of a garment before its UVs are looked at: panels and their own seams, by face.

After a UV change the islands are others, but the cloth is not: which face is of which panel, and
where a panel is sewn to itself, is then known from the last bake.
"""

from dataclasses import dataclass

import numpy as np

from texbake.arrays import F64, I32, I64, Bool
from texbake.garment.edges import Edges

# How far an edge may lie from a seam that it is part of: its ends and its middle, as shares of its
# length. A mesh with fewer vertices follows a bent seam in chords.
ENDS_OFF, MIDDLE_OFF = 0.03, 0.12
LEAST_OFF = 1e-5  # of the garment's diagonal: what rounding in a file does
# The seam that is found again may be so much shorter or longer; else the UVs decide, as ever.
LENGTH_OFF = 0.1
PAIRS_AT_ONCE = 2**17  # edges times segments of a seam: 20 MB of temporaries


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class KnownPanel:
    """A panel that is known.

    Attributes
    ----------
    name : str
    grain_rad : float
    line : int or None
        As in ``Panel``.
    sewn_mm : (E, 2, 3) float64
        Edges along which it is not one cloth with itself.
    """

    name: str
    grain_rad: float
    line: int | None
    sewn_mm: F64


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Known:
    """Panels that are known, in their order.

    Attributes
    ----------
    panels : tuple of KnownPanel
    face : (F,) int32
        Index into ``panels`` for each face of the mesh; -1: the recipe and the UVs decide.
    """

    panels: tuple[KnownPanel, ...]
    face: I32


def keep_sewn(
    known: Known, glued: Bool, points_mm: F64, weld: I32, edges: Edges
) -> tuple[Bool, tuple[str, ...]]:
    """Glue known panels where they were one cloth, whatever the UVs say, and nowhere else.

    Parameters
    ----------
    known : Known
    glued : (P,) bool
        Pairs of ``edges`` that would be glued by UV.
    points_mm : (W, 3) float64
        Welded places, mm.
    weld : (F, 3) int32
    edges : Edges

    Returns
    -------
    (P,) bool
    tuple of str
        Panels whose own seams were not found again; those are glued by UV.
    """
    pairs = edges.pairs
    of = known.face[pairs // 3]
    kin = (of[:, 0] == of[:, 1]) & edges.level
    glued = glued.copy()
    lost: list[str] = []
    size = float(np.linalg.norm(points_mm.max(axis=0) - points_mm.min(axis=0)))
    for number, panel in enumerate(known.panels):
        mine = np.flatnonzero(kin & (of[:, 0] == number))
        start = weld.ravel()[pairs[mine, 0]]
        end = weld.ravel()[_ends(pairs[mine, 0])]
        edge = np.stack([points_mm[start], points_mm[end]], axis=1)
        want = _length(panel.sewn_mm)
        for slack in (0.0, 1.0):
            on = on_seam(edge, panel.sewn_mm, LEAST_OFF * size, slack=slack)
            if abs(_length(edge[on]) - want) <= LENGTH_OFF * want:
                glued[mine] = ~on
                break
        else:
            lost.append(panel.name)
    return glued, tuple(lost)


def _length(edge: F64) -> float:
    return float(np.linalg.norm(edge[:, 1] - edge[:, 0], axis=1).sum())


def on_seam(edge: F64, seam: F64, least: float, *, slack: float = 1.0) -> Bool:
    """Tell which edges lie along a seam.

    Parameters
    ----------
    edge : (N, 2, 3) float64
        Start and end, mm.
    seam : (E, 2, 3) float64
    least : float
        What an edge may be off in any case, mm.
    slack : float
        How much of ``ENDS_OFF`` and ``MIDDLE_OFF`` it may be off, if that is more; 0 for edges
        that are the seam's own.

    Returns
    -------
    (N,) bool
    """
    if not len(seam) or not len(edge):
        return np.zeros(len(edge), np.bool_)
    length = np.linalg.norm(edge[:, 1] - edge[:, 0], axis=1)
    on = np.ones(len(edge), np.bool_)
    for point, share in (
        (edge[:, 0], slack * ENDS_OFF),
        (edge[:, 1], slack * ENDS_OFF),
        (edge.mean(axis=1), slack * MIDDLE_OFF),
    ):
        on &= _to_segments(point, seam) <= np.maximum(least, share * length)
    return on


def _to_segments(points: F64, seam: F64) -> F64:
    """Distance (N,) of points to the nearest of some segments."""
    along = seam[:, 1] - seam[:, 0]
    square = np.maximum((along * along).sum(axis=1), 1e-300)
    out = np.empty(len(points))
    step = max(1, PAIRS_AT_ONCE // len(seam))
    for k in range(0, len(points), step):
        to = points[k : k + step, None] - seam[None, :, 0]
        share = np.clip((to * along).sum(axis=2) / square, 0.0, 1.0)
        away = to - share[..., None] * along
        out[k : k + step] = np.sqrt((away * away).sum(axis=2).min(axis=1))
    return out


def _ends(half: I64) -> I64:
    """Corner at the end of each half-edge."""
    return half - half % 3 + (half + 1) % 3
