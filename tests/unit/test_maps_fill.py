"""Gutters and background: what a renderer sees at reduced sizes."""

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.ndimage import distance_transform_edt

from texbake.layout.values import Layout
from texbake.maps import MapArrays, blank, fill

GUTTER = 16
REACH = 1.5 * GUTTER  # how far a bilinear read at the level of 16 texels can see


def layout_of(face: NDArray[np.int32], reach: float = REACH) -> Layout:
    """A layout whose gutter is every texel within reach, by an independent distance transform."""
    away, (row, column) = distance_transform_edt(face < 0, return_indices=True)
    gutter = (away > 0) & (away <= reach)
    nowhere: NDArray[np.float32] = np.zeros((1, 1, 1), np.float32)
    return Layout(
        size_px=len(face),
        face=face,
        partial=np.empty(0, np.int64),
        to_pattern=nowhere,
        to_space=nowhere,
        footprint_mm=nowhere,
        frame=nowhere,
        texel_mm=nowhere[0, 0],
        gutter_to=np.flatnonzero(gutter).astype(np.int64),
        gutter_from=(row * face.shape[1] + column)[gutter].astype(np.int64),
    )


def islands(size: int = 256) -> NDArray[np.int32]:
    """A slanted bar, a disk and a comb, at least two gutters apart; one touches the border."""
    y, x = np.mgrid[:size, :size]
    face = np.full((size, size), -1, np.int32)
    face[np.abs(x - 40 - y // 8) < 13] = 0
    face[(x - 180) ** 2 + (y - 60) ** 2 < 38**2] = 1
    face[(y > 160) & (x > 150) & ((x // 6) % 2 == 0)] = 2
    return face


COLOURS = np.array([[200, 30, 90], [12, 250, 128], [80, 81, 255]], np.uint8)


def coloured(face: NDArray[np.int32], maps: MapArrays) -> None:
    """Give each island one colour in every map."""
    for island, colour in enumerate(COLOURS):
        inside = face == island
        maps.albedo[inside] = colour
        maps.roughness[inside] = colour[0]
        maps.occlusion[inside] = colour[1]
        maps.metal[inside] = colour[2]
        maps.height[inside] = int(colour[0]) * 256 + 17


def filled(face: NDArray[np.int32], *, threads: int = 1) -> MapArrays:
    maps = blank(len(face), height_lo_mm=-1, height_hi_mm=1)
    coloured(face, maps)
    fill(maps, layout_of(face), threads=threads)
    return maps


def reduced(image: NDArray[np.float64], level: int) -> NDArray[np.float64]:
    """The image at a mip level: means of 2 x 2, again and again."""
    for _ in range(level):
        image = (image[::2, ::2] + image[1::2, ::2] + image[::2, 1::2] + image[1::2, 1::2]) / 4
    return image


def bilinear(
    image: NDArray[np.float64], x: NDArray[np.float64], y: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Read an image at points in texels, clamped to its edge."""
    x, y = np.clip(x - 0.5, 0, image.shape[1] - 1), np.clip(y - 0.5, 0, image.shape[0] - 1)
    left, top = (
        np.minimum(x.astype(int), image.shape[1] - 2),
        np.minimum(y.astype(int), len(image) - 2),
    )
    fx, fy = (x - left)[:, None], (y - top)[:, None]
    upper = image[top, left] * (1 - fx) + image[top, left + 1] * fx
    lower = image[top + 1, left] * (1 - fx) + image[top + 1, left + 1] * fx
    read: NDArray[np.float64] = upper * (1 - fy) + lower * fy
    return read


@pytest.mark.parametrize("level", range(5))
def test_reads_inside_an_island_see_only_the_island(level: int) -> None:
    face = islands()
    albedo = reduced(filled(face).albedo.astype(np.float64), level)
    for island, colour in enumerate(COLOURS):
        y, x = np.nonzero(face == island)
        for corner in ((0.0, 0.0), (0.999, 0.0), (0.0, 0.999), (0.999, 0.999)):
            read = bilinear(albedo, (x + corner[0]) / 2**level, (y + corner[1]) / 2**level)
            assert np.abs(read - colour).max() < 1e-9


def test_without_gutter_and_fill_the_same_reads_would_see_the_background() -> None:
    face = islands()
    maps = blank(len(face), height_lo_mm=-1, height_hi_mm=1)
    coloured(face, maps)
    y, x = np.nonzero(face == 1)
    read = bilinear(reduced(maps.albedo.astype(np.float64), 4), x / 16, y / 16)
    assert np.abs(read - COLOURS[1]).max() > 20


def test_far_from_all_islands_the_nearest_one_goes_on() -> None:
    face = np.full((128, 128), -1, np.int32)
    face[4:9, 4:9] = 0
    face[100:120, 100:120] = 1
    maps = blank(128, height_lo_mm=-1, height_hi_mm=1)
    coloured(face, maps)
    fill(maps, layout_of(face, reach=2))
    assert maps.albedo[40, 8].tolist() == COLOURS[0].tolist()
    assert maps.albedo[127, 60].tolist() == COLOURS[1].tolist()
    assert maps.height[40, 8] == maps.height[5, 5]


def test_gutter_texels_repeat_what_the_layout_says() -> None:
    face = np.full((8, 8), -1, np.int32)
    face[2, 2:4] = 0
    maps = blank(8, height_lo_mm=-1, height_hi_mm=1, normal_bits=16)
    maps.normal_up[2, 2:4] = [[1, 2, 60_000], [3, 4, 50_000]]
    maps.height[2, 2:4] = [7, 9]
    fill(maps, layout_of(face, reach=1))
    assert maps.height[1:4, 1:5].tolist() == [[8, 7, 9, 8], [7, 7, 9, 9], [8, 7, 9, 8]]
    assert maps.normal_up[1, 2].tolist() == [1, 2, 60_000]
    assert maps.normal_up[3, 3].tolist() == [3, 4, 50_000]


@pytest.mark.parametrize("bits", [8, 16])
def test_a_constant_map_stays_constant(bits: int) -> None:
    face = islands()
    maps = blank(256, height_lo_mm=-1, height_hi_mm=1, normal_bits=8 if bits == 8 else 16)
    lean = np.round(np.array([0.7, 0.35, 0.933]) * np.iinfo(maps.normal_up.dtype).max)
    for image, value in (
        (maps.normal_up, lean),
        (maps.albedo, (1, 128, 255)),
        (maps.height, 54_321),
        (maps.roughness, 77),
    ):
        image[face >= 0] = value
    fill(maps, layout_of(face))
    for image in (maps.normal_up, maps.albedo, maps.height, maps.roughness):
        assert (image == image[0, 0]).all()


def test_mean_normals_have_unit_length() -> None:
    face = np.full((64, 64), -1, np.int32)
    face[:24, :24] = 0
    maps = blank(64, height_lo_mm=-1, height_hi_mm=1)
    maps.normal_up[:24, :24:2] = (218, 128, 218)  # leaning right and left by 45 degrees
    maps.normal_up[:24, 1:24:2] = (38, 128, 218)
    fill(maps, layout_of(face, reach=0.5))
    assert np.abs(maps.normal_up[40:, 40:].astype(int) - (128, 128, 255)).max() <= 1


def test_covered_texels_are_left_alone() -> None:
    face = islands()
    inside = face >= 0
    maps = blank(256, height_lo_mm=-1, height_hi_mm=1)
    rng = np.random.default_rng(2)
    for image in maps.images:
        image[inside] = rng.integers(128, 255, image[inside].shape)
    before = [image[inside] for image in maps.images]
    fill(maps, layout_of(face))
    for image, was in zip(maps.images, before, strict=True):
        assert np.array_equal(image[inside], was)


def test_threads_never_change_the_result() -> None:
    for one, many in zip(
        filled(islands()).images, filled(islands(), threads=4).images, strict=True
    ):
        assert np.array_equal(one, many)


@pytest.mark.parametrize("size", [1, 5, 61, 100])
def test_any_size_can_be_filled(size: int) -> None:
    face = np.full((size, size), -1, np.int32)
    face[size // 2, size // 2] = 0
    maps = filled(face)
    assert (maps.albedo == COLOURS[0]).all()


def test_maps_without_any_island_stay_bare() -> None:
    maps = blank(32, height_lo_mm=-1, height_hi_mm=1)
    face = np.full((32, 32), -1, np.int32)
    none: NDArray[np.int64] = np.empty(0, np.int64)
    layout = layout_of(np.zeros((32, 32), np.int32))
    bare = Layout(
        size_px=32,
        face=face,
        partial=none,
        to_pattern=layout.to_pattern,
        to_space=layout.to_space,
        footprint_mm=layout.footprint_mm,
        frame=layout.frame,
        texel_mm=layout.texel_mm,
        gutter_to=none,
        gutter_from=none,
    )
    fill(maps, bare)
    assert (maps.normal_up == (128, 128, 255)).all()
    assert (maps.albedo == 128).all()
