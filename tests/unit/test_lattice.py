"""Periodic tables read between nodes, against a general-purpose library."""

import numpy as np
import pytest
from scipy import ndimage

from texbake.cloth.lattice import between, channels, lattice, wrapped


@pytest.mark.parametrize("count", [1, 2, 3, 7, 9])
@pytest.mark.parametrize("shape", [(8, 16), (5, 7)])
def test_it_reads_as_scipy_does(shape: tuple[int, int], count: int) -> None:
    rng = np.random.default_rng(7)
    values = rng.normal(size=(*shape, count)).astype(np.float32)
    rows, columns = (rng.uniform(-30.0, 30.0, 500).astype(np.float32) for _ in range(2))
    low_row, low_column = np.floor(rows), np.floor(columns)
    cell = wrapped(low_row, shape[0]) * np.int32(shape[1] + 1)
    cell += wrapped(low_column, shape[1])
    table = lattice(values)
    read = between(table, shape[1], cell, columns - low_column, rows - low_row)
    want = [
        ndimage.map_coordinates(values[..., k], [rows, columns], order=1, mode="grid-wrap")
        for k in range(count)
    ]
    np.testing.assert_allclose(channels(read, count), want, atol=2e-6)
    assert table.shape[1] >= count
    assert table.shape[1].bit_count() == 1


def test_several_lattices_lie_one_after_the_other() -> None:
    pair = [lattice(np.full((4, 4, 2), k, np.float32)) for k in (1, 5)]
    cell = np.array([0, 12, len(pair[0]), len(pair[0]) + 18], np.int32)
    half = np.full(4, 0.5, np.float32)
    read = between(np.concatenate(pair), 4, cell, half, half)
    assert read[:, 0].tolist() == [1.0, 1.0, 5.0, 5.0]


def test_cells_of_either_sign_wrap() -> None:
    low = np.array([-9.0, -1.0, 0.0, 7.0, 8.0, 1e6], np.float32)
    assert wrapped(low, 8).tolist() == [7, 7, 0, 7, 0, 0]
    assert wrapped(low, 6).tolist() == [3, 5, 0, 1, 2, 4]
