"""Gradient noise against the PyPI package `noise` 1.2.2 (pnoise2, pnoise3).

The package needs a C compiler to install, so beside the direct comparison (skipped where it is
absent) stand values that it gave, typed here.
"""

import numpy as np
import pytest

from texbake.arrays import F32
from texbake.cloth.noise import noise2, noise3


def _points(axes: int) -> F32:
    points = np.random.default_rng(7).uniform(-300.0, 300.0, (axes, 4000))
    return points.astype(np.float32)


# noise 1.2.2, printed by the package itself: (x, y, z, repeat, base) and the value.
PRINTED = [
    ((0.3, 0.6, 0.2), 1024, 0, 0.016767770051956177),
    ((12.25, -7.75, 3.5), 1024, 0, 0.11600017547607422),
    ((3.9, 3.1, 2.6), 4, 0, -0.5484223365783691),
    ((100.7, 41.3, 9.9), 64, 5, -0.20019036531448364),
    ((-0.1, -0.2, -0.3), 1024, 0, -0.4128490090370178),
]


@pytest.mark.parametrize(("place", "repeat", "base", "want"), PRINTED)
def test_noise_gives_the_values_that_the_package_printed(
    place: tuple[float, float, float], repeat: int, base: int, want: float
) -> None:
    x, y, z = (np.array([c], np.float32) for c in place)
    got = noise3(x, y, z, repeat=(repeat,) * 3, base=base)
    assert got[0] == pytest.approx(want, abs=1e-5)


# Base and a long repeat together make the package read past its table: defined in neither.
@pytest.mark.parametrize(("repeat", "base"), [(4, 0), (64, 0), (1024, 0), (4, 13), (64, 13)])
def test_plane_noise_agrees_with_the_package(repeat: int, base: int) -> None:
    reference = pytest.importorskip("noise")
    x, y = np.abs(_points(2))
    want = [
        reference.pnoise2(float(a), float(b), repeatx=repeat, repeaty=repeat, base=base)
        for a, b in zip(x, y, strict=True)
    ]
    got = noise2(x, y, repeat=(repeat, repeat), base=base)
    assert np.abs(got - want).max() < 1e-5


def test_space_noise_agrees_with_the_package_on_both_sides_of_zero() -> None:
    reference = pytest.importorskip("noise")
    points = _points(3)
    want = [reference.pnoise3(*map(float, p)) for p in points.T]
    assert np.abs(noise3(*points) - want).max() < 1e-5


def test_noise_repeats_where_it_is_asked_to() -> None:
    x, y = np.abs(_points(2)) % 8
    again = noise2(x + 8, y + 16, repeat=(8, 8))
    np.testing.assert_allclose(noise2(x, y, repeat=(8, 8)), again, atol=2e-5)
