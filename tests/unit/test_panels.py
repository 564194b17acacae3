"""Which islands are one panel, by recipe or by default, and what panels are called."""

import math
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from tests.sewn_by_hand import Cloth, Map, around, front_and_back, level, patch, sew
from texbake.arrays import F64
from texbake.errors import UserErrors
from texbake.garment.build import build_garment
from texbake.garment.panels import face_distances, panels_named
from texbake.garment.values import Mesh, Panel
from texbake.recipe.values import PanelRecipe

PATH = Path("ferry-vest.yaml")
HALF = math.pi / 2


def named(mesh: Mesh, *recipes: PanelRecipe) -> dict[str, tuple[int, ...]]:
    garment = build_garment(mesh, {r.name: r for r in recipes}, path=PATH)
    return {panel.name: panel.islands for panel in garment.panels}


def complaints(mesh: Mesh, *recipes: PanelRecipe) -> list[str]:
    with pytest.raises(UserErrors) as caught:
        build_garment(mesh, {r.name: r for r in recipes}, path=PATH)
    return [str(error) for error in caught.value.errors]


def vest() -> Mesh:
    """Front, back and a lining of two halves 5 mm within them."""
    half = math.pi / 2
    lining = [
        patch(inward(around(145.0, 400.0, a, a + math.pi)), material="lining", group="inside")
        for a in (-half, half)
    ]
    front, back = front_and_back()
    return sew(front, back, *lining)


def inward(space: Map) -> Map:
    """The same surface with its outside inwards."""
    return lambda s, t: space(1 - s, t)


def raised(space: Map, by_mm: float) -> Map:
    return lambda s, t: space(s, t) + np.array([0.0, by_mm, 0.0])


def panel(name: str) -> Panel:
    return Panel(
        name=name,
        islands=(0,),
        faces=np.zeros(1, np.int32),
        area_mm2=1.0,
        stretch_rms=0.0,
        stretch_max=0.0,
    )


def test_a_point_picks_the_nearest_cloth() -> None:
    found = named(
        vest(),
        PanelRecipe(name="chest", at=(0.0, 200.0, 152.0)),
        PanelRecipe(name="inside-back", at=(0.0, 200.0, -140.0)),
    )
    assert found["chest"] == (0,)
    assert found["inside-back"] == (3,)


def test_the_nearest_cloth_need_not_have_the_nearest_vertex() -> None:
    coarse = patch(level(400.0, 400.0), columns=1, rows=1)  # vertices 280 mm from its middle
    fine = patch(level(20.0, 20.0, z_mm=50.0), columns=8, rows=8)
    found = named(sew(coarse, fine), PanelRecipe(name="big", at=(0.0, 200.0, 10.0)))
    assert found["big"] == (0,)


def test_of_equally_near_cloth_the_one_with_the_nearer_middle_is_picked() -> None:
    below = patch(level(200.0, 100.0))
    above = patch(raised(level(200.0, 300.0), 100.0))
    found = named(sew(above, below), PanelRecipe(name="low", at=(0.0, 100.0, 0.0)))
    assert found["low"] == (1,)


def test_a_point_far_from_all_cloth_is_a_mistake() -> None:
    (complaint,) = complaints(vest(), PanelRecipe(name="hat", at=(0.0, 200.0, 350.0), line=7))
    assert complaint.startswith("ferry-vest.yaml:7: panel 'hat'")
    assert "200 mm from" in complaint
    assert "nearest is island 0" in complaint


def test_a_material_names_every_island_of_it_from_the_top() -> None:
    found = named(vest(), PanelRecipe(name="inner", material="lining"))
    assert found == {"front": (0,), "back": (1,), "inner-1": (2,), "inner-2": (3,)}


def test_numbers_go_from_the_top_down() -> None:
    strips = [patch(raised(level(200.0, 50.0), y_mm)) for y_mm in (0.0, 200.0, 100.0)]
    found = named(sew(*strips), PanelRecipe(name="strip", material="drill"))
    assert found == {"strip-1": (1,), "strip-2": (2,), "strip-3": (0,)}


def test_a_material_of_one_island_gives_the_plain_name() -> None:
    pocket = patch(level(80.0, 80.0, z_mm=200.0), material="canvas")
    found = named(sew(*front_and_back(), pocket), PanelRecipe(name="bag", material="canvas"))
    assert found["bag"] == (2,)


def test_each_kind_of_name_picks() -> None:
    front, back = front_and_back()
    mesh = sew(front, replace(back, object="o", group="g", material="m"))
    assert named(mesh, PanelRecipe(name="p", object="o"))["p"] == (1,)
    assert named(mesh, PanelRecipe(name="p", group="g"))["p"] == (1,)
    assert named(mesh, PanelRecipe(name="p", material="m"))["p"] == (1,)


def test_picks_narrow_each_other() -> None:
    found = named(vest(), PanelRecipe(name="inner", material="lining", at=(0.0, 200.0, 151.0)))
    assert found["inner"] == (2,)


def test_listed_islands_are_joined() -> None:
    found = named(vest(), PanelRecipe(name="shell", islands=(1, 0)))
    assert found["shell"] == (0, 1)


def test_panels_are_in_the_order_of_the_mesh_not_of_the_recipe() -> None:
    a = PanelRecipe(name="a", islands=(1,))
    b = PanelRecipe(name="b", islands=(0,))
    assert list(named(vest(), a, b)) == list(named(vest(), b, a))


def test_the_recipe_line_and_grain_reach_the_panel() -> None:
    mesh = sew(patch(level(300.0, 200.0)))
    plain = build_garment(mesh)
    turned = build_garment(
        mesh, {"p": PanelRecipe(name="p", islands=(0,), grain_rad=HALF, line=12)}
    )
    assert turned.panels[0].line == 12
    x, y = plain.pattern_mm[..., 0], plain.pattern_mm[..., 1]
    np.testing.assert_allclose(turned.pattern_mm, np.stack([y, -x], axis=-1), atol=1e-6)


def test_every_mistake_is_told_at_once_in_line_order() -> None:
    found = complaints(
        vest(),
        PanelRecipe(name="b", material="linning", line=9),
        PanelRecipe(name="a", islands=(7,), line=4),
    )
    assert [text.split(":")[1] for text in found] == ["4", "9"]
    assert "there is no island 7" in found[0]
    assert "0 to 3" in found[0]
    assert "did you mean 'lining'?" in found[1]
    assert "'drill', 'lining'" in found[1]


def test_a_name_the_mesh_does_not_have_lists_what_it_has() -> None:
    (complaint,) = complaints(vest(), PanelRecipe(name="p", object="jacket", line=3))
    assert "no object names at all" in complaint
    assert "islands are 0 to 3" in complaint


def test_two_panels_on_one_island_are_told_with_both_lines() -> None:
    (complaint,) = complaints(
        vest(),
        PanelRecipe(name="a", islands=(0, 1), line=4),
        PanelRecipe(name="b", at=(0.0, 200.0, 150.0), line=5),
    )
    assert complaint.startswith("ferry-vest.yaml:5: ")
    assert "'a' (line 4) and 'b' (line 5) both claim island 0" in complaint


def test_an_island_of_two_materials_is_not_picked_by_one() -> None:
    mesh = sew(patch(level(200.0, 200.0), columns=2, rows=1))
    mesh = replace(mesh, materials=("drill", "patch"), material_of=np.array([0, 0, 1, 1], np.int32))
    (complaint,) = complaints(mesh, PanelRecipe(name="p", material="patch", line=2))
    assert "island 0 is only partly of material 'patch'" in complaint


def test_picks_that_contradict_each_other_are_told() -> None:
    found = complaints(
        vest(),
        PanelRecipe(name="a", islands=(0, 2), material="lining", line=1),
        PanelRecipe(name="b", islands=(1,), at=(0.0, 200.0, 150.0), line=2),
        PanelRecipe(name="c", material="drill", group="inside", line=3),
    )
    assert "island 0 does not meet" in found[0]
    assert "its point is on island 0" in found[1]
    assert "no island meets all" in found[2]


def test_a_numbered_name_may_not_hide_another() -> None:
    (complaint,) = complaints(
        vest(),
        PanelRecipe(name="inner", material="lining", line=1),
        PanelRecipe(name="inner-1", islands=(0,), line=2),
    )
    assert "two panels are called 'inner-1'" in complaint


def sleeve(side: int) -> Cloth:
    """A tube along x from the body outwards."""
    tube = around(40.0, 300.0, -math.pi, math.pi)

    def space(s: F64, t: F64) -> F64:
        x, y, z = np.moveaxis(tube(s, t), -1, 0)
        return np.stack([side * (160 + y), 350 - side * x, z], axis=-1)

    return patch(space, columns=12)


def test_default_names_say_where_a_panel_lies() -> None:
    collar = patch(raised(around(60.0, 30.0, -math.pi, math.pi), 420.0), columns=12)
    mesh = sew(*front_and_back(), sleeve(1), sleeve(-1), collar)
    assert list(named(mesh)) == ["front", "back", "left", "right", "top"]


def test_the_inside_of_a_front_is_at_the_front_too() -> None:
    assert sorted(named(vest())) == ["back-1", "back-2", "front-1", "front-2"]


def test_a_name_that_only_one_island_has_is_its_name() -> None:
    front, back = front_and_back()
    mesh = sew(replace(front, material="Drill (navy)"), replace(back, group="rear", object="o"))
    assert list(named(mesh)) == ["Drill-navy", "drill"]
    mesh = sew(front, replace(back, group="rear", object="o"))
    assert list(named(mesh)) == ["front", "rear"]


def test_one_island_alone_is_not_called_after_the_whole_mesh() -> None:
    assert list(named(sew(patch(level(300.0, 200.0), material="lambert")))) == ["front"]


def test_default_names_leave_the_recipes_names_alone() -> None:
    found = named(vest(), PanelRecipe(name="front", islands=(1,)))
    assert found["front"] == (1,)
    assert len({name.lower() for name in found}) == 4


def test_names_do_not_depend_on_letter_case_alone() -> None:
    found = named(vest(), PanelRecipe(name="Front-1", islands=(1,)))
    assert len({name.lower() for name in found}) == 4


@pytest.mark.parametrize(
    ("name", "which"),
    [
        ("all", (0, 1, 2, 3)),
        ("lining", (1, 3)),
        ("lining-1", (1,)),
        ("front", (0,)),
        ("collar", ()),
    ],
)
def test_a_name_means_one_panel_or_all_that_are_numbered_after_it(
    name: str, which: Sequence[int]
) -> None:
    panels = [panel(n) for n in ("front", "lining-1", "front-1", "lining-2")]
    assert panels_named(panels, name) == which


def test_distance_to_a_triangle_is_that_of_its_nearest_point() -> None:
    random = np.random.default_rng(5)
    corners = random.normal(size=(40, 3, 3))
    point = random.normal(size=3)
    a, b = np.meshgrid(np.linspace(0, 1, 401), np.linspace(0, 1, 401))
    inside = a + b <= 1
    weights = np.stack([a[inside], b[inside], 1 - a[inside] - b[inside]], axis=1)
    brute = [np.linalg.norm(weights @ corner - point, axis=1).min() for corner in corners]
    got = face_distances(point, corners)
    assert (got <= np.array(brute) + 1e-12).all()
    np.testing.assert_allclose(got, brute, atol=0.01)


def test_distance_to_triangles_without_area_is_that_of_their_sides() -> None:
    line = np.array([[[0.0, 0, 0], [2, 0, 0], [1, 0, 0]], [[3.0, 4, 0]] * 3])
    np.testing.assert_allclose(face_distances(np.array([1.0, 1.0, 0.0]), line), [1, math.sqrt(13)])
