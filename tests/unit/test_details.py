import math
from pathlib import Path

import numpy as np
import pytest

from tests.garments_by_hand import garment, sheet
from tests.straight_seams import CREAM, NAVY
from texbake.arrays import F32, F64
from texbake.errors import UserErrors
from texbake.garment.values import Garment
from texbake.layout.values import Texels
from texbake.recipe import loads
from texbake.recipe.values import DetailRecipe, Recipe
from texbake.sewing.details import DetailSpec, details, sew_detail
from texbake.sewing.facts import ClothFacts
from texbake.sewing.values import Sewn

TEXT = "garment: tee\nmesh: tee.obj\nmesh_unit: mm\nfabric: plain\n"
FACTS = [ClothFacts(colour_linear=NAVY, thickness_mm=0.6)]
WIDE_MM = 60.0


def cloth() -> Garment:
    """A square of 60 mm in space and in its pattern plane."""
    corners = np.array([[[0.0, 0.0], [1.0, 0.0]], [[0.0, 1.0], [1.0, 1.0]]])
    uv = sheet(6, 6, corners)
    return garment(uv, pattern_mm=WIDE_MM * uv)


def recipe(*entries: DetailRecipe) -> Recipe:
    base = loads(TEXT, Path("tee.yaml")).recipe
    return Recipe(
        path=base.path, garment="tee", mesh=base.mesh, fabrics=base.fabrics, fabric=base.fabric,
        details=entries,
    )  # fmt: skip


def place(entry: DetailRecipe) -> DetailSpec:
    (spec,) = details(cloth(), recipe(entry), FACTS)
    return spec


def texels(made: Garment, texel_mm: float) -> tuple[Texels, F32]:
    side = (np.arange(round(WIDE_MM / texel_mm)) + 0.5) * texel_mm
    x, y = (a.ravel().astype(np.float32) for a in np.meshgrid(side, side))
    count = len(made.panel)
    steps = np.tile(np.array([[texel_mm, 0.0], [0.0, -texel_mm]], np.float32), (count, 1, 1))
    face = np.zeros(x.size, np.int32)  # details look at their panel's faces only
    return Texels(index=np.arange(x.size), face=face, x_mm=x, y_mm=y), steps


def sewn(entry: DetailRecipe, texel_mm: float) -> tuple[Sewn, F64]:
    """What is sewn, and where: (M, 2) mm."""
    spec = place(entry)
    spec.faces[0] = True
    band, steps = texels(cloth(), texel_mm)
    got = sew_detail(band, steps, spec)
    assert got is not None
    return got, np.stack([band.x_mm, band.y_mm], axis=1)[got.at].astype(np.float64)


TACK = DetailRecipe(kind="bar tack", at=(20.0, 30.0, 4.0), thread=CREAM)
HOLE = DetailRecipe(kind="buttonhole", at=(20.0, 30.0, 0.0), length_mm=22.0, thread=CREAM)


def test_a_detail_lies_where_its_point_meets_the_cloth_and_along_its_angle() -> None:
    got, where = sewn(DetailRecipe(kind="bar tack", at=TACK.at, angle_rad=math.pi / 6), 0.2)
    weight = got.cover.astype(np.float64)
    middle = np.average(where, axis=0, weights=weight)
    assert middle == pytest.approx([20.0, 30.0], abs=0.2)
    off = where - middle
    values, axes = np.linalg.eigh((off * weight[:, None]).T @ off)
    along = axes[:, 1] * np.sign(axes[1, 1])
    assert values[1] > 10.0 * values[0]
    # 30 degrees counter-clockwise from the grain, which is +y
    assert along == pytest.approx([-0.5, math.sqrt(0.75)], abs=0.03)


def test_a_bar_tack_is_ten_by_two_millimetres_of_close_thread() -> None:
    got, _ = sewn(TACK, 0.1)
    area = got.cover.sum() * 0.01
    assert 0.75 * 20.0 < area < 1.3 * 20.0


def test_a_buttonhole_has_a_dark_slit_between_two_bars() -> None:
    got, where = sewn(HOLE, 0.1)
    across, along = where[:, 0] - 20.0, where[:, 1] - 30.0
    slit = (np.abs(across) < 0.1) & (np.abs(along) < 8.0)
    bars = (np.abs(np.abs(across) - 1.2) < 0.5) & (np.abs(along) < 8.0)
    ends = (np.abs(across) < 1.5) & (np.abs(np.abs(along) - 10.4) < 0.3)
    assert got.cover[slit].mean() < 0.2
    assert got.cover[bars].mean() > 0.8
    assert got.cover[ends].mean() > 0.8
    assert got.occlusion[slit].mean() < got.occlusion[bars].mean() - 0.15
    assert got.height_mm[bars].mean() > got.height_mm[slit].mean() + 0.1


@pytest.mark.parametrize("entry", [TACK, HOLE])
def test_any_texel_has_its_mean_even_one_that_holds_the_whole_detail(entry: DetailRecipe) -> None:
    areas = [float(sewn(entry, t)[0].cover.sum()) * t * t for t in (0.1, 0.5, 2.0, 10.0, 30.0)]
    assert areas == pytest.approx([areas[0]] * 5, rel=0.05)


def test_a_detail_away_from_the_cloth_is_refused_with_its_line() -> None:
    far = DetailRecipe(kind="buttonhole", at=(20.0, 30.0, 400.0), line=7)
    strange = DetailRecipe(kind="bar tack", at=TACK.at, panel="cuff", line=8)
    with pytest.raises(UserErrors) as caught:
        details(cloth(), recipe(far, strange), FACTS)
    assert "400 mm away" in str(caught.value)
    assert "no panel 'cuff'" in str(caught.value)
    assert "tee.yaml:7" in str(caught.value)


def test_details_are_read_from_a_recipe() -> None:
    text = TEXT + (
        "details:\n"
        "  - {kind: bar tack, at: [1, 2, 3], angle: 90 deg}\n"
        "  - {kind: buttonhole, at: [1, 2, 3], length: 22 mm, panel: front, thread: '#ffffff'}\n"
    )
    tack, hole = loads(text, Path("tee.yaml")).recipe.details
    assert (tack.kind, tack.at, tack.length_mm) == ("bar tack", (1.0, 2.0, 3.0), None)
    assert tack.angle_rad == pytest.approx(math.pi / 2)
    assert (hole.length_mm, hole.panel, hole.line) == (22.0, "front", 7)


def test_twins_share_one_drawing() -> None:
    other = DetailRecipe(kind="bar tack", at=(40.0, 30.0, 0.0))
    one, two = details(cloth(), recipe(TACK, other), FACTS)
    assert one.table is two.table
