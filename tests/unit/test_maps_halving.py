"""Maps at smaller sizes, against brute force in float64 from the codes of the full size."""

import dataclasses
import math

import numpy as np
import pytest
from numpy.typing import NDArray

from tests.unit.test_maps_fill import layout_of
from texbake.layout.gutter import gutter
from texbake.maps import MapArrays, Shrink, blank, shrink, smaller, to_eight
from texbake.maps.values import bits_of

SIZE, GUTTER = 128, 4
ISLAND_OF = np.array([5, 5, 9], np.int32)  # two faces of one island, one of another
F64 = NDArray[np.float64]


def faces() -> NDArray[np.int32]:
    """Two islands that touch, slanted, with bare texels around."""
    y, x = np.mgrid[:SIZE, :SIZE]
    face = np.full((SIZE, SIZE), -1, np.int32)
    left = x < 60 + y // 7
    inside = (x > 9) & (x < 110) & (y > 13) & (y < 119)
    face[inside & left & (y < 60)] = 0
    face[inside & left & (y >= 60)] = 1
    face[inside & ~left] = 2
    return face


def noisy(*, bits: int, holes: bool = True) -> MapArrays:
    """Maps of noise; normals lean up to 50 degrees."""
    depth = dict.fromkeys(
        ("albedo", "roughness", "metal", "occlusion", "opacity", "normal-up"), bits
    )
    maps = blank(SIZE, height_lo_mm=-1.0, height_hi_mm=3.0, bits=depth, holes=holes)
    rng = np.random.default_rng(3)
    for image in maps.images:
        image[...] = rng.integers(0, np.iinfo(image.dtype).max, image.shape, endpoint=True)
    lean, turn = rng.uniform(0, 0.9, (SIZE, SIZE)), rng.uniform(0, 2 * math.pi, (SIZE, SIZE))
    normal = np.stack(
        [np.sin(lean) * np.cos(turn), np.sin(lean) * np.sin(turn), np.cos(lean)], axis=-1
    )
    top = np.iinfo(maps.normal_up.dtype).max
    maps.normal_up[...] = np.floor((normal + 1.0) * top / 2.0 + 0.5)
    return maps


def how(size: int) -> Shrink:
    return shrink(layout_of(faces()), ISLAND_OF, size, GUTTER)


def light(codes: F64) -> F64:
    """IEC 61966-2-1:1999."""
    return np.asarray(np.where(codes <= 0.04045, codes / 12.92, ((codes + 0.055) / 1.055) ** 2.4))


def encoded(linear: F64) -> F64:
    return np.asarray(
        np.where(linear <= 0.0031308, 12.92 * linear, 1.055 * linear ** (1 / 2.4) - 0.055)
    )


def share(image: NDArray[np.uint8 | np.uint16]) -> F64:
    return np.asarray(image / np.iinfo(image.dtype).max, np.float64)


def blocks(factor: int) -> list[tuple[int, int, NDArray[np.bool_]]]:
    """Row and column of each covered smaller texel, and which of its texels count: by a loop."""
    face = faces()
    island = np.where(face < 0, -1, ISLAND_OF[face])
    found = []
    for row in range(SIZE // factor):
        for column in range(SIZE // factor):
            part = island[
                row * factor : (row + 1) * factor, column * factor : (column + 1) * factor
            ]
            votes = [(np.count_nonzero(part == name), -name) for name in (5, 9)]
            if max(votes)[0]:
                found.append((row, column, part == -max(votes)[1]))
    return found


def brute(maps: MapArrays, factor: int, wanted: str) -> dict[tuple[int, int], F64]:
    """What each covered smaller texel of one map should be, by a loop over blocks."""
    top = np.iinfo(maps.normal_up.dtype).max
    vector = 2.0 * maps.normal_up.astype(np.float64) / top - 1.0
    slope = vector[..., :2] / vector[..., 2:]  # all lean less than the clamp, 78 degrees
    out = {}
    for row, column, counts in blocks(factor):
        at = np.s_[row * factor : (row + 1) * factor, column * factor : (column + 1) * factor]
        mean = slope[at][counts].mean(axis=0)
        if wanted == "normal":
            value = np.array([*mean, 1.0]) / math.sqrt(1.0 + float(mean @ mean))
        elif wanted == "roughness":
            alpha = share(maps.roughness)[at][counts] ** 2
            variance = slope[at][counts].var(axis=0).mean()  # of one axis
            alpha2 = min(float((alpha**2).mean() + 2.0 * variance), 1.0)
            value = np.array(alpha2**0.25)
        elif wanted == "albedo":
            assert maps.opacity is not None
            there = share(maps.opacity)[at][counts][:, None]
            linear = light(share(maps.albedo)[at][counts])
            value = encoded((linear * there).sum(axis=0) / there.sum())
        else:
            value = np.array(share(getattr(maps, wanted))[at][counts].mean())
        out[row, column] = value
    return out


@pytest.mark.parametrize("bits", [8, 16])
@pytest.mark.parametrize("factor", [2, 8])
@pytest.mark.parametrize(
    "wanted", ["normal", "roughness", "albedo", "metal", "occlusion", "height", "opacity"]
)
def test_every_map_is_the_mean_of_what_it_stands_for(wanted: str, factor: int, bits: int) -> None:
    maps = noisy(bits=bits)
    small, _ = smaller(maps, how(SIZE // factor))
    image = small.normal_up if wanted == "normal" else getattr(small, wanted)
    seen = share(image) * 2.0 - 1.0 if wanted == "normal" else share(image)
    code = 1.0 / np.iinfo(image.dtype).max
    # Half a code; float32 and the table of sRGB (0.026 code) add a little.
    near = 0.55 * code * (2.0 if wanted == "normal" else 1.0) + (3e-6 if bits == 16 else 0.0)
    for (row, column), value in brute(maps, factor, wanted).items():
        assert seen[row, column] == pytest.approx(value, abs=near)


def test_normals_are_near_the_box_filter_of_their_vectors() -> None:
    maps = noisy(bits=16)
    rng = np.random.default_rng(5)
    gentle = rng.normal(0.0, 0.1, (SIZE, SIZE, 2))
    vector = np.concatenate([gentle, np.ones((SIZE, SIZE, 1))], axis=-1)
    vector /= np.linalg.norm(vector, axis=-1, keepdims=True)
    maps.normal_up[...] = np.floor((vector + 1.0) * 32767.5 + 0.5)
    small, _ = smaller(maps, how(SIZE // 4))
    for row, column, counts in blocks(4):
        at = np.s_[row * 4 : (row + 1) * 4, column * 4 : (column + 1) * 4]
        mean = vector[at][counts].mean(axis=0)
        mean /= np.linalg.norm(mean)
        seen = share(small.normal_up)[row, column] * 2.0 - 1.0
        assert np.linalg.norm(seen) == pytest.approx(1.0, abs=1e-4)
        assert math.degrees(math.acos(min(float(mean @ seen), 1.0))) < 0.5


def test_flat_maps_stay_as_they_are_to_the_code() -> None:
    maps = blank(SIZE, height_lo_mm=-1.0, height_hi_mm=3.0, holes=True)
    maps.albedo[...] = (61, 90, 108)
    maps.roughness[...] = 177
    small, _ = smaller(maps, how(32))
    assert np.unique(small.albedo.reshape(-1, 3), axis=0).tolist() == [[61, 90, 108]]
    assert np.unique(small.roughness).tolist() == [177]
    assert np.unique(small.normal_up.reshape(-1, 3), axis=0).tolist() == [[128, 128, 255]]
    assert np.unique(small.height).tolist() == np.unique(maps.height).tolist()


def test_no_island_colours_another_nor_the_bare_texels_either() -> None:
    maps = blank(SIZE, height_lo_mm=-1.0, height_hi_mm=3.0)
    face = faces()
    maps.albedo[...] = (0, 255, 0)
    maps.albedo[(face == 0) | (face == 1)] = (200, 10, 10)
    maps.albedo[face == 2] = (10, 10, 200)
    done = how(16)
    small, _ = smaller(maps, done)
    assert np.unique(small.albedo[done.island == 5], axis=0).tolist() == [[200, 10, 10]]
    assert np.unique(small.albedo[done.island == 9], axis=0).tolist() == [[10, 10, 200]]
    assert (small.albedo[..., 1] < 11).all()  # background too


def test_the_gutter_repeats_the_nearest_covered_texel() -> None:
    done = how(64)
    small, _ = smaller(noisy(bits=8), done)
    to, source = gutter(done.island, GUTTER)
    assert len(to) > 100
    assert (small.roughness.reshape(-1)[to] == small.roughness.reshape(-1)[source]).all()


def test_threads_and_bands_change_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    maps = noisy(bits=8)
    first, _ = smaller(maps, how(32))
    monkeypatch.setattr("texbake.maps.halving._BAND_TEXELS", 1)
    again, _ = smaller(maps, how(32), threads=3)
    for a, b in zip(first.images, again.images, strict=True):
        assert (a == b).all()


def test_further_albedos_are_as_by_themselves() -> None:
    maps, other = noisy(bits=8), noisy(bits=8)
    other.albedo[...] = other.albedo[::-1]
    small, (albedo,) = smaller(maps, how(32), more=(other.albedo,))
    alone, _ = smaller(dataclasses.replace(maps, albedo=other.albedo), how(32))
    assert (albedo == alone.albedo).all()
    assert (small.albedo != albedo).any()


def test_bits_and_range_are_kept() -> None:
    maps = noisy(bits=16, holes=False)
    small, _ = smaller(maps, how(64))
    assert bits_of(small) == bits_of(maps)
    assert (small.height_lo_mm, small.height_hi_mm) == (-1.0, 3.0)
    assert small.opacity is None


@pytest.mark.parametrize("size", [128, 48, 256])
def test_sizes_that_are_no_halvings_are_refused(size: int) -> None:
    with pytest.raises(ValueError, match="cannot be made"):
        how(size)


def test_sixteen_bits_become_eight_as_the_standard_says() -> None:
    codes = np.arange(65536, dtype=np.uint16)
    # PNG third edition, 13.12: floor(code * 255 / 65535 + 0.5).
    assert (to_eight(codes) == np.floor(codes / 257.0 + 0.5)).all()
