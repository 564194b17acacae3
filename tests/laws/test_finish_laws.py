"""The laws hold for finished cloth too: no alias, roughness, true colour, whatever the layout."""

from pathlib import Path

import numpy as np
import pytest

from tests.finished_by_hand import finish_flat
from tests.flat_cloth import FABRICS, box_mean, linear, pitch_mm
from tests.tube import bake_tube, lab_at, surface_points, turned, upright
from texbake.arrays import F64
from texbake.cloth.tile import STEEPEST
from texbake.cloth.tops import TOPS
from texbake.colour import delta_e00, linear_to_lab
from texbake.finish.dye import rubbed_off, with_dye
from texbake.recipe.values import Finish

OVER, SIZE = 8, 24
TILT = np.array([[0.8, 0.0], [0.0, 1.0], [0.6, 0.0]])
YARN_TEXELS = (12.0, 6.0, 3.0, 1.5, 0.7, 0.2)
FINISHES = {
    "clouds": Finish(unlevel=0.15, unlevel_mm=12.0),
    "stone": Finish(stone_washed=0.8),
    "pills": Finish(pills_per_dm2=200.0, pill_mm=1.5),
    "all": Finish(unlevel=0.1, faded=0.3, stone_washed=0.6, pills_per_dm2=60.0, pill_mm=2.0),
}


def _degrees(a: F64, b: F64) -> float:
    def normals(slope: F64) -> F64:
        n = np.stack([-slope[0], -slope[1], np.ones_like(slope[0])])
        out: F64 = n / np.linalg.norm(n, axis=0)
        return out

    cosine = np.clip((normals(a) * normals(b)).sum(0), -1.0, 1.0)
    return float(np.degrees(np.sqrt((np.arccos(cosine) ** 2).mean())))


@pytest.mark.parametrize("yarn_texels", YARN_TEXELS)
@pytest.mark.parametrize(
    ("name", "kind"), [*(("denim", kind) for kind in FINISHES), ("melange", "all")]
)
def test_a_finished_bake_equals_the_box_filtered_bake_at_eight_times_the_size(
    name: str, kind: str, yarn_texels: float
) -> None:
    fabric, finish = FABRICS[name], FINISHES[kind]
    texel = pitch_mm(fabric) / yarn_texels
    coarse = finish_flat(fabric, finish, texel, SIZE, turn_rad=0.2, sky=0.7)
    fine = finish_flat(fabric, finish, texel / OVER, SIZE * OVER, turn_rad=0.2, sky=0.7)
    error = np.sqrt(((coarse.albedo - box_mean(fine.albedo, OVER)) ** 2).mean())
    assert error * 255.0 <= 4.0
    assert _degrees(coarse.slope, box_mean(fine.slope, OVER)) <= 3.0
    square = box_mean(np.clip(fine.slope, -STEEPEST, STEEPEST) ** 2, OVER)
    lost = np.maximum(0.5 * (square - box_mean(fine.slope, OVER) ** 2).sum(0), 0.0)
    want = box_mean(fine.alpha2 + 2.0 * fine.variance, OVER) + 2.0 * lost
    got = np.minimum(coarse.alpha2 + 2.0 * coarse.variance, 1.0) ** 0.25
    assert abs(got.mean() / (np.minimum(want, 1.0) ** 0.25).mean() - 1.0) <= 0.10


def test_clouds_as_large_as_the_garment_leave_its_mean_colour() -> None:
    fabric = FABRICS["plain"]
    plain = finish_flat(fabric, Finish(), 4.0, 128)
    cloudy = finish_flat(fabric, Finish(unlevel=0.3, unlevel_mm=900.0), 4.0, 128)
    assert np.ptp(box_mean(cloudy.albedo - plain.albedo, 32)) > 0.01
    means = [linear_to_lab(baked.albedo.mean((1, 2))) for baked in (plain, cloudy)]
    assert delta_e00(means[0], means[1]) <= 0.1


def test_pills_too_small_to_be_seen_are_in_the_roughness() -> None:
    fabric, finish = FABRICS["felt"], Finish(pills_per_dm2=200.0, pill_mm=2.0)
    plain, pilled = (finish_flat(fabric, f, 6.0, 24) for f in (Finish(), finish))
    fine = finish_flat(fabric, finish, 0.1, 700, tilt=TILT)
    bare = finish_flat(fabric, Finish(), 0.1, 700, tilt=TILT)
    lost = 0.5 * ((fine.slope - bare.slope) ** 2).sum(0).mean()
    assert (pilled.variance - plain.variance).mean() == pytest.approx(lost, rel=0.2)
    assert np.array_equal(pilled.slope, plain.slope)


@pytest.mark.parametrize("name", ["plain", "denim", "jersey"])
def test_dye_clouds_leave_the_mean_colour_and_vary_the_dye_by_the_recipe_s_share(name: str) -> None:
    fabric = FABRICS[name]
    plain = finish_flat(fabric, Finish(), 2.0, 256)
    cloudy = finish_flat(fabric, Finish(unlevel=0.10, unlevel_mm=60.0), 2.0, 256)
    means = [linear_to_lab(baked.albedo.mean((1, 2))) for baked in (plain, cloudy)]
    assert delta_e00(means[0], means[1]) <= 1.0
    own = fabric.warp or fabric.yarn
    assert own is not None
    change = (cloudy.albedo - plain.albedo).mean(0)
    assert change.std() > 0.0
    # From R = 1 + K/S - sqrt((K/S)^2 + 2 K/S): how R answers a change of 10 % in K/S.
    if name == "plain":
        r = linear(own.colour)
        answer = (r - with_dye(r, 1.001)) / 0.001
        share = (cloudy.albedo - plain.albedo)[0] / plain.albedo[0] / (answer[0] / r[0])
        assert abs(share.std() / 0.10 - 1.0) <= 0.25  # a 50 cm sheet holds some 70 clouds


def test_cloth_faded_by_the_whole_sky_keeps_the_rest_of_its_dye_and_upright_cloth_is_halfway() -> (
    None
):
    fabric, finish = FABRICS["plain"], Finish(faded=0.4)
    assert fabric.warp is not None
    own = linear(fabric.warp.colour)
    for sky, want in ((1.0, with_dye(own, 0.6)), (0.5, 0.5 * (own + with_dye(own, 0.6)))):
        mean = finish_flat(fabric, finish, 0.9, 128, sky=sky).albedo.mean((1, 2))
        assert delta_e00(linear_to_lab(mean), linear_to_lab(want)) <= 1.0


@pytest.mark.parametrize("yarn_texels", [8.0, 0.4])
@pytest.mark.parametrize("name", ["drill", "jersey", "corduroy"])
def test_a_stone_wash_takes_the_mean_as_far_to_the_rubbed_colour_as_the_reference_says(
    name: str, yarn_texels: float
) -> None:
    fabric, strength = FABRICS[name], 0.7
    finish = Finish(stone_washed=strength)
    own = cloth_colour(name)
    baked = finish_flat(fabric, finish, pitch_mm(fabric) / yarn_texels, 160)
    core = np.maximum(own, rubbed_off(own, finish.core.linear))
    want = own + TOPS * strength * (core - own)
    assert delta_e00(linear_to_lab(baked.albedo.mean((1, 2))), linear_to_lab(want)) <= 1.0


def cloth_colour(name: str) -> F64:
    fabric = FABRICS[name]
    yarn = fabric.warp or fabric.yarn
    assert yarn is not None
    return linear(yarn.colour)


def test_tops_of_yarns_go_pale_and_hollows_stay_dark() -> None:
    fabric = FABRICS["plain"]
    texel = pitch_mm(fabric) / 16.0
    plain = finish_flat(fabric, Finish(), texel, 128)
    washed = finish_flat(fabric, Finish(stone_washed=0.8), texel, 128)
    gained = (washed.albedo / plain.albedo).mean(0)
    low, high = np.quantile(plain.height_mm, [0.1, 0.9])
    assert gained[plain.height_mm > high].mean() > 1.8
    assert gained[plain.height_mm < low].mean() < 1.1


CLOTH = """
size: 512
fabrics:
  cloth:
    weave: plain
    warp: {count: 40 tex, per_cm: 20, colour: "#3d5a6c"}
    weft: {count: 40 tex, per_cm: 20, colour: "#3d5a6c"}
    scale: 6
    finish: {unlevel: 20 %, unlevel_size: 30 mm, faded: 40 %, stone_washed: 50 %}
panels:
  front: {group: front}
  back: {group: back}
seams: none
hems: none
"""


def test_two_layouts_are_one_finished_garment(tmp_path: Path) -> None:
    points = surface_points(20_000)
    first = lab_at(bake_tube(tmp_path, upright, CLOTH).maps, upright, points)
    second = lab_at(bake_tube(tmp_path, turned, CLOTH).maps, turned, points)
    difference = delta_e00(first, second)
    assert np.median(difference) <= 1.0
    assert np.quantile(difference, 0.95) <= 3.0
