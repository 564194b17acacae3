"""Rows of hems at the corners of a panel."""

import math
from functools import cache

import numpy as np
import pytest

from tests.garments_by_hand import garment, sheet
from tests.straight_seams import CREAM, NAVY
from texbake.arrays import F64
from texbake.garment.values import Chain, Garment
from texbake.layout import lay_out, near, texels
from texbake.recipe.values import HemRecipe
from texbake.sewing.build import footprint, sew
from texbake.sewing.corners import turns
from texbake.sewing.reach import reaches
from texbake.sewing.spec import SewnSpec, spec_for_hem

WIDE_MM, SIZE = 60.0, 600
HEM = HemRecipe(stitch="301", width_mm=8.0, from_edge_mm=2.0, thread=CREAM)


def edge(start: tuple[float, float], end: tuple[float, float]) -> Chain:
    ends = np.array([[start, end]]) * WIDE_MM
    length = float(np.linalg.norm(ends[0, 1] - ends[0, 0]))
    none = np.empty(0, np.int32)
    return Chain(
        kind="hem",
        panels=(0, -1),
        face=(np.zeros(1, np.int32), none),
        pattern_mm=(ends, np.empty((0, 2, 2))),
        points_mm=np.concatenate([ends, np.zeros((1, 2, 1))], axis=2),
        arc_mm=np.array([[0.0, length]]),
        length_mm=length,
        closed=False,
    )


@cache
def pocket(*, skew: float = 0.0) -> Garment:
    """A square of 60 mm with a hem on each side, the cloth left of them."""
    at = [(0.0, 0.0), (1.0, 0.0), (1.0 - skew, 1.0), (0.0, 1.0)]
    uv = sheet(1, 1, np.array([[at[0], at[1]], [at[3], at[2]]]))
    chains = tuple(edge(a, b) for a, b in zip(at, at[1:] + at[:1], strict=True))
    return garment(uv, pattern_mm=WIDE_MM * uv, chains=chains)


def specs(made: Garment) -> list[SewnSpec]:
    cut = turns(made, dict.fromkeys(range(4), 0))
    return [
        spec_for_hem(chain, HEM, NAVY, 0.6, index=k, turns=cut[k])
        for k, chain in enumerate(made.chains)
    ]


def cover() -> F64:
    """What thread hides, from above, 0.1 mm a texel; row 0 at the bottom."""
    made = pocket()
    sewn = specs(made)
    layout = lay_out(made, SIZE, gutter_px=0)
    band = texels(layout, slice(0, SIZE))
    out = np.zeros(SIZE * SIZE)
    for spec, reach in zip(sewn, reaches(made, sewn), strict=True):
        close = near(band, reach)
        boxes = layout.footprint_mm[band.face[close.at]]
        got = sew(close, spec, *footprint(close, boxes))
        out[band.index[got.at]] += got.cover
    return out.reshape(SIZE, SIZE)[::-1]


def test_a_square_turns_by_the_tangent_of_half_a_right_angle() -> None:
    found = turns(pocket(), dict.fromkeys(range(4), 0))
    assert all(found[k] == pytest.approx((1.0, 1.0)) for k in range(4))


def test_a_slanting_corner_turns_by_its_own_angle() -> None:
    found = turns(pocket(skew=0.25), dict.fromkeys(range(4), 0))
    slant = math.atan2(1.0, 0.25)  # of the third side's corner, inside
    assert found[1][1] == pytest.approx(math.tan(0.5 * slant))
    assert found[0][1] == pytest.approx(math.tan(0.5 * (math.pi - slant)))


def test_hems_of_another_kind_do_not_meet() -> None:
    found = turns(pocket(), {0: 0, 1: 1, 2: 0})
    assert found == {0: (0.0, 0.0), 1: (0.0, 0.0), 2: (0.0, 0.0)}


def test_rows_meet_at_one_needle_hole_and_whole_stitches_lie_between() -> None:
    spec = specs(pocket())[0]
    assert spec.stitches == round((WIDE_MM - 2 * 6.0) / HEM.length_mm)
    seen = cover()
    row = seen[58:62].max(axis=0)
    # thread from one corner of the rows to the other, 6 mm inside the edges, and none beyond
    thread = np.flatnonzero(row > 0.5) * 0.1
    assert thread.min() == pytest.approx(6.0, abs=0.4)
    assert thread.max() == pytest.approx(54.0, abs=0.4)
    assert seen[57:64, 57:64].min() < 0.1  # the hole in the corner
    runs = int((np.diff((row > 0.5).astype(int)) == 1).sum())
    assert runs == spec.stitches


def test_the_rows_are_alike_on_all_four_sides() -> None:
    seen = cover()
    bottom, top = seen[58:62].sum(), seen[-62:-58].sum()
    left, right = seen[:, 58:62].sum(), seen[:, -62:-58].sum()
    assert [top, left, right] == pytest.approx([bottom] * 3, rel=0.05)


def test_no_stitch_goes_back_at_a_corner() -> None:
    seen = cover()
    aside = seen[62:66, 64:140].max()
    assert aside < 0.3


def test_a_row_too_far_inside_a_short_hem_is_left_as_it_is() -> None:
    spec = spec_for_hem(edge((0.0, 0.0), (0.2, 0.0)), HEM, NAVY, 0.6, turns=(1.0, 1.0))
    assert spec.turns == (0.0, 0.0)
