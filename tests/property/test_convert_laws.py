"""Laws of the converter that hold for any heights."""

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp
from numpy.typing import NDArray

from tests.convert_by_hand import angle_deg, decoded
from texbake.convert import flip_green, height_to_normal, normal_to_height
from texbake.convert.measure import ours
from texbake.convert.mend import MEND_RADIUS, mended
from texbake.convert.values import EDGES, KERNELS, Bits, Edge, Kernel

SHAPES = hnp.array_shapes(min_dims=2, max_dims=2, min_side=1, max_side=24)
HEIGHTS = st.one_of(
    hnp.arrays(np.uint8, SHAPES),
    hnp.arrays(np.uint16, SHAPES),
    hnp.arrays(np.float32, SHAPES, elements=st.floats(-1.0, 1.0, width=32)),
)
DEPTHS = st.sampled_from([0.01, 1.0, 30.0, -5.0])


@given(
    HEIGHTS,
    DEPTHS,
    st.tuples(st.integers(-30, 30), st.integers(-30, 30)),
    st.sampled_from(KERNELS),
    st.sampled_from([0.0, 0.8]),
    st.booleans(),
    st.sampled_from([8, 16, None]),
)
@settings(max_examples=60, deadline=None)
def test_a_picture_that_wraps_may_be_rolled_before_or_after(
    height: NDArray[np.uint8],
    depth: float,
    by: tuple[int, int],
    kernel: Kernel,
    smooth: float,
    mend: bool,
    bits: Bits | None,
) -> None:
    before, after = (
        height_to_normal(
            h,
            depth_mm=depth,
            texel_mm=1.0,
            edge="wrap",
            kernel=kernel,
            smooth_texels=smooth,
            mend=mend,
            bits=bits,
        )
        for h in (np.roll(height, by, (0, 1)), height)
    )
    np.testing.assert_array_equal(before, np.roll(after, by, (0, 1)))


@given(HEIGHTS, DEPTHS, st.sampled_from(EDGES), st.sampled_from(KERNELS), st.sampled_from([8, 16]))
@settings(max_examples=80, deadline=None)
def test_codes_are_unit_vectors_within_half_a_step(
    height: NDArray[np.uint8], depth: float, edge: Edge, kernel: Kernel, bits: Bits
) -> None:
    codes, exact = (
        height_to_normal(height, depth_mm=depth, texel_mm=1.0, edge=edge, kernel=kernel, bits=b)
        for b in (bits, None)
    )
    half = (2**bits - 1) / 2
    assert np.abs(np.linalg.norm(decoded(codes), axis=-1) - 1.0).max() * half <= 0.5001
    assert np.abs(np.linalg.norm(exact.astype(np.float64), axis=-1) - 1.0).max() < 1e-6
    assert angle_deg(decoded(codes), exact).max() < 0.3925 * 127.5 / half
    assert codes[..., 2].min() > half
    np.testing.assert_array_equal(flip_green(flip_green(codes)), codes)


@given(HEIGHTS, DEPTHS, st.sampled_from(["hold", "mirror", "wrap"]), st.sampled_from(KERNELS))
@settings(max_examples=40, deadline=None)
def test_turning_the_picture_turns_the_normals(
    height: NDArray[np.uint8], depth: float, edge: Edge, kernel: Kernel
) -> None:
    def vectors(samples: NDArray[np.uint8]) -> NDArray[np.float64]:
        return height_to_normal(
            samples, depth_mm=depth, texel_mm=1.0, edge=edge, kernel=kernel, bits=None
        ).astype(np.float64)

    plain = vectors(height)
    # Rows and columns swapped: x and -y are.
    swapped = np.swapaxes(vectors(height.T), 0, 1)[..., [1, 0, 2]] * (-1, -1, 1)
    np.testing.assert_allclose(swapped, plain, atol=2e-5)
    np.testing.assert_allclose(vectors(height[:, ::-1])[:, ::-1] * (-1, 1, 1), plain, atol=2e-5)


@given(hnp.arrays(np.uint8, st.integers(4, 40)))
@settings(max_examples=80, deadline=None)
def test_a_row_that_rises_never_gets_a_slope_that_falls(steps: NDArray[np.uint8]) -> None:
    row = np.cumsum(steps.astype(np.float64)) / 10240.0
    across, _ = ours("true")(np.tile(row, (3, 1)).astype(np.float32))
    assert across.min() > -1e-5


@given(hnp.arrays(np.uint8, st.integers(4, 40)))
@settings(max_examples=80, deadline=None)
def test_slopes_add_up_to_the_height(row: NDArray[np.uint8]) -> None:
    # What rises round a picture that wraps falls again: the slopes' sum is 0.
    vector = height_to_normal(
        np.tile(row, (3, 1)), depth_mm=1.0, texel_mm=1.0, edge="wrap", bits=None
    ).astype(np.float64)
    assert abs((vector[1, :, 0] / vector[1, :, 2]).sum()) < 1e-4


@given(hnp.arrays(np.uint8, SHAPES), st.sampled_from([1, 3]))
@settings(max_examples=40, deadline=None)
def test_mending_rounds_to_the_levels_it_came_from(levels: NDArray[np.uint8], step: int) -> None:
    codes = levels // 16 * step
    padded = np.pad(codes.astype(np.float32), MEND_RADIUS, mode="wrap")
    found = mended(padded, None, float(step))
    assert np.abs(found - codes).max() <= 0.5 * step + 1e-4


@given(hnp.arrays(np.uint8, st.tuples(st.integers(1, 12), st.integers(1, 12), st.just(3))))
@settings(max_examples=40, deadline=None)
def test_any_codes_have_a_height(codes: NDArray[np.uint8]) -> None:
    for edge in EDGES:
        found = normal_to_height(codes, texel_mm=0.5, edge=edge)
        assert np.isfinite(found).all()
        assert abs(float(found.mean())) < 1e-3 * max(1.0, float(np.abs(found).max()))
