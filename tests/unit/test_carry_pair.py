"""Faces of two meshes are paired by their places in space."""

from dataclasses import replace

import numpy as np

from tests.carried_by_hand import DEMO
from tests.garments_by_hand import box, garment, sheet
from texbake.arrays import F64, I64
from texbake.carry import Sheet, read_sheet, sheet_of, way_between
from texbake.carry.pair import pair_faces

VEST = read_sheet(DEMO / "ferry-vest.obj")


def shuffled(sheet: Sheet, *, digits: int | None = None) -> tuple[Sheet, I64]:
    """Faces in another order, each begun at another corner, points rounded to digits of mm."""
    rng = np.random.default_rng(3)
    mesh, order = sheet.mesh, rng.permutation(len(sheet.mesh.faces))
    turn = (rng.integers(0, 3, len(order))[:, None] + np.arange(3)) % 3
    points = mesh.points_mm if digits is None else np.round(mesh.points_mm, digits)
    return sheet_of(
        replace(
            mesh,
            points_mm=points,
            faces=np.take_along_axis(mesh.faces[order], turn, axis=1),
            uv=np.take_along_axis(mesh.uv[order], turn[:, :, None], axis=1),
            polygon=mesh.polygon[order],
            object_of=mesh.object_of[order],
            group_of=mesh.group_of[order],
            material_of=mesh.material_of[order],
            normals=None,
        )
    ), order


def test_order_of_faces_and_of_corners_and_rounding_change_nothing() -> None:
    other, order = shuffled(VEST, digits=3)
    pairs = pair_faces(VEST, other)
    assert (pairs.face == order).all()
    there = np.take_along_axis(VEST.corners_mm[pairs.face], pairs.corner[:, :, None], axis=1)
    assert np.abs(there - other.corners_mm).max() < 0.001
    way = way_between(VEST, other)
    assert (way.share, way.paired, way.on, way.notes) == (1.0, 1.0, None, ())


def layers(points: list[F64]) -> Sheet:
    count = len(points)
    uv = np.concatenate(
        [sheet(1, 1, box(k / count, 0.0, (k + 0.9) / count, 1.0))[:1] for k in range(count)]
    )
    return sheet_of(garment(uv, points_mm=np.stack(points) * 100.0).mesh)


def test_layers_on_the_same_corners_are_told_apart_by_winding() -> None:
    front = np.array([[0.0, 0, 0], [1, 0, 0], [0, 1, 0]])
    back = front[[0, 2, 1]]
    pairs = pair_faces(layers([front, back]), layers([back[[1, 2, 0]], front[[2, 0, 1]]]))
    assert pairs.face.tolist() == [1, 0]


def test_doubles_are_taken_in_the_order_of_the_file() -> None:
    front = np.array([[0.0, 0, 0], [1, 0, 0], [0, 1, 0]])
    pairs = pair_faces(layers([front, front]), layers([front, front, front]))
    assert pairs.face.tolist() == [0, 1, 1]


def test_a_face_that_moved_has_no_pair() -> None:
    front = np.array([[0.0, 0, 0], [1, 0, 0], [0, 1, 0]])
    aside, lifted = front + np.array([5, 0, 0]), front + np.array([0, 0, 0.01])
    pairs = pair_faces(layers([front, aside]), layers([lifted, front]))
    assert pairs.face.tolist() == [-1, 0]
