"""Faces are one island where edges are equal in position and in UV."""

from itertools import pairwise

import numpy as np

from texbake.arrays import F64, I32
from texbake.garment.islands import edge_groups, edge_pairs, islands, uv_corners

QUAD = np.array([[0, 1, 2], [0, 2, 3]], np.int32)
SQUARE = np.array([[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]])


def test_faces_are_joined_over_an_edge_equal_in_position_and_uv() -> None:
    assert islands(QUAD, SQUARE[QUAD]).tolist() == [0, 0]


def test_another_uv_at_one_end_of_the_edge_splits() -> None:
    uv = SQUARE[QUAD]
    uv[1, 0] += 0.1
    assert islands(QUAD, uv).tolist() == [0, 1]


def test_equal_uv_on_another_place_does_not_join() -> None:
    weld = np.array([[0, 1, 2], [4, 5, 6]], np.int32)
    assert islands(weld, SQUARE[[[0, 1, 2], [0, 1, 2]]]).tolist() == [0, 1]


def test_a_shared_corner_is_not_an_edge() -> None:
    weld = np.array([[0, 1, 2], [0, 3, 4]], np.int32)
    uv = np.array([[[0, 0], [1, 0], [1, 1]], [[0, 0], [-1, 0], [-1, -1]]], np.float64)
    assert islands(weld, uv).tolist() == [0, 1]


def test_a_fold_stays_in_its_island() -> None:
    folded = SQUARE.copy()
    folded[3] = [0.9, 0.1]  # the second triangle lies on the first, mirrored
    assert islands(QUAD, folded[QUAD]).tolist() == [0, 0]


def test_a_face_without_uv_area_joins_its_neighbour() -> None:
    collapsed = SQUARE.copy()
    collapsed[3] = collapsed[2]
    assert islands(QUAD, collapsed[QUAD]).tolist() == [0, 0]


def test_a_face_collapsed_in_space_joins_over_its_whole_edges_only() -> None:
    weld = np.array([[0, 1, 2], [2, 2, 1], [3, 3, 4]], np.int32)
    uv = np.array([[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [5.0, 5.0], [6.0, 6.0]])[weld]
    assert islands(weld, uv).tolist() == [0, 0, 1]


def test_all_uvs_equal_make_one_island_of_joined_faces() -> None:
    assert islands(QUAD, np.zeros((2, 3, 2))).tolist() == [0, 0]


def test_uvs_are_equal_up_to_a_millionth() -> None:
    near, far = SQUARE[QUAD], SQUARE[QUAD]
    near[1, 0] += 0.5e-6
    far[1, 0] += 4e-6
    assert islands(QUAD, near).tolist() == [0, 0]
    assert islands(QUAD, far).tolist() == [0, 1]


def test_islands_are_numbered_by_their_first_face() -> None:
    weld = np.array([[6, 7, 8], [0, 1, 2], [6, 8, 9], [0, 2, 3]], np.int32)
    uv = np.arange(20.0).reshape(10, 2)[weld]
    assert islands(weld, uv).tolist() == [0, 1, 0, 1]


def test_three_faces_on_one_edge_are_one_island() -> None:
    weld = np.array([[0, 1, 2], [1, 0, 3], [0, 1, 4]], np.int32)
    uv = np.arange(10.0).reshape(5, 2)[weld]
    assert islands(weld, uv).tolist() == [0, 0, 0]


def test_no_faces_have_no_islands() -> None:
    assert islands(np.zeros((0, 3), np.int32), np.zeros((0, 3, 2))).shape == (0,)
    assert edge_pairs(np.zeros((0, 3), np.int32)).shape == (0, 2)


def test_corners_share_a_number_only_where_place_and_uv_agree() -> None:
    weld = np.array([[0, 1, 2], [0, 2, 1]], np.int32)
    uv = SQUARE[[[0, 1, 2], [0, 3, 1]]]
    assert uv_corners(weld, uv).tolist() == [[0, 1, 2], [0, 3, 1]]


def halves(corner: I32) -> list[list[int]]:
    half, first = edge_groups(corner)
    return [half[a:b].tolist() for a, b in pairwise(first)]


def test_edge_groups_hold_the_half_edges_of_each_edge() -> None:
    # Edges 0-1, 0-2 (both faces: side 2 of the first, side 0 of the second), 0-3, 1-2, 2-3.
    assert halves(QUAD) == [[0], [2, 3], [5], [1], [4]]


def test_collapsed_edges_are_in_no_group() -> None:
    assert halves(np.array([[0, 0, 1]], np.int32)) == [[1, 2]]
    assert halves(np.array([[4, 4, 4]], np.int32)) == []


def test_edge_pairs_pair_inner_edges_and_chain_non_manifold_ones() -> None:
    assert edge_pairs(QUAD).tolist() == [[2, 3]]
    fan = np.array([[0, 1, 2], [1, 0, 3], [0, 1, 4]], np.int32)
    assert edge_pairs(fan).tolist() == [[0, 3], [3, 6]]


def grid(n: int) -> tuple[I32, F64]:
    corner = (np.arange(n)[:, None] * (n + 1) + np.arange(n)).ravel()
    quad = np.stack([corner, corner + 1, corner + n + 2, corner + n + 1], axis=1)
    weld = quad[:, [[0, 1, 2], [0, 2, 3]]].reshape(-1, 3).astype(np.int32)
    row, column = np.divmod(np.arange((n + 1) ** 2), n + 1)
    return weld, np.stack([column, row], axis=1) / n


def test_a_sheet_cut_down_the_middle_is_two_islands_in_any_order_of_faces() -> None:
    weld, place = grid(6)
    uv = place[weld]
    right = place[weld][..., 0].mean(axis=1) > 0.5
    uv[right] += [0.25, 0.0]
    island = islands(weld, uv)
    assert island.max() == 1
    order = np.random.default_rng(3).permutation(len(weld))
    shuffled = islands(weld[order], uv[order])
    assert np.array_equal(shuffled == shuffled[0], right[order] == right[order[0]])


def test_uvs_in_centimetres_are_compared_in_proportion() -> None:
    weld, place = grid(3)
    uv = 50.0 * place[weld]
    uv[1] += 2e-5
    assert islands(weld, uv).max() == 0
