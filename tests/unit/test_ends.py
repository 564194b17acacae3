"""What lies past the end of a chain: all of a slanted corner, nothing on a straight border."""

import math
from typing import Literal

import numpy as np
import pytest

from tests.garments_by_hand import box, garment, sheet
from texbake.arrays import F64, I32
from texbake.garment.values import Chain, Garment
from texbake.layout import Near, borders_of, lay_out, near, reach_of, texels
from texbake.layout.ends import fan_limits

Kind = Literal["seam", "hem", "cut"]
SIZE = 128


def chain(kind: Kind, points: F64, *, closed: bool = False) -> Chain:
    """A chain of panel 0 along points of the pattern plane; its cloth is face 0's."""
    ends = np.stack([points[:-1], points[1:]], axis=1)
    at = np.concatenate([[0.0], np.cumsum(np.linalg.norm(ends[:, 1] - ends[:, 0], axis=1))])
    face: I32 = np.zeros(len(ends), np.int32)
    none = np.empty((0, 2, 2))
    return Chain(
        kind=kind,
        panels=(0, -1),
        face=(face, face[:0]),
        pattern_mm=(ends, none),
        points_mm=np.zeros((len(ends), 2, 3)),
        arc_mm=np.stack([at[:-1], at[1:]], axis=1),
        length_mm=float(at[-1]),
        closed=closed,
    )


def cloth(*chains: Chain) -> Garment:
    """A square of cloth, 800 mm wide; its first face lies at the bottom left."""
    uv = sheet(2, 2, box(0.1, 0.1, 0.9, 0.9))
    return garment(uv, pattern_mm=sheet(2, 2, box(0, 0, 800, 800)), chains=chains)


def meeting(degrees: float, first: Kind = "hem", second: Kind = "seam") -> Garment:
    """A chain along the bottom from the left to (400, 0), and one that goes on from there.

    The cloth between them, above, has the angle ``degrees``.
    """
    point = np.array([400.0, 0.0])
    away = math.pi - math.radians(degrees)
    on = point + 300.0 * np.array([math.cos(away), math.sin(away)])
    return cloth(
        chain(first, np.array([[0.0, 0.0], [200.0, 0.0], point])),
        chain(second, np.stack([point, on])),
    )


def limits(made: Garment, number: int = 0) -> tuple[float, float]:
    found = fan_limits(made, number, 0, borders_of(made))
    assert np.isinf(found[0, 1:]).all()
    assert np.isinf(found[1, :-1]).all()
    return float(found[0, 0]), float(found[1, -1])


@pytest.mark.parametrize(
    ("degrees", "limit"),
    [
        (60, math.inf),
        (90, math.inf),
        (120, math.inf),
        (150, math.tan(math.radians(30))),
        (170, math.tan(math.radians(10))),
        (180, 0.0),
        (270, 0.0),
    ],
)
def test_the_fan_narrows_as_the_border_straightens(degrees: float, limit: float) -> None:
    assert limits(meeting(degrees))[1] == pytest.approx(limit, abs=1e-9)


def test_round_a_corner_the_first_of_two_chains_of_one_kind_has_the_fan() -> None:
    made = meeting(270, "seam", "seam")
    assert limits(made, 0)[1] == math.inf
    # The face that tells where the cloth is lies above the first; the second is turned to it.
    turned = cloth(*reversed(made.chains))
    assert limits(turned, 1)[1] == 0.0


def test_rivals_share_the_fan_by_which_is_nearer() -> None:
    made = meeting(270, "seam", "hem")
    made = cloth(made.chains[1], made.chains[0])
    assert fan_limits(made, 1, 0, borders_of(made))[1, -1] == 0.0
    assert fan_limits(made, 1, 0, borders_of(made), [0])[1, -1] == math.inf


def test_a_chain_that_ends_in_the_cloth_ends_square() -> None:
    made = cloth(chain("seam", np.array([[0.0, 300.0], [400.0, 300.0]])))
    assert limits(made) == (0.0, 0.0)


def test_a_closed_chain_has_no_end() -> None:
    ring = np.array([[100.0, 300.0], [400.0, 300.0], [300.0, 500.0], [100.0, 300.0]])
    assert limits(cloth(chain("hem", ring, closed=True))) == (math.inf, math.inf)


def test_a_cut_is_no_border() -> None:
    assert limits(meeting(120, "hem", "cut"))[1] == 0.0


def test_a_chain_broken_in_the_pattern_plane_ends_there_too() -> None:
    """As a hem goes on across the seam of its own panel."""
    whole = chain("hem", np.array([[0.0, 0.0], [200.0, 0.0], [600.0, 0.0], [800.0, 0.0]]))
    edges = whole.pattern_mm[0][[0, 2]]
    made = cloth(
        Chain(
            kind="hem",
            panels=(0, -1),
            face=(whole.face[0][:2], whole.face[1]),
            pattern_mm=(edges, whole.pattern_mm[1]),
            points_mm=whole.points_mm[:2],
            arc_mm=np.array([[0.0, 200.0], [200.0, 400.0]]),
            length_mm=400.0,
            closed=False,
        )
    )
    assert np.array_equal(fan_limits(made, 0, 0, borders_of(made)), np.zeros((2, 2)))


def ask(made: Garment, *, trimmed: bool) -> tuple[Near, F64]:
    """What is near to the first chain, and where those texels are."""
    band = texels(lay_out(made, SIZE, gutter_px=0), slice(0, SIZE))
    borders = borders_of(made) if trimmed else None
    got = near(band, reach_of(made, 0, reach_mm=100.0, borders=borders))
    return got, np.stack([band.x_mm[got.at], band.y_mm[got.at]]).astype(np.float64)


@pytest.mark.parametrize("degrees", [90, 120, 150, 180])
def test_texels_past_the_end_are_near_as_far_as_the_fan_goes(degrees: float) -> None:
    made = meeting(degrees)
    whole, at = ask(made, trimmed=False)
    found, _ = ask(made, trimmed=True)
    limit = limits(made)[1]
    past = at[0] - 400.0
    kept = (past <= 0.0) | (np.isinf(limit) | (past <= limit * np.abs(at[1])))
    clear = at[0] > 100.0  # from the chain's other end, which ends square
    clear &= np.abs(past - (0.0 if np.isinf(limit) else limit) * np.abs(at[1])) > 1e-3
    assert (past[kept] > 0.0).any() == (degrees != 180)
    assert np.array_equal(np.intersect1d(found.at, whole.at[clear]), whole.at[kept & clear])
