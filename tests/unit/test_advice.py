"""Figures of layouts put together by hand, and what is said of those over a limit."""

import math
from collections.abc import Mapping
from dataclasses import fields, replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from tests.garments_by_hand import box, garment, sheet
from texbake.advice import LIMITS, Figures, Limits, judge, measure, off_square, uv_stretch
from texbake.arrays import F64
from texbake.garment.values import Garment
from texbake.layout import lay_out

SIZE = 256
MESHES = Path(__file__).resolve().parents[2].parent / "shared" / "meshes" / "garments"


def figures(made: Garment, gutter_px: int = 4) -> Figures:
    return measure(made, lay_out(made, SIZE, gutter_px=0), gutter_px=gutter_px)


def two(second: F64, mm: tuple[F64, F64] | None = None) -> Garment:
    """A square of a quarter of the sheet at the bottom left, and another island."""
    first = sheet(2, 2, box(0.0, 0.0, 0.5, 0.5))
    uv = np.concatenate([first, second])
    panel = np.array([0] * len(first) + [1] * len(second), np.int32)
    pattern = None if mm is None else np.concatenate(mm)
    return garment(uv, panel=panel, pattern_mm=pattern)


def mm(side: float) -> F64:
    """The pattern of a square."""
    return sheet(2, 2, box(0, 0, side, side))


def rules(made: Figures, limits: Limits = LIMITS) -> list[str]:
    return [one.rule for one in judge(made, limits)]


@pytest.mark.parametrize("degrees", [0.0, 20.0, 45.0])
@pytest.mark.parametrize("mirror", [1.0, -1.0])
def test_stretch_is_the_ratio_of_a_texels_longest_to_its_shortest_step(
    degrees: float, mirror: float
) -> None:
    """Three times as long as wide, whichever way the island is turned or mirrored."""
    a = math.radians(degrees)
    turn = np.array([[math.cos(a), -math.sin(a)], [math.sin(a), math.cos(a)]])
    plane = sheet(2, 2, box(-0.2, -0.2, 0.2, 0.2))
    made = garment(plane @ turn * [mirror, 1] + 0.5, pattern_mm=plane * [300.0, 100.0])
    assert uv_stretch(lay_out(made, SIZE, gutter_px=0)) == pytest.approx([3.0] * 8, rel=1e-5)


def test_a_sheared_texel_has_the_singular_values_of_the_shear() -> None:
    """For x + s y the longer is (s + sqrt(s^2 + 4)) / 2, the shorter its inverse."""
    plane, s = sheet(2, 2, box(0.1, 0.1, 0.5, 0.5)), 0.7
    made = garment(plane, pattern_mm=plane @ np.array([[1.0, 0.0], [s, 1.0]]) * 100)
    longer = (s + math.sqrt(s * s + 4)) / 2
    assert uv_stretch(lay_out(made, SIZE, gutter_px=0)) == pytest.approx([longer**2] * 8, rel=1e-5)


def test_mean_stretch_is_weighted_by_area_and_a_sliver_counts_in_the_worst_only() -> None:
    uv = np.concatenate([sheet(1, 1, box(0, 0, 0.5, 0.5)), sheet(1, 1, box(0.6, 0, 0.7, 0.1))])
    flat = np.concatenate([sheet(1, 1, box(0, 0, 500, 500)), sheet(1, 1, box(0, 600, 50, 620))])
    (panel,) = figures(garment(uv, pattern_mm=flat)).panels
    share = 50 * 20 / (500 * 500 + 50 * 20)
    assert panel.uv_stretch_mean == pytest.approx(1 + 1.5 * share, rel=1e-5)
    assert (panel.uv_stretch, panel.uv_stretch_max) == pytest.approx((1.0, 2.5), rel=1e-5)


def test_density_spread_is_between_the_panels() -> None:
    second = sheet(2, 2, box(0.6, 0.6, 0.9, 0.9))
    made = figures(
        two(second, (sheet(2, 2, box(0, 0, 500, 500)), sheet(2, 2, box(0, 0, 150, 150))))
    )
    first, other = made.panels
    assert first.texels_per_cm.mean == pytest.approx(0.5 * SIZE / 50, rel=1e-5)
    assert other.texels_per_cm.mean == pytest.approx(0.3 * SIZE / 15, rel=1e-5)
    assert made.density_spread == pytest.approx(2.0, rel=1e-5)
    assert (made.densest, made.coarsest) == ("panel-1", "panel-0")


def test_unused_is_what_no_island_covers() -> None:
    assert figures(garment(sheet(2, 2, box(0, 0, 0.5, 0.5)))).unused == 0.75
    assert figures(two(sheet(1, 1, box(0.5, 0.5, 1.0, 1.0)))).unused == 0.5
    assert figures(garment(sheet(2, 2, box(0, 0, 1, 1)))).unused == 0.0


def test_islands_that_lie_over_each_other_are_named_with_their_texels() -> None:
    made = figures(two(sheet(1, 1, box(0.25, 0.25, 0.75, 0.75))))
    (one,) = made.shared
    assert (one.islands, one.texels) == ((0, 1), 64 * 64)
    assert made.gaps == ()
    (told,) = [f for f in judge(made) if f.rule == "overlaps"]
    assert told.what == (
        "islands 0 (panel-0), 1 (panel-1) are over one another: 4096 texels are shared"
    )
    assert rules(made, replace(LIMITS, overlaps=True, unused=1.0)) == []


def test_an_island_folded_onto_itself_shares_texels_with_itself() -> None:
    half = sheet(2, 2, box(0.2, 0.2, 0.5, 0.6))
    mm = np.concatenate([sheet(2, 2, box(0, 0, 300, 400)), sheet(2, 2, box(600, 0, 300, 400))])
    back = np.flip(half, axis=1)
    made = figures(
        garment(np.concatenate([half, back]), pattern_mm=np.concatenate([mm[:8], mm[8:, ::-1]]))
    )
    assert made.shared[0].islands == (0, 0)
    assert made.folded == (0,)
    assert {"overlaps", "folded"} <= set(rules(made))
    assert "over itself" in next(f.what for f in judge(made) if f.rule == "overlaps")


def test_a_mirrored_island_is_named_and_refused_only_on_request() -> None:
    second = sheet(2, 2, box(0.9, 0.6, 0.6, 0.9))
    made = figures(
        two(second, (sheet(2, 2, box(0, 0, 500, 500)), sheet(2, 2, box(0, 0, 300, 300))))
    )
    assert (made.mirrored, made.folded) == ((1,), ())
    assert "mirrored" not in rules(made)
    (told,) = [f for f in judge(made, replace(LIMITS, mirrored=False)) if f.rule == "mirrored"]
    assert told.what == "island 1 (panel-1) is mirrored in UV"


def test_islands_off_the_square_are_named_with_how_far() -> None:
    uv = np.concatenate([sheet(1, 1, box(-0.125, 0.2, 0.3, 0.4)), sheet(1, 1, box(0.5, 0.5, 1, 1))])
    (off,) = off_square(uv, np.array([0, 0, 1, 1], np.int32))
    assert (off.island, off.by) == (0, 0.125)
    made = figures(garment(uv, panel=np.array([0, 0, 1, 1], np.int32)))
    (told,) = [f for f in judge(made) if f.rule == "in_square"]
    assert "by up to 0.125 (32 texels)" in told.what
    assert off_square(uv[2:] + 1e-7, np.zeros(2, np.int32)) == ()


def test_a_gap_that_the_gutter_needs_is_enough_and_a_texel_less_is_not() -> None:
    """A gutter of 4 promises level 2: 12 texels."""

    def apart(texels: float) -> Figures:
        left = 0.5 + texels / SIZE
        return figures(two(sheet(1, 1, box(left, 0.0, 0.95, 0.5))))

    assert "mip_level" not in rules(apart(12.0))
    (told,) = [f for f in judge(apart(11.0)) if f.rule == "mip_level"]
    assert told.value == pytest.approx(11.0, abs=1e-5)
    assert told.limit == 12.0
    assert "mip levels to 1 stay clean, level 2 (gutter 4) needs 12" in told.what
    assert "gutter: 2" in told.fix
    assert "no mip level stays clean" in next(
        f.what for f in judge(apart(2.0)) if f.rule == "mip_level"
    )


LIMITED = [f.name for f in fields(Limits) if isinstance(getattr(LIMITS, f.name), float)]


@pytest.mark.parametrize("name", LIMITED)
def test_every_limit_passes_at_its_number_and_speaks_beyond(name: str) -> None:
    made = figures(garment(sheet(2, 2, box(0, 0, 0.9, 0.9))))
    limit = getattr(LIMITS, name)

    def at(value: float) -> Figures:
        changed: Mapping[str, Any] = {name: value}
        if name in {"unused", "density_spread"}:
            return replace(made, **changed)
        (panel,) = made.panels
        if name == "density_spread_panel":
            changed = {"texels_per_cm": replace(panel.texels_per_cm, low=1.0, high=value)}
        elif name == "stretch":
            changed = {"stretch_rms": value}
        return replace(made, panels=(replace(panel, **changed),))

    assert rules(at(limit)) == []
    (told,) = judge(at(1.01 * limit))
    assert (told.rule, told.limit) == (name, limit)
    assert told.value == pytest.approx(1.01 * limit)
    assert told.fix
    wider: Mapping[str, Any] = {name: 1.02 * limit}
    assert rules(at(1.01 * limit), replace(LIMITS, **wider)) == []


def test_a_panel_of_the_recipe_is_told_with_its_line() -> None:
    made = figures(garment(sheet(2, 2, box(0, 0, 0.9, 0.9))))
    bad = replace(made.panels[0], stretch_rms=0.1)
    mesh, recipe = Path("a.obj"), Path("a.yaml")
    (told,) = judge(replace(made, panels=(bad,)), mesh=mesh, recipe=recipe)
    assert (told.path, told.line) == (mesh, None)
    (told,) = judge(replace(made, panels=(replace(bad, line=7),)), mesh=mesh, recipe=recipe)
    assert (told.path, told.line) == (recipe, 7)


@pytest.mark.skipif(not MESHES.is_dir(), reason="needs ../shared/meshes")
@pytest.mark.parametrize(
    ("name", "wanted"),
    [
        ("tee-4-panels.obj", set()),
        ("apron-215-islands.obj", {"mip_level", "unused"}),
        ("mask-mirrored.obj", {"overlaps", "mip_level", "uv_stretch_mean"}),
        ("tee-closed.glb", {"mip_level", "stretch", "stretch_max", "uv_stretch"}),
    ],
)
def test_real_garments_are_told_what_their_index_says(name: str, wanted: set[str]) -> None:
    from texbake.prepared import read_garment
    from texbake.starter import bare_recipe

    made = read_garment(bare_recipe(MESHES / name, size_px=1024))
    told = judge(measure(made, lay_out(made, 1024, gutter_px=0), gutter_px=16))
    assert wanted <= {one.rule for one in told}
    if not wanted:
        assert told == ()
