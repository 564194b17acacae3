"""What the eye knows a cloth by: lustre of satin, softness of fleece, closeness of terry and purl.

Limits are by eye, no source, where no source is named.
"""

from dataclasses import replace

import numpy as np

from tests.flat_cloth import FABRICS, bake_flat, yarn
from texbake import cloth
from texbake.cloth.tile import HEIGHT, MOMENT, OCCLUSION, SLOPE_X, SLOPE_Y, WEIGHT
from texbake.recipe import Fabric
from texbake.recipe.structures import construction
from texbake.recipe.values import Chart, Colour, Jersey, Leather, Melange, Satin
from texbake.swatch.samples import samples

BLACK, WHITE = Colour(srgb=(0.0, 0.0, 0.0)), Colour(srgb=(1.0, 1.0, 1.0))


def _sample(key: str) -> Fabric:
    return next(sample.fabric for sample in samples() if sample.key == key)


def _roughness_from_afar(fabric: Fabric) -> float:
    """Of texels of 2 mm: whatever relief the cloth has is in it."""
    baked = bake_flat(replace(fabric, scale=1.0), 2.0, 16)
    return float((np.minimum(baked.alpha2 + 2.0 * baked.variance, 1.0) ** 0.25).mean())


def test_satin_shines_from_afar_and_plain_cloth_does_not() -> None:
    """Nylon has 0.30, other cloths 0.54 to 0.78 (MERL, shared/tables/fabric_reflectance.md)."""
    assert 0.30 <= _roughness_from_afar(_sample("satin-8-3")) <= 0.40
    assert 0.30 <= _roughness_from_afar(_sample("shipped-satin")) <= 0.45
    assert _roughness_from_afar(_sample("plain")) > 0.7


def test_filaments_lie_along_their_yarn_and_spun_fibres_wind_round_it() -> None:
    """Shade of a satin's warp changes along the yarns as their fibres wind."""

    def winding(lustre: float) -> float:
        spun = yarn(10, 80, lustre=lustre, hair=0.0)
        fabric = Fabric(
            name="s", structure=Satin(ends=8, move=3), warp=spun, weft=replace(spun, per_cm=40.0)
        )
        shade = cloth.render(fabric, 64).channels[WEIGHT]
        along, across = (float((np.diff(shade, axis=k) ** 2).mean()) for k in (0, 1))
        return along / across

    assert winding(1.0) < 0.85 * winding(0.2)


def test_fleece_is_dull_and_has_no_hard_pits() -> None:
    tile = cloth.render(FABRICS["fleece"], 24).channels
    slope = np.hypot(tile[SLOPE_X], tile[SLOPE_Y])
    assert np.sqrt(tile[MOMENT].mean()) < 0.15
    assert np.quantile(slope, 0.99) < 0.5
    assert tile[OCCLUSION].min() > 0.7
    assert _roughness_from_afar(FABRICS["fleece"]) > 0.85


def test_hairs_of_fleece_lie_down_the_grain() -> None:
    """Shade changes more across them than along them."""
    shade = cloth.render(FABRICS["fleece"], 24).channels[WEIGHT]
    across, along = (float((np.diff(shade, axis=k) ** 2).mean()) for k in (1, 0))
    assert across > 1.15 * along


def test_loops_of_terry_leave_few_dark_gaps() -> None:
    tile = cloth.render(FABRICS["towelling"], 24).channels
    assert (tile[OCCLUSION] < 0.4).mean() < 0.02
    assert (tile[WEIGHT] < 0.5).mean() < 0.05
    assert tile[HEIGHT].std() > 0.05  # but loops there are


def test_the_grain_of_leather_shows_at_life_size() -> None:
    """A pixel at 96 to the inch is 0.26 mm; a slope of 0.1 is a shade of 6 degrees."""
    fabric = Fabric(name="l", structure=Leather(), yarn=yarn(60))
    assert bake_flat(fabric, 25.4 / 96.0, 128).slope.std() > 0.1


def test_a_purl_that_says_no_density_is_as_short_as_its_ridges_let_it() -> None:
    purl, moss = (construction(Chart(rows=rows)) for rows in (("k", "p"), ("kp", "pk")))
    assert purl.second_per_cm > 1.3 * moss.second_per_cm
    assert purl.first_per_cm == moss.first_per_cm


def test_colours_of_a_space_dyed_yarn_run_into_each_other_within_two_loops() -> None:
    melange = Melange(parts=((BLACK, 0.5), (WHITE, 0.5)))
    spaced = yarn(20, melange=melange, spaced_mm=25.0, irregularity=0.0)
    fabric = Fabric(name="s", structure=Jersey(), yarn=spaced, wales_per_cm=12, courses_per_cm=16)
    wale = 10.0 / 12.0
    weights = bake_flat(fabric, wale / 8.0, 512).cloth.weights.reshape(2, 512, 512)
    share = weights[1] / weights.sum(0)
    step = np.abs(np.diff(share, axis=1))
    wide = np.abs(share[:, 24:] - share[:, :-24])  # three wales on
    assert step.max() < 0.5  # nowhere from one colour to the other at once
    assert wide.max() > 0.85  # yet it does change, wholly, within three loops
