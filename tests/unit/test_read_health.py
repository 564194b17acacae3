"""What ``check`` refuses, what it notes, and what it leaves alone."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from texbake.arrays import F64, I32
from texbake.errors import UserError
from texbake.garment.health import check
from texbake.garment.islands import islands
from texbake.garment.values import Mesh
from texbake.garment.weld import weld

SQUARE = np.array([[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]])
QUAD = np.array([[0, 1, 2], [0, 2, 3]], np.int32)


def mesh_of(
    points_mm: F64, faces: I32, uv: F64, tile: tuple[int, int] | None = None
) -> tuple[Mesh, I32]:
    none = np.zeros(len(faces), np.int32)
    mesh = Mesh(
        path=Path("vest.obj"),
        points_mm=points_mm,
        faces=faces,
        uv=uv - np.array(tile or (0, 0)),
        polygon=none,
        object_of=none,
        group_of=none,
        material_of=none,
        objects=("",),
        groups=("",),
        materials=("",),
        tile=tile,
    )
    return mesh, islands(weld(points_mm, faces), mesh.uv)


def squares(*corner: tuple[float, float], scale: float = 0.25) -> F64:
    """UVs of squares with their lower left corner at each place."""
    return np.concatenate([(SQUARE * scale + c)[QUAD] for c in corner])


def cloth(count: int, side_mm: float = 250.0) -> tuple[F64, I32]:
    """So many squares in space, apart from each other."""
    flat = np.concatenate([SQUARE, np.zeros((4, 1))], axis=1) * side_mm
    points = np.concatenate([flat + np.array([0.0, 0.0, 500.0 * k]) for k in range(count)])
    return points, np.concatenate([QUAD + 4 * k for k in range(count)]).astype(np.int32)


def refused(mesh: Mesh, island: I32) -> UserError:
    with pytest.raises(UserError) as caught:
        check(mesh, island)
    assert caught.value.path == mesh.path
    return caught.value


def test_a_sound_mesh_is_usable_without_a_note() -> None:
    mesh, island = mesh_of(*cloth(2), squares((0.0, 0.0), (0.75, 0.75)))
    usable, notes = check(mesh, island)
    assert usable.tolist() == [True] * 4
    assert usable.dtype == np.bool_
    assert notes == ()


def test_the_weld_may_be_handed_in() -> None:
    mesh, island = mesh_of(*cloth(1), squares((0.0, 0.0)))
    assert check(mesh, island, weld=weld(mesh.points_mm, mesh.faces))[1] == ()


def test_islands_may_reach_over_the_edge_by_a_ten_thousandth() -> None:
    mesh, island = mesh_of(*cloth(1), squares((-0.9e-4, 0.75 + 0.9e-4)))
    assert check(mesh, island)[0].all()
    mesh, island = mesh_of(*cloth(1), squares((-1.1e-4, 0.0)))
    assert "island 0" in refused(mesh, island).what


def test_an_island_over_the_border_is_refused_with_its_box() -> None:
    mesh, island = mesh_of(*cloth(2), squares((0.0, 0.0), (-0.052, 0.3)))
    error = refused(mesh, island)
    assert "1 of 2 islands" in error.what
    assert "island 1 (2 triangles, u -0.052..0.198, v 0.3..0.55)" in error.what
    assert "move or scale" in error.fix


def test_an_island_in_another_tile_asks_for_that_tile() -> None:
    mesh, island = mesh_of(*cloth(2), squares((0.0, 0.0), (0.5, 1.5)))
    error = refused(mesh, island)
    assert "tile [0, 1]" in error.what
    assert "`tile: [0, 1]`" in error.fix


@pytest.mark.parametrize(("tile", "inside"), [((0, 0), 0), ((0, 1), 1), ((3, 0), 2)])
def test_a_tile_asked_for_by_name_leaves_the_others_out(tile: tuple[int, int], inside: int) -> None:
    uv = squares((0.0, 0.0), (0.5, 1.5), (3.75, 0.0))
    mesh, island = mesh_of(*cloth(3), uv, tile)
    usable, notes = check(mesh, island)
    assert np.flatnonzero(usable).tolist() == [2 * inside, 2 * inside + 1]
    assert len(notes) == 1
    assert "4 triangles" in notes[0]


def test_an_island_across_the_border_of_a_tile_asked_for_is_refused_all_the_same() -> None:
    mesh, island = mesh_of(*cloth(2), squares((0.0, 1.0), (0.9, 1.5)), (0, 1))
    error = refused(mesh, island)
    assert "UV tile [0, 1]: island 1 (2 triangles, u 0.9..1.15, v 1.5..1.75)" in error.what


def test_a_tile_without_islands_is_refused_and_the_others_told() -> None:
    mesh, island = mesh_of(*cloth(2), squares((0.0, 0.0), (0.5, 1.5)), (5, 5))
    error = refused(mesh, island)
    assert "UV tile [5, 5]" in error.what
    assert "`tile: [0, 0]`, `tile: [0, 1]`" in error.fix


@pytest.mark.parametrize(
    ("unit_mm", "name"), [(1.0, "millimetres"), (10.0, "centimetres"), (25.4, "inches")]
)
def test_uvs_in_a_unit_of_length_are_recognised(unit_mm: float, name: str) -> None:
    points, faces = cloth(2)
    mesh, island = mesh_of(points, faces, squares((0, 0), (0, 0), scale=250.0 / unit_mm))
    assert name in refused(mesh, island).fix
    assert "re-pack" in refused(mesh, island).fix


def test_uvs_far_outside_in_no_known_unit_say_how_large_one_is() -> None:
    mesh, island = mesh_of(*cloth(1), squares((0.0, 0.0), scale=5.0))
    assert "about 50 mm" in refused(mesh, island).fix


@pytest.mark.parametrize("uv", [np.zeros((2, 3, 2)), np.full((2, 3, 2), 7.5)])
def test_uvs_that_are_all_equal_are_refused(uv: F64) -> None:
    mesh, island = mesh_of(*cloth(1), uv)
    error = refused(mesh, island)
    assert "useless UVs (all are equal)" in error.what
    assert "unwrap" in error.fix


def test_uvs_on_one_line_are_refused() -> None:
    line = squares((0.0, 0.0))
    line[..., 1] = line[..., 0]
    mesh, island = mesh_of(*cloth(1), line)
    assert "none of the 2 triangles" in refused(mesh, island).what


def test_faces_without_uv_area_are_unusable_wherever_they_lie() -> None:
    uv = squares((0.0, 0.0), (0.5, 0.5))
    uv[2:] = [7.0, -3.0]
    mesh, island = mesh_of(*cloth(2), uv)
    usable, notes = check(mesh, island)
    assert usable.tolist() == [True, True, False, False]
    assert notes == ("2 triangles have no area in UV and are not baked",)


def test_faces_without_area_in_space_are_noted_and_stay() -> None:
    points, faces = cloth(1)
    points[3] = points[2] * 0.5
    mesh, island = mesh_of(points, faces, squares((0.0, 0.0)))
    usable, notes = check(mesh, island)
    assert usable.all()
    assert notes == ("1 triangle has no area in space, the first at [0, 0, 0]",)


def test_folds_are_told_by_island_but_whole_mirrored_islands_are_not() -> None:
    uv = squares((0.0, 0.0), (0.5, 0.5))
    uv[:2, :, 0] = 0.25 - uv[:2, :, 0]
    mesh, island = mesh_of(*cloth(2), uv)
    assert check(mesh, island)[1] == ()
    uv[3, 2] = [0.74, 0.51]
    mesh, island = mesh_of(*cloth(2), uv)
    notes = check(mesh, island)[1]
    assert len(notes) == 1
    assert "island 1 (1 of 2 triangles)" in notes[0]


def test_edges_of_three_triangles_are_counted_with_a_place() -> None:
    points = np.array([[0, 0, 0], [0, 100, 0], [90, 0, 0], [0, 0, 90], [-90, 0, 0]], np.float64)
    faces = np.array([[0, 1, 2], [0, 1, 3], [0, 1, 4]], np.int32)
    uv = np.array([[0.1, 0.1], [0.1, 0.9], [0.9, 0.1], [0.9, 0.2], [0.9, 0.3]])[faces]
    notes = check(*mesh_of(points, faces, uv))[1]
    assert notes == ("1 edge belongs to more than two triangles, the first at [0, 0, 0]",)


def test_layers_in_one_place_are_counted_in_either_winding() -> None:
    points, faces = cloth(1)
    both = np.concatenate([faces, faces[:, ::-1], faces]).astype(np.int32)
    uv = squares((0.0, 0.0), (0.5, 0.0), (0.0, 0.5))
    uv[2:4] = uv[2:4, ::-1]
    notes = check(*mesh_of(points, both, uv))[1]
    assert any(note.startswith("4 triangles lie on another") for note in notes)


@pytest.mark.parametrize("side_mm", [2.5, 25_000.0])
def test_a_garment_for_a_doll_or_a_giant_doubts_the_unit(side_mm: float) -> None:
    mesh, island = mesh_of(*cloth(1, side_mm), squares((0.0, 0.0)))
    (note,) = check(mesh, island)[1]
    size = f"{side_mm:g} x {side_mm:g} x 0 mm"
    told = f"the garment measures {size}: is the unit of the mesh right? "
    assert note.startswith(told)
    assert "mesh_unit" in note


def test_units_that_make_a_garment_for_people_are_proposed() -> None:
    """0.9 of a unit, read as centimetres, as is usual; in metres it would be a coat."""
    mesh, island = mesh_of(*cloth(1, 9.0), squares((0.0, 0.0)))
    (note,) = check(replace(mesh, unit_mm=10.0), island)[1]
    assert note.endswith("right? `mesh_unit: m` makes it 900 mm long")
