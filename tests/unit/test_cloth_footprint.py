"""Box filters in the frequency domain, and running sums, against means taken by hand."""

import math

import numpy as np
import pytest

from texbake.arrays import F32, F64
from texbake.cloth.footprint import LANES, classes, filter_tile
from texbake.cloth.hash import draws, hash01, normals
from texbake.cloth.streak import read, sheet, streaks
from texbake.cloth.tile import Tile

WIDTH, LENGTH = 3.0, 2.0


def _waves(x: F64, y: F64) -> F64:
    """A few waves that fit the tile."""
    a, b = 2 * math.pi * x / WIDTH, 2 * math.pi * y / LENGTH
    out: F64 = np.sin(a) + 0.5 * np.cos(2 * a + b) + 0.25 * np.sin(3 * b - a)
    return out


def _tile() -> Tile:
    rows, columns = 64, 96
    x = (np.arange(columns) + 0.5) * WIDTH / columns
    y = (np.arange(rows) + 0.5) * LENGTH / rows
    plane = _waves(*np.meshgrid(x, y)).astype(np.float32)
    return Tile(channels=np.repeat(plane[None], 7, 0), width_mm=WIDTH, length_mm=LENGTH)


@pytest.mark.parametrize(
    "box",
    [
        [[0.5, 0.0], [0.0, 0.5]],
        [[0.7, -0.2], [0.3, 0.9]],
        [[1.5, 0.4], [0.1, -0.2]],
        [[3.0, 0.0], [0.0, 0.1]],
    ],
)
def test_a_filtered_tile_is_the_mean_over_the_parallelogram(box: list[list[float]]) -> None:
    step = np.array([box], np.float32)
    filtered = filter_tile(_tile(), step, 1.0)
    values = filtered.values.reshape(filtered.rows + 1, filtered.columns + 1, LANES)[..., 1]
    s = (np.arange(64) + 0.5) / 64 - 0.5
    u, v = (a.ravel() for a in np.meshgrid(s, s))
    for row, column in ((0, 0), (3, 5), (7, 2)):
        x = filtered.offset_mm[0] + column * WIDTH / filtered.columns
        y = filtered.offset_mm[1] + row * LENGTH / filtered.rows
        a, b = step[0, :, 0], step[0, :, 1]
        want = _waves(x + u * a[0] + v * b[0], y + u * a[1] + v * b[1]).mean()
        assert values[row, column] == pytest.approx(want, abs=0.02)


def test_alike_footprints_share_a_class_and_signs_do_not_matter() -> None:
    base = np.array([[0.5, 0.1], [-0.1, 0.5]], np.float32)
    many = np.stack([base, base * 1.01, -base, base * [[1, -1], [1, -1]], base * 2.0])
    kind, typical = classes(many.astype(np.float32))
    assert kind[0] == kind[1] == kind[2] == kind[3] != kind[4]
    assert len(typical) == 2


def test_the_number_of_classes_is_bounded() -> None:
    rng = np.random.default_rng(5)
    wild = rng.normal(0.0, 1.0, (5000, 2, 2)) * np.exp(rng.normal(0.0, 1.0, (5000, 1, 1)))
    kind, typical = classes(wild.astype(np.float32))
    assert len(typical) == kind.max() + 1 <= 64


def _read_one(full: F32, size: tuple[float, float], box: tuple[float, float], at: F64) -> F32:
    extent = np.array([box], np.float32)
    ready = streaks(full, size, extent, np.zeros((1, 2), np.float32))
    face = np.zeros(len(at), np.int32)
    return read(ready, face, at[:, 0].astype(np.float32), at[:, 1].astype(np.float32))


@pytest.mark.parametrize("box", [(0.2, 0.3), (0.5, 2.0), (2.0, 0.5), (3.3, 7.7)])
def test_streaks_are_exact_means_over_any_box(box: tuple[float, float]) -> None:
    full = sheet(64, 32, shares=(0.7, 0.3), keep=0.5, seed=3)
    size = 0.5, 2.0
    at = np.array([[3.1, 11.7], [0.05, 0.05], [31.9, 63.9], [-4.3, 70.2]])
    got = _read_one(full, size, box, at)
    grid = (np.arange(200) + 0.5) / 200 - 0.5
    u, v = (a.ravel() for a in np.meshgrid(grid, grid))
    for k, (across, along) in enumerate(at):
        strip = np.floor((across + u * box[0]) / size[0]).astype(int) % 64
        cell = np.floor((along + v * box[1]) / size[1]).astype(int) % 32
        want = full[strip, cell].mean(0)
        np.testing.assert_allclose(got[:, k], want, atol=0.02)


def test_a_sheet_s_rows_and_columns_sum_to_nothing() -> None:
    full = sheet(128, 64, shares=(0.5, 0.3, 0.2), keep=0.4, seed=9)
    assert np.abs(full.sum(0)).max() < 1e-3
    assert np.abs(full.sum(1)).max() < 1e-3


def test_a_melange_s_cells_are_blends_whose_mean_is_the_recipe_s() -> None:
    """Bundles of unequal weight: hardly out of 0..1, far calmer than one pure colour each."""
    shares = (0.7, 0.3)
    full = sheet(512, 256, shares=shares, keep=0.4, seed=9)[:, :, 1:]
    whole = full + np.array(shares, np.float32)
    assert np.abs(whole.sum(2) - 1.0).max() < 1e-4
    assert whole.min() > -0.15
    assert whole.max() < 1.15
    pure = np.sqrt(0.7 * 0.3)  # of a cell that holds one fibre
    assert 0.3 * pure < whole[..., 0].std() < 0.6 * pure


def test_hash_is_uniform_and_its_neighbours_are_strangers() -> None:
    """Moments of the uniform distribution (mean 1/2, variance 1/12), and no correlation."""
    ix, iy = np.meshgrid(np.arange(-200, 200), np.arange(-200, 200))
    h = hash01(ix, iy, 7).astype(np.float64)
    assert h.min() >= 0.0
    assert h.max() < 1.0
    assert h.mean() == pytest.approx(0.5, abs=0.004)
    assert h.var() == pytest.approx(1.0 / 12.0, abs=0.001)
    counts, _ = np.histogram(h, 64, (0.0, 1.0))
    expected = h.size / 64
    assert ((counts - expected) ** 2 / expected).sum() < 110.0  # chi-squared, 63 degrees, p < 2e-4
    for other in (np.roll(h, 1, 0), np.roll(h, 1, 1), hash01(ix, iy, 8).astype(np.float64)):
        assert abs(np.corrcoef(h.ravel(), other.ravel())[0, 1]) < 0.01


def test_hash_belongs_to_the_cell_alone() -> None:
    ix = np.arange(1000)
    assert (hash01(ix[500:], 3, 1) == hash01(ix, 3, 1)[500:]).all()
    assert (draws(10, 4) == hash01(np.arange(10), 0, 4)).all()
    assert (hash01(ix, 3, 1) != hash01(ix, 4, 1)).mean() > 0.99


def test_normal_draws_are_standard() -> None:
    values = normals((200, 200), 11)
    assert values.mean() == pytest.approx(0.0, abs=0.02)
    assert values.std() == pytest.approx(1.0, abs=0.02)
