"""From the composed surface to codes: closed forms, rounding, bands and threads."""

from concurrent.futures import ThreadPoolExecutor

import numpy as np
import pytest
from numpy.typing import NDArray

from texbake.arrays import F32, F64, bands
from texbake.compose.values import Surface
from texbake.layout.values import Layout, Texels
from texbake.maps import MapArrays, blank, height_codes, normal_codes, write_band


def surface_of(slope: F32, **fields: F32) -> Surface:
    """A surface of N texels with the slope given and the rest plain, unless given too."""
    count = slope.shape[1]
    plain = {
        "albedo": np.full((3, count), 0.5, np.float32),
        "height_mm": np.zeros(count, np.float32),
        "alpha2": np.ones(count, np.float32),
        "metal": np.zeros(count, np.float32),
        "occlusion": np.ones(count, np.float32),
    }
    return Surface(slope=slope, **(plain | fields))


def layout_of(face: NDArray[np.int32], frame: F32 | None = None) -> Layout:
    """A layout of which only the face map and the frames mean anything."""
    count = int(face.max()) + 1
    one: F32 = np.eye(2, dtype=np.float32)[None].repeat(count, axis=0)
    none: NDArray[np.int64] = np.empty(0, np.int64)
    return Layout(
        size_px=len(face),
        face=face,
        partial=none,
        to_pattern=np.zeros((count, 2, 3), np.float32),
        to_space=np.zeros((count, 3, 3), np.float32),
        footprint_mm=np.zeros((count, 2, 2), np.float32),
        frame=one if frame is None else frame,
        texel_mm=np.ones(count, np.float32),
        gutter_to=none,
        gutter_from=none,
    )


def texels_of(face: NDArray[np.int32], rows: slice) -> Texels:
    """The covered texels of some rows."""
    flat = face[rows].reshape(-1)
    index = np.flatnonzero(flat >= 0).astype(np.int64)
    zero = np.zeros(index.size, np.float32)
    start = rows.start * face.shape[1]
    return Texels(index=index + start, face=flat[index], x_mm=zero, y_mm=zero)


def written(slope: F32, *, bits: int = 8, frame: F32 | None = None, **fields: F32) -> MapArrays:
    """Maps of a square that is all one face, row by row from the slope given."""
    size = int(np.sqrt(slope.shape[1]))
    face = np.zeros((size, size), np.int32)
    maps = blank(size, height_lo_mm=0, height_hi_mm=1, normal_bits=8 if bits == 8 else 16)
    texels = texels_of(face, slice(0, size))
    write_band(surface_of(slope, **fields), texels, layout_of(face, frame), maps)
    return maps


def decoded(codes: NDArray[np.uint8] | NDArray[np.uint16]) -> F64:
    """Normals as glTF 2.0 reads them (section 3.9.3: 2 c / maximum - 1)."""
    return codes.astype(np.float64) / np.iinfo(codes.dtype).max * 2 - 1


def angle_deg(a: F64, b: F64) -> F64:
    """The angle between vectors, exact for small ones too."""
    across = np.linalg.norm(np.cross(a, b), axis=-1)
    angle: F64 = np.degrees(np.arctan2(across, (a * b).sum(axis=-1)))
    return angle


SIZE = 64
X, Y = (
    axis.reshape(-1) for axis in np.meshgrid(np.linspace(-1, 1, SIZE), np.linspace(1, -1, SIZE))
)


def ramp() -> tuple[F64, F64]:
    """A plane that rises 1 in 2 along x and falls 1 in 4 along y: normal (-2, 1, 4)."""
    normal = np.array([-2.0, 1.0, 4.0]) / np.sqrt(21)
    return np.stack([np.full_like(X, 0.5), np.full_like(X, -0.25)]), np.tile(normal, (X.size, 1))


def sinusoid() -> tuple[F64, F64]:
    """h = sin(3 x) / 5: the normal leans against x by the angle whose tangent is 3/5 cos(3 x)."""
    lean = np.arctan(0.6 * np.cos(3 * X))
    slope = np.stack([0.6 * np.cos(3 * X), np.zeros_like(X)])
    return slope, np.stack([-np.sin(lean), np.zeros_like(X), np.cos(lean)], axis=-1)


def cap() -> tuple[F64, F64]:
    """A ball of radius 2 seen from above: the normal is the point divided by the radius."""
    z = np.sqrt(4 - X**2 - Y**2)
    return np.stack([-X / z, -Y / z]), np.stack([X, Y, z], axis=-1) / 2


@pytest.mark.parametrize("shape", [ramp, sinusoid, cap])
def test_normals_of_closed_forms_are_right_to_a_tenth_of_a_degree(shape: object) -> None:
    assert callable(shape)
    slope, normal = shape()
    maps = written(slope.astype(np.float32), bits=16)  # a step of 16 bits is 0.002 degrees
    assert maps.normal_up.dtype == np.uint16
    assert angle_deg(decoded(maps.normal_up.reshape(-1, 3)), normal).max() < 0.1


@pytest.mark.parametrize("shape", [ramp, sinusoid, cap])
@pytest.mark.parametrize("bits", [8, 16])
def test_codes_of_closed_forms_are_within_half_a_step(shape: object, bits: int) -> None:
    assert callable(shape)
    slope, normal = shape()
    codes = written(slope.astype(np.float32), bits=bits).normal_up.reshape(-1, 3)
    wanted = (normal + 1) / 2 * np.iinfo(codes.dtype).max
    rounding_of_float32 = 0.02 if bits == 16 else 1e-4
    assert np.abs(codes - wanted).max() <= 0.5 + rounding_of_float32


@pytest.mark.parametrize(("bits", "flat"), [(8, (128, 128, 255)), (16, (32768, 32768, 65535))])
def test_flat_cloth_has_the_flat_code(bits: int, flat: tuple[int, int, int]) -> None:
    codes = written(np.zeros((2, 16), np.float32), bits=bits).normal_up
    assert np.array_equal(codes.reshape(-1, 3), np.tile(flat, (16, 1)))


@pytest.mark.parametrize(("bits", "middle"), [(8, 128), (16, 32768)])
def test_blue_is_never_under_the_middle(bits: int, middle: int) -> None:
    steep = np.array([0, 1, 40, 1e4, -1e4, 1e9], np.float32)
    codes = normal_codes(steep, steep[::-1].copy(), bits=bits)
    assert codes[:, 2].min() >= middle
    assert codes[:, :2].max() <= np.iinfo(codes.dtype).max


def test_green_up_cloth_that_faces_up_the_picture_is_green() -> None:
    # height falls towards +V, so the normal leans to +V, and green-up codes that above the middle
    maps = written(np.repeat(np.array([[0], [-1]], np.float32), 16, axis=1))
    assert maps.normal_up[0, 0].tolist() == [128, 218, 218]  # 127.5 + 127.5 / sqrt(2) = 217.66


@pytest.mark.parametrize(
    ("frame", "wanted"),
    [
        ([[1, 0], [0, 1]], (-2, 1, 4)),
        ([[-1, 0], [0, 1]], (2, 1, 4)),  # a mirrored island
        ([[0, -1], [1, 0]], (-1, -2, 4)),  # an island turned by a quarter
        ([[2, 0], [0, 2]], (-4, 2, 4)),  # a pattern plane twice the size of the surface
    ],
)
def test_the_frame_of_the_face_turns_the_slope(
    frame: list[list[int]], wanted: tuple[int, int, int]
) -> None:
    slope = ramp()[0].astype(np.float32)
    codes = written(slope, bits=16, frame=np.array([frame], np.float32)).normal_up
    normal = np.array(wanted) / np.linalg.norm(wanted)
    assert angle_deg(decoded(codes.reshape(-1, 3)), np.tile(normal, (X.size, 1))).max() < 0.01


def test_codes_are_rounded_half_up_and_clipped() -> None:
    shares = np.array([-1, 0, 0.499 / 255, 0.5 / 255, 0.5, 254.4 / 255, 254.6 / 255, 1, 3])
    values: F32 = shares.astype(np.float32)
    maps = written(np.zeros((2, 9), np.float32), metal=values, occlusion=values)
    wanted = [0, 0, 0, 1, 128, 254, 255, 255, 255]
    assert maps.metal.reshape(-1).tolist() == wanted
    assert maps.occlusion.reshape(-1).tolist() == wanted


def test_albedo_is_stored_as_srgb_with_its_channels_in_order() -> None:
    albedo = np.repeat(np.array([[0], [0.5], [1]], np.float32), 4, axis=1)
    maps = written(np.zeros((2, 4), np.float32), albedo=albedo)
    # encode(0.5) = 0.7353569830524495 (IEC 61966-2-1), times 255 is 187.5
    assert maps.albedo.reshape(-1, 3).tolist() == [[0, 188, 255]] * 4


def test_height_spans_its_range_in_65536_codes() -> None:
    height: F32 = np.array([-3, -2, 0, 2, 3], np.float32)
    assert height_codes(height, -2.0, 2.0).tolist() == [0, 0, 32768, 65535, 65535]
    maps = blank(1, height_lo_mm=-2, height_hi_mm=2)
    assert maps.height_step_mm == pytest.approx(4 / 65535)
    assert maps.height.tolist() == [[32768]]  # bare background is at 0 mm


def test_a_value_that_is_no_number_is_noticed() -> None:
    bad = np.array([np.nan, 0, 0, 0], np.float32)
    with pytest.warns(RuntimeWarning, match="invalid value"):
        written(np.zeros((2, 4), np.float32), metal=bad)


def random_surface(count: int, seed: int) -> Surface:
    rng = np.random.default_rng(seed)
    return Surface(
        albedo=rng.random((3, count), np.float32),
        height_mm=rng.random(count, np.float32),
        slope=rng.random((2, count), np.float32) - np.float32(0.5),
        alpha2=rng.random(count, np.float32),
        metal=rng.random(count, np.float32),
        occlusion=rng.random(count, np.float32),
    )


def part_of(surface: Surface, part: slice) -> Surface:
    return Surface(
        albedo=surface.albedo[:, part],
        height_mm=surface.height_mm[part],
        slope=surface.slope[:, part],
        alpha2=surface.alpha2[part],
        metal=surface.metal[part],
        occlusion=surface.occlusion[part],
    )


def baked(rows: int, *, threads: int, size: int = 61) -> MapArrays:
    """Maps of two islands with a random surface, written in bands of ``rows``."""
    face = np.full((size, size), -1, np.int32)
    face[3:30, 5:50] = 0
    face[25:55, 52:] = 1
    turned: F32 = np.array([[[1, 0], [0, 1]], [[0, -1], [1, 0]]], np.float32)
    layout = layout_of(face, turned)
    surface = random_surface(int((face >= 0).sum()), 5)
    maps = blank(size, height_lo_mm=0, height_hi_mm=1)

    def one(band: slice) -> None:
        before = int((face[: band.start] >= 0).sum())
        texels = texels_of(face, band)
        part = slice(before, before + texels.index.size)
        write_band(part_of(surface, part), texels, layout, maps)

    with ThreadPoolExecutor(threads) as pool:
        list(pool.map(one, bands(size, rows)))
    return maps


@pytest.mark.parametrize(("rows", "threads"), [(1, 1), (7, 4), (64, 2)])
def test_bands_and_threads_never_change_the_result(rows: int, threads: int) -> None:
    for got, wanted in zip(
        baked(rows, threads=threads).images, baked(16, threads=1).images, strict=True
    ):
        assert np.array_equal(got, wanted)


def test_nothing_is_written_beside_the_texels() -> None:
    maps = baked(16, threads=1)
    bare = blank(61, height_lo_mm=0, height_hi_mm=1)
    for got, before in zip(maps.images, bare.images, strict=True):
        assert np.array_equal(got[:3], before[:3])
        assert np.array_equal(got[30:, :50], before[30:, :50])


def test_a_map_three_texels_wide_is_not_taken_for_colour() -> None:
    maps = written(np.zeros((2, 9), np.float32), metal=np.linspace(0, 1, 9, dtype=np.float32))
    assert maps.metal.tolist() == [[0, 32, 64], [96, 128, 159], [191, 223, 255]]


@pytest.mark.parametrize(
    ("size", "lo", "hi"), [(0, 0.0, 1.0), (4, 1.0, 1.0), (4, 2.0, 1.0), (4, 0.0, float("nan"))]
)
def test_maps_that_cannot_be_are_refused(size: int, lo: float, hi: float) -> None:
    with pytest.raises(ValueError, match=r"size_px|height range"):
        blank(size, height_lo_mm=lo, height_hi_mm=hi)
