"""What a finish finds beside the sewing, and what it does there."""

from pathlib import Path

import numpy as np
import pytest

from tests.finished_by_hand import NOISE
from tests.straight_seams import NAVY, grid, hemmed, straight, topstitched
from tests.tube import bake_tube, upright
from texbake.arrays import F32
from texbake.bake import render
from texbake.finish.edge import GROOVE, RIDGE, THICK, WAVING, creased, edge_of, marks
from texbake.finish.exposure import exposed, exposure, mean_exposure
from texbake.finish.space import fade, read_block, turn
from texbake.layout.values import Near, Texels
from texbake.prepared import prepare, redress
from texbake.recipe import loads
from texbake.recipe.values import SeamRecipe
from texbake.sewing.spec import spec_for_seam

TUBE = """
size: 256
fabrics:
  cloth:
    weave: plain
    warp: {count: 40 tex, per_cm: 20, colour: "#3d5a6c"}
    weft: {count: 40 tex, per_cm: 20, colour: "#3d5a6c"}
    scale: 4
    FINISH
panels:
  front: {group: front}
  back: {group: back}
seams: [{between: [front, back], stitch: 301, thread: "#eeeeee"}]
hems: [{width: 8 mm, thread: "#eeeeee"}]
colourways: {first: {}, second: {cloth.finish.stone_washed: 60 %, cloth.finish.faded: 20 %}}
"""


def test_a_seam_is_hollow_in_its_line_and_a_hem_stands_up_at_its_edge() -> None:
    for spec, first in ((topstitched(), GROOVE), (hemmed(), RIDGE)):
        near, size = grid(0.1, 60.0, 9.0)
        fields = marks(near, edge_of(spec), size, size).fields
        beside = near.distance_mm < 0.2
        assert fields[first][beside].min() > 0.5
        assert fields[RIDGE + GROOVE - first][beside].max() < 0.05
        assert fields[:WAVING].min() >= -1e-6
        assert fields[:WAVING].max() <= 1.0 + 1e-3


def test_thick_ends_where_the_hem_is_turned_to() -> None:
    near, size = grid(0.1, 60.0, 9.0)
    thick = marks(near, edge_of(hemmed()), size, size).fields[THICK]
    assert thick[near.distance_mm < 4.0].min() > 0.95
    assert thick[near.distance_mm > 6.0].max() < 0.05


def test_ripples_sum_to_nothing_and_lie_5_to_20_mm_apart() -> None:
    recipe = SeamRecipe(stitch="301", tack=False)
    spec = spec_for_seam(straight(600.0, closed=True), recipe, NAVY, 0.6, (True, True))
    along = np.diff(edge_of(spec).along.sums[0, :, 0].astype(np.float64)) / (
        edge_of(spec).along.step_mm
    )
    assert abs(along.mean()) < 1e-3
    crossings = np.count_nonzero(np.diff(np.sign(along))) / 2
    assert 5.0 <= 600.0 / crossings <= 20.0


@pytest.mark.parametrize("texel_mm", [0.5, 2.0])
def test_marks_of_a_texel_are_the_mean_of_those_of_its_parts(texel_mm: float) -> None:
    over = 8
    coarse_near, coarse_size = grid(texel_mm, 48.0, 8.0)
    fine_near, fine_size = grid(texel_mm / over, 48.0, 8.0)
    edge = edge_of(topstitched())
    coarse = marks(coarse_near, edge, coarse_size, coarse_size).fields
    fine = marks(fine_near, edge, fine_size, fine_size).fields
    rows, columns = round(8.0 / texel_mm), round(48.0 / texel_mm)
    mean = fine.reshape(4, rows, over, columns, over).mean((2, 4)).reshape(4, -1)
    np.testing.assert_allclose(coarse[:WAVING], mean[:WAVING], atol=0.02)
    assert np.sqrt(((coarse[WAVING] - mean[WAVING]) ** 2).mean()) < 0.06


def _on_the_line(side: int, arc: F32) -> Near:
    zero, one = np.zeros_like(arc), np.ones_like(arc)
    return Near(
        at=np.arange(arc.size),
        distance_mm=zero,
        arc_mm=arc,
        away=np.stack([zero, one]),
        along=np.stack([one, zero]),
        side=np.full(arc.size, side, np.int32),
    )


def test_both_sides_of_a_seam_are_finished_alike_at_its_line() -> None:
    recipe = SeamRecipe(stitch="301", tack=False, rows=2)
    spec = spec_for_seam(straight(61.0), recipe, NAVY, 0.6, (True, False))
    arc = np.linspace(1.0, 60.0, 400, dtype=np.float32)
    size = np.full(arc.size, 0.05, np.float32)
    one, other = (marks(_on_the_line(s, arc), edge_of(spec), size, size).fields for s in (0, 1))
    np.testing.assert_allclose(one, other, atol=0.01)


def test_exposure_goes_on_over_a_seam_and_upright_cloth_sees_half_the_sky(tmp_path: Path) -> None:
    garment = bake_tube(tmp_path, upright, TUBE.replace("FINISH", ""), top=0.6).prepared.garment
    sky = exposure(garment)
    seam = next(c for c in garment.chains if c.kind == "seam" and c.panels == (0, 1))
    sides = []
    for side in (0, 1):
        place = seam.pattern_mm[side].mean(1)
        none = np.zeros(len(place), np.int64)
        x, y = place.T.astype(np.float32)
        sides.append(exposed(sky, Texels(index=none, face=seam.face[side], x_mm=x, y_mm=y)))
    np.testing.assert_allclose(sides[0], sides[1], rtol=0.01)
    # A cone of slope 16 mm in 100 mm looks up by asin(16 / hypot(16, 100)): (1 + 0.158) / 2.
    assert mean_exposure(sky, garment) == pytest.approx(0.579, abs=0.005)


def test_noise_is_a_turn_away_from_the_axes_smooth_and_even() -> None:
    np.testing.assert_allclose(turn() @ turn().T, np.eye(3), atol=1e-12)
    assert np.linalg.det(turn()) == pytest.approx(1.0)
    points = np.random.default_rng(1).uniform(-2000.0, 2000.0, (3, 200_000)).astype(np.float32)
    value = read_block(NOISE, points, 50.0)
    assert abs(value.mean()) < 0.02
    assert value.std() == pytest.approx(1.0, abs=0.12)  # read between cells, it is a little less
    step = points.copy()
    step[0] += 0.5
    assert np.abs(read_block(NOISE, step, 50.0) - value).max() < 0.15


def test_crests_of_creases_are_ridges_and_valleys_grooves() -> None:
    found = creased(np.arange(3), np.array([0.6, 0.0, -0.6], np.float32)).fields
    assert (found[RIDGE] > 0.0).tolist() == [True, False, False]
    assert (found[GROOVE] > 0.0).tolist() == [False, False, True]


def _roughness_change(folder: Path, finish: str) -> F32:
    """Change of roughness in codes; all other maps must be the same."""
    baked = {}
    for name, words in (("with", f"finish: {finish}"), ("without", "")):
        (folder / name).mkdir()
        baked[name] = bake_tube(folder / name, upright, TUBE.replace("FINISH", words))
    covered = baked["with"].prepared.layout.face.ravel() >= 0
    a, b = (baked[n].maps.roughness.ravel().astype(np.float32) for n in ("with", "without"))
    assert all(
        np.array_equal(x, y)
        for x, y in zip(baked["with"].maps.images, baked["without"].maps.images, strict=True)
        if x is not baked["with"].maps.roughness
    )
    out: F32 = (a - b)[covered]
    return out


def test_pressed_cloth_shines_on_ridges_and_seams_and_nothing_else_changes(tmp_path: Path) -> None:
    change = _roughness_change(tmp_path, "{pressed: 60 %}")
    assert change.max() <= 0.0
    assert (change <= -10.0).mean() > 0.05
    assert (change == 0.0).mean() > 0.3


def test_a_second_colourway_is_as_if_it_were_baked_alone(tmp_path: Path) -> None:
    baked = bake_tube(tmp_path, upright, TUBE.replace("FINISH", ""))
    text = f"garment: tube\nmesh: upright.obj\nmesh_unit: cm\n{TUBE.replace('FINISH', '')}"
    second = loads(text, tmp_path / "tube.yaml").colourways["second"]
    assert baked.prepared.finishing.ground is None
    assert redress(baked.prepared, second).finishing.ground is not None
    both, alone = render(baked.prepared, second), render(prepare(second), second)
    for one, other in zip(both.images, alone.images, strict=True):
        np.testing.assert_array_equal(one, other)
    assert not np.array_equal(both.albedo, baked.maps.albedo)


def test_thread_is_dyed_along_to_a_share(tmp_path: Path) -> None:
    threads = []
    for k, share in enumerate((0, 50, 100)):
        (tmp_path / str(k)).mkdir()
        words = f"finish: {{thread_dyed: {share} %}}"
        made = bake_tube(tmp_path / str(k), upright, TUBE.replace("FINISH", words)).prepared
        threads.append(made.specs[0].thread)
    assert (threads[0] > threads[1]).all()
    assert (threads[1] > threads[2]).all()
    want = np.array([((c + 0.055) / 1.055) ** 2.4 for c in (0x3D / 255, 0x5A / 255, 0x6C / 255)])
    np.testing.assert_allclose(threads[2], want, rtol=0.02)


def test_garment_dyed_cloth_is_darker_in_the_groove_and_plain_cloth_stays(tmp_path: Path) -> None:
    baked = {}
    for name, words in (("with", "finish: {garment_dyed: 50 %}"), ("without", "")):
        (tmp_path / name).mkdir()
        text = TUBE.replace("FINISH", words).replace("size: 256", "size: 512")
        text = text.replace('stitch: 301, thread: "#eeeeee"', "stitch: none")
        baked[name] = bake_tube(tmp_path / name, upright, text)
    layout = baked["with"].prepared.layout
    garment = baked["with"].prepared.garment
    ends = np.concatenate([chain.points_mm.reshape(-1, 3) for chain in garment.chains])
    middle = garment.mesh.points_mm[garment.mesh.faces].mean(1)
    apart = np.linalg.norm(middle[:, None] - ends[None], axis=2).min(1)
    change = baked["with"].maps.albedo.astype(np.int32) - baked["without"].maps.albedo
    plain = (layout.face >= 0) & (apart > 25.0)[layout.face]
    edge = (layout.face >= 0) & (apart < 12.0)[layout.face]
    assert plain.any()
    assert np.abs(change[plain]).max() <= 1
    assert change[edge].min() <= -15


@pytest.mark.parametrize("texels", [0.25, 0.5, 1.0])
def test_the_noise_that_a_texel_shows_fades_as_its_mean_does(texels: float) -> None:
    size = 20.0
    points = np.random.default_rng(1).uniform(-900.0, 900.0, (3, 3000)).astype(np.float32)
    step = ((np.arange(12) + 0.5) / 12 - 0.5) * texels * size
    mean = np.zeros(3000)
    for a in step:
        for b in step:
            mean += read_block(NOISE, points + np.array([[a], [b], [0]], np.float32), size) / 144
    value = read_block(NOISE, points, size)
    shown = float((mean * value).mean() / (value * value).mean())
    assert fade(np.full(1, texels * size, np.float32), size)[0] == pytest.approx(shown, abs=0.08)


def test_bands_and_threads_change_no_byte_of_a_finished_garment(tmp_path: Path) -> None:
    words = (
        "finish: {unlevel: 5 %, garment_dyed: 20 %, faded: 20 %, faded_edges: 20 %, "
        "stone_washed: 50 %, pressed: 30 %, pilling: 60 /dm2, pill_size: 4 mm}"
    )
    baked = bake_tube(tmp_path, upright, TUBE.replace("FINISH", words))
    again = render(baked.prepared, baked.prepared.recipe, threads=1, band_texels=3000)
    for one, other in zip(baked.maps.images, again.images, strict=True):
        np.testing.assert_array_equal(one, other)
