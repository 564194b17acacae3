"""Law 6: the mean of a plain panel's albedo is the recipe's colour, within 1 dE00 (CIEDE2000)."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from tests.flat_cloth import ECRU, FABRICS, INK, SLATE, bake_flat, linear, pitch_mm, yarn
from tests.tube import bake_tube, linear_albedo, upright
from texbake import cloth
from texbake.colour import delta_e00, linear_to_lab
from texbake.recipe.values import Colour, Draft, Fabric, Order, Yarn

# Mid tones, a deep navy, a signal red, a pale grey; white itself cannot shade upwards and clips.
COLOURS = [(0.24, 0.35, 0.42), (0.05, 0.07, 0.16), (0.72, 0.10, 0.12), (0.80, 0.79, 0.76)]


def _dyed(fabric: Fabric, colour: Colour) -> Fabric:
    """All yarns in one colour."""
    yarns = {key: getattr(fabric, key) for key in ("warp", "weft", "yarn")}
    dyed = {key: _yarn(yarn, colour) for key, yarn in yarns.items() if yarn is not None}
    return replace(fabric, **dyed)  # type: ignore[arg-type]  # by name


def _yarn(yarn: Yarn, colour: Colour) -> Yarn:
    order = yarn.order and replace(yarn.order, colours=(colour,) * len(yarn.order.colours))
    marl = (colour,) * len(yarn.marl)
    return replace(yarn, colour=colour, melange=None, order=order, marl=marl)


@pytest.mark.parametrize("yarn_texels", [8.0, 2.0, 0.5])
@pytest.mark.parametrize("name", list(FABRICS))
def test_the_mean_albedo_is_the_colour_of_the_recipe(name: str, yarn_texels: float) -> None:
    colours = [Colour(srgb=srgb) for srgb in COLOURS]
    dyed = [_dyed(FABRICS[name], colour) for colour in colours]
    # What is woven no colour changes: once is enough for all.
    woven = bake_flat(dyed[0], pitch_mm(dyed[0]) / yarn_texels, 192).cloth
    for fabric, colour in zip(dyed, colours, strict=True):
        albedo = cloth.colours(fabric).T.astype(np.float64) @ woven.weights
        mean = np.clip(albedo, 0.0, 1.0).mean(1)
        assert delta_e00(linear_to_lab(mean), linear_to_lab(linear(colour))) <= 1.0, colour


def test_a_melange_means_its_parts_by_share() -> None:
    fabric = FABRICS["melange"]
    baked = bake_flat(fabric, pitch_mm(fabric) / 4.0, 256)
    assert fabric.yarn is not None
    assert fabric.yarn.melange is not None
    parts = [linear(colour) * share for colour, share in fabric.yarn.melange.parts]
    want = np.sum(parts, axis=0)
    assert delta_e00(linear_to_lab(baked.albedo.mean((1, 2))), linear_to_lab(want)) <= 1.0


# One end in three is dark, and a warp rib 2/1 binds it always, or never, where it is seen.
BOUND = Order(slots=(0, 1, 1), colours=(INK, ECRU))


@pytest.mark.parametrize(
    "fabric",
    [
        FABRICS["houndstooth"],
        FABRICS["tartan"],
        FABRICS["marl"],
        FABRICS["melange"],
        FABRICS["denim"],
        Fabric(
            name="bound",
            structure=Draft(rows=("x..", "xxx", "xx.")),
            warp=yarn(30, 20, order=BOUND),
            weft=yarn(30, 20, SLATE),
        ),
    ],
    ids=lambda fabric: fabric.name,
)
def test_the_colour_that_a_fabric_says_it_averages_to_is_that_of_its_maps(fabric: Fabric) -> None:
    """Whatever number of weights the tile has for a system: orders and marl have several."""
    baked = bake_flat(fabric, 0.5 * pitch_mm(fabric), 256)
    said = linear_to_lab(np.array(cloth.mean_colour(fabric)))
    assert delta_e00(said, linear_to_lab(baked.albedo.mean((1, 2)))) <= 1.0


def test_the_law_holds_in_the_file_s_codes_and_with_bare_background_left_out(
    tmp_path: Path,
) -> None:
    recipe = 'size: 512\nfabric: twill 2/1 S\ncolour: "#8a6a3f"\nseams: none\nhems: none\n'
    baked = bake_tube(tmp_path, upright, recipe)
    # Seam allowances bend the cloth but do not dye it, so all covered texels count.
    covered = baked.prepared.layout.face >= 0
    mean = linear_albedo(baked.maps)[covered].mean(0)
    want = linear(Colour(srgb=(0x8A / 255, 0x6A / 255, 0x3F / 255)))
    assert delta_e00(linear_to_lab(mean), linear_to_lab(want)) <= 1.0
