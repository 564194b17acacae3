"""Yarn diameters, covers and twist against published figures.

Sources: Peirce 1937 (diameters), as tabulated from the specific volume of 1.1 cm3/g in
shared/tables/yarn_count_diameter.csv; constructions and covers from woven_constructions.csv (the
page of each row is named there); tan(angle) = pi d t is the definition of the twist angle.
"""

import math

import pytest

from texbake import cloth

# Ne, tex, diameter mm from the specific volume (yarn_count_diameter.csv).
DIAMETERS = [
    (4, 147.6353, 0.45472),
    (7, 84.3630, 0.34374),
    (12, 49.2118, 0.26253),
    (20, 29.5271, 0.20336),
    (30, 19.6847, 0.16604),
    (40, 14.7635, 0.14380),
    (60, 9.8424, 0.11741),
    (120, 4.9212, 0.08302),
]

# Cloth, warp and weft Ne, ends and picks per cm, fractional cover (woven_constructions.csv).
CLOTHS = [
    ("poplin", 40, 40, 52.4, 28.3, 0.852),
    ("poplin, fine", 60, 60, 47.2, 29.9, 0.710),
    ("plain cloth", 32, 32, 26.8, 26.8, 0.674),
    ("denim", 7, 10, 28.3, 22.0, 0.990),
    ("drill", 16, 12, 37.8, 18.9, 0.928),
    ("drill, light", 30, 30, 48.8, 25.2, 0.888),
    ("albatross", 28, 36, 18.9, 18.9, 0.517),
]


@pytest.mark.parametrize(("ne", "tex", "want_mm"), DIAMETERS)
def test_diameters_are_peirce_s(ne: int, tex: float, want_mm: float) -> None:
    assert cloth.diameter_mm(tex) == pytest.approx(want_mm, abs=1e-5)
    # The rounded form of the paper, d = 1 / (28 sqrt(Ne)) inch, is 0.25 % less.
    assert cloth.diameter_mm(tex) == pytest.approx(25.4 / (28.0 * math.sqrt(ne)), rel=0.004)


@pytest.mark.parametrize(("name", "warp", "weft", "ends", "picks", "want"), CLOTHS)
def test_covers_are_those_of_real_cloths(
    name: str, warp: int, weft: int, ends: float, picks: float, want: float
) -> None:
    covers = (
        cloth.cover_fraction(590.541 / ne, per_cm) for ne, per_cm in ((warp, ends), (weft, picks))
    )
    # The table's 28 is rounded (0.25 % on each cover) and its densities are to three figures.
    assert cloth.cloth_cover(*covers) == pytest.approx(want, abs=0.004), name


@pytest.mark.parametrize("tex", [10.0, 30.0, 100.0])
def test_twist_angle_follows_from_diameter_and_turns(tex: float) -> None:
    turns = 700.0
    want = math.atan(math.pi * cloth.diameter_mm(tex) / 1000.0 * turns)
    assert cloth.twist_angle_rad(tex, turns) == pytest.approx(want, rel=1e-9)


def test_one_twist_factor_is_one_angle_whatever_the_count() -> None:
    # Diameter grows with sqrt(tex), turns fall with it: the reason why mills quote the factor.
    assert cloth.twist_angle_rad(10.0) == pytest.approx(cloth.twist_angle_rad(90.0))
    assert 20.0 < math.degrees(cloth.twist_angle_rad(30.0)) < 30.0  # common practice, no source


def test_a_count_of_nothing_is_refused() -> None:
    with pytest.raises(ValueError, match="above 0"):
        cloth.diameter_mm(0.0)
