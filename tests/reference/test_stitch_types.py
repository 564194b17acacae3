"""Stitch types against what ISO 4915:1991 says of them."""

import math

import numpy as np
import pytest

from tests.straight_seams import CREAM, NAVY, grid, straight
from texbake.arrays import F64
from texbake.recipe.values import HemRecipe, SeamRecipe, Stitching
from texbake.sewing import strand
from texbake.sewing.build import sew
from texbake.sewing.drawing import COVER, HEIGHT, VARIANTS
from texbake.sewing.spec import SewnSpec, gauge_mm, spec_for_hem, spec_for_seam
from texbake.sewing.stitch_types import STITCHES, Size, picture, plain, stitches
from texbake.sewing.sums import plane_mean

D, LENGTH = 0.29, 2.5
# ISO 4915:1991 (as ASTM D6193 has it too): threads in all, and needle threads among them.
ISO = {
    "301": (2, 1), "304": (2, 1), "401": (2, 1), "406": (3, 2), "504": (3, 1), "514": (4, 2),
    "516": (5, 2), "602": (4, 2), "605": (5, 3), "607": (6, 4),
}  # fmt: skip


def threads(number: str, *, inside: bool = False) -> list[F64]:
    size = Size(diameter_mm=D, stitch_mm=LENGTH, gauge_mm=STITCHES[number].gauge_mm)
    seen = picture(number, size, inside=inside)
    assert seen is not None
    return [strand.curve(points, VARIANTS * LENGTH, 0.02) for points in seen.strands]


def crossings(number: str, across_mm: float, *, inside: bool = False) -> float:
    """How often, per stitch, threads that lie on the cloth cross a line along the row."""
    total = 0
    for walked in threads(number, inside=inside):
        over = walked[:, 1] > across_mm
        total += int(((over != np.roll(over, 1)) & (walked[:, 2] > -0.5 * D)).sum())
    return total / VARIANTS


def side_by_side(number: str, share: float, *, inside: bool = False) -> float:
    """How many threads on the cloth pass a place ``share`` of the way along a stitch."""
    total = 0
    for walked in threads(number, inside=inside):
        for stitch in range(VARIANTS):
            past = walked[:, 0] > (stitch + share) * LENGTH
            total += int(((past[1:] != past[:-1]) & (walked[1:, 2] > -0.5 * D)).sum())
    return total / VARIANTS


@pytest.mark.parametrize("number", sorted(ISO))
def test_each_type_has_the_threads_and_needles_of_the_standard(number: str) -> None:
    kind = STITCHES[number]
    needles = 1 if number == "304" else len(kind.needles)  # one, that swings to two places
    assert (kind.threads, needles) == ISO[number]


@pytest.mark.parametrize("number", ["301", "401"])
def test_lockstitch_and_chainstitch_have_one_face(number: str) -> None:
    assert plain(number, inside=False)
    assert plain("301", inside=True)
    assert not plain("401", inside=True)


def test_a_chain_shows_three_lengths_of_looper_thread_beneath() -> None:
    # A loop, which is two lengths, and the thread from which the next one is drawn.
    assert side_by_side("401", 0.5, inside=True) == 3.0


def test_a_zigzag_goes_over_once_per_stitch() -> None:
    assert crossings("304", 0.0) == 1.0


def test_needle_rows_of_406_run_side_by_side_on_the_face_and_nothing_joins_them() -> None:
    assert crossings("406", 0.0) == 0.0
    assert crossings("406", 0.0, inside=True) == 2.0  # the looper goes over and comes back


@pytest.mark.parametrize(("number", "between"), [("602", 0.0), ("605", 1.4), ("607", 1.9)])
def test_the_cover_thread_goes_over_all_needle_rows_and_back(number: str, between: float) -> None:
    for line in (-between, between):
        assert crossings(number, line) == 2.0


@pytest.mark.parametrize("number", ["504", "514", "516"])
def test_an_overedge_goes_to_the_edge_and_back_once_per_stitch(number: str) -> None:
    kind = STITCHES[number]
    assert crossings(number, 0.25 * kind.gauge_mm) == 2.0
    assert max(walked[:, 1].max() for walked in threads(number)) > 0.5 * kind.gauge_mm


def hemmed_with(number: str, *, texel_mm: float = 0.05, **more: object) -> tuple[F64, SewnSpec]:
    """Mean cover by distance from the edge of a hem."""
    recipe = HemRecipe(stitch=number, width_mm=12.0, thread=CREAM, **more)  # type: ignore[arg-type]
    spec = spec_for_hem(straight(61.0, kind="hem"), recipe, NAVY, 0.6)
    near, size = grid(texel_mm, 61.0, 14.0)
    cover = sew(near, spec, size, size).cover.reshape(-1, int(61.0 / texel_mm))
    return cover.mean(axis=1).astype(np.float64), spec


@pytest.mark.parametrize("number", ["406", "602", "605", "607"])
def test_needle_rows_are_a_gauge_apart_and_the_last_lies_where_the_recipe_says(number: str) -> None:
    cover, spec = hemmed_with(number, gauge_mm=6.4, from_edge_mm=2.0)
    rows = sorted(spec.across[0].rows_mm)
    assert rows[-1] == pytest.approx(10.0)
    assert rows[-1] - rows[0] == pytest.approx(6.4)
    assert len(rows) == ISO[number][1]
    for row in rows:
        assert cover[round(row / 0.05 - 0.5)] > 0.7


@pytest.mark.parametrize("number", ["504", "514", "516"])
def test_an_overedged_hem_is_not_turned_and_its_threads_go_round_the_edge(number: str) -> None:
    cover, spec = hemmed_with(number)
    assert spec.across[0].lift_mm == 0.0
    assert cover[:3].mean() > 0.4
    wide = STITCHES[number].gauge_mm
    assert not cover[round((wide + 1.0) / 0.05) :].any()
    assert max(spec.across[0].rows_mm) == pytest.approx(wide)


def test_a_seam_that_is_overedged_on_the_inside_shows_no_thread_on_its_face() -> None:
    faces = [
        spec_for_seam(straight(61.0), SeamRecipe(stitch="504", seen=seen), NAVY, 0.6, (True, False))
        for seen in ("face", "inside")
    ]
    assert faces[0].table is None
    assert faces[1].table is not None
    near, size = grid(0.1, 40.0, 8.0)
    cover = sew(near, faces[1], size, size).cover.reshape(80, -1).mean(axis=1)
    edge = 20 + round(STITCHES["504"].gauge_mm / 0.1)  # beyond from_edge
    assert cover[20:edge].min() > 0.05
    assert cover[edge - 5 : edge].max() > cover[25:35].max()  # loopers meet at the raw edge


@pytest.mark.parametrize("number", ["304", "406", "504", "602", "607"])
def test_both_sides_of_a_seam_are_sewn_alike(number: str) -> None:
    recipe = SeamRecipe(stitch=number, seen="inside", thread=CREAM)  # type: ignore[arg-type]
    spec = spec_for_seam(straight(61.0), recipe, NAVY, 0.6, (True, True))
    near, size = grid(0.1, 40.0, 12.0)
    other = type(near)(
        at=near.at, distance_mm=near.distance_mm, arc_mm=near.arc_mm, away=-near.away,
        along=near.along, side=np.ones_like(near.side),
    )  # fmt: skip
    one, two = (sew(n, spec, size, size).cover.reshape(120, -1) for n in (near, other))
    middle = one.mean(axis=1), two.mean(axis=1)
    rows = spec.across[0].rows_mm
    mirrored = spec.across[0].lines_mm[0] * 2.0 / 0.1
    if number == "504":  # the raw edge is further from the seam than the needles, on both sides
        assert middle[0] == pytest.approx(middle[1], abs=0.02)
    else:  # as it runs along the chain: what lies left of one row lies left of the other
        back = round(mirrored) - 1 - np.arange(120)
        fits = (back >= 0) & (back < 120)
        assert middle[0][fits] == pytest.approx(middle[1][back[fits]], abs=0.03)
    assert len(rows) == len(STITCHES[number].needles)


@pytest.mark.parametrize("number", ["304", "516", "602"])
def test_the_table_holds_the_means_of_the_drawing(number: str) -> None:
    size = Size(diameter_mm=D, stitch_mm=LENGTH, gauge_mm=STITCHES[number].gauge_mm)
    seen = picture(number, size, inside=False)
    assert seen is not None
    drawn = strand.draw(seen, D, LENGTH, 128, 480)  # finer than the table, and at other places
    table = stitches(number, False, D, LENGTH, size.gauge_mm)
    spots = np.linspace(0.03, 0.93, 24)
    for spot in spots.tolist():
        for wide in (0.05, 0.3):
            low, high = spot * VARIANTS, spot * VARIANTS + wide
            left, right = (spot - 0.5) * seen.half_mm, (spot - 0.5) * seen.half_mm + wide
            box = (np.array([v], np.float32) for v in (low, high, left, right))
            a, b, c, e = box
            got = plane_mean(table, (a, b), (c, e))[:, 0]
            n, m = drawn.cover.shape[0] - 1, drawn.cover.shape[1] - 1
            rows = slice(round(low / VARIANTS * n), round(high / VARIANTS * n) + 1)
            columns = slice(
                round((left / seen.half_mm + 1) * m / 2),
                round((right / seen.half_mm + 1) * m / 2) + 1,
            )
            assert got[COVER] == pytest.approx(drawn.cover[rows, columns].mean(), abs=0.06)
            want = drawn.height_mm[rows, columns].mean()
            assert got[HEIGHT] == pytest.approx(want, abs=0.012)


def test_a_zigzag_grows_with_its_thread_and_needles_keep_their_gauge() -> None:
    assert gauge_mm(Stitching(stitch="304", scale=3.0)) == pytest.approx(12.0)
    assert gauge_mm(Stitching(stitch="602", scale=2.0)) == pytest.approx(5.6)
    assert gauge_mm(Stitching(stitch="607", scale=9.0)) > 3 * 2.0 * 9.0 * D  # until threads touch
    assert gauge_mm(Stitching(stitch="301", gauge_mm=5.0)) == 0.0


def test_a_closed_zigzag_ends_where_it_began() -> None:
    recipe = HemRecipe(stitch="304", length_mm=2.0)
    for length in (40.9, 41.9, 43.1):
        spec = spec_for_hem(straight(length, kind="hem", closed=True), recipe, NAVY, 0.6)
        assert spec.stitches % 2 == 0


def test_pucker_follows_the_tension_of_the_thread() -> None:
    calm, tight = (
        spec_for_seam(straight(61.0), SeamRecipe(stitch="301", pucker=p), NAVY, 0.6, (True, True))
        for p in (0.0, 2.0)
    )
    assert calm.pucker_mm == 0.0
    assert tight.pucker_mm == pytest.approx(0.8 * 2.0 * tight.across[0].trough_mm)
    assert not math.isclose(tight.pucker_mm, 0.0)
