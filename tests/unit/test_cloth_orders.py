"""Orders of colour, plies, slubs, metal: what yarns bring to a weave."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from tests.flat_cloth import ECRU, FABRICS, INK, SETT, SLATE, TEETH, bake_flat, flat, linear, yarn
from texbake import cloth
from texbake.cloth.order import common_repeat, shares, stripes
from texbake.cloth.tile import HEIGHT, WEIGHT
from texbake.errors import UserErrors
from texbake.recipe import loads
from texbake.recipe.orders import parse_order
from texbake.recipe.values import Fabric, Melange, Order, Plain, Twill

RECIPE = """
garment: scarf
mesh: scarf.obj
fabric: check
fabrics:
  check:
    weave: twill 2/2
    colours: {navy: "#22304a", fog: "#d5d8da"}
    sett: SETT
colourways: {sand: {check.colours.navy: tan}}
"""


def test_a_sett_turns_at_both_strokes_and_doubles_neither() -> None:
    assert parse_order("a/3 b 2 c/4") == (("a", 3), ("b", 2), ("c", 4), ("b", 2))
    assert parse_order("a 3, b 2") == (("a", 3), ("b", 2))


@pytest.mark.parametrize("text", ["navy", "navy 8 fog", "navy/8 fog 4", "navy 0", "a 700 b 700"])
def test_what_is_no_order_is_refused_with_a_cure(text: str) -> None:
    with pytest.raises(UserErrors, match=r"fabrics\.check\.sett") as found:
        loads(RECIPE.replace("SETT", f'"{text}"'), Path("scarf.yaml"))
    assert "fix:" in str(found.value)


def test_an_unknown_colour_of_an_order_is_told_with_the_nearest_name() -> None:
    with pytest.raises(UserErrors, match="'nvy' is no colour of this fabric") as found:
        loads(RECIPE.replace("SETT", '"nvy 8 fog 4"'), Path("scarf.yaml"))
    assert "did you mean 'navy'?" in str(found.value)


def test_a_colourway_changes_a_named_colour_and_not_the_weave() -> None:
    project = loads(RECIPE.replace("SETT", "navy 8 fog 4"), Path("scarf.yaml"))
    base, sand = project.recipe.fabrics["check"], project.colourways["sand"].fabrics["check"]
    assert base.warp is not None
    assert sand.warp is not None
    assert base.warp.order is not None
    assert sand.warp.order is not None
    assert base.warp.order.slots == sand.warp.order.slots == (0,) * 8 + (1,) * 4
    assert base.warp.order.colours[1] == sand.warp.order.colours[1]
    assert base.warp.order.colours[0] != sand.warp.order.colours[0]
    assert base.undyed == replace(sand.undyed, name=base.name)


def test_short_orders_are_woven_into_the_tile_and_long_ones_are_not() -> None:
    short, long = yarn(50, 16, order=TEETH), yarn(50, 16, order=SETT)
    draft, ordered = common_repeat(Twill(over=2, under=2), short, short)
    assert (draft.shape, ordered) == ((8, 8), True)
    draft, ordered = common_repeat(Twill(over=2, under=2), long, short)
    assert (draft.shape, ordered) == ((4, 4), False)


@pytest.mark.parametrize("turn", [0.0, 0.3])
@pytest.mark.parametrize("texel", [0.13, 0.9, 4.1])
def test_shares_of_an_order_are_the_means_over_the_texel(texel: float, turn: float) -> None:
    """Against 64 x 64 samples of the texel's parallelogram."""
    pitch = 0.5
    box = flat(texel, 2, turn_rad=turn).footprint_mm
    order = stripes(SETT, pitch, box, 0)
    x = np.linspace(3.0, 47.0, 60, dtype=np.float32)
    got = shares(order, np.zeros(len(x), np.int32), x)
    place = (np.arange(64) + 0.5) / 64 - 0.5
    at = x[:, None, None] + box[0, 0, 0] * place[:, None] + box[0, 0, 1] * place
    slot = np.array(SETT.slots)[np.floor(at / pitch).astype(int) % len(SETT.slots)]
    want = np.stack([(slot == k).mean((1, 2)) for k in range(len(SETT.colours))])
    np.testing.assert_allclose(got.sum(0), 1.0, atol=1e-4)
    # A stripe's edge is drawn in eighths of a yarn, where texels are finer than that.
    assert np.sqrt(((got - want) ** 2).mean()) < (0.06 if texel < pitch else 0.01)


@pytest.mark.parametrize("name", ["houndstooth", "tartan"])
def test_the_mean_of_a_pattern_is_the_mean_of_its_yarns(name: str) -> None:
    fabric = FABRICS[name]
    assert fabric.warp is not None
    assert fabric.warp.order is not None
    repeat_mm = 10.0 * len(fabric.warp.order.slots) / fabric.warp.per_cm
    baked = bake_flat(fabric, repeat_mm / 64.0, 128)
    want = linear(fabric.warp.order.mean)
    np.testing.assert_allclose(baked.albedo.mean((1, 2)), want, rtol=0.04)


def test_a_stripe_lies_on_the_yarns_it_names() -> None:
    """One dark end in eight: at 16 texels a yarn, dark warp shows in that yarn's place only."""
    order = Order(slots=(1, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0), colours=(ECRU, INK))
    fabric = Fabric(
        name="pin", structure=Plain(), warp=yarn(20, 20, order=order), weft=yarn(20, 20, ECRU)
    )
    size = 17 * 16
    baked = bake_flat(fabric, 10.0 / 20 / 16, size)
    dark = baked.cloth.weights[1].reshape(size, size).mean(0)
    assert dark[:16].mean() > 0.2
    assert dark[20:-4].max() < 0.02


def test_each_ply_of_a_marl_shows_alike() -> None:
    tile = cloth.render(FABRICS["marl"], 24)
    warp = tile.channels[WEIGHT : WEIGHT + 2].mean((1, 2))
    assert warp[0] == pytest.approx(warp[1], rel=0.15)


@pytest.mark.parametrize(("letter", "sign"), [("Z", 1.0), ("S", -1.0)])
def test_plies_lean_as_the_letter_of_the_twist(letter: str, sign: float) -> None:
    spun = yarn(84, 11, plies=2, marl=(ECRU, INK), twist=letter)
    fabric = Fabric(name="p", structure=Plain(), warp=spun, weft=spun)
    channels = cloth.render(fabric, 48).channels[WEIGHT:].astype(np.float64)
    total = channels[0] + channels[1]
    light = channels[0] / np.maximum(total, 1e-6)
    side = channels.shape[1] // 8
    lean = 0.0
    for k in range(8):  # the crossings of the diagonal, where the warp is on top
        cut = slice(k * side + side // 4, (k + 1) * side - side // 4)
        up, right = np.gradient(light[cut, cut])
        lean -= float((up * right).mean())
    assert sign * lean > 0.0


def test_slubs_widen_the_cloth_here_and_there_and_stand_up() -> None:
    fabric = FABRICS["slub"]
    assert fabric.weft is not None
    even = replace(fabric, weft=replace(fabric.weft, slub=0.0))
    texel = 0.5 / 4.0
    got, plain = bake_flat(fabric, texel, 256), bake_flat(even, texel, 256)
    rise = got.height_mm - plain.height_mm
    assert rise.max() > 0.03  # mm
    share = got.cloth.weights[1] - plain.cloth.weights[1]
    assert np.corrcoef(rise.ravel(), share)[0, 1] > 0.2  # where it stands up, weft shows more


def test_a_space_dyed_yarn_keeps_its_colour_for_about_the_length_it_is_dyed_in() -> None:
    melange = Melange(parts=((ECRU, 0.5), (INK, 0.5)))
    warp = yarn(30, 20, melange=melange, spaced_mm=20.0, irregularity=0.0)
    fabric = Fabric(name="ikat", structure=Plain(), warp=warp, weft=yarn(30, 20, SLATE))
    baked = bake_flat(fabric, 0.5, 512)
    # Two picks together: the warp dives under one of them.
    light, dark = baked.cloth.weights[:2].reshape(2, 256, 2, 512).sum(2)
    on = light / np.maximum(light + dark, 1e-6) > 0.5
    changes = (on[1:] != on[:-1]).sum(0).mean()
    # A run is drawn anew, half the time in the same colour: twice the length between changes.
    assert 512 * 0.5 / changes == pytest.approx(2.0 * 20.0, rel=0.35)


def test_metal_yarns_are_metal_where_they_show() -> None:
    lurex = yarn(20, 20, SLATE, metallic=True, lustre=0.9)
    fabric = Fabric(name="lurex", structure=Plain(), warp=yarn(20, 20), weft=lurex)
    baked = bake_flat(fabric, 0.5 / 12.0, 96)
    weft = baked.cloth.weights[1] / baked.cloth.weights.sum(0)
    np.testing.assert_allclose(baked.cloth.metal, weft, atol=0.12)  # weights hold streaks too
    assert baked.cloth.metal.min() < 0.05
    assert baked.cloth.metal.max() > 0.95
    assert baked.alpha2.min() < 0.1 * baked.alpha2.max()  # and they alone are smooth


def test_floats_of_a_satin_close_over_its_bindings() -> None:
    """A satin is smooth: less of it lies deep than of a plain weave of the same yarns."""
    fabric = FABRICS["satin"]
    deep = [
        float((h < 0.35 * h.max()).mean())
        for f in (fabric, replace(fabric, structure=Plain()))
        for h in (cloth.render(f, 24).channels[HEIGHT],)
    ]
    assert deep[0] < 0.5 * deep[1]
