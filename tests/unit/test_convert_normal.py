"""Height to normal: signs, codes, scale, borders, masks, smoothing, and what is refused."""

from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import ndimage

from tests.convert_by_hand import angle_deg, codes16, decoded, waves
from texbake.arrays import F32
from texbake.convert import flip_green, height_to_normal
from texbake.convert.normal import recast_rows
from texbake.convert.values import EDGES, KERNELS, Bits, Edge, Kernel, Recast, Relief

BITS: tuple[Bits, ...] = (8, 16)


def plane(across: float, down: float, shape: tuple[int, int] = (40, 50)) -> F32:
    """A plane that rises by so much a texel."""
    rows, columns = np.mgrid[: shape[0], : shape[1]]
    height: F32 = (across * columns + down * rows).astype(np.float32)
    return height


def test_a_hill_faces_right_on_its_right_and_up_on_its_upper_side() -> None:
    # glTF 2.0, material.schema.json: "+X is right and +Y is up. +Z points toward the viewer."
    rows, columns = np.mgrid[:65, :65] - 32
    hill = np.exp(-(rows**2 + columns**2) / 200.0).astype(np.float32)
    up = height_to_normal(hill, depth_mm=10.0, texel_mm=1.0)
    red, green, blue = (up[..., k].astype(int) for k in range(3))
    assert red[32, 50] > 140
    assert red[32, 14] < 115
    assert green[14, 32] > 140  # row 14 is above the top
    assert green[50, 32] < 115
    assert blue.min() > 128
    down = height_to_normal(hill, depth_mm=10.0, texel_mm=1.0, green="down")
    np.testing.assert_array_equal(down[..., 1], 255 - up[..., 1])
    np.testing.assert_array_equal(down[..., ::2], up[..., ::2])


@pytest.mark.parametrize("kernel", KERNELS)
def test_a_plane_has_its_slope_everywhere(kernel: Kernel) -> None:
    # depth 3 mm over texels of 0.5 mm: 6 times the step of the samples
    found = height_to_normal(
        plane(0.05, -0.1), depth_mm=3.0, texel_mm=0.5, kernel=kernel, bits=None
    )
    true = np.array([-0.3, -0.6, 1.0]) / np.sqrt(1.0 + 0.09 + 0.36)
    np.testing.assert_allclose(found, np.broadcast_to(true, found.shape), atol=3e-6)


@pytest.mark.parametrize(("kind", "white"), [(np.uint8, 255), (np.uint16, 65535)])
def test_white_is_the_greatest_code(kind: type, white: int) -> None:
    step: NDArray[Any] = np.zeros((8, 8), kind)
    step[:, 4:] = white
    found = height_to_normal(step, depth_mm=1.0, texel_mm=1.0, bits=None)
    # The jump of one texel's size is shared by the two texels that touch it.
    np.testing.assert_allclose(found[4, 3], np.array([-0.5, 0.0, 1.0]) / np.sqrt(1.25), atol=1e-6)


def test_flat_is_the_code_beside_the_middle() -> None:
    flat: NDArray[np.uint8] = np.full((3, 5), 77, np.uint8)
    for edge in EDGES:
        assert (height_to_normal(flat, depth_mm=1, texel_mm=1, edge=edge) == (128, 128, 255)).all()
    deep = height_to_normal(flat, depth_mm=1, texel_mm=1, bits=16)
    assert (deep == (32768, 32768, 65535)).all()
    down = height_to_normal(flat, depth_mm=1, texel_mm=1, green="down")
    assert (down == (128, 127, 255)).all()
    vectors = height_to_normal(flat, depth_mm=1, texel_mm=1, bits=None)
    assert (vectors == (0.0, 0.0, 1.0)).all()


def test_a_negative_depth_turns_hills_into_hollows() -> None:
    height = codes16(waves(40, 60))
    hills = height_to_normal(height, depth_mm=2.0, texel_mm=0.3, bits=None)
    hollows = height_to_normal(height, depth_mm=-2.0, texel_mm=0.3, bits=None)
    np.testing.assert_allclose(hollows * (-1, -1, 1), hills, atol=1e-6)


@pytest.mark.parametrize("bits", BITS)
def test_components_are_within_a_step_and_lengths_within_half(bits: Bits) -> None:
    height = codes16(waves(96, 130))
    half = (2**bits - 1) / 2
    for depth in (0.3, 3.0, 30.0, 3000.0):
        codes = height_to_normal(height, depth_mm=depth, texel_mm=0.5, bits=bits)
        exact = height_to_normal(height, depth_mm=depth, texel_mm=0.5, bits=None)
        lengths = np.linalg.norm(decoded(codes), axis=-1)
        assert np.abs(lengths - 1.0).max() * half <= 0.5
        assert np.abs(decoded(codes) - exact).max() * half <= 1.0
        assert angle_deg(decoded(codes), exact).max() <= 0.392 * 127.5 / half
        assert codes[..., 2].min() > half


def test_rounding_is_that_of_baked_normals_where_lengths_allow() -> None:
    from texbake.maps import normal_codes

    height = codes16(waves(64, 64))
    exact = height_to_normal(height, depth_mm=4.0, texel_mm=0.5, bits=None).astype(np.float64)
    slopes = [(-exact[..., k] / exact[..., 2]).astype(np.float32).reshape(-1) for k in (0, 1)]
    baked = normal_codes(slopes[0], slopes[1], bits=8).reshape(64, 64, 3).astype(int)
    ours = height_to_normal(height, depth_mm=4.0, texel_mm=0.5).astype(int)
    moved = (ours != baked).any(axis=-1)
    assert moved.mean() < 0.1
    assert np.abs(ours - baked).sum(axis=-1).max() <= 1
    long = np.abs(np.linalg.norm((baked - 127.5) / 127.5, axis=-1) - 1.0) > 0.5 / 127.5
    assert (moved | ~long).all()


@pytest.mark.parametrize("bits", BITS)
def test_dither_keeps_the_mean_of_gentle_slopes(bits: Bits) -> None:
    step = 2.0 / (2**bits - 1)
    gentle = plane(0.3 * step, -0.2 * step, (64, 64))
    plain, dithered = (
        decoded(height_to_normal(gentle, depth_mm=1, texel_mm=1, bits=bits, dither=dither))
        for dither in (False, True)
    )
    for k, slope in ((0, -0.3 * step), (1, -0.2 * step)):
        assert abs(plain[..., k].mean() - slope) > 0.15 * step  # all have the same code
        assert abs(dithered[..., k].mean() - slope) < 0.02 * step
        blocks = dithered[..., k].reshape(8, 8, 8, 8).mean(axis=(1, 3))
        assert np.abs(blocks - slope).max() < 0.08 * step


def test_dither_leaves_flat_places_clean_and_lengths_near_one() -> None:
    height = codes16(waves(64, 64))
    height[:20] = 9000
    found = height_to_normal(height, depth_mm=2, texel_mm=0.5, dither=True)
    assert (found[:15] == (128, 128, 255)).all()
    assert np.abs(np.linalg.norm(decoded(found), axis=-1) - 1.0).max() <= 2.0 / 255.0


def test_dither_turns_steep_normals_by_no_more_than_gentle_ones() -> None:
    height = codes16(waves(64, 64))
    for depth in (2.0, 20.0, 200.0):
        codes, exact = (
            height_to_normal(height, depth_mm=depth, texel_mm=1, bits=bits, dither=True)
            for bits in (8, None)
        )
        assert angle_deg(decoded(codes), exact).max() < 0.85


def test_red_and_green_are_dithered_apart() -> None:
    gentle = plane(-0.003, 0.003, (64, 64))
    codes = height_to_normal(gentle, depth_mm=1, texel_mm=1, dither=True)
    assert 0.2 < (codes[..., 0] != codes[..., 1]).mean() < 0.8


@pytest.mark.parametrize("edge", EDGES)
@pytest.mark.parametrize("kernel", KERNELS)
def test_bands_and_threads_change_nothing(edge: Edge, kernel: Kernel) -> None:
    relief = Relief(samples=codes16(waves(150, 1100)))
    recast = Recast(slope=8.0, edge=edge, kernel=kernel, smooth_texels=0.7, dither=True)
    whole: NDArray[np.uint8] = np.empty((150, 1100, 3), np.uint8)
    steepest = recast_rows(relief, recast, slice(0, 150), whole, threads=3)
    found, most = [], 0.0
    for rows in (slice(0, 13), slice(13, 80), slice(80, 150)):
        part: NDArray[np.uint8] = np.empty((rows.stop - rows.start, 1100, 3), np.uint8)
        most = max(most, recast_rows(relief, recast, rows, part))
        found.append(part)
    np.testing.assert_array_equal(np.concatenate(found), whole)
    assert steepest == pytest.approx(most)


def test_the_steepest_slope_is_told() -> None:
    relief = Relief(samples=plane(0.3, 0.4))
    out: NDArray[np.uint8] = np.empty((40, 50, 3), np.uint8)
    assert recast_rows(relief, Recast(slope=2.0), slice(0, 40), out) == pytest.approx(1.0, rel=1e-5)


def test_hold_goes_on_where_mirror_and_wrap_bend() -> None:
    incline = plane(0.2, 0.0)
    held, mirrored, wrapped = (
        height_to_normal(incline, depth_mm=1, texel_mm=1, edge=edge, bits=None)
        for edge in EDGES[::-1]
    )
    np.testing.assert_allclose(held[:, 0], held[:, 25], atol=1e-6)
    assert abs(mirrored[20, 0, 0]) < abs(held[20, 0, 0])
    assert wrapped[20, 0, 0] > 0.9  # the cliff from the right border down to the left one


@pytest.mark.parametrize("kernel", KERNELS)
def test_the_border_of_what_is_empty_makes_no_slope(kernel: Kernel) -> None:
    incline = plane(0.02, 0.05, (60, 80))
    rows, columns = np.mgrid[:60, :80]
    covered = (rows - 30) ** 2 + (columns - 40) ** 2 < 20**2
    covered[30, 41:43] = False
    height = np.where(covered, incline, 900.0).astype(np.float32)
    found = height_to_normal(
        height, depth_mm=1, texel_mm=1, kernel=kernel, alpha=covered, bits=None
    )
    true = np.array([-0.02, 0.05, 1.0]) / np.sqrt(1.0 + 0.0004 + 0.0025)
    np.testing.assert_allclose(found[covered], np.broadcast_to(true, (covered.sum(), 3)), atol=1e-5)
    assert (found[~covered] == (0, 0, 1)).all()


def test_what_lies_in_empty_texels_does_not_matter() -> None:
    height = waves(50, 60).astype(np.float32)
    covered = np.ones((50, 60), np.bool_)
    covered[20:30, 15:40] = False
    found = []
    for value in (0.0, 7.0, np.nan):
        filled = np.where(covered, height, np.float32(value))
        found.append(
            height_to_normal(
                filled, depth_mm=9, texel_mm=1, alpha=covered, smooth_texels=1.0, mend=True
            )
        )
    np.testing.assert_array_equal(found[0], found[1])
    np.testing.assert_array_equal(found[0], found[2])


def test_far_from_what_is_empty_all_is_as_without() -> None:
    height = codes16(waves(80, 90))
    covered = np.ones((80, 90), np.bool_)
    covered[:10, :10] = False
    plain = height_to_normal(height, depth_mm=3, texel_mm=0.5)
    masked = height_to_normal(height, depth_mm=3, texel_mm=0.5, alpha=covered)
    np.testing.assert_array_equal(masked[16:], plain[16:])
    np.testing.assert_array_equal(masked[:, 16:], plain[:, 16:])


def test_a_lone_texel_is_flat_and_a_row_has_slopes_along_it() -> None:
    height = plane(0.1, 0.3, (9, 9))
    covered = np.zeros((9, 9), np.bool_)
    covered[2, 2] = covered[6, 1:8] = True
    found = height_to_normal(height, depth_mm=1, texel_mm=1, alpha=covered, bits=None)
    assert (found[2, 2] == (0, 0, 1)).all()
    np.testing.assert_allclose(
        found[6, 1:8], np.tile(np.array([-0.1, 0, 1]) / np.sqrt(1.01), (7, 1)), atol=1e-6
    )


@pytest.mark.parametrize(
    ("alpha", "half"), [(np.uint8, 128), (np.uint16, 32768), (np.float32, 0.5)]
)
def test_alpha_counts_from_half_on(alpha: type, half: float) -> None:
    height = plane(0.2, 0.0)
    there: NDArray[Any] = np.full(height.shape, half, alpha)
    there[:, 25:] = np.asarray(half * 0.98).astype(alpha)
    found = height_to_normal(height, depth_mm=1, texel_mm=1, alpha=there)
    assert (found[:, 25:] == (128, 128, 255)).all()
    assert (found[:, :25, 0] < 128).all()


@pytest.mark.parametrize("edge", ["wrap", "mirror"])
def test_smoothing_is_a_gaussian(edge: Edge) -> None:
    height = np.random.default_rng(3).random((60, 70)).astype(np.float32)
    exact = height.astype(np.float64)
    smooth = (  # both cut at four sigma; scipy's "reflect" has the border twice
        ndimage.gaussian_filter(exact, 1.6, mode="wrap")
        if edge == "wrap"
        else ndimage.gaussian_filter(exact, 1.6, mode="reflect")
    )
    want = height_to_normal(smooth.astype(np.float32), depth_mm=5, texel_mm=1, edge=edge, bits=None)
    found = height_to_normal(
        height, depth_mm=5, texel_mm=1, edge=edge, smooth_texels=1.6, bits=None
    )
    np.testing.assert_allclose(found, want, atol=3e-5)


def test_smoothing_beside_what_is_empty_takes_only_what_is_there() -> None:
    height: F32 = np.full((40, 40), 0.5, np.float32)
    covered = np.ones((40, 40), np.bool_)
    covered[:, 20:] = False
    height[:, 20:] = 9.0
    found = height_to_normal(
        height, depth_mm=5, texel_mm=1, alpha=covered, smooth_texels=2.0, bits=None
    )
    np.testing.assert_allclose(found, np.broadcast_to([0, 0, 1], found.shape), atol=1e-5)


def test_tiny_pictures_work_at_all_borders() -> None:
    for shape in ((1, 1), (1, 5), (5, 1), (2, 2)):
        for edge in EDGES:
            for kernel in KERNELS:
                height = (np.arange(shape[0] * shape[1]) * 20).astype(np.uint8).reshape(shape)
                found = height_to_normal(
                    height,
                    depth_mm=1,
                    texel_mm=1,
                    edge=edge,
                    kernel=kernel,
                    smooth_texels=2,
                    mend=True,
                )
                assert found.shape == (*shape, 3)


@pytest.mark.parametrize("kind", [np.uint8, np.uint16, np.float32])
def test_green_flipped_twice_is_what_it_was(kind: type) -> None:
    normals: NDArray[Any] = (np.random.default_rng(0).random((9, 11, 3)) * 255).astype(kind)
    once = flip_green(normals)
    top = 0 if kind is np.float32 else np.iinfo(kind).max
    np.testing.assert_array_equal(once[..., 1], top - normals[..., 1])
    np.testing.assert_array_equal(flip_green(once), normals)


@pytest.mark.parametrize(
    ("change", "word"),
    [
        ({"height": np.zeros((2, 2, 2), np.uint8)}, "shape"),
        ({"height": np.zeros((0, 2), np.uint8)}, "empty"),
        ({"height": np.zeros((2, 2), np.int32)}, "int32"),
        ({"height": np.array([[0.0, np.nan]], np.float32)}, "finite"),
        ({"height": np.array([[0.0, -np.inf]], np.float32)}, "finite"),
        ({"texel_mm": 0.0}, "above 0"),
        ({"texel_mm": float("nan")}, "texel"),
        ({"depth_mm": float("inf")}, "depth"),
        ({"edge": "warp"}, "warp"),
        ({"kernel": "best"}, "best"),
        ({"bits": 12}, "12"),
        ({"green": "left"}, "left"),
        ({"smooth_texels": -1.0}, "smooth"),
        ({"smooth_texels": 65.0}, "64"),
        ({"alpha": np.zeros((3, 3), np.uint8)}, "alpha"),
    ],
)
def test_what_cannot_be_is_refused(change: dict[str, Any], word: str) -> None:
    plain: dict[str, Any] = {
        "height": np.zeros((4, 4), np.uint8),
        "depth_mm": 1.0,
        "texel_mm": 1.0,
    }
    with pytest.raises(ValueError, match=word):
        height_to_normal(**(plain | change))


def test_flip_green_refuses_what_is_no_normal_map() -> None:
    for wrong in (
        np.zeros((2, 2), np.uint8),
        np.zeros((2, 2, 4), np.uint8),
        np.zeros((2, 2, 3), int),
    ):
        with pytest.raises(ValueError, match="normals are"):
            flip_green(wrong)
