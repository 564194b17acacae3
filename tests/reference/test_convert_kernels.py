"""The kernels against closed forms, and against other libraries on the same heights."""

import math
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from tests.convert_by_hand import angle_deg
from texbake.arrays import F64
from texbake.convert import height_to_normal
from texbake.convert.kernels import FARID, FARID_SLOPE, TRUE
from texbake.convert.measure import (
    ANGLES_DEG,
    OTHERS,
    WAVES,
    Slopes,
    angles_deg,
    jump_spill,
    ours,
    three_by_three,
    wave,
    wave_error_deg,
    worst_deg,
)
from texbake.convert.values import KERNELS, Kernel

INNER = slice(8, -8)
LIBRARIES = ("cv2 Sobel", "cv2 Scharr", "skimage Sobel", "skimage Scharr")


def library(name: str) -> Slopes:
    """How another library takes slopes, scaled to be exact on planes."""
    package, kernel = name.split()
    if package == "cv2":
        cv2: Any = pytest.importorskip("cv2")
        turn: Callable[..., Any] = cv2.Sobel if kernel == "Sobel" else cv2.Scharr
        scale = 1.0 / 8.0 if kernel == "Sobel" else 1.0 / 32.0

        def by_cv2(height: NDArray[Any]) -> tuple[F64, F64]:
            exact = height.astype(np.float64)
            return turn(exact, cv2.CV_64F, 1, 0, scale=scale), turn(
                exact, cv2.CV_64F, 0, 1, scale=scale
            )

        return by_cv2
    filters: Any = pytest.importorskip("skimage.filters")
    along: Callable[..., Any] = filters.sobel if kernel == "Sobel" else filters.scharr

    def by_skimage(height: NDArray[Any]) -> tuple[F64, F64]:
        exact = height.astype(np.float64) / 2.0  # its weights give twice the slope of a plane
        return along(exact, axis=1), along(exact, axis=0)

    return by_skimage


@pytest.mark.parametrize("name", LIBRARIES)
@pytest.mark.parametrize("texels", WAVES)
def test_waves_at_16_angles_are_nearer_than_by_sobel_and_scharr(name: str, texels: float) -> None:
    other = library(name)
    for angle in ANGLES_DEG:
        mine, theirs = (wave_error_deg(k, texels, angle) for k in (ours("true"), other))
        assert mine < theirs


@pytest.mark.parametrize("texels", [w for w in WAVES if w >= 4.0])
def test_waves_of_4_texels_and_longer_are_within_a_twentieth_of_a_degree(texels: float) -> None:
    assert worst_deg(ours("true"), texels) < 0.05


@pytest.mark.parametrize("name", LIBRARIES)
def test_the_documented_kernels_of_others_are_theirs(name: str) -> None:
    height, _, _ = wave(5.0, 33.75)
    theirs, documented = library(name)(height), three_by_three(OTHERS[name.split()[1]])(height)
    for one, two in zip(theirs, documented, strict=True):
        np.testing.assert_allclose(one[INNER, INNER], two[INNER, INNER], atol=1e-9)


@pytest.mark.parametrize("name", LIBRARIES)
def test_planes_are_equal_to_those_of_others(name: str) -> None:
    rows, columns = np.mgrid[:60, :60]
    height = (0.3 * columns - 0.2 * rows).astype(np.float32)
    for one, two in zip(ours("true")(height), library(name)(height), strict=True):
        np.testing.assert_allclose(one[INNER, INNER], two[INNER, INNER], atol=2e-5)


def test_even_is_the_kernel_of_farid_and_simoncelli_in_scikit_image() -> None:
    filters: Any = pytest.importorskip("skimage.filters")
    height = np.random.default_rng(4).random((40, 50)).astype(np.float32)
    mine = ours("even")(height)
    # Theirs gives this share of a plane's slope; ours is scaled to give all of it.
    share = FARID_SLOPE[0] * 2 + FARID_SLOPE[1] * 4
    for axis, found in ((1, mine[0]), (0, mine[1])):
        theirs = filters.farid(height.astype(np.float64), axis=axis)
        ratio = float((found * theirs)[INNER, INNER].sum() / (theirs**2)[INNER, INNER].sum())
        np.testing.assert_allclose(
            found[INNER, INNER], ratio * theirs[INNER, INNER], atol=2e-6 * abs(ratio)
        )
        assert ratio * share == pytest.approx(1.0, rel=1e-6)


def test_short_is_the_gradient_of_numpy() -> None:
    height = np.random.default_rng(4).random((40, 50)).astype(np.float32)
    down, across = np.gradient(height.astype(np.float64))
    mine = ours("short")(height)
    np.testing.assert_allclose(mine[0], across, atol=2e-6)
    np.testing.assert_allclose(mine[1], down, atol=2e-6)


def test_the_shares_of_the_true_kernel_are_those_of_least_greatest_error() -> None:
    from scipy.optimize import linprog

    w = np.linspace(1e-3, math.pi / 2, 1500)
    # The response of half of twice the second differences' shares, relative to w; see `kernels`.
    basis = np.stack(
        [
            2 * np.cos((2 * k + 1) * w / 2) * (-2 * (1 - np.cos(w))) * 2 * np.sin(w / 2) / w
            for k in range(3)
        ],
        axis=1,
    )
    left = 1 - 2 * np.sin(w / 2) * np.cos(w / 2) / w
    one = np.ones((w.size, 1))
    best = linprog(
        [0, 0, 0, 1],
        np.vstack([np.hstack([basis, -one]), np.hstack([-basis, -one])]),
        np.concatenate([left, -left]),
        [[1, 1, 1, 0]],
        [-1 / 12],
        bounds=[(None, None)] * 3 + [(0, None)],
    )
    assert best.x is not None
    np.testing.assert_allclose(TRUE, 2 * best.x[:3], atol=1e-4)
    assert np.abs(basis @ np.array(TRUE) / 2 - left).max() < 0.00135
    assert sum(TRUE) == pytest.approx(-1 / 6, abs=1e-9)
    assert 2 * sum(FARID) - FARID[0] == pytest.approx(1.0, abs=1e-6)


def paraboloid() -> tuple[NDArray[np.float32], F64, F64]:
    """h = a x^2 + b x y + c y^2, as means over texels; a mean only adds a constant."""
    rows, columns = np.mgrid[:80, :80] - 39.5
    height = 0.01 * columns**2 - 0.006 * columns * rows + 0.004 * rows**2
    return (
        height.astype(np.float32),
        0.02 * columns - 0.006 * rows,
        0.008 * rows - 0.006 * columns,
    )


def cap() -> tuple[NDArray[np.float32], F64, F64]:
    """The cap of a sphere, up to 45 degrees, as means over texels by 8 x 8 points in each."""
    fine = (np.arange(80 * 8) + 0.5) / 8 - 40.0
    x, y = fine, fine[:, None]
    radius = 60.0
    height = np.sqrt(radius**2 - x**2 - y**2)
    means = [p.reshape(80, 8, 80, 8).mean(axis=(1, 3)) for p in (height, -x / height, -y / height)]
    return means[0].astype(np.float32), means[1], means[2]


@pytest.mark.parametrize("kernel", KERNELS)
def test_a_paraboloid_is_exact(kernel: Kernel) -> None:
    height, across, down = paraboloid()
    errors = angles_deg(ours(kernel)(height), (across, down))
    assert errors[INNER, INNER].max() < 1e-3
    assert errors.max() < 0.7  # at the border slopes go on, which the curve does not


def test_the_cap_of_a_sphere_is_nearly_exact() -> None:
    height, across, down = cap()
    errors = angles_deg(ours("true")(height), (across, down))[INNER, INNER]
    assert errors.max() < 2e-3
    rows, columns = np.mgrid[8:72, 8:72] - 39.5
    out = np.stack([columns, -rows, np.sqrt(3600.0 - columns**2 - rows**2)], axis=-1)
    found = height_to_normal(height, depth_mm=1, texel_mm=1, bits=None)[INNER, INNER]
    assert angle_deg(found, out).max() < 0.02  # the normal of a sphere is its radius


def test_even_turns_alike_in_all_directions() -> None:
    # Direction alone: the angle between the slopes' directions in the plane, at the steepest texel.
    for texels in (5.0, 8.0):
        turns = {}
        for name, slopes in (("even", ours("even")), ("Sobel", three_by_three(OTHERS["Sobel"]))):
            worst = 0.0
            for angle in ANGLES_DEG:
                height, across, down = wave(texels, angle)
                found = slopes(height)
                at = np.unravel_index(np.argmax(np.hypot(across, down)[20:60, 20:60]), (40, 40))
                x, y = (float(f[20:60, 20:60][at]) for f in found)
                off = math.degrees(math.atan2(y, x)) - angle
                worst = max(worst, abs((off + 90.0) % 180.0 - 90.0))
            turns[name] = worst
        assert turns["even"] < 0.2
        assert turns["even"] < turns["Sobel"] / 5


def test_a_jump_leaves_no_false_ridge() -> None:
    assert jump_spill(ours("true")) == 0.0
    # Without its bound a kernel of nine taps would leave one.
    height = np.repeat([0.0, 1.0], 40)
    taps = np.array([TRUE[2], TRUE[1], TRUE[0], TRUE[0], TRUE[1], TRUE[2]]) / 2
    bend = np.convolve(height, [1, -2, 1], "same")
    guess = np.convolve(bend, taps, "same")
    assert np.abs(np.diff(guess)[20:38]).max() > 0.03
