"""Samples of carried pictures: exact where they can be, never from beyond an island."""

from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from tests.carried_by_hand import DEMO
from tests.garments_by_hand import box as corners
from tests.garments_by_hand import garment
from tests.garments_by_hand import sheet as grid
from texbake.arrays import F64
from texbake.carry import Route, Sheet, carry_picture, read_sheet, route, sheet_of, way_between
from texbake.carry.coding import Kind

SIZE = 64


def box(left: float, bottom: float, right: float, top: float) -> F64:
    """Two triangles of an upright rectangle, (2, 3, 2)."""
    return grid(1, 1, corners(left, bottom, right, top))


def cloth(*boxes: F64) -> Sheet:
    """Squares of cloth 100 mm wide, in a row, each with its own place in UV."""
    flat = box(0.0, 0.0, 1.0, 1.0)
    points = [
        np.concatenate([(flat + np.array([1.5 * k, 0.0])) * 100.0, np.zeros((2, 3, 1))], axis=2)
        for k in range(len(boxes))
    ]
    return sheet_of(garment(np.concatenate(boxes), points_mm=np.concatenate(points)).mesh)


def between(old: Sheet, new: Sheet, *, old_px: int = SIZE, new_px: int = SIZE) -> Route:
    return route(way_between(old, new), old_px=old_px, new_px=new_px)


def noise(*shape: int, kind: type = np.uint8, seed: int = 1) -> NDArray[np.uint8]:
    top = np.iinfo(kind).max
    return np.random.default_rng(seed).integers(0, top + 1, shape).astype(kind)


def quarter(uv: F64) -> F64:
    """A quarter turn about the middle of the sheet."""
    return np.stack([1.0 - uv[..., 1], uv[..., 0]], axis=-1)


@pytest.mark.parametrize("kind", ["colour", "data"])
@pytest.mark.parametrize("channels", [1, 2, 3, 4])
@pytest.mark.parametrize("deep", [np.uint8, np.uint16])
def test_the_same_layout_gives_the_same_picture(kind: Kind, channels: int, deep: type) -> None:
    sheet = cloth(box(0.25, 0.25, 0.75, 0.75))
    samples = noise(SIZE, SIZE, channels, kind=deep)
    samples[:, :, -1] |= np.iinfo(deep).max // 16 + 1  # a colour that is hardly there is lost
    way = between(sheet, sheet)
    inside = way.face >= 0
    got = carry_picture(way, samples, kind)
    assert got.dtype == deep
    off = np.abs(got[inside].astype(np.int64) - samples[inside])
    assert off.max() <= (0 if deep == np.uint8 else 2)


def test_whole_texels_and_quarter_turns_and_mirrors_are_exact() -> None:
    old = box(0.25, 0.125, 0.75, 0.875)
    samples = noise(SIZE, SIZE, 3)
    for moved, pixels in (
        (old + 0.125, np.roll(samples, (-8, 8), axis=(0, 1))),
        (quarter(old), np.rot90(samples)),
        (np.stack([1.0 - old[..., 0], old[..., 1]], axis=-1), samples[:, ::-1]),
    ):
        way = between(cloth(old), cloth(moved))
        inside = way.face >= 0
        assert inside.sum() == 32 * 48
        assert (carry_picture(way, samples, "colour")[inside] == pixels[inside]).all()


def test_at_half_the_size_four_texels_make_one() -> None:
    """Slowly changing, so that the mean over four is also the mean over the new texel's area."""
    sheet = cloth(box(0.0, 0.0, 1.0, 1.0))
    y, x = np.mgrid[0:SIZE, 0:SIZE] / SIZE
    wave = np.round(32767 * (1 + 0.9 * np.sin(9 * x) * np.cos(11 * y))).astype(np.uint16)[..., None]
    way = between(sheet, sheet, new_px=SIZE // 2)
    got = carry_picture(way, wave, "data").astype(float)
    mean = wave.reshape(SIZE // 2, 2, SIZE // 2, 2, 1).mean(axis=(1, 3))
    assert np.abs(got - mean)[2:-2, 2:-2].max() < 0.002 * 65535


def test_stripes_finer_than_new_texels_become_their_mean() -> None:
    sheet = cloth(box(0.0, 0.0, 1.0, 1.0))
    stripes = np.zeros((SIZE, SIZE, 1), np.uint8)
    stripes[:, ::2] = 255
    way = between(sheet, sheet, new_px=SIZE // 4)
    got = carry_picture(way, stripes, "data")[1:-1, 1:-1]
    assert np.abs(got.astype(float) - 127.5).max() < 8.0
    lit = carry_picture(way, np.repeat(stripes, 3, axis=2), "colour")[1:-1, 1:-1]
    # Half the light, IEC 61966-2-1: code 188.
    assert np.abs(lit.astype(float) - 188.0).max() < 6.0


def test_neighbours_one_texel_away_are_never_seen() -> None:
    """Two islands a texel apart; what is not the first one's own changes nothing of it."""
    texel = 1.0 / SIZE
    left, right = box(texel, 0.1, 0.5, 0.9), box(0.5 + texel, 0.1, 1.0 - texel, 0.9)
    old = cloth(left, right)
    new = cloth(quarter(left * 0.9), quarter(right * 0.9))
    way = between(old, new)
    first = (way.face >= 0) & (way.face < 2)
    own = between(old, old).face
    column = (np.arange(SIZE) + 0.5) / SIZE
    centre = (column > texel) & (column < 0.5)
    own_first = (own >= 0) & (own < 2) & centre[None, :]
    samples = noise(SIZE, SIZE, 3)
    poisoned = np.where(own_first[..., None], samples, 255 - samples)
    a, b = (carry_picture(way, s.astype(np.uint8), "colour") for s in (samples, poisoned))
    assert (a[first] == b[first]).all()
    assert (a[~first & (way.face >= 0)] != b[~first & (way.face >= 0)]).mean() > 0.9


def test_islands_on_each_other_both_take_what_is_painted_there() -> None:
    place = box(0.25, 0.25, 0.75, 0.75)
    old = cloth(place, place)
    way = between(old, cloth(place - 0.25, place + 0.25))
    samples = noise(SIZE, SIZE, 3)
    got = carry_picture(way, samples, "colour")
    middle = samples[16:48, 16:48]
    assert (got[32:, :32] == middle).all()
    assert (got[:32, 32:] == middle).all()
    assert way.shared_old == 32 * 32


@pytest.mark.parametrize("codes", [(7, 0), (200, 255), (33, 128)])
def test_a_transparent_colour_is_kept_where_all_is_so(codes: tuple[int, int]) -> None:
    old, new = cloth(box(0.1, 0.1, 0.7, 0.6)), cloth(quarter(box(0.1, 0.1, 0.7, 0.6) * 0.93))
    way = between(old, new)
    got = carry_picture(way, np.full((SIZE, SIZE, 2), codes, np.uint8), "colour")
    assert (got[way.face >= 0] == codes).all()


def test_what_is_transparent_does_not_bleed_into_what_is_not() -> None:
    old, new = cloth(box(0.1, 0.1, 0.9, 0.9)), cloth(quarter(box(0.1, 0.1, 0.9, 0.9) * 0.87))
    way = between(old, new)
    ink = np.zeros((SIZE, SIZE, 4), np.uint8)
    ink[...] = (0, 255, 0, 0)
    ink[20:44, 20:44] = (200, 30, 30, 255)
    got = carry_picture(way, ink, "colour")
    seen = (way.face >= 0) & (got[..., 3] > 16)
    assert seen.sum() > 300
    assert np.abs(got[seen][:, :3].astype(int) - (200, 30, 30)).max() <= 2


def test_bands_and_threads_change_nothing() -> None:
    old = read_sheet(DEMO / "ferry-vest.obj")
    new = sheet_of(replace(old.mesh, uv=quarter(old.mesh.uv) * 0.97 + 0.01))
    way = between(old, new, old_px=300, new_px=256)
    samples = noise(300, 300, 3)
    once = carry_picture(way, samples, "normal", threads=1)
    again = carry_picture(way, samples, "normal", threads=3, band_texels=256 * 7)
    assert (once == again).all()


def test_a_hard_edge_does_not_ring() -> None:
    """A spline alone would overshoot a step of codes 60 to 200 by some 10 codes."""
    old, new = cloth(box(0.0, 0.0, 1.0, 1.0)), cloth(quarter(box(0.0, 0.0, 1.0, 1.0) * 0.93))
    step = np.full((SIZE, SIZE, 1), 60, np.uint8)
    step[:, SIZE // 2 :] = 200
    way = between(old, new)
    got = carry_picture(way, step, "data")[way.face >= 0]
    assert (got.min(), got.max()) == (60, 200)


def test_a_wrong_shape_is_a_programming_error() -> None:
    way = between(cloth(box(0.0, 0.0, 1.0, 1.0)), cloth(box(0.0, 0.0, 1.0, 1.0)))
    with pytest.raises(ValueError, match="the route is for 64 px"):
        carry_picture(way, np.zeros((8, 8, 3), np.uint8), "colour")
    with pytest.raises(ValueError, match="normals have 3 channels"):
        carry_picture(way, np.zeros((SIZE, SIZE, 1), np.uint8), "normal")
