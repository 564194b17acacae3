"""Seams, hems and cuts: what is sewn to what, and in which order it is walked."""

import math
from collections.abc import Callable, Mapping

import numpy as np
import pytest

from tests.sewn_by_hand import (
    Cloth,
    Map,
    around,
    front_and_back,
    level,
    patch,
    sew,
    shuffled,
)
from texbake.arrays import F64
from texbake.garment.build import build_garment
from texbake.garment.values import Chain, Garment
from texbake.recipe.values import PanelRecipe

HALF = math.pi / 2
CHORD_MM = 2 * 150.0 * math.sin(math.pi / 8 / 2)  # one of eight steps of half a tube


def kinds(garment: Garment) -> list[tuple[str, tuple[str, ...]]]:
    names = [*(panel.name for panel in garment.panels), "none"]
    return [(chain.kind, tuple(names[p] for p in chain.panels)) for chain in garment.chains]


def of_kind(garment: Garment, kind: str) -> list[Chain]:
    return [chain for chain in garment.chains if chain.kind == kind]


def body(recipes: Mapping[str, PanelRecipe] | None = None) -> Garment:
    return build_garment(sew(*front_and_back()), recipes or {})


def square(x_mm: float, y_mm: float, side_mm: float) -> Map:
    return lambda s, t: np.stack([x_mm + side_mm * s, y_mm + side_mm * t, 0 * s], axis=-1)


def joined(*islands: int) -> Mapping[str, PanelRecipe]:
    return {"body": PanelRecipe(name="body", islands=islands)}


def test_a_vest_has_two_seams_and_four_hems() -> None:
    assert kinds(body()) == [
        ("seam", ("front", "back")),
        ("seam", ("front", "back")),
        ("hem", ("back", "none")),
        ("hem", ("front", "none")),
        ("hem", ("back", "none")),
        ("hem", ("front", "none")),
    ]


def test_arc_lengths_are_lengths_in_space() -> None:
    garment = body()
    assert [c.length_mm for c in of_kind(garment, "seam")] == pytest.approx([400.0] * 2)
    assert [c.length_mm for c in of_kind(garment, "hem")] == pytest.approx([8 * CHORD_MM] * 4)
    for chain in garment.chains:
        steps = np.linalg.norm(chain.points_mm[:, 1] - chain.points_mm[:, 0], axis=1)
        np.testing.assert_allclose(chain.arc_mm[:, 1] - chain.arc_mm[:, 0], steps, atol=1e-9)
        np.testing.assert_allclose(chain.arc_mm[1:, 0], chain.arc_mm[:-1, 1], atol=1e-9)
        assert chain.arc_mm[0, 0] == 0
        assert chain.arc_mm[-1, 1] == chain.length_mm


def test_both_sides_run_the_same_way_on_their_own_faces() -> None:
    garment = body()
    for chain in of_kind(garment, "seam"):
        for side in (0, 1):
            assert (garment.panel[chain.face[side]] == chain.panels[side]).all()
            assert_edges_of_their_faces(garment, chain, side)


def assert_edges_of_their_faces(garment: Garment, chain: Chain, side: int) -> None:
    """Start and end in the plane and in space are the same corners of the face that is named."""
    mesh = garment.mesh
    for face, plane, space in zip(
        chain.face[side], chain.pattern_mm[side], chain.points_mm, strict=True
    ):
        corners = mesh.points_mm[mesh.faces[face]]
        for end in (0, 1):
            corner = np.linalg.norm(corners - space[end], axis=1).argmin()
            np.testing.assert_allclose(corners[corner], space[end], atol=1e-6)
            np.testing.assert_allclose(garment.pattern_mm[face, corner], plane[end], atol=1e-9)


def test_a_hem_has_one_side() -> None:
    for chain in of_kind(body(), "hem"):
        assert chain.panels[1] == -1
        assert chain.face[1].shape == (0,)
        assert chain.pattern_mm[1].shape == (0, 2, 2)


def test_runs_start_at_their_lowest_end_then_at_the_least_x() -> None:
    garment = body()
    for chain in of_kind(garment, "seam"):
        assert chain.points_mm[0, 0, 1] < chain.points_mm[-1, 1, 1]
    for chain in of_kind(garment, "hem"):
        assert chain.points_mm[0, 0, 0] < chain.points_mm[-1, 1, 0]


def test_the_files_order_changes_no_chain() -> None:
    mesh = sew(*front_and_back())
    garment = build_garment(mesh)
    for seed in range(3):
        other = build_garment(shuffled(mesh, seed)[0])
        first = other.panels[0].name  # panels are in the order of the file
        assert len(other.chains) == len(garment.chains)
        for a, b in zip(garment.chains, other.chains, strict=True):
            assert (a.kind, a.closed) == (b.kind, b.closed)
            np.testing.assert_allclose(a.points_mm, b.points_mm, atol=1e-6)
            np.testing.assert_allclose(a.arc_mm, b.arc_mm, atol=1e-6)
            sides = b.pattern_mm if first == "front" or a.kind == "hem" else b.pattern_mm[::-1]
            np.testing.assert_allclose(a.pattern_mm[0], sides[0], atol=1e-3)
            np.testing.assert_allclose(a.pattern_mm[1], sides[1], atol=1e-3)


def test_a_sleeve_is_sewn_to_itself_and_its_hems_close() -> None:
    sleeve = patch(around(60.0, 400.0, -math.pi, math.pi), columns=24)
    garment = build_garment(sew(sleeve))
    (seam,), hems = of_kind(garment, "seam"), of_kind(garment, "hem")
    assert seam.panels == (0, 0)
    apart = np.linalg.norm(seam.pattern_mm[0] - seam.pattern_mm[1], axis=2)
    np.testing.assert_allclose(apart, 24 * 2 * 60.0 * math.sin(math.pi / 24), atol=0.01)
    assert [hem.closed for hem in hems] == [True, True]
    assert len(hems[0].arc_mm) == 24


def test_side_0_of_a_self_seam_lies_left_of_the_walk() -> None:
    sleeve = patch(around(60.0, 400.0, -math.pi, math.pi), columns=24)
    (seam,) = of_kind(build_garment(sew(sleeve)), "seam")
    # It goes up; seen from outside, what lies left of it is the right edge of the pattern.
    assert (seam.points_mm[:, 1, 1] > seam.points_mm[:, 0, 1]).all()
    assert (seam.pattern_mm[0][..., 0] > 0).all()
    assert (seam.pattern_mm[1][..., 0] < 0).all()


def test_islands_made_one_panel_leave_a_cut_and_a_seam() -> None:
    garment = body(joined(0, 1))
    found = kinds(garment)
    assert found.count(("seam", ("body", "body"))) == 1
    assert found.count(("cut", ("body", "body"))) == 1
    (cut,) = of_kind(garment, "cut")
    np.testing.assert_allclose(cut.pattern_mm[0], cut.pattern_mm[1], atol=1e-9)
    assert [hem.closed for hem in of_kind(garment, "hem")] == [True, True]


def test_four_islands_round_one_point_are_glued_all_round() -> None:
    quarters = [
        patch(square(x, y, 100.0), columns=2, rows=2) for x in (0.0, 100.0) for y in (0.0, 100.0)
    ]
    garment = build_garment(sew(*quarters), joined(0, 1, 2, 3))
    assert len(of_kind(garment, "cut")) == 4
    assert not of_kind(garment, "seam")
    corner = garment.mesh.points_mm[garment.mesh.faces]
    np.testing.assert_allclose(garment.pattern_mm, corner[..., :2] - 100, atol=1e-4)


def slit(opening: float) -> Cloth:
    """A sheet with a slit in UV from the middle of its lower edge to its centre.

    ``opening`` is the angle (rad) by which the cloth is taken in there, as a dart does: the flat
    sheet lacks a wedge of that angle, and in space its sides are sewn together.
    """

    def cone(s: F64, t: F64) -> F64:
        turn, reach = 2 * math.pi * s, 100.0 * (0.05 + 0.95 * t)
        shrink = 1.0 - opening / (2 * math.pi)
        lift = math.sqrt(1.0 - shrink**2)
        return np.stack(
            [-reach * shrink * np.sin(turn), -reach * shrink * np.cos(turn), -lift * reach], axis=-1
        )

    rings = patch(cone, columns=32, rows=6, uv=lambda s, t: np.stack([1 - t, s], axis=-1))
    return Cloth(points_mm=rings.points_mm[:, ::-1], uv=rings.uv[:, ::-1])


def test_a_slit_in_flat_cloth_is_a_cut() -> None:
    garment = build_garment(sew(slit(0.0)))
    assert [c.kind for c in garment.chains if c.panels[1] == 0] == ["cut"]


def test_a_dart_is_a_seam_of_the_panel_with_itself() -> None:
    garment = build_garment(sew(slit(0.3)))
    assert [c.kind for c in garment.chains if c.panels[1] == 0] == ["seam"]


def test_a_hem_breaks_at_the_corners_of_its_panel() -> None:
    garment = build_garment(sew(patch(level(300.0, 200.0))))
    lengths = [chain.length_mm for chain in garment.chains]
    assert sorted(lengths) == pytest.approx([200, 200, 300, 300])
    assert not any(chain.closed for chain in garment.chains)


def test_a_round_hem_does_not_break() -> None:
    def disc(s: F64, t: F64) -> F64:
        turn, reach = 2 * math.pi * s, 100.0 * (0.3 + 0.7 * t)
        return np.stack([reach * np.sin(turn), reach * np.cos(turn), 0 * s], axis=-1)

    ring = patch(disc, columns=16, rows=3)
    (outer, inner) = of_kind(build_garment(sew(ring)), "hem")
    assert outer.closed
    assert inner.closed
    assert outer.points_mm[0, 0] == pytest.approx([0, -100, 0])


def test_a_run_ends_where_the_other_panel_changes() -> None:
    """A shirt's front below a yoke of two: three panels meet at a point."""
    front = patch(level(200.0, 300.0), columns=4)
    yokes = [patch(square(x, 300.0, 100.0), columns=2, rows=2) for x in (-100.0, 0.0)]
    garment = build_garment(sew(front, *yokes))
    lengths = sorted(round(chain.length_mm) for chain in of_kind(garment, "seam"))
    assert lengths == [100, 100, 100]


def test_a_lining_sewn_in_at_the_hem_is_a_seam_there() -> None:
    outer = patch(level(200.0, 300.0), columns=4, rows=4)
    lining = patch(
        lambda s, t: np.stack([100 - 200 * s, 300 * t, -40 * np.sin(math.pi * t / 2)], axis=-1),
        columns=4,
        rows=4,
        material="lining",
    )
    (seam,) = of_kind(build_garment(sew(outer, lining)), "seam")
    assert seam.length_mm == pytest.approx(200)
    assert seam.points_mm[..., 1] == pytest.approx(0)


def test_a_third_face_at_an_edge_is_a_hem_and_the_cloth_beneath_goes_on() -> None:
    """A pocket whose upper edge lies on the middle of a front."""
    front = patch(level(200.0, 200.0), columns=4, rows=4)
    pocket = patch(
        lambda s, t: np.stack([100 * (s - 0.5), 100 * t, 20 * (1 - t)], axis=-1),
        columns=2,
        rows=2,
        material="pocket",
    )
    garment = build_garment(sew(front, pocket))
    assert not of_kind(garment, "seam")
    pocket_hems = [c for c in garment.chains if garment.panels[c.panels[0]].name == "pocket"]
    assert sum(chain.length_mm for chain in pocket_hems) == pytest.approx(
        100 + 100 + 2 * math.hypot(100, 20)
    )


def test_coincident_layers_are_borne() -> None:
    front = patch(level(200.0, 200.0), columns=4, rows=4)
    garment = build_garment(sew(front, front))
    assert len(garment.panels) == 2
    assert np.isfinite(garment.pattern_mm).all()
    covered = sorted(np.concatenate([np.unique(garment.panel)]).tolist())
    assert covered == [0, 1]


def test_a_face_wound_the_wrong_way_stays_part_of_its_panel() -> None:
    front = patch(level(200.0, 200.0), columns=4, rows=4)
    wrong = front.points_mm.copy(), front.uv.copy()
    for corners in wrong:
        corners[9] = corners[9, ::-1]
    garment = build_garment(sew(Cloth(points_mm=wrong[0], uv=wrong[1])))
    assert [chain.kind for chain in garment.chains] == ["hem"] * 4
    corner = garment.mesh.points_mm[garment.mesh.faces]
    np.testing.assert_allclose(garment.pattern_mm, corner[..., :2] - [0, 100], atol=1e-4)
    assert any("wound" in note for note in garment.notes)


@pytest.mark.parametrize("fold", [True, False], ids=["folded", "plain"])
def test_a_tube_without_a_border_in_uv_is_cut_open(fold: bool) -> None:
    def to_uv(s: F64, t: F64) -> F64:
        return np.stack([np.abs(2 * s - 1) if fold else s, t], axis=-1)

    tube: Callable[..., Map] = around
    cloth = patch(tube(60.0, 400.0, -math.pi, math.pi), columns=24, uv=to_uv)
    garment = build_garment(sew(cloth))
    assert garment.panels[0].stretch_rms < 0.001
    assert [chain.kind for chain in garment.chains] == ["seam", "hem", "hem"]
    assert any("cut open" in note for note in garment.notes) == fold


def test_a_closed_panel_is_cut_open() -> None:
    """Front and back of a cushion, folded onto one square of UV."""
    front = patch(lambda s, t: bulge(s, t, 1.0), columns=8, rows=8)
    back = patch(
        lambda s, t: bulge(1 - s, t, -1.0),
        columns=8,
        rows=8,
        uv=lambda s, t: np.stack([1 - s, t], axis=-1),
    )
    garment = build_garment(sew(front, back, apart=False))
    assert len(garment.panels) == 1
    assert np.isfinite(garment.pattern_mm).all()
    assert {chain.kind for chain in garment.chains} == {"seam"}
    assert any("cut open" in note for note in garment.notes)


def bulge(s: F64, t: F64, side: float) -> F64:
    height = side * 60 * np.sin(math.pi * s) * np.sin(math.pi * t)
    height = np.where(np.isclose(height, 0), 0.0, height)
    return np.stack([300 * (s - 0.5), 300 * t, height], axis=-1)


def test_faces_without_area_in_uv_are_in_no_chain() -> None:
    front = patch(level(200.0, 200.0), columns=4, rows=4)
    uv = front.uv.copy()
    uv[9] = uv[9, 0]
    garment = build_garment(sew(Cloth(points_mm=front.points_mm, uv=uv)))
    assert garment.panel[9] == -1
    assert 9 not in garment.panels[0].faces
    for chain in garment.chains:
        assert 9 not in chain.face[0]
        assert chain.kind != "hem" or np.abs(chain.points_mm[..., :2] - [0, 100]).max() > 99
