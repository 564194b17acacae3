"""A carried picture is the one that would have been painted in the new layout."""

from pathlib import Path

import numpy as np
import pytest

from tests.carried_by_hand import (
    DEMO,
    SHARED,
    Paint,
    checks,
    coarser,
    painted,
    psnr,
    rewrapped,
    scene,
)
from texbake.arrays import U8
from texbake.carry import Route, Sheet, carry_picture, read_sheet, route, sheet_of, way_between

SIZE = 512


def both_ways(old: Sheet, new: Sheet, size_px: int = SIZE) -> tuple[Route, Route]:
    there, back = way_between(old, new), way_between(new, old)
    return (
        route(there, old_px=size_px, new_px=size_px, threads=2),
        route(back, old_px=size_px, new_px=size_px, threads=2),
    )


def carried(way: Route, codes: U8) -> U8:
    out = carry_picture(way, codes, "colour", threads=2)
    assert out.dtype == np.uint8
    return out.astype(np.uint8, copy=False)


# Checks of 40 texels; a hard edge of one texel costs most.
@pytest.mark.parametrize(
    ("name", "paint", "fine"),
    [("vest", checks(80.0), 5), ("pullover", scene(), 2), ("trousers", scene(seed=2), 2)],
    ids=["vest-checks", "pullover-scene", "trousers-scene"],
)
def test_there_and_back_keeps_30_db_and_a_constant_every_bit(
    name: str, paint: Paint, fine: int
) -> None:
    old, new = rewrapped(DEMO / f"ferry-{name}.obj")
    there, back = both_ways(old, new)
    first = painted(old, SIZE, paint, fine=fine)
    once = carried(there, first)
    assert psnr(once, painted(new, SIZE, paint, fine=fine), there.face >= 0) >= 30.0
    assert psnr(carried(back, once), first, back.face >= 0) >= 30.0
    plain = np.full((SIZE, SIZE, 3), (10, 1, 200), np.uint8)
    assert (carried(there, plain)[there.face >= 0] == (10, 1, 200)).all()


@pytest.mark.skipif(not SHARED.is_dir(), reason="no ../shared/meshes")
@pytest.mark.parametrize(
    ("old", "new", "unit_mm"),
    [
        ("garments/tee-4-panels.obj", "pairs/tee-4-panels-reunwrapped.obj", 10.0),
        ("pairs/tee-two-uv-sets-A.obj", "pairs/tee-two-uv-sets-B.obj", 1000.0),
    ],
)
def test_real_garments_keep_30_db(old: str, new: str, unit_mm: float) -> None:
    first, second = (read_sheet(Path(SHARED / name), unit_mm=unit_mm) for name in (old, new))
    there, back = both_ways(first, second)
    paint = scene()
    picture = painted(first, SIZE, paint)
    once = carried(there, picture)
    assert psnr(once, painted(second, SIZE, paint), there.face >= 0) >= 30.0
    assert psnr(carried(back, once), picture, back.face >= 0) >= 30.0


def test_a_lightly_remeshed_garment_is_carried_through_the_nearest_places() -> None:
    """A tenth of the inner vertices gone: the surface itself moves by up to 4 mm there."""
    old, new = rewrapped(DEMO / "ferry-pullover.obj")
    new = sheet_of(coarser(new.mesh))
    way = way_between(old, new)
    assert 0.7 < way.paired < 0.95
    assert way.share > 0.99
    there = route(way, old_px=SIZE, new_px=SIZE, threads=2)
    assert there.missing < 0.01 * np.count_nonzero(there.face >= 0)
    paint = scene()
    got = carried(there, painted(old, SIZE, paint))
    listed = np.zeros(SIZE * SIZE, np.bool_)
    listed[there.strays.index] = True
    stray = listed.reshape(SIZE, SIZE)
    want = painted(new, SIZE, paint)
    assert psnr(got, want, stray) >= 27.0
    assert psnr(got, want, (there.face >= 0) & ~stray) >= 35.0
    plain = np.full((SIZE, SIZE, 3), (10, 1, 200), np.uint8)
    assert (carried(there, plain)[there.face >= 0] == (10, 1, 200)).all()
