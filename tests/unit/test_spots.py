"""Details along an edge or a seam: shares, even distances, how far into the cloth."""

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from tests.tube import upright, write_tube
from texbake.errors import UserErrors
from texbake.garment.values import Garment
from texbake.prepared import details_of, read_garment
from texbake.recipe import Recipe, loads
from texbake.recipe.values import DetailRecipe
from texbake.sewing.spots import Lost, Spot, spots

LONG_MM = 40.0 * math.pi  # each panel of the tube, along its hems
TACK = (10.0, 2.0)


def _recipe(folder: Path, detail: str) -> Recipe:
    path = write_tube(folder / "tube.obj", upright)
    text = f"garment: tube\nmesh: {path.name}\nmesh_unit: cm\nfabric: plain\nhems: none\n"
    return loads(f"{text}details:\n  - {detail}\n", folder / "tube.yaml").recipe


@pytest.fixture(scope="module")
def tube(tmp_path_factory: pytest.TempPathFactory) -> Garment:
    return read_garment(_recipe(tmp_path_factory.mktemp("tube"), "{kind: bar tack, at: [0, 5, 4]}"))


def _found(garment: Garment, entry: DetailRecipe) -> list[Spot]:
    found = spots(garment, entry, TACK)
    assert not isinstance(found, Lost), found
    return found


def _on_edge(garment: Garment, spot: Spot, chain: int, side: int) -> tuple[float, float]:
    """Arc length of the foot of a spot on a chain, and its distance from there."""
    edges = garment.chains[chain].pattern_mm[side]
    best = (math.inf, 0.0)
    for edge, arc in zip(edges, garment.chains[chain].arc_mm, strict=True):
        along = edge[1] - edge[0]
        share = float(np.clip((spot.centre - edge[0]) @ along / (along @ along), 0.0, 1.0))
        far = float(np.linalg.norm(spot.centre - edge[0] - share * along))
        best = min(best, (far, float(arc[0] + share * (arc[1] - arc[0]))))
    return best[1], best[0]


def _hem(garment: Garment, panel: str, *, top: bool) -> int:
    number = next(k for k, p in enumerate(garment.panels) if p.name == panel)
    return next(
        k
        for k, c in enumerate(garment.chains)
        if c.kind == "hem" and c.panels[0] == number and (c.points_mm[0, 0, 1] > 50.0) == top
    )


def test_buttonholes_lie_at_even_distances_along_an_edge(tube: Garment) -> None:
    entry = DetailRecipe(
        kind="buttonhole", on=("front",), at=(0.0, 100.0, 40.0), every_mm=30.0, from_edge_mm=15.0
    )
    found = _found(tube, entry)
    assert len(found) == 4  # 125.7 mm at 30 mm
    feet = [_on_edge(tube, spot, _hem(tube, "front", top=True), 0) for spot in found]
    arcs, far = np.array(feet).T
    assert np.allclose(np.diff(np.sort(arcs)), LONG_MM / 4.0, atol=0.5)  # the tube has 12 sides
    assert arcs.min() == pytest.approx(LONG_MM / 8.0, abs=0.3)  # half a distance from each end
    assert np.allclose(far, 15.0, atol=0.05)


def test_a_range_of_shares_has_one_at_each_of_its_ends(tube: Garment) -> None:
    entry = DetailRecipe(
        kind="buttonhole", on=("front",), at=(0.0, 100.0, 40.0), every_mm=24.0, shares=(0.3, 0.9)
    )
    hem = _hem(tube, "front", top=True)
    arcs = sorted(_on_edge(tube, spot, hem, 0)[0] for spot in _found(tube, entry))
    length = tube.chains[hem].length_mm
    assert len(arcs) == 4  # 75 mm at 24 mm: three gaps
    assert np.allclose(arcs, np.array([0.3, 0.5, 0.7, 0.9]) * length, atol=0.5)


def test_bar_tacks_at_both_ends_lie_inside_the_ends(tube: Garment) -> None:
    entry = DetailRecipe(
        kind="bar tack", on=("front",), at=(0.0, 0.0, 40.0), shares=(0.0, 1.0), from_edge_mm=4.0
    )
    hem = _hem(tube, "front", top=False)
    first, last = (_on_edge(tube, spot, hem, 0)[0] for spot in _found(tube, entry))
    assert first == pytest.approx(5.0, abs=0.1)  # half of its length
    assert last == pytest.approx(tube.chains[hem].length_mm - 5.0, abs=0.1)
    across = replace(entry, angle_rad=0.5 * math.pi)
    first, last = (_on_edge(tube, spot, hem, 0)[0] for spot in _found(tube, across))
    assert first == pytest.approx(1.0, abs=0.1)  # half of its width


def test_an_angle_counts_from_the_edge(tube: Garment) -> None:
    entry = DetailRecipe(kind="bar tack", on=("front",), shares=(0.5,), at=(0.0, 100.0, 40.0))
    (flat,) = _found(tube, entry)
    (across,) = _found(tube, replace(entry, angle_rad=0.5 * math.pi))
    assert abs(flat.along[1]) < 0.05  # the hem runs across the grain
    assert abs(across.along[0]) < 0.05


def test_without_a_point_every_edge_that_is_meant_has_its_own(tube: Garment) -> None:
    entry = DetailRecipe(kind="bar tack", on=("front", "back"), shares=(0.5,))
    assert len(_found(tube, entry)) == 4  # top and bottom of both


def test_on_a_seam_the_panel_first_named_has_it(tube: Garment) -> None:
    names = [panel.name for panel in tube.panels]
    seams = [k for k, c in enumerate(tube.chains) if c.kind == "seam"]
    for pair in (("front", "back"), ("back", "front")):
        entry = DetailRecipe(kind="bar tack", between=pair, shares=(0.5,), from_edge_mm=6.0)
        found = _found(tube, entry)
        assert len(found) == 2
        assert {names[spot.panel] for spot in found} == {pair[0]}
        other = _found(tube, replace(entry, panel=pair[1]))
        assert {names[spot.panel] for spot in other} == {pair[1]}
        for spot in found:
            sides = [(k, tube.chains[k].panels.index(spot.panel)) for k in seams]
            nearest = min(_on_edge(tube, spot, k, side)[1] for k, side in sides)
            assert nearest == pytest.approx(6.0, abs=0.05)


def test_a_recipe_is_read_and_its_details_are_made(tmp_path: Path) -> None:
    line = "{kind: buttonhole, on: front, every: 1 in, from_edge: 15 mm, angle: 90 deg}"
    recipe = _recipe(tmp_path, line)
    made = details_of(recipe, read_garment(recipe))
    assert len(made) == 2 * round(LONG_MM / 25.4)
    line = "{kind: bar tack, on: front, at: [0, 10, 4], share: [0 %, 50 %, 100 %]}"
    assert _recipe(tmp_path, line).details[0].shares == (0.0, 0.5, 1.0)


@pytest.mark.parametrize(
    ("detail", "what"),
    [
        ("{kind: bar tack}", "nothing says where the detail is"),
        ("{kind: bar tack, on: front}", "on without share or every"),
        ("{kind: bar tack, on: front, share: 1 %, every: 9 mm}", "share is no range"),
        ("{kind: bar tack, on: front, share: [9 %, 1 %], every: 9 mm}", "share is no range"),
        ("{kind: bar tack, at: [0, 0, 0], share: 1 %}", "share of no edge"),
        ("{kind: bar tack, on: a, between: [a, b], share: 1 %}", "both on and between"),
        ("{kind: bar tack, on: front, share: 120 %}", "'120 %' is out of range"),
        ("{kind: bar tack, on: front, share: []}", "empty list"),
    ],
)
def test_what_cannot_be_is_told(tmp_path: Path, detail: str, what: str) -> None:
    with pytest.raises(UserErrors, match=what):
        _recipe(tmp_path, detail)


@pytest.mark.parametrize(
    ("detail", "what"),
    [
        ("{kind: bar tack, on: sleeve, share: 50 %}", "no panel 'sleeve'"),
        ("{kind: bar tack, between: [front, sleeve], share: 50 %}", "no panel 'sleeve'"),
        ("{kind: bar tack, between: [front, front], share: 50 %}", "no seam between"),
        ("{kind: bar tack, on: front, panel: sleeve, share: 50 %}", "no panel 'sleeve'"),
    ],
)
def test_an_edge_that_is_not_there_is_told(tmp_path: Path, detail: str, what: str) -> None:
    recipe = _recipe(tmp_path, detail)
    with pytest.raises(UserErrors, match=what):
        details_of(recipe, read_garment(recipe))
