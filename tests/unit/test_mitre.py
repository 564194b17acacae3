"""Hems that meet at a corner that juts into the cloth: an L with six hems."""

import math
from dataclasses import dataclass
from functools import cache

import numpy as np
import pytest

from tests.garments_by_hand import garment
from tests.straight_seams import CREAM, NAVY
from tests.unit.test_corners import edge
from texbake.arrays import F64
from texbake.garment.values import Garment
from texbake.layout import lay_out, near, texels
from texbake.recipe.values import HemRecipe
from texbake.sewing.build import footprint, sew
from texbake.sewing.corners import turns
from texbake.sewing.reach import reaches
from texbake.sewing.spec import spec_for_hem

WIDE_MM, SIZE = 60.0, 600  # 0.1 mm a texel
HEM = HemRecipe(stitch="301", width_mm=8.0, from_edge_mm=2.0, rows=2, spacing_mm=3.0, thread=CREAM)
TRIANGLES = ((0, 1, 3), (1, 2, 3), (0, 3, 5), (3, 4, 5))
OWNER = (0, 1, 1, 3, 3, 2)


@cache
def ell(corner: tuple[float, float] = (0.5, 0.5)) -> Garment:
    """An L of 60 mm; ``corner`` is where it juts in, as shares of that; hems run left about it."""
    at = [(0.0, 0.0), (1.0, 0.0), (1.0, 0.5), corner, (0.5, 1.0), (0.0, 1.0)]
    uv = np.array([[at[k] for k in triangle] for triangle in TRIANGLES])
    chains = []
    for k, (a, b) in enumerate(zip(at, at[1:] + at[:1], strict=True)):
        made = edge(a, b)
        made.face[0][:] = OWNER[k]
        chains.append(made)
    return garment(uv, pattern_mm=WIDE_MM * uv, chains=tuple(chains))


@dataclass(frozen=True)
class Seen:
    cover: F64
    height: F64
    owner: F64  # hems that a texel is near to, as a sum of powers of two


@cache
def seen() -> Seen:
    """All hems from above; row 0 at the bottom."""
    made = ell()
    cut = turns(made, dict.fromkeys(range(6), 0))
    specs = [
        spec_for_hem(chain, HEM, NAVY, 0.6, index=k, turns=cut[k])
        for k, chain in enumerate(made.chains)
    ]
    layout = lay_out(made, SIZE, gutter_px=0)
    band = texels(layout, slice(0, SIZE))
    fields = np.zeros((3, SIZE * SIZE))
    for k, (spec, reach) in enumerate(zip(specs, reaches(made, specs), strict=True)):
        close = near(band, reach)
        got = sew(close, spec, *footprint(close, layout.footprint_mm[band.face[close.at]]))
        at = band.index[close.at]
        fields[:, at] += np.stack([got.cover, got.height_mm, np.full(at.size, 2.0**k)])
    return Seen(*(field.reshape(SIZE, SIZE)[::-1] for field in fields))


def test_rows_go_on_past_the_corner_by_the_tangent_of_half_its_angle() -> None:
    found = turns(ell(), dict.fromkeys(range(6), 0))
    assert found[2] == pytest.approx((1.0, -1.0))
    assert found[3] == pytest.approx((-1.0, 1.0))
    blunt = turns(ell((0.6, 0.6)), dict.fromkeys(range(6), 0))
    # From the third hem's way (-4, 1) to the fourth's (-1, 4): 61.9 degrees to the right.
    turned = math.atan2(4.0, -1.0) - math.atan2(1.0, -4.0)
    assert blunt[2][1] == pytest.approx(math.tan(0.5 * turned))


def test_both_rows_meet_at_one_needle_hole_each() -> None:
    cover = seen().cover
    for row in (6.0, 3.0):  # from the edge, mm: 8 - 2, and 3 nearer
        corner = round((30.0 - row) / 0.1)
        across = cover[corner - 2 : corner + 2].max(axis=0)
        thread = np.flatnonzero(across[corner - 20 : 600] > 0.5) + corner - 20
        assert thread.min() == pytest.approx(corner, abs=4)
        up = cover[:, corner - 2 : corner + 2].max(axis=1)
        thread = np.flatnonzero(up[corner - 20 : 600] > 0.5) + corner - 20
        assert thread.min() == pytest.approx(corner, abs=4)
        gaps = np.diff(np.flatnonzero(across[corner : corner + 100] > 0.5))
        assert gaps.max() < 12  # 1.2 mm: a needle hole, no missing stitch


def test_no_thread_crosses_another() -> None:
    assert seen().cover.max() < 1.01


def test_each_point_past_the_corner_belongs_to_one_hem_and_the_mitre_is_straight() -> None:
    owner = seen().owner[200:299, 200:299]  # the fan, up to 10 mm from the corner
    y, x = np.mgrid[200:299, 200:299] + 0.5
    radius = np.hypot(300.0 - x, 300.0 - y)
    inner = (radius < 100.0) & (np.abs(x - y) > 1.0)
    # The third hem (4) runs towards the corner from the right, so below it; the fourth (8) goes up.
    assert np.array_equal(owner[inner], np.where(x > y, 4.0, 8.0)[inner])


def test_folds_meet_at_one_height() -> None:
    height = seen().height
    at = np.arange(215, 297)
    jump = np.abs(height[at, at + 1] - height[at + 1, at])  # on both sides of the mitre
    assert jump.max() < 0.02
    assert height[290, 290] > 0.3  # the fold lies there at all
