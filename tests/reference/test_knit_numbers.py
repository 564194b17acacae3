"""Knits and pile against the trade's numbers.

D. L. Munden, J. Text. Inst. 50 (1959) T448: in relaxed single jersey courses per cm = kc / l and
wales per cm = kw / l with l in cm; kc = 5.0 dry, 5.3 wet, 5.5 fully relaxed; kw = 3.8, 4.1, 4.2.
"""

import numpy as np
import pytest

from tests.flat_cloth import FABRICS, bake_flat, yarn
from texbake import cloth
from texbake.cloth.loop import gauge_of, loop_length_mm
from texbake.cloth.tile import COVER, HEIGHT
from texbake.recipe.values import (
    Cable,
    Chart,
    Coated,
    Corduroy,
    Fabric,
    Fleece,
    Interlock,
    Jersey,
    Leather,
    Structure,
    Terry,
    Tulle,
)

# Wales and courses per cm, tex: T-shirt Ne 30 at two settings, Ne 24, Ne 20 (knit_numbers.csv and
# Munden's own kc, kw at l = 2.7, 3.4 and 3.75 mm).
JERSEYS = [(14.0, 18.0, 19.7), (15.2, 19.6, 19.7), (12.1, 15.6, 24.6), (10.9, 14.1, 29.5)]


@pytest.mark.parametrize(("wales", "courses", "tex"), JERSEYS)
def test_the_length_of_our_loop_is_munden_s(wales: float, courses: float, tex: float) -> None:
    length_cm = 0.1 * loop_length_mm(gauge_of(yarn(tex), 10.0 / wales, 10.0 / courses))
    assert 3.8 * 0.95 <= wales * length_cm <= 4.2 * 1.05
    assert 5.0 * 0.95 <= courses * length_cm <= 5.5 * 1.05


def test_the_tightness_of_a_t_shirt_is_a_handbook_s() -> None:
    """sqrt(tex) / l with l in cm: 9 to 13 loose, 14 to 15 as usual in cotton (Texcoms p. 147)."""
    length_cm = 0.1 * loop_length_mm(gauge_of(yarn(19.7), 10.0 / 14.0, 10.0 / 18.0))
    assert 12.0 <= np.sqrt(19.7) / length_cm <= 16.0


@pytest.mark.parametrize("wales_per_inch", [4.0, 8.0, 11.0, 14.0, 16.0, 21.0])
def test_corduroy_has_its_wales_to_the_inch(wales_per_inch: float) -> None:
    """Jumbo 4, wide 8, standard 11, mid 14, fine 16, pin 21: trade classes."""
    fabric = Fabric(name="c", structure=Corduroy(wales_per_inch=wales_per_inch), yarn=yarn(30))
    inches, size = 4.0, 512
    baked = bake_flat(fabric, 25.4 * inches / size, size)
    across = baked.height_mm.mean(0)
    spectrum = np.abs(np.fft.rfft((across - across.mean()) * np.hanning(size)))
    assert spectrum.argmax() == pytest.approx(wales_per_inch * inches, abs=1.0)


def test_nets_have_holes_and_cloth_has_hardly_any() -> None:
    tulle = Fabric(name="t", structure=Tulle(), yarn=yarn(6))
    cover = float(cloth.render(tulle, 48).channels[COVER].mean())
    # Bars of width b on a hexagon net of mesh width w cover 1 - (1 - b / w)^2 of the plane.
    bar = 1.5 * cloth.diameter_mm(6)
    assert cover == pytest.approx(1.0 - (1.0 - bar / 1.6) ** 2, abs=0.02)
    eyelet = float(cloth.render(FABRICS["eyelet"], 32).channels[COVER].mean())
    jersey = float(cloth.render(FABRICS["jersey"], 32).channels[COVER].mean())
    assert 0.80 < eyelet < 0.95 < jersey


def _looped(structure: Structure) -> Fabric:
    return Fabric(name="k", structure=structure, yarn=yarn(39.4), wales_per_cm=8, courses_per_cm=11)


def test_the_back_shows_courses_where_the_face_shows_wales() -> None:
    """Height changes more across the wales on the face, more along them on the back."""

    def ratio(side: str) -> float:
        tile = cloth.render(_looped(Jersey(side=side)), 32)  # type: ignore[arg-type]
        height = tile.channels[HEIGHT]
        return float(height.mean(0).std() / height.mean(1).std())

    assert ratio("face") > 1.0 > ratio("back")


def test_purl_stands_out_in_courses_and_moss_stays_flat() -> None:
    def rows(*chart: str) -> float:
        height = cloth.render(_looped(Chart(rows=chart)), 32).channels[HEIGHT]
        return float(height.mean(1).std())

    assert rows("k", "p") > 2.0 * rows("kp", "pk")


def test_wales_of_interlock_are_half_a_course_apart() -> None:
    height = cloth.render(_looped(Interlock()), 32).channels[HEIGHT]
    first, second = np.split(height, 2, axis=1)
    moved = np.roll(first, len(height) // 2, 0)
    assert np.corrcoef(second.ravel(), moved.ravel())[0, 1] > 0.97
    assert np.corrcoef(second.ravel(), first.ravel())[0, 1] < 0.7


def test_a_cable_crosses_the_same_wales_over_each_time() -> None:
    """Half a repeat on, the strand in front is behind: the crossing is not its own mirror."""
    height = cloth.render(_looped(Cable(strand=3, every=8)), 24).channels[HEIGHT]
    middle = height[:, height.shape[1] // 5 : -height.shape[1] // 5]
    assert np.corrcoef(middle.ravel(), middle[:, ::-1].ravel())[0, 1] < 0.8


SHEETS = {
    "fleece": Fabric(name="fleece", structure=Fleece(), yarn=yarn(60)),
    "leather": Fabric(name="leather", structure=Leather(), yarn=yarn(60, lustre=0.6)),
    "coated": Fabric(name="coated", structure=Coated(), yarn=yarn(60, lustre=0.9)),
    "felt": FABRICS["felt"],
    "towelling": FABRICS["towelling"],
}


@pytest.mark.parametrize("name", list(SHEETS))
def test_no_repeat_of_the_sheet_shows_on_a_panel_of_30_cm(name: str) -> None:
    """No peak of the autocorrelation of height or albedo over 0.2 beyond 8 mm."""
    size, texel = 600, 0.5
    baked = bake_flat(SHEETS[name], texel, size)
    for values in (baked.albedo.mean(0), baked.height_mm):
        spectrum = np.abs(np.fft.rfft2(values - values.mean(), (2 * size, 2 * size))) ** 2
        count = np.abs(np.fft.rfft2(np.ones((size, size)), (2 * size, 2 * size))) ** 2
        found = np.fft.irfft2(spectrum) / np.maximum(np.fft.irfft2(count), 1.0)
        found /= values.var()
        near = np.concatenate([np.arange(size), np.arange(-size, 0)]) * texel
        far = np.hypot(near[:, None], near[None, :])
        assert found[(far > 8.0) & (far < 200.0)].max() <= 0.2


def test_a_terry_back_hangs_out_in_loops() -> None:
    """Its floats stand higher than the loops of the same yarn knitted plain."""
    terry, plain = (
        cloth.render(_looped(s), 24).channels[HEIGHT].max() for s in (Terry(), Jersey(side="back"))
    )
    assert terry > plain + 0.1
