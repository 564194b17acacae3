import numpy as np
import pytest

from texbake.arrays import F32
from texbake.sewing.sums import line, line_mean, plane, plane_mean


def f32(*values: float) -> F32:
    return np.array(values, np.float32)


def test_a_box_on_cell_borders_is_the_mean_of_its_cells() -> None:
    table = line(0.5, np.array([[[1.0, 3.0, 5.0, 7.0]]]))
    got = line_mean(table, f32(0.0, 0.5, 1.0), f32(2.0, 1.5, 1.5))
    assert got.dtype == np.float32
    assert got[0] == pytest.approx([4.0, 4.0, 5.0])


def test_beyond_the_ends_of_a_line_there_is_nothing() -> None:
    table = line(0.5, np.array([[[1.0, 3.0, 5.0, 7.0]]]))
    got = line_mean(table, f32(1.5, 2.0), f32(2.5, 9.0))
    assert got[0] == pytest.approx([3.5, 0.0])


def test_a_row_reads_its_own_line() -> None:
    table = line(1.0, np.array([[[1.0, 2.0]], [[10.0, 20.0]]]))
    got = line_mean(table, f32(0.0, 0.0, 1.0), f32(1.0, 2.0, 2.0), np.array([0, 1, 1], np.int32))
    assert got[0] == pytest.approx([1.0, 15.0, 20.0])


def test_a_periodic_line_goes_on_past_both_ends() -> None:
    table = line(1.0, np.array([[[1.0, 2.0, 6.0]]]), periodic=True)
    got = line_mean(table, f32(-1.0, 2.0, -30.0), f32(1.0, 4.0, 30.0))
    assert got[0] == pytest.approx([3.5, 3.5, 3.0])


def test_a_box_in_the_plane_is_the_mean_of_its_cells() -> None:
    cells = np.arange(24.0).reshape(1, 4, 6)  # two units along of two cells, 6 mm across
    table = plane(3.0, 2, cells)
    got = plane_mean(table, (f32(0.5), f32(1.5)), (f32(-1.0), f32(2.0)))
    assert got[0, 0] == pytest.approx(cells[0, 1:3, 2:5].mean())


@pytest.mark.parametrize("start", [-7.3, 0.0, 0.25, 1.9])
def test_a_box_of_whole_periods_is_the_mean_of_all_wherever_it_starts(start: float) -> None:
    cells = np.random.default_rng(4).random((2, 8, 6))
    table = plane(1.5, 2, cells)
    got = plane_mean(table, (f32(start), f32(start + 6.0)), (f32(-1.5), f32(1.5)))
    assert got[:, 0] == pytest.approx(cells.mean(axis=(1, 2)), abs=1e-5)


def test_beyond_its_sides_the_plane_is_empty() -> None:
    table = plane(1.0, 1, np.ones((1, 2, 4)))
    got = plane_mean(table, (f32(0.0, 0.0), f32(1.0, 1.0)), (f32(-2.0, 1.0), f32(2.0, 3.0)))
    assert got[0] == pytest.approx([0.5, 0.0])
