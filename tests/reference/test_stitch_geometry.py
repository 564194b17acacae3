"""Sewing against brute force (256 to 9216 samples a texel) and against the trade's own numbers."""

import math
from collections.abc import Callable

import numpy as np
import pytest

from tests.straight_seams import NAVY, grid, hemmed, large, part, straight, topstitched
from texbake.arrays import F32, F64
from texbake.layout.values import Near
from texbake.recipe.values import SeamRecipe
from texbake.sewing import fold, pucker, stitch301
from texbake.sewing.build import sew
from texbake.sewing.sky import sky_share
from texbake.sewing.spec import SewnSpec, first_variant, spec_for_seam
from texbake.sewing.thread import diameter_mm
from texbake.sewing.values import Sewn

SPACING_MM = 0.03  # of brute force's samples: a tenth of a thread, else brute force errs most


def points(spec: SewnSpec, distance: F64, arc: F64) -> tuple[F64, F64]:
    """Height and cover at points of side 0: the drawing itself, without any table."""
    at = np.interp(arc, spec.holes_mm.astype(np.float64), np.arange(spec.stitches + 1.0))
    side = spec.across[0]
    waving = (0.0, *side.rows_mm) if spec.kind == "seam" else side.rows_mm
    height = fold.profile_mm(side, distance)
    height += (
        pucker.envelope(waving, pucker.HALF_MM, distance)
        * spec.pucker_mm
        * pucker.wave(at, spec.stitches, spec.seed, closed=spec.closed)
    )
    cover = np.zeros_like(height)
    for row, offset in enumerate(side.rows_mm):
        # The chain runs along +x with the cloth above it, so away from it is to its left.
        one, high, _, _ = stitch301.surface(
            at + first_variant(spec, row), offset - distance, spec.diameter_mm, spec.stitch_mm
        )
        inside = np.abs(distance - offset) < stitch301.HALF_DIAMETERS * spec.diameter_mm
        cover += one * inside
        height += high * inside
    return height, cover


def samples(texel_mm: float) -> int:
    """Brute force's samples a texel, along one side."""
    return min(96, max(16, round(texel_mm / SPACING_MM)))


def some_texels(spec: SewnSpec, texel_mm: float, width_mm: float) -> tuple[Near, F32]:
    """Texels spread evenly over a strip, so many that brute force takes under a second."""
    near, size = grid(texel_mm, min(spec.length_mm, 100.0 * texel_mm), width_mm)
    count = min(500, 150_000 // samples(texel_mm) ** 2)
    pick = np.unique(np.linspace(0, near.at.size - 1, count).astype(np.int64))
    return part(near, pick), size[pick]


def brute_force(spec: SewnSpec, near: Near, texel_mm: float) -> dict[str, F64]:
    """Means over samples of each texel, and the slope variance among them."""
    sub = samples(texel_mm)
    offset = ((np.arange(sub) + 0.5) / sub - 0.5) * texel_mm
    arc = near.arc_mm.astype(np.float64)[:, None, None] + offset[:, None]
    distance = near.distance_mm.astype(np.float64)[:, None, None] + offset
    arc, distance = np.broadcast_arrays(arc, distance)
    height, cover = points(spec, distance, arc)
    e = 1e-4
    up, down = points(spec, distance + e, arc)[0], points(spec, distance - e, arc)[0]
    across = (up - down) / (2 * e)
    up, down = points(spec, distance, arc + e)[0], points(spec, distance, arc - e)[0]
    along = (up - down) / (2 * e)
    return {
        "height": height.mean(axis=(1, 2)),
        "cover": cover.mean(axis=(1, 2)),
        "along": along.mean(axis=(1, 2)),
        "across": across.mean(axis=(1, 2)),
        "variance": 0.5 * (along.var(axis=(1, 2)) + across.var(axis=(1, 2))),
    }


def ours(sewn: Sewn) -> dict[str, F64]:
    """The same five from ``sew``: the chain runs along x, the cloth lies towards +y."""
    return {
        "height": sewn.height_mm.astype(np.float64),
        "cover": sewn.cover.astype(np.float64),
        "along": sewn.slope[0].astype(np.float64),
        "across": sewn.slope[1].astype(np.float64),
        "variance": sewn.variance.astype(np.float64),
    }


def rms(values: F64) -> float:
    return math.sqrt(float(np.mean(values * values)))


def differences(spec: SewnSpec, texel_mm: float, width_mm: float) -> dict[str, float]:
    """RMS of ours less brute force; variance as a share of brute force's own RMS.

    So are slopes, beyond 0.005: a coarse texel's are small, and brute force is not exact.
    """
    near, size = some_texels(spec, texel_mm, width_mm)
    got, want = ours(sew(near, spec, size, size)), brute_force(spec, near, texel_mm)
    out = {key: rms(got[key] - want[key]) for key in ("height", "cover")}
    slope = math.hypot(rms(want["along"]), rms(want["across"]))
    off = math.hypot(*(rms(got[key] - want[key]) for key in ("along", "across")))
    out["slope"] = max(off - 0.005, 0.0) / slope
    out["variance"] = rms(got["variance"] - want["variance"]) / rms(want["variance"])
    return out


@pytest.mark.parametrize("texel_mm", [0.05, 0.15, 0.4, 1.0, 2.7, 6.0])
@pytest.mark.parametrize("make", [topstitched, hemmed, large])
def test_a_texel_is_the_mean_of_what_it_covers(
    make: Callable[[], SewnSpec], texel_mm: float
) -> None:
    if make is large:
        texel_mm *= 3.0  # as many texels to a thread as in the others
    off = differences(make(), texel_mm, 7.0 if texel_mm < 1.0 else 36.0)
    assert off["height"] <= 0.005
    assert off["cover"] <= 0.01
    assert off["slope"] <= 0.03
    assert off["variance"] <= 0.15


@pytest.mark.parametrize(
    ("count_ne", "inch"),
    # Peirce 1937: d = 1 / (28 sqrt(Ne)) inch, worked by hand; Ne 590.5 / tex (ISO 1144).
    [(10.0, 0.011294), (16.0, 0.0089286), (30.0, 0.0065205)],
)
def test_thread_is_as_thick_as_peirce_says(count_ne: float, inch: float) -> None:
    got = diameter_mm(590.54 / count_ne)
    assert got == pytest.approx(inch * 25.4, rel=0.005)  # 28 is rounded: 0.25 %


def test_ten_stitches_per_inch_is_a_hundred_in_ten_inches() -> None:
    # 10 SPI is 2.54 mm, the length of a jersey T-shirt's or a pair of slacks' stitches.
    spec = spec_for_seam(
        straight(254.0), SeamRecipe(stitch="301", length_mm=2.54), NAVY, 0.6, (True, True)
    )
    assert spec.stitches == 100


def test_the_share_of_thread_is_its_width_times_the_length_that_shows() -> None:
    # A stitch of 2.5 mm with 84 % between its holes and a thread of 0.29 mm, less the round ends
    # and the taper, hides at most 0.84 * 0.29 / 8 of a strip 8 mm wide, and not under three
    # quarters of that.
    spec = spec_for_seam(
        straight(61.0), SeamRecipe(stitch="301", tack=False), NAVY, 0.6, (True, True)
    )
    near, size = grid(8.0, 56.0, 8.0)
    share = sew(near, spec, size, size).cover.mean()
    assert 0.75 * 0.84 * 0.29 / 8.0 < share < 0.84 * 0.29 / 8.0


def test_the_floor_of_a_square_trench_sees_the_share_of_the_tables() -> None:
    # A strip in the middle of the floor of a long trench of width w and depth h sees the opening
    # by F = (w/2) / sqrt((w/2)^2 + h^2): J. R. Howell, catalogue of
    # radiation configuration factors, strips and trenches (crossed strings).
    step = 0.01
    x = (np.arange(600) + 0.5) * step - 3.0
    trench = np.where(np.abs(x) < 1.0, 0.0, 1.0)
    share = sky_share(trench, step, 300, axis=0, periodic=False)
    assert share[300] == pytest.approx(
        1.0 / math.sqrt(2.0), rel=0.02
    )  # horizons by steps of a tenth
    assert share[0] == pytest.approx(1.0)


def test_a_round_pit_sees_the_square_of_the_cosine() -> None:
    # The middle of a pit with a horizon of 45 degrees all round sees cos^2 = 1/2: Nusselt's
    # unit sphere.
    step = 0.02
    x = (np.arange(101) - 50.0) * step
    depth = np.minimum(np.hypot(x[:, None], x), 0.8)
    both = [sky_share(depth, step, 50, axis=axis, periodic=False) for axis in (0, 1)]
    assert (both[0] * both[1])[50, 50] == pytest.approx(0.5, abs=1e-6)
