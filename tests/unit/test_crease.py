"""Creases: one height in space, exact slopes, fading, and no more than is asked for."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from tests.tube import Placing, cut_once_more, turned, upright, write_tube
from texbake import crease
from texbake.arrays import F32, F64
from texbake.bake import height_range_mm
from texbake.errors import UserErrors
from texbake.layout import Layout, Texels, lay_out, texels
from texbake.layout.tables import space_mm
from texbake.prepared import prepare, read_garment
from texbake.recipe import Recipe, loads

LINES = "  strength: 100 %\n  places:\n    - {between: [front, back], length: 50 mm}\n"
AT = "    - {at: [0, 5, 4], radius: 30 mm, kind: %s}\n"
KINDS = ("drag lines", "whiskers", "honeycombs", "stacks")


def _recipe(
    folder: Path, creases: str, placing: Placing = upright, *, size: int = 512, split: bool = False
) -> Recipe:
    path = write_tube(folder / "tube.obj", placing, split=split)
    lines = [f"garment: tube\nmesh: {path.name}\nmesh_unit: cm\nsize: {size}\nfabric: plain"]
    lines.append("seams: none\nhems: none")
    if split:
        lines.append("panels: {front: {group: front}, back: {group: back}}")
    if creases:
        lines.append(f"creases:\n{creases}")
    return next(iter(loads("\n".join(lines), folder / "tube.yaml").colourways.values()))


def _laid(recipe: Recipe) -> tuple[Layout, crease.Field]:
    garment = read_garment(recipe)
    layout = lay_out(garment, recipe.size_px, gutter_px=recipe.gutter_px)
    found = crease.prepare(garment, layout, recipe)
    assert found is not None
    return layout, found


def _read(layout: Layout, field: crease.Field) -> tuple[Texels, F64, F32]:
    """All texels: themselves, height and slopes as (3, N), and places in space."""
    band = texels(layout, slice(0, layout.size_px))
    sewn = crease.crease(band, field)
    out = np.zeros((3, len(band.index)))
    assert sewn is not None
    out[0, sewn.at], out[1:, sewn.at] = sewn.height_mm, sewn.slope
    return band, out, space_mm(layout, band)


def _on_grid(points: F32, values: F64, other: F32) -> tuple[F64, F64]:
    """Nearest of ``points`` to each of ``other``: its values, and how far it is."""
    from scipy.spatial import cKDTree

    far, at = cKDTree(points.T.astype(float)).query(other.T.astype(float))
    return values[:, at], np.asarray(far)


@pytest.mark.parametrize("creases", [LINES, *(f"  places:\n{AT % k}" for k in KINDS)])
def test_slopes_are_the_gradient_of_the_height(tmp_path: Path, creases: str) -> None:
    layout, field = _laid(_recipe(tmp_path, creases))
    band, got, _ = _read(layout, field)
    step = np.float32(0.02)
    moved = [
        Texels(
            index=band.index, face=band.face, x_mm=band.x_mm + sx * step, y_mm=band.y_mm + sy * step
        )
        for sx, sy in ((1, 0), (-1, 0), (0, 1), (0, -1))
    ]
    heights = []
    for each in moved:
        sewn = crease.crease(each, field)
        assert sewn is not None
        whole = np.zeros(len(band.index))
        whole[sewn.at] = sewn.height_mm
        heights.append(whole)
    right, left, up, down = heights
    numeric = np.stack([right - left, up - down]) / (2.0 * float(step))
    assert np.abs(got[1:]).max() > 0.05, "nothing is creased"
    assert np.abs(got[1:] - numeric).max() < 0.004  # a slope of 0.25 degrees


@pytest.mark.parametrize("placing", [turned, cut_once_more])
def test_the_same_place_in_space_has_the_same_height_in_any_layout(
    tmp_path: Path, placing: Placing
) -> None:
    creases = LINES + AT % "honeycombs"
    first = _read(*_laid(_recipe(tmp_path, creases)))
    second = _read(*_laid(_recipe(tmp_path, creases, placing, split=placing is cut_once_more)))
    there, far = _on_grid(first[2], first[1], second[2])
    deep = np.abs(first[1][0]).max()
    # The nearest texel is up to 0.3 mm away and a flank rises 0.4 a mm: all else must agree.
    close = far < 0.02
    assert close.sum() > 150
    assert np.abs(there[0] - second[1][0])[close].max() < 0.01 * deep


def test_both_sides_of_a_seam_have_one_height_and_no_step(tmp_path: Path) -> None:
    garment = read_garment(recipe := _recipe(tmp_path, LINES))
    layout, field = _laid(recipe)
    seam = next(c for c in garment.chains if c.kind == "seam")
    share = np.linspace(0.0, 1.0, 40)
    heights = []
    for side in (0, 1):
        ends = seam.pattern_mm[side]
        at = ends[:, :1] + share[:, None] * (ends[:, 1:] - ends[:, :1])
        face = np.repeat(seam.face[side], len(share))
        order = np.argsort(face, kind="stable")
        x, y = (at.reshape(-1, 2)[order, k].astype(np.float32) for k in (0, 1))
        band = Texels(index=np.arange(len(x)), face=face[order], x_mm=x, y_mm=y)
        sewn = crease.crease(band, field)
        assert sewn is not None
        whole = np.zeros(len(x))
        whole[order[sewn.at]] = sewn.height_mm
        heights.append(whole)
    deep = np.abs(heights[0]).max()
    assert deep > 0.3
    assert np.abs(heights[0] - heights[1]).max() < 0.01 * deep
    del layout


def test_folds_fade_with_distance_from_their_seam_and_stay_within_reach(tmp_path: Path) -> None:
    layout, field = _laid(_recipe(tmp_path, LINES.replace("50 mm", "30 mm")))
    _, got, space = _read(layout, field)
    # The seams run up the tube at x = -40 and 40 mm: angles 0 and 180 degrees.
    arc = 40.0 * np.arccos(np.clip(np.abs(space[0]) / 40.0, 0.0, 1.0))
    near, middle, beyond = (
        got[0][(arc >= a) & (arc < b)] for a, b in ((0, 10), (18, 28), (50, 63))
    )
    assert np.sqrt(np.mean(near**2)) > 3.0 * np.sqrt(np.mean(middle**2)) > 0.0
    assert not beyond.any()


def test_folds_are_elongated_across_their_seam(tmp_path: Path) -> None:
    layout, field = _laid(_recipe(tmp_path, LINES))
    _, got, space = _read(layout, field)
    arc = 40.0 * np.arccos(np.clip(np.abs(space[0]) / 40.0, 0.0, 1.0))
    x, y = got[1:, (arc > 6.0) & (arc < 40.0)]
    # A plane wave along the seam would have no slope across it; round humps have as much each way.
    assert np.sqrt(np.mean(y * y)) > 1.8 * np.sqrt(np.mean(x * x))


def test_strength_is_proportional_and_zero_is_nothing(tmp_path: Path) -> None:
    whole = _read(*_laid(_recipe(tmp_path, LINES)))[1]
    half = _read(*_laid(_recipe(tmp_path, LINES.replace("100 %", "50 %"))))[1]
    assert np.allclose(half, 0.5 * whole, atol=1e-5)
    none = _recipe(tmp_path, LINES.replace("100 %", "0 %"))
    garment = read_garment(none)
    assert crease.prepare(garment, lay_out(garment, 512, gutter_px=16), none) is None
    assert prepare(_recipe(tmp_path, "")).creases is None


def test_a_texel_shows_the_mean_of_what_it_covers(tmp_path: Path) -> None:
    fine = _read(*_laid(_recipe(tmp_path, LINES, size=1024)))
    coarse = _read(*_laid(_recipe(tmp_path, LINES, size=64)))
    size = np.zeros(1024 * 1024, np.float64)
    size[fine[0].index] = 1.0

    def blocks(values: F64) -> F64:
        whole = np.zeros(1024 * 1024)
        whole[fine[0].index] = values
        total: F64 = whole.reshape(64, 16, 64, 16).sum(axis=(1, 3)).ravel()
        return total

    covered = blocks(np.ones(len(fine[0].index)))[coarse[0].index]
    full = covered == 256.0
    assert full.sum() > 500
    for k, worst in ((0, 0.05), (1, 0.01), (2, 0.01)):  # texels of 4.7 mm, folds of 8 to 20 mm
        want = blocks(fine[1][k])[coarse[0].index][full] / 256.0
        error = np.sqrt(np.mean((coarse[1][k][full] - want) ** 2))
        assert error < worst, (k, error)


def test_bands_of_any_size_give_the_same_bits(tmp_path: Path) -> None:
    layout, field = _laid(_recipe(tmp_path, LINES + AT % "honeycombs"))
    whole = crease.crease(texels(layout, slice(0, 512)), field)
    assert whole is not None
    parts = [crease.crease(texels(layout, slice(a, a + 7)), field) for a in range(0, 512, 7)]
    for name in ("height_mm", "slope", "occlusion"):
        pieces = [getattr(part, name) for part in parts if part is not None]
        assert np.array_equal(np.concatenate(pieces, axis=-1), getattr(whole, name))


def test_the_bounds_of_height_hold(tmp_path: Path) -> None:
    recipe = _recipe(tmp_path, LINES)
    layout, field = _laid(recipe)
    height = _read(layout, field)[1][0]
    assert field.low_mm < height.min() < 0.0 < height.max() < field.high_mm
    assert height.max() > 0.6 * field.high_mm
    low, high = height_range_mm(prepare(recipe))
    flat_low, flat_high = height_range_mm(prepare(replace(recipe, creases=None)))
    assert low <= flat_low + field.low_mm + 1e-6
    assert high >= flat_high + field.high_mm - 1e-6


def test_valleys_are_darker_than_crests(tmp_path: Path) -> None:
    layout, field = _laid(_recipe(tmp_path, LINES))
    sewn = crease.crease(texels(layout, slice(0, 512)), field)
    assert sewn is not None
    low, high = sewn.height_mm < -0.2, sewn.height_mm > 0.2
    assert sewn.occlusion[low].mean() < sewn.occlusion[high].mean() - 0.02
    assert sewn.occlusion.min() >= 0.6
    assert sewn.occlusion.max() <= 1.0


def test_gaps_between_folds_do_not_repeat(tmp_path: Path) -> None:
    layout, field = _laid(_recipe(tmp_path, LINES))
    _, got, space = _read(layout, field)
    row = (np.abs(space[0]) > 39.0) & (space[2] > 0.0)
    order = np.argsort(space[1][row])
    line = np.interp(np.arange(2.0, 98.0, 0.5), space[1][row][order], got[0][row][order])
    line -= line.mean()
    same = np.correlate(line, line, "full")[len(line) - 1 :]
    same /= same[0] * (1.0 - np.arange(len(same)) / len(same))
    beyond = same[40 : len(same) // 2]  # 20 mm on: past the fold itself
    assert beyond.max() < 0.6


@pytest.mark.parametrize(
    ("places", "what"),
    [
        ("{between: [front, sleeve]}", "no panel 'sleeve'"),
        ("{between: [front, front]}", "no seam between 'front' and 'front'"),
        ("{at: [0, 50, 0]}", "nearest cloth is"),
        ("{at: [0, 5, 4], panel: sleeve}", "no panel 'sleeve'"),
    ],
)
def test_a_place_that_is_not_there_is_told(tmp_path: Path, places: str, what: str) -> None:
    recipe = _recipe(tmp_path, f"  places:\n    - {places}\n")
    with pytest.raises(UserErrors, match=what):
        prepare(recipe)


@pytest.mark.parametrize(
    ("place", "what"),
    [
        ("{kind: whiskers, on: front}", "whiskers lie round a point"),
        ("{kind: roping, at: [0, 0, 0]}", "roping twists a hem"),
        ("{strength: 50 %}", "has no place"),
        ("{on: front, at: [0, 0, 0]}", "has on and at"),
    ],
)
def test_a_place_says_one_place_that_suits_its_kind(tmp_path: Path, place: str, what: str) -> None:
    with pytest.raises(UserErrors, match=what):
        _recipe(tmp_path, f"  places:\n    - {place}\n")
