"""Laws 2 and 3: the garment is sewn in space; the UV layout only says where it is written."""

import math
from pathlib import Path

import numpy as np
import pytest

from tests.tube import (
    HEIGHT_CM,
    RADIUS_CM,
    BakedTube,
    Placing,
    bake_tube,
    cut_once_more,
    lab_at,
    linear_albedo,
    mirrored_and_stretched,
    read_at,
    surface_points,
    turned,
    upright,
)
from texbake.arrays import F64
from texbake.colour import delta_e00

# 512 texels over 0.42 of the picture for 126 mm: 0.58 mm a texel; four texels a yarn at scale 9.
CLOTH = """
size: 512
fabrics:
  cloth:
    weave: twill 2/1 Z
    warp: {count: 40 tex, per_cm: 20, colour: "#3d5a6c"}
    weft: {count: 40 tex, per_cm: 20, colour: "#6d7a86"}
    scale: SCALE
panels:
  front: {group: front}
  back: {group: back}
"""


def _recipe(scale: float, *, seams: str = "seams: none\nhems: none\n") -> str:
    return CLOTH.replace("SCALE", str(scale)) + seams


@pytest.mark.parametrize("other", [turned, mirrored_and_stretched])
def test_two_layouts_are_one_garment(tmp_path: Path, other: Placing) -> None:
    recipe = _recipe(6.0)
    points = surface_points(20_000)
    first = lab_at(bake_tube(tmp_path, upright, recipe).maps, upright, points)
    second = lab_at(bake_tube(tmp_path, other, recipe).maps, other, points)
    difference = delta_e00(first, second)
    assert np.median(difference) <= 1.0
    assert np.quantile(difference, 0.95) <= 3.0


def test_a_panel_cut_once_more_in_uv_shows_no_line_there(tmp_path: Path) -> None:
    recipe = _recipe(6.0).replace("front: {group: front}", "front: {islands: [0, 1]}")
    plain = bake_tube(tmp_path, upright, _recipe(6.0))
    cut = bake_tube(tmp_path, cut_once_more, recipe, split=True)
    assert [c.kind for c in cut.prepared.garment.chains].count("cut") == 1
    _, _, t = surface_points(2_000)
    for side in (-1.0, 1.0):
        s = np.full_like(t, 0.5 + side * 0.008)  # one millimetre beside the cut
        points = np.zeros(len(t), np.int64), s, t
        difference = delta_e00(
            lab_at(plain.maps, upright, points), lab_at(cut.maps, cut_once_more, points)
        )
        assert np.median(difference) <= 1.0
        assert np.quantile(difference, 0.95) <= 3.0


def _line(baked: BakedTube, placing: Placing, axis: int, count: int) -> F64:
    """Luminance along a line on the surface of the front, mean over many parallel ones."""
    along = np.linspace(0.05, 0.95, count)
    lines = []
    for other in np.linspace(0.3, 0.7, 41):
        s, t = (along, np.full(count, other)) if axis == 0 else (np.full(count, other), along)
        points = np.zeros(count, np.int64), s, t
        lines.append(read_at(linear_albedo(baked.maps), placing, points).mean(1))
    return np.array(lines)


@pytest.mark.parametrize("placing", [upright, mirrored_and_stretched, turned])
@pytest.mark.parametrize("axis", [0, 1])
def test_yarns_per_cm_on_the_garment_are_the_recipe_s(
    tmp_path: Path, placing: Placing, axis: int
) -> None:
    scale, per_cm = 4.0, 20.0
    plain = _recipe(scale).replace("twill 2/1 Z", "plain").replace("size: 512", "size: 1024")
    baked = bake_tube(tmp_path, placing, plain)
    count = 4096
    lines = _line(baked, placing, axis, count)
    length_cm = 0.9 * (math.pi * RADIUS_CM if axis == 0 else HEIGHT_CM)
    window = np.hanning(count)
    lines = (lines - lines.mean(1, keepdims=True)) * window
    power = (np.abs(np.fft.rfft(lines, 8 * count)) ** 2).sum(0)
    frequency = np.fft.rfftfreq(8 * count, length_cm / (count - 1))  # cycles per cm
    # A plain weave repeats after two yarns; its strongest wave along either axis has one yarn's
    # pitch or two, so look round the pitch itself.
    want = per_cm / scale
    near = (frequency > 0.8 * want) & (frequency < 1.2 * want)
    found = frequency[near][np.argmax(power[near])]
    assert found == pytest.approx(want, rel=0.01)
