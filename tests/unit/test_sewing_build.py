from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from tests.straight_seams import CREAM, NAVY, grid, hemmed, part, straight, topstitched
from texbake.arrays import F32
from texbake.layout.values import Near
from texbake.recipe.values import SeamRecipe
from texbake.sewing.build import footprint, sew
from texbake.sewing.spec import SewnSpec, spec_for_seam
from texbake.sewing.values import Sewn

TEXEL_MM = 0.1


@cache
def closed_seam() -> SewnSpec:
    recipe = SeamRecipe(stitch="301", thread=CREAM)
    return spec_for_seam(straight(60.0, closed=True), recipe, NAVY, 0.6, (True, True))


@cache
def plain_seam() -> SewnSpec:
    return spec_for_seam(straight(61.0), SeamRecipe(), NAVY, 0.6, (True, True))


def strip(spec: SewnSpec, texel_mm: float = TEXEL_MM) -> tuple[Sewn, tuple[int, int]]:
    """A strip of 61 x 12 mm, and its rows and columns; rows go away from the chain."""
    near, size = grid(texel_mm, 61.0, 12.0)
    return sew(near, spec, size, size), (int(12.0 / texel_mm), int(61.0 / texel_mm))


def at_mm(distance_mm: float) -> int:
    return round(distance_mm / TEXEL_MM)


def test_a_seam_without_stitches_is_a_groove_that_is_dark_in_its_line() -> None:
    sewn, shape = strip(plain_seam())
    height, dark = sewn.height_mm.reshape(shape), sewn.occlusion.reshape(shape)
    assert (height[0] < height[at_mm(1.5)] - 0.2).all()
    assert (dark[0] < 0.9).all()
    assert (dark[at_mm(5.0)] > 0.99).all()
    assert not sewn.cover.any()


def test_both_sides_of_a_seam_bend_alike_and_meet() -> None:
    near, size = grid(TEXEL_MM, 61.0, 12.0)
    other = replace(near, away=-near.away, side=np.ones_like(near.side))
    one, two = sew(near, plain_seam(), size, size), sew(other, plain_seam(), size, size)
    assert np.array_equal(one.height_mm, two.height_mm)
    assert np.array_equal(one.slope[0], two.slope[0])
    assert one.slope[1] == pytest.approx(-two.slope[1])


def test_a_hem_stands_above_the_cloth_and_falls_at_its_edges() -> None:
    sewn, shape = strip(hemmed())  # 5 mm wide, of cloth 0.6 mm thick
    height = sewn.height_mm.reshape(shape).mean(axis=1)
    assert height[at_mm(1.2)] == pytest.approx(0.6, abs=0.05)
    assert height[at_mm(7.0)] == pytest.approx(0.0, abs=0.05)
    assert height[0] < 0.3
    slope = sewn.slope[1].reshape(shape).mean(axis=1)
    assert slope[0] > 1.0
    assert slope[at_mm(5.0)] < -0.3


def test_slopes_are_the_gradient_of_the_height() -> None:
    near, size = grid(0.03, 12.0, 3.0)
    sewn = sew(near, topstitched(), size, size)
    shape = (100, 400)
    across, along = np.gradient(sewn.height_mm.reshape(shape).astype(np.float64), 0.03)
    inner = (slice(2, -2), slice(2, -2))
    for got, want in ((sewn.slope[0], along), (sewn.slope[1], across)):
        off = got.reshape(shape)[inner] - want[inner]
        assert np.sqrt(np.mean(off**2)) < 0.15 * np.sqrt(np.mean(want[inner] ** 2))


def test_thread_lies_in_its_row_and_holes_are_dark() -> None:
    sewn, shape = strip(topstitched(), 0.05)
    cover, light = sewn.cover.reshape(shape), sewn.occlusion.reshape(shape)
    rows = np.flatnonzero(cover.max(axis=1) > 0.5) * 0.05
    assert rows.min() == pytest.approx(1.85, abs=0.1)
    assert rows.max() == pytest.approx(5.15, abs=0.1)
    middle = round(2.0 / 0.05)
    assert 0.75 < cover[middle].mean() < 0.9  # the share between the holes
    holes = light[middle][cover[middle] == 0.0]
    assert holes.min() < 0.5
    assert light[middle][cover[middle] == 1.0].mean() > 0.9


def test_stitches_of_a_row_differ_in_tone_and_none_repeats() -> None:
    spec = topstitched()
    tones = np.diff(spec.tone, axis=1)
    assert len(np.unique(tones.round(6))) > 0.95 * tones.size
    assert np.abs(tones).max() < 0.05
    sewn, shape = strip(spec, 0.05)
    shade, cover = sewn.shade.reshape(shape), sewn.cover.reshape(shape)
    assert np.average(shade, weights=cover) == pytest.approx(1.0, abs=0.02)


def test_rows_on_one_side_leave_the_other_bare() -> None:
    spec = spec_for_seam(
        straight(61.0), SeamRecipe(stitch="301", thread=CREAM), NAVY, 0.6, (False, True)
    )
    near, size = grid(TEXEL_MM, 61.0, 12.0)
    other = replace(near, away=-near.away, side=np.ones_like(near.side))
    assert not sew(near, spec, size, size).cover.any()
    assert sew(other, spec, size, size).cover.max() > 0.9


def test_thread_is_twisted_the_same_way_on_both_sides() -> None:
    # Walking along the chain, what lies right of a row on one side lies right of it on the other.
    near, size = grid(0.05, 20.0, 4.0)
    other = replace(
        near, distance_mm=4.0 - near.distance_mm, away=-near.away, side=np.ones_like(near.side)
    )
    spec = spec_for_seam(
        straight(61.0), SeamRecipe(stitch="301", thread=CREAM), NAVY, 0.6, (True, True)
    )
    one, two = sew(near, spec, size, size), sew(other, spec, size, size)
    band = np.abs(near.distance_mm - 2.0) < 0.3
    assert one.cover[band] == pytest.approx(two.cover[band], abs=1e-3)
    assert one.shade[band] == pytest.approx(two.shade[band], abs=2e-2)
    uneven = one.cover.reshape(80, 400)[34:46] - one.cover.reshape(80, 400)[34:46][::-1]
    assert np.abs(uneven).max() > 0.1  # or the test could not tell


def test_plies_wind_like_the_bar_of_a_z() -> None:
    near, size = grid(0.02, 20.0, 3.0)
    sewn = sew(near, topstitched(), size, size)
    shade = sewn.shade.reshape(150, 1000)
    # Away is left of the chain: a little to the right, plies of Z twist come later along it.
    left, right = shade[102, 20:-20], shade[98, 20:-20]
    shifts = range(-12, 13)
    best = max(
        shifts, key=lambda k: float(np.corrcoef(left[20:-20], np.roll(right, k)[20:-20])[0, 1])
    )
    assert -8 <= best <= -1


def test_a_closed_chain_has_no_beginning() -> None:
    spec = closed_seam()
    near, size = grid(0.3, 60.0, 6.0)
    turned = replace(near, arc_mm=near.arc_mm + 60.0)
    one, two = sew(near, spec, size, size), sew(turned, spec, size, size)
    assert one.height_mm == pytest.approx(two.height_mm, abs=1e-3)
    assert one.cover == pytest.approx(two.cover, abs=0.01)
    shape = (20, 200)
    step = np.abs(np.diff(one.height_mm.reshape(shape), axis=1)).max(axis=0)
    last = np.abs(one.height_mm.reshape(shape)[:, 0] - one.height_mm.reshape(shape)[:, -1])
    assert last.max() <= step.max()


def test_an_open_chain_has_no_thread_past_its_end() -> None:
    near, size = grid(TEXEL_MM, 61.0, 12.0)
    first = part(near, np.flatnonzero(near.arc_mm < 1.5))
    turned = np.array([[-np.sqrt(0.75)], [0.5]], np.float32)  # 60 degrees past the end
    past = replace(
        first,
        arc_mm=np.zeros_like(first.arc_mm),
        away=np.broadcast_to(turned, first.away.shape).astype(np.float32),
    )
    few = size[: first.at.size]
    assert sew(first, topstitched(), few, few).cover.max() > 0.0
    assert not sew(past, topstitched(), few, few).cover.any()


def test_a_square_texel_is_as_large_whichever_way_it_lies() -> None:
    angles = np.linspace(0.0, np.pi, 7).astype(np.float32)
    near = whirl(angles)
    steps = np.broadcast_to(np.array([[0.3, 0.0], [0.0, -0.3]], np.float32), (7, 2, 2))
    away, along = footprint(near, steps)
    assert away.dtype == along.dtype == np.float32
    assert away == pytest.approx(np.full(7, 0.3), abs=1e-6)
    assert along == pytest.approx(np.full(7, 0.3), abs=1e-6)


def test_a_stretched_texel_is_long_along_its_stretch() -> None:
    steps = np.array([[[0.9, 0.0], [0.0, -0.1]]] * 2, np.float32)
    away, along = footprint(whirl(np.array([0.0, np.pi / 2], np.float32)), steps)
    assert away == pytest.approx([0.9, 0.1], abs=1e-6)
    assert along == pytest.approx([0.1, 0.9], abs=1e-6)


def whirl(angle: F32) -> Near:
    """Texels whose ``away`` points at each angle."""
    away = np.stack([np.cos(angle), np.sin(angle)])
    return Near(
        at=np.arange(angle.size),
        distance_mm=np.ones_like(angle),
        arc_mm=np.ones_like(angle),
        away=away,
        along=np.stack([-away[1], away[0]]),
        side=np.zeros(angle.size, np.int32),
    )


def test_no_texels_are_fine() -> None:
    near, size = grid(1.0, 10.0, 10.0)
    none = np.zeros(0, np.int64)
    sewn = sew(part(near, none), topstitched(), size[:0], size[:0])
    assert sewn.height_mm.shape == (0,)
    assert sewn.slope.shape == (2, 0)


def test_open_rows_are_secured_by_stitches_that_go_back() -> None:
    recipe = SeamRecipe(stitch="301", thread=CREAM)
    tacked, plain = (
        spec_for_seam(straight(61.0), replace(recipe, tack=tack), NAVY, 0.6, (True, True))
        for tack in (True, False)
    )
    near, size = grid(0.05, 61.0, 4.0)
    more = (sew(near, tacked, size, size).cover - sew(near, plain, size, size).cover).reshape(
        80, -1
    )
    along = more.mean(axis=0)
    stitch = round(tacked.stitch_mm / 0.05)
    assert along[stitch : 3 * stitch].mean() > 0.02  # between half a stitch and three and a half
    assert along[-3 * stitch : -stitch].mean() > 0.02
    assert np.abs(along[4 * stitch : -4 * stitch]).max() < 1e-6
    assert closed_seam().tacked == 0
