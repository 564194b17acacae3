"""What is joined in UV: faces across edges that are equal in position and in UV.

Equal UV alone does not join (a torus may use one UV square for 32 quads), nor does equal position
alone (that is a UV cut). Handedness does not split: a fold stays in its island.
"""

import numpy as np

from texbake.arrays import F64, I32, I64
from texbake.garment.weld import components, first_seen, same_place

UV_TOLERANCE = 1e-6


def islands(weld: I32, uv: F64) -> I32:
    """Number the faces by their island.

    Parameters
    ----------
    weld : (F, 3) int32
        Corner to place in space, from ``weld.weld``.
    uv : (F, 3, 2) float64
        Per corner.

    Returns
    -------
    (F,) int32
        Numbered from 0 by first face. A face without area in UV belongs where its edges join it.
    """
    if len(weld) == 0:
        return np.zeros(0, np.int32)
    pairs = edge_pairs(uv_corners(weld, uv)) // 3
    return components(pairs, len(weld)).astype(np.int32)


def uv_corners(weld: I32, uv: F64) -> I32:
    """Number the corners by place in space and in UV together.

    Parameters
    ----------
    weld : (F, 3) int32
    uv : (F, 3, 2) float64

    Returns
    -------
    (F, 3) int32
        Corners share a number where both are equal (UV within 1e-6, or 1e-6 of the largest UV
        where the UVs go beyond 1); numbered from 0 by first appearance.
    """
    tolerance = UV_TOLERANCE * max(1.0, float(np.abs(uv).max(initial=0.0)))
    # Places lie whole steps apart on a third axis, so that only corners of one place can meet.
    step = 4.0 * tolerance * weld.reshape(-1, 1)
    places = np.concatenate([step, uv.reshape(-1, 2)], axis=1)
    return first_seen(same_place(places, tolerance)).reshape(weld.shape)


def edge_groups(corner: I32) -> tuple[I64, I64]:
    """Sort the half-edges so that those between the same two corners lie beside each other.

    Half-edge ``3 * face + side`` runs from corner ``side`` of the face to the next one. Pass
    ``weld`` for what is joined in space, ``uv_corners`` for what is joined in UV.

    Parameters
    ----------
    corner : (F, 3) int32
        Number of each corner, >= 0.

    Returns
    -------
    half : (H,) int64
        Half-edges; collapsed ones (both ends equal) are left out. Within a group ascending.
    first : (G + 1,) int64
        Group g is ``half[first[g]:first[g + 1]]``: one half-edge is an open edge, two are an
        inner edge, more are non-manifold. Groups are in the order of their two corner numbers.
    """
    start = corner.ravel().astype(np.int64)
    end = np.roll(corner, -1, axis=1).ravel().astype(np.int64)
    half = np.flatnonzero(start != end)
    low, high = np.minimum(start, end)[half], np.maximum(start, end)[half]
    key = low * (1 + int(corner.max(initial=0))) + high
    order = np.argsort(key, kind="stable")
    edge = np.diff(key[order]) != 0
    bound = np.flatnonzero(edge) + 1
    first = np.concatenate([[0], bound, [len(half)]]) if len(half) else np.zeros(1, np.int64)
    return half[order], first.astype(np.int64)


def edge_pairs(corner: I32) -> I64:
    """Pair the half-edges that lie on one edge.

    Parameters
    ----------
    corner : (F, 3) int32
        As in ``edge_groups``.

    Returns
    -------
    (P, 2) int64
        Half-edges (``3 * face + side``), the lower first. An inner edge gives one pair; a
        non-manifold edge of k faces gives k - 1 pairs, each with the next; an open edge gives none.
    """
    half, first = edge_groups(corner)
    inner = np.ones(max(len(half) - 1, 0), np.bool_)
    inner[first[1:-1] - 1] = False
    return np.stack([half[:-1][inner], half[1:][inner]], axis=1)
