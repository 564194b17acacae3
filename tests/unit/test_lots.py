"""Dye lots: every albedo is to the byte what it is alone, and all other maps are one."""

from dataclasses import replace

import numpy as np
import pytest

from tests.tube import upright, write_tube
from texbake.bake import render
from texbake.lots import MOST, lot_size, render_lot
from texbake.prepared import prepare, redress
from texbake.recipe import Recipe, loads

# Every kind of thing that has a colour.
TEXT = """\
garment: tube
mesh: tube.obj
size: 64
fabrics:
  shell:
    weave: twill 2/1
    warp: {colour: navy}
    weft: {melange: {"#eeeeee": 60 %, "#444444": 40 %}}
    scale: 6
    finish: {core: tan, pilling: 20 /dm2, faded: 40 %, stone_washed: 30 %, thread_dyed: 50 %}
  lining: {net: tulle, colour: gray, scale: 6}
  tape: {weave: plain, warp: {colour: white}, weft: {colour: red}, scale: 6}
fabric: shell
panels:
  front: {group: front}
  back: {group: back, fabric: lining}
seams:
  - {between: [front, back], thread: {colour: white}, scale: 3}
hems:
  - {on: front, construction: bound, cloth: tape}
  - {on: back, construction: bound, trim: gold}
details:
  - {kind: bar tack, at: [0, 5, 4], thread: lime, scale: 3}
creases: {strength: 50 %}
colourways:
  navy: {}
  red: {shell.finish.core: gold, shell.warp.colour: red, lining.colour: black}
  melange: {shell.weft.melange: {"#aa2222": 60 %, "#22aa22": 40 %}}
  sewn: {seams.0.thread.colour: blue, hems.1.trim: teal, details.0.thread.colour: red}
  taped: {tape.weft.colour: blue, tape.warp.colour: yellow}
"""


@pytest.fixture(scope="module")
def recipes(tmp_path_factory: pytest.TempPathFactory) -> list[Recipe]:
    folder = tmp_path_factory.mktemp("lots")
    write_tube(folder / "tube.obj", upright)
    return list(loads(TEXT, folder / "tube.yaml").colourways.values())


def test_a_lot_gives_what_each_colourway_gives_alone(recipes: list[Recipe]) -> None:
    first = prepare(recipes[0])
    ready = [first, *(redress(first, recipe) for recipe in recipes[1:])]
    maps, albedos = render_lot(ready, threads=2)
    shown = (maps.albedo, *albedos)
    assert len({image.tobytes() for image in shown}) == len(recipes)  # each has another colour
    for recipe, albedo in zip(recipes, shown, strict=True):
        alone = render(prepare(recipe), recipe, threads=1)
        both = zip(alone.images, replace(maps, albedo=albedo).images, strict=True)
        assert all(np.array_equal(one, other) for one, other in both)


def test_lots_are_small_where_maps_are_large() -> None:
    assert lot_size(64) == MOST
    assert [lot_size(px) for px in (2048, 4096, 8192, 16384)] == [16, 5, 1, 1]
