"""Normals turn from the old tangent frames into the new ones."""

from dataclasses import replace

import numpy as np
import pytest

from tests.carried_by_hand import DEMO, rewrapped, where
from tests.garments_by_hand import box, garment
from tests.garments_by_hand import sheet as grid
from texbake.arrays import F64, U8, U16
from texbake.carry import Sheet, carry_picture, read_sheet, route, sheet_of, way_between
from texbake.carry.coding import Green
from texbake.carry.frames import frames
from texbake.carry.sheet import faces_at, snapped_at

SIZE = 64
PLACE = box(0.25, 0.25, 0.75, 0.75)


def flat(uv: F64) -> Sheet:
    """A square of cloth in the plane z = 0, facing +z."""
    points = np.concatenate([grid(1, 1, PLACE) * 100.0, np.zeros((2, 3, 1))], axis=2)
    return sheet_of(garment(uv, points_mm=points).mesh)


def vectors(codes: U8 | U16) -> F64:
    out = (codes.astype(np.float64) - (128.0, 128.0, 127.5)) / 127.5
    return np.asarray(out / np.linalg.norm(out, axis=-1, keepdims=True))


def off_deg(a: F64, b: F64) -> F64:
    return np.asarray(np.degrees(np.arccos(np.clip((a * b).sum(axis=-1), -1.0, 1.0))))


# A normal that leans to +U by 0.6 and to +V by 0.3. UV turned a quarter turn to the left: what was
# along +U is then along +V, and what was along +V along -U. Mirrored, +U has become -U.
@pytest.mark.parametrize(
    ("place", "want"),
    [
        (lambda uv: uv, (0.6, 0.3)),
        (lambda uv: np.stack([1.0 - uv[..., 1], uv[..., 0]], axis=-1), (-0.3, 0.6)),
        (lambda uv: 1.0 - uv, (-0.6, -0.3)),
        (lambda uv: np.stack([1.0 - uv[..., 0], uv[..., 1]], axis=-1), (-0.6, 0.3)),
        (lambda uv: uv[..., ::-1], (0.3, 0.6)),
    ],
    ids=["same", "quarter", "half", "mirrored", "swapped"],
)
@pytest.mark.parametrize("green", ["up", "down"])
def test_a_leaning_normal_leans_the_same_way_on_the_cloth(
    place: "object", want: tuple[float, float], green: Green
) -> None:
    uv = grid(1, 1, PLACE)
    way = route(way_between(flat(uv), flat(place(uv))), old_px=SIZE, new_px=SIZE)  # type: ignore[operator]
    up = np.round([128 + 127.5 * 0.6, 128 + 127.5 * 0.3, 127.5 * (1 + np.sqrt(0.55))])
    codes = np.full((SIZE, SIZE, 3), up, np.uint8)
    if green == "down":
        codes[..., 1] = 255 - codes[..., 1]
    got = carry_picture(way, codes, "normal", green=green)[way.face >= 0]
    if green == "down":
        got[:, 1] = 255 - got[:, 1]
    assert off_deg(vectors(got), np.array([*want, np.sqrt(0.55)])).max() < 0.5


@pytest.mark.parametrize("flat_code", [127, 128])
@pytest.mark.parametrize("green", ["up", "down"])
def test_flat_stays_flat_to_the_bit(flat_code: int, green: Green) -> None:
    old = read_sheet(DEMO / "ferry-vest.obj")
    new = sheet_of(replace(old.mesh, uv=1.0 - old.mesh.uv))
    way = route(way_between(old, new), old_px=128, new_px=128)
    codes = np.full((128, 128, 3), (flat_code, flat_code, 255), np.uint8)
    got = carry_picture(way, codes, "normal", green=green)
    assert (got[way.face >= 0] == (flat_code, flat_code, 255)).all()


def test_green_up_and_green_down_stay_matched_to_the_bit() -> None:
    old = read_sheet(DEMO / "ferry-vest.obj")
    new = sheet_of(replace(old.mesh, uv=old.mesh.uv[..., ::-1]))
    way = route(way_between(old, new), old_px=128, new_px=128)
    rng = np.random.default_rng(2)
    up = np.full((128, 128, 3), (128, 128, 255), np.uint8)
    up[::2] = np.concatenate(
        [rng.integers(90, 165, (64, 128, 2)), np.full((64, 128, 1), 240)], axis=2
    )
    down = up.copy()
    down[..., 1] = 255 - up[..., 1]
    once, other = carry_picture(way, up, "normal"), carry_picture(way, down, "normal", green="down")
    inside = way.face >= 0
    assert (once[inside][:, 1] == 255 - other[inside][:, 1]).all()
    assert (once[inside][:, [0, 2]] == other[inside][:, [0, 2]]).all()


def in_space(sheet: Sheet, size_px: int) -> tuple[U8, F64]:
    """A relief that is a function of space, as a normal map of a sheet; vectors of its texels."""
    snapped = snapped_at(sheet, size_px)
    face = faces_at(sheet, snapped, size_px)[0].reshape(-1)
    index, points = where(sheet, size_px)
    row, column = np.divmod(index, size_px)
    at = np.stack([column + 0.5, row + 0.5, np.ones(len(row))], axis=1)
    made, own = frames(sheet, snapped), face[index]
    normal, along = (
        np.einsum("nij,nj->ni", t[own], at).astype(np.float64) for t in (made.normal, made.tangent)
    )
    normal /= np.linalg.norm(normal, axis=1, keepdims=True)
    along -= normal * (along * normal).sum(axis=1, keepdims=True)
    along /= np.linalg.norm(along, axis=1, keepdims=True)
    across = np.cross(normal, along) * made.hand[own, None]
    x, y, z = points.T
    slope = 0.7 * np.stack([np.sin(y / 30 + x / 60), np.cos(z / 30 - y / 80), np.sin(x / 35)], 1)
    lean = normal - slope + normal * (slope * normal).sum(axis=1, keepdims=True)
    lean /= np.linalg.norm(lean, axis=1, keepdims=True)
    vector = np.stack([(lean * axis).sum(axis=1) for axis in (along, across, normal)], axis=1)
    codes = np.full((size_px * size_px, 3), (128, 128, 255), np.uint8)
    codes[index] = np.floor(vector * 127.5 + (128.0, 128.0, 127.5) + (0.5, 0.5, 0.5)).clip(0, 255)
    return codes.reshape(size_px, size_px, 3), vector


@pytest.mark.parametrize("name", ["vest", "pullover"])
def test_normals_keep_within_2_degrees(name: str) -> None:
    """Against the map that the same relief in space gives in the new layout, and back again."""
    size = 512
    old, new = rewrapped(DEMO / f"ferry-{name}.obj")
    there = route(way_between(old, new), old_px=size, new_px=size)
    back = route(way_between(new, old), old_px=size, new_px=size)
    first, truth = in_space(old, size)
    once = carry_picture(there, first, "normal", threads=2)
    off = off_deg(vectors(once[there.face >= 0]), in_space(new, size)[1])
    assert np.mean(off) < 1.0
    assert np.percentile(off, 95) < 2.0
    again = carry_picture(back, once, "normal", threads=2)
    off = off_deg(vectors(again[back.face >= 0]), truth)
    assert np.mean(off) < 1.0
    assert np.percentile(off, 95) < 2.0
