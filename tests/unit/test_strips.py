"""Bindings, pipings and bands of a cloth of their own."""

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from tests.tube import BakedTube, Placing, bake_tube, linear_albedo, read_at, turned, upright
from texbake.arrays import F64, I64, Bool
from texbake.bake import render
from texbake.colour import linear_to_lab
from texbake.errors import UserErrors
from texbake.layout import near, texels
from texbake.prepared import redress
from texbake.recipe import loads
from texbake.sewing.build import footprint, trim_share
from texbake.sewing.strips import StripSpec, lay_strip
from texbake.sewing.values import Strip

LINES = """\
size: {size}
fabrics:
  drill: {{weave: plain, colour: "#8090a0", scale: 2}}
  check: {{weave: plain, sett: "navy 4 white 4", scale: {scale},
          colours: {{navy: "#22304a", white: "#e8e4dc"}}}}
  rib: {{knit: rib 2x2, wales: 10 /cm, courses: 12 /cm, colour: "#7d3f3b", scale: {scale}}}
fabric: drill
seams: none
hems:
  - {{on: front, width: 20 mm, construction: bound, cloth: check, stitch: none, pucker: 0 %}}
  - {{on: back, width: 30 mm, construction: banded, cloth: rib, stitch: none, pucker: 0 %}}
"""
# Both panels run from edge to edge of the tube: 125.7 mm along their hems, 100 mm up.
LONG_MM, UP_MM = 40.0 * math.pi, 100.0


def _bake(folder: Path, size: int, *, scale: float = 2.0, placing: Placing = upright) -> BakedTube:
    return bake_tube(folder, placing, LINES.format(size=size, scale=scale))


def _along(baked: BakedTube, panel: int, up: F64, count: int = 2048) -> F64:
    """Linear albedo on lines along the hem, (lines, count, 3); ``up``: shares of the height."""
    s, t = np.meshgrid(np.linspace(0.05, 0.95, count), up)
    at = np.full(s.size, panel, np.int64), s.ravel(), t.ravel()
    return read_at(linear_albedo(baked.maps), upright, at).reshape(len(up), count, 3)


@pytest.fixture(scope="module")
def fine(tmp_path_factory: pytest.TempPathFactory) -> BakedTube:
    return _bake(tmp_path_factory.mktemp("fine"), 1024)


def test_a_strip_has_the_mean_colour_of_its_own_cloth(fine: BakedTube) -> None:
    seen = _along(fine, 1, np.linspace(0.06, 0.26, 40)).mean(axis=(0, 1))
    want = np.array([0x7D, 0x3F, 0x3B]) / 255.0
    linear = np.where(want > 0.04045, ((want + 0.055) / 1.055) ** 2.4, want / 12.92)
    lab = linear_to_lab(np.stack([seen, linear]).astype(np.float32))
    assert np.linalg.norm(lab[0] - lab[1]) < 2.0


def _peak(values: F64, step_mm: float, most: float) -> float:
    """Strongest frequency of a line, per mm, of those up to ``most``."""
    seen = (values - values.mean()) * np.hanning(values.size)
    power = np.abs(np.fft.rfft(seen)) ** 2
    per_mm = np.arange(power.size) / (values.size * step_mm)
    power[(per_mm > most) | (np.arange(power.size) < 3)] = 0.0
    return float(per_mm[power.argmax()])


def test_ribs_of_a_band_run_across_the_edge_as_many_as_the_recipe_says(fine: BakedTube) -> None:
    lines = _along(fine, 1, np.linspace(0.08, 0.22, 60)).mean(axis=2)
    step = 0.9 * LONG_MM / lines.shape[1]
    # Averaged up the band, what runs across the edge stays: of ribs, four wales each at twice life
    # size, the ribs themselves (8 mm) and, finer, the legs of their loops.
    ribs = _peak(lines.mean(axis=0), step, 0.4)
    assert ribs == pytest.approx(1.0 / 8.0, rel=0.04)


def test_a_woven_binding_lies_on_the_bias(fine: BakedTube) -> None:
    up = 1.0 - np.linspace(1.0, 19.0, 200) / UP_MM
    plane = _along(fine, 0, up, 1024).mean(axis=2)
    plane -= plane.mean()
    power = np.abs(np.fft.fft2(plane * np.hanning(200)[:, None] * np.hanning(1024)[None])) ** 2
    fy = np.fft.fftfreq(200, 18.0 / 200)[:, None]
    fx = np.fft.fftfreq(1024, 0.9 * LONG_MM / 1024)[None]
    size = np.hypot(fx, fy)
    coarse = (size > 0.03) & (size < 0.25) & (fx > 0)  # the check, not its yarns
    row, column = np.unravel_index(np.where(coarse, power, 0.0).argmax(), power.shape)
    angle = math.degrees(math.atan2(float(fy[row, 0]), float(fx[0, column])))
    assert abs(abs(angle) - 45.0) < 8.0  # a strip 20 mm wide tells angles no better


def _seen(baked: BakedTube, kind: str) -> tuple[Strip, F64, StripSpec, Bool]:
    """One strip on all texels, and the pattern-plane slopes of its height by small moves."""
    ready = baked.prepared
    k = next(i for i, s in enumerate(ready.strips) if s is not None and s.fabric.name == kind)
    strip = ready.strips[k]
    assert strip is not None
    band = texels(ready.layout, slice(0, ready.layout.size_px))

    def read(dx: float, dy: float) -> tuple[Strip, I64]:
        moved = replace(band, x_mm=band.x_mm + np.float32(dx), y_mm=band.y_mm + np.float32(dy))
        close = near(moved, ready.reaches[k])
        whole = np.ones(close.at.size, np.float32)
        laid = lay_strip(close, band.face[close.at], strip, whole)
        assert laid is not None
        return laid, laid.at

    here, at = read(0.0, 0.0)
    step, numeric = 0.01, []
    same = np.ones(at.size, bool)
    for way in ((step, 0.0), (0.0, step)):
        ends = []
        for sign in (1.0, -1.0):
            other, where = read(sign * way[0], sign * way[1])
            height = np.full(len(band.index), np.nan)
            height[where] = other.cloth.height_mm
            ends.append(height[at])
        numeric.append((ends[0] - ends[1]) / (2.0 * step))
        same &= np.isfinite(numeric[-1])
    return here, np.stack(numeric), strip, same


@pytest.mark.parametrize("kind", ["check", "rib"])
def test_slopes_of_a_strip_are_those_of_its_height(fine: BakedTube, kind: str) -> None:
    here, numeric, _, same = _seen(fine, kind)
    error = (here.cloth.slope - numeric)[:, same]
    size = np.sqrt(np.mean(np.square(here.cloth.slope[:, same])))
    # Heights and slopes are read bilinearly from two tables: they agree as well as their grid does.
    assert size > 0.05
    assert np.sqrt(np.mean(np.square(error))) < 0.25 * size
    for k in (0, 1):
        assert np.corrcoef(here.cloth.slope[k, same], numeric[k, same])[0, 1] > 0.95


@pytest.mark.parametrize("scale", [1.0, 4.0])
def test_a_coarse_bake_of_a_strip_is_the_mean_of_a_fine_one(tmp_path: Path, scale: float) -> None:
    coarse, finest = (_bake(tmp_path, size, scale=scale) for size in (128, 1024))
    ready = coarse.prepared
    inside = np.zeros(128 * 128, bool)
    band = texels(ready.layout, slice(0, 128))
    for k, strip in enumerate(ready.strips):
        if strip is not None:
            close = near(band, ready.reaches[k])
            away, _ = footprint(close, ready.layout.footprint_mm[band.face[close.at]])
            full = trim_share(close, ready.specs[k], away) == 1.0
            inside[band.index[close.at[full]]] = True
    inside &= ~np.isin(np.arange(128 * 128), ready.layout.partial)
    assert inside.sum() > 400
    want = linear_albedo(finest.maps).reshape(128, 8, 128, 8, 3).mean(axis=(1, 3))
    error = (linear_albedo(coarse.maps) - want).reshape(-1, 3)[inside]
    assert np.sqrt(np.mean(error**2)) < 4.0 / 255.0  # law 5
    # And no moire: what is left of the cloth in the coarse bake is in the mean of the fine one.
    seen = linear_albedo(coarse.maps).reshape(-1, 3)[inside]
    assert seen.std(axis=0).max() < 1.3 * want.reshape(-1, 3)[inside].std(axis=0).max() + 0.004


def test_another_layout_shows_the_same_strip(tmp_path: Path, fine: BakedTube) -> None:
    other = bake_tube(tmp_path, turned, LINES.format(size=1024, scale=2.0))
    rng = np.random.default_rng(5)
    s, t = rng.uniform(0.06, 0.94, 4000), rng.uniform(0.03, 0.18, 4000)
    at = (rng.integers(0, 2, 4000), s, t)
    first = read_at(linear_albedo(fine.maps), upright, at)
    second = read_at(linear_albedo(other.maps), turned, at)
    far = np.linalg.norm(first - second, axis=1)
    assert np.median(far) < 0.02
    assert np.corrcoef(first.ravel(), second.ravel())[0, 1] > 0.97


def test_whole_repeats_fit_a_closed_edge(tmp_path: Path) -> None:
    # One panel all round: its top hem is a ring of 251.3 mm; ribs of 8 mm fit 31.4 times.
    baked = _bake(tmp_path, 256)
    spec = next(s for s in baked.prepared.strips if s is not None and s.fabric.name == "rib")
    chain = baked.prepared.specs[next(k for k, s in enumerate(baked.prepared.strips) if s is spec)]
    assert not chain.closed
    assert spec.turn[0, 0] == 1.0
    from texbake.sewing.strips import _turn

    ring = replace(chain, closed=True, length_mm=251.3)
    turn = _turn(spec.fabric, ring)
    assert abs(turn[0, 0] - 1.0) < 0.02
    assert (turn[0, 0] * 251.3 / 8.0) % 1.0 == pytest.approx(0.0, abs=1e-6) or (
        turn[0, 0] * 251.3 / 8.0
    ) % 1.0 == pytest.approx(1.0, abs=1e-6)


def test_a_colourway_shares_the_strip_and_dyes_it(tmp_path: Path, fine: BakedTube) -> None:
    text = LINES.format(size=1024, scale=2.0).replace("#7d3f3b", "#3b5a7d")
    mesh = tmp_path / "tube.obj"
    mesh.write_bytes(fine.prepared.recipe.mesh.read_bytes())
    lines = f"garment: tube\nmesh: tube.obj\nmesh_unit: cm\n{text}"
    blue = next(iter(loads(lines, tmp_path / "tube.yaml").colourways.values()))
    other = redress(fine.prepared, blue)
    for old, new in zip(fine.prepared.strips, other.strips, strict=True):
        assert (old is None) == (new is None)
        if old is not None and new is not None:
            assert new.weaver is old.weaver
    baked = BakedTube(prepared=other, maps=render(other, blue))
    red, green, dark = _along(baked, 1, np.linspace(0.06, 0.26, 20)).mean(axis=(0, 1))
    assert dark > green > red


def test_without_a_cloth_there_is_no_strip(tmp_path: Path) -> None:
    baked = bake_tube(
        tmp_path, upright, "size: 64\nfabric: plain\nhems: [{construction: bound, trim: red}]\n"
    )
    assert not any(baked.prepared.strips)


@pytest.mark.parametrize(
    ("hem", "what"),
    [
        ("{cloth: plain}", "a turned edge shows no cloth of its own"),
        ("{construction: banded}", "a band needs a cloth"),
        ("{construction: bound, cloth: plane}", "no fabric 'plane'"),
    ],
)
def test_a_cloth_that_cannot_show_is_told(tmp_path: Path, hem: str, what: str) -> None:
    text = f"garment: tube\nmesh: tube.obj\nfabric: plain\nhems: [{hem}]\n"
    with pytest.raises(UserErrors, match=what):
        loads(text, tmp_path / "tube.yaml")
