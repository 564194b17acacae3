"""The shipped fabrics weigh and cover what the real cloths do.

Weight of a weave: count times yarns per length, with its crimp; of a knit: 12068.59 / (Ne l) for
single jersey (textilecalculation.blogspot.com, 2015/02), else count times loops times loop length
(Texcoms handbook p. 147). Crimp 8 %: common practice, no source. Peirce's cover factor
K = ends per inch / sqrt(Ne), 28 where yarns touch (shared/tables/textile.md, sources there).
"""

import math
from pathlib import Path

import pytest

from texbake.cloth.yarn import cloth_cover, cover_fraction
from texbake.recipe import Fabric, Yarn, loads
from texbake.recipe.shipped import fabric_names, fabrics_folder
from texbake.recipe.values import Corduroy

TWELVE = (
    "canvas", "corduroy", "denim", "drill", "flannel", "fleece", "jersey", "melange-jersey",
    "poplin", "rib", "satin", "tartan",
)  # fmt: skip
TEX_NE, CRIMP, OUNCE = 590.541, 1.08, 33.906


@pytest.fixture(scope="module")
def fabrics() -> dict[str, Fabric]:
    text = f"garment: a\nmesh: a.obj\ninclude: [{', '.join(TWELVE)}]\n"
    return dict(loads(text, Path("a.yaml")).recipe.fabrics)


def systems(fabric: Fabric) -> tuple[Yarn, Yarn]:
    assert fabric.warp is not None
    assert fabric.weft is not None
    return fabric.warp, fabric.weft


def weight(fabric: Fabric) -> float:
    """Grams to the square metre of a weave."""
    return sum(CRIMP * y.count_tex * y.per_cm * 0.1 for y in systems(fabric))


def test_there_are_twelve_and_each_names_its_source() -> None:
    assert fabric_names() == TWELVE
    for name in TWELVE:
        comments = (
            (fabrics_folder() / f"{name}.yaml").read_text(encoding="utf-8").split("fabrics:")[0]
        )
        sources = ("http", ".com", ".bd", "Munden", "from memory", "no source")
        assert any(source in comments for source in sources), name


@pytest.mark.parametrize(
    ("name", "least", "most"),
    [
        ("poplin", 100, 150),  # shirtings: common practice, no source
        ("drill", 200, 300),  # common practice, no source
        ("denim", 11 * OUNCE, 15 * OUNCE),  # heavy: 11 oz/yd2 and more, daffodilvarsity 6589
        ("canvas", 11 * OUNCE, 12 * OUNCE),  # number 12 duck 11.5 oz/yd2, prernamagazine.com
        ("satin", 110, 140),  # from memory
        ("flannel", 130, 190),  # 160: oddies-textiles.co.uk, C7713
        ("tartan", 255, 290),  # 13 oz a yard of 58 in: 273
    ],
)
def test_weaves_weigh_what_the_real_cloth_weighs(
    fabrics: dict[str, Fabric], name: str, least: float, most: float
) -> None:
    assert least <= weight(fabrics[name]) <= most


@pytest.mark.parametrize("name", ["jersey", "melange-jersey"])
def test_jersey_has_the_weight_of_a_t_shirt(fabrics: dict[str, Fabric], name: str) -> None:
    fabric = fabrics[name]
    assert fabric.yarn is not None
    loop_mm = 5.0 / fabric.courses_per_cm * 10.0  # Munden 1959, dry relaxed: courses = 5.0 / l
    by_loops = fabric.wales_per_cm * fabric.courses_per_cm * 0.01 * loop_mm * fabric.yarn.count_tex
    by_rule = 12068.59 / (TEX_NE / fabric.yarn.count_tex * loop_mm)
    assert 130.0 <= by_loops <= 165.0
    assert by_loops == pytest.approx(by_rule, rel=0.1)


def test_rib_has_the_weight_that_goes_with_its_stitch(fabrics: dict[str, Fabric]) -> None:
    rib = fabrics["rib"]
    assert rib.yarn is not None
    loops = rib.wales_per_cm * rib.courses_per_cm * 0.01  # to the mm2
    # saidur2020.blogspot.com, 2019/12: 220 g/m2 of Ne 30 with loops of 2.60 to 2.65 mm.
    assert loops * 2.625 * rib.yarn.count_tex == pytest.approx(220.0, rel=0.02)


@pytest.mark.parametrize(
    ("name", "warp", "weft"),
    # woven_constructions.csv, K_warp_mid and K_weft_mid; of canvas, plied, from 45/sqrt(5).
    [
        ("poplin", 21.03, 11.38),
        ("drill", 24.15, 14.00),
        ("denim", 27.21, 17.71),
        ("satin", 22.33, 15.49),
        ("canvas", 20.12, 14.31),
        ("flannel", 9.39, 12.02),  # 42 / sqrt(20) and 38 / sqrt(10)
    ],
)
def test_cover_factors_are_those_of_the_handbook_cloth(
    fabrics: dict[str, Fabric], name: str, warp: float, weft: float
) -> None:
    for yarn, factor in zip(systems(fabrics[name]), (warp, weft), strict=True):
        ne = TEX_NE / yarn.count_tex
        assert yarn.per_cm * 2.54 / math.sqrt(ne) == pytest.approx(factor, rel=0.01)
        assert cover_fraction(yarn.count_tex, yarn.per_cm) == pytest.approx(factor / 28, rel=0.015)


def test_warp_faced_cloths_are_closed_and_raised_ones_are_open(fabrics: dict[str, Fabric]) -> None:
    covers = {
        name: cloth_cover(*(cover_fraction(y.count_tex, y.per_cm) for y in systems(fabrics[name])))
        for name in ("denim", "drill", "satin", "canvas", "poplin", "flannel")
    }
    assert min(covers[n] for n in ("denim", "drill", "satin", "canvas")) > 0.85
    assert covers["flannel"] < min(v for n, v in covers.items() if n != "flannel")


def test_corduroy_is_of_the_standard_wale(fabrics: dict[str, Fabric]) -> None:
    structure = fabrics["corduroy"].structure
    assert isinstance(structure, Corduroy)
    assert 11.0 <= structure.wales_per_inch <= 12.0  # updatedideas.com: eleven to twelve
