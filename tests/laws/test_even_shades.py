"""Shades step evenly in lightness, and tones keep their distance: measured on baked cloth."""

from pathlib import Path

import numpy as np
import pytest

from tests.flat_cloth import bake_flat, pitch_mm
from texbake.arrays import F64
from texbake.colour import linear_to_lab, srgb_codes, srgb_decode
from texbake.recipe import Project, loads

CLOTH = """\
garment: tee
mesh: tee.obj
fabrics:
  drill: {weave: twill 2/1, warp: {count: 30 tex, per_cm: 24}}
  jersey:
    knit: single jersey
    yarn: {melange: {"#aeb4b5": 60 %, "#8d9496": 30 %, "#5f676a": 10 %}}
fabric: drill
colourways:
"""
# To where crowns of yarns, which are lighter than the mean, begin to clip: near the border of sRGB
# cloth comes out darker than asked (orange at L* 80 by 1.1), as law 6 says of white.
ROWS = [("gray", 25, 80), ("#3d5a6c", 25, 70), ("#b3352b", 20, 50), ("indigo", 15, 40)]


def read(ways: str) -> Project:
    return loads(CLOTH + ways, Path("tee.yaml"))


def baked_lab(project: Project, way: str, name: str) -> F64:
    """Mean colour of the albedo as its file holds it."""
    fabric = project.colourways[way].fabrics[name]
    baked = bake_flat(fabric, pitch_mm(fabric) / 4.0, 192)
    codes = srgb_codes(np.ascontiguousarray(baked.albedo, np.float32))
    return linear_to_lab(srgb_decode(codes / 255.0).mean((1, 2)))


@pytest.mark.parametrize(("of", "first", "last"), ROWS)
def test_shades_are_evenly_light_and_of_one_hue_on_the_cloth(
    of: str, first: int, last: int
) -> None:
    shades = f'{{of: "{of}", count: 6, lightness: [{first}, {last}]}}'
    project = read(f"  way: {{shades: {shades}, set: drill.colour}}\n")
    labs = np.array([baked_lab(project, name, "drill") for name in project.colourways])
    assert list(project.colourways) == [f"way-{k}" for k in range(1, 7)]
    steps = np.diff(labs[:, 0])
    np.testing.assert_allclose(steps, (last - first) / 5, rtol=0, atol=0.5)
    assert labs[0, 0] == pytest.approx(first, abs=1.0)
    if of != "gray":
        assert np.ptp(np.degrees(np.arctan2(labs[:, 2], labs[:, 1]))) < 3.0


def test_a_melange_follows_as_a_whole() -> None:
    project = read("""\
  way:
    each: {sea: "#4a7a8c", clay: "#a06a50"}
    set: drill.colour
    tones: {jersey.yarn.melange: [9, 0, 0]}
""")
    for name in ("sea", "clay"):
        apart = baked_lab(project, name, "jersey") - baked_lab(project, name, "drill")
        np.testing.assert_allclose(apart, [9.0, 0.0, 0.0], rtol=0, atol=1.0)
