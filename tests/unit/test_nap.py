"""Raised cloth, and what hair and plies do to a knit: form, not mean colour, changes."""

from dataclasses import replace

import numpy as np
import pytest

from tests.flat_cloth import FABRICS, bake_flat
from texbake import cloth
from texbake.arrays import F32
from texbake.cloth.tile import HEIGHT, MOMENT, OCCLUSION, WEIGHT, Tile
from texbake.recipe.values import Fabric


def tile(fabric: Fabric, **changes: object) -> Tile:
    return cloth.render(replace(fabric, **changes), 24)  # type: ignore[arg-type]  # by name


def yarned(fabric: Fabric, **changes: object) -> Tile:
    assert fabric.yarn is not None
    return tile(fabric, yarn=replace(fabric.yarn, **changes))  # type: ignore[arg-type]  # by name


def deep(made: Tile) -> float:
    """Spread of the height, mm."""
    return float(made.channels[HEIGHT].std())


@pytest.mark.parametrize("name", ["flannel", "jersey"])
def test_a_nap_bridges_the_yarns_more_the_more_it_is_raised(name: str) -> None:
    clear, light, full = (tile(FABRICS[name], raised=share) for share in (0.0, 0.3, 0.9))
    assert deep(clear) > 1.2 * deep(light) > 1.2 * 1.2 * deep(full)
    open_sky = [float(made.channels[OCCLUSION].mean()) for made in (clear, light, full)]
    assert open_sky == sorted(open_sky)


def test_a_nap_is_wider_than_one_repeat_so_that_hairs_do_not_come_back_with_it() -> None:
    clear, raised = (tile(FABRICS["flannel"], raised=share) for share in (0.0, 0.7))
    times = raised.width_mm / clear.width_mm
    assert raised.width_mm > 12.0
    assert times == pytest.approx(round(times), abs=1e-6)
    assert raised.length_mm > 12.0


def test_a_nap_is_combed_along_the_grain() -> None:
    weight = tile(FABRICS["flannel"], raised=1.0).channels[WEIGHT:].sum(0)
    across, along = (float(np.abs(np.diff(weight, axis=axis)).mean()) for axis in (1, 0))
    assert across > 1.15 * along


def test_raising_keeps_the_mean_and_dulls_the_surface() -> None:
    clear, raised = (
        bake_flat(replace(FABRICS["flannel"], raised=share), 0.2, 64) for share in (0.0, 0.7)
    )
    assert np.allclose(clear.albedo.mean((1, 2)), raised.albedo.mean((1, 2)), rtol=0.03)
    assert raised.alpha2.mean() > 1.2 * clear.alpha2.mean()


def test_what_is_not_raised_is_one_repeat() -> None:
    made = tile(FABRICS["flannel"], raised=0.0)
    assert made.width_mm == pytest.approx(4 * 10 / 16.5)


def test_hair_softens_a_knit_and_lights_its_gaps() -> None:
    smooth, hairy = (yarned(FABRICS["jersey"], hair=share) for share in (0.0, 0.9))
    assert smooth.channels[MOMENT].mean() > 1.1 * hairy.channels[MOMENT].mean()
    assert _darkest(smooth) < _darkest(hairy)


def _darkest(made: Tile) -> float:
    weight: F32 = made.channels[WEIGHT]
    return float(np.quantile(weight, 0.02))


@pytest.mark.parametrize("plies", [2, 3])
def test_plies_cut_grooves_into_the_yarn_of_a_knit(plies: int) -> None:
    one, more = (yarned(FABRICS["jersey"], plies=k, hair=0.0) for k in (1, plies))
    assert more.channels[MOMENT].mean() > 1.03 * one.channels[MOMENT].mean()
    assert more.channels[WEIGHT].std() > one.channels[WEIGHT].std()
