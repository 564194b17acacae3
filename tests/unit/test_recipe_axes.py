"""Units and up axes of mesh files."""

from pathlib import Path

import numpy as np
import pytest

from texbake.recipe import default_unit_mm, to_y_up
from texbake.recipe.axes import from_y_up
from texbake.recipe.values import Up

AXES: dict[Up, list[float]] = {
    "x": [1, 0, 0],
    "y": [0, 1, 0],
    "z": [0, 0, 1],
    "-x": [-1, 0, 0],
    "-y": [0, -1, 0],
    "-z": [0, 0, -1],
}


@pytest.mark.parametrize("up", AXES)
def test_the_named_axis_becomes_y_by_a_rotation(up: Up) -> None:
    assert to_y_up(np.array([AXES[up]], float), up).tolist() == [[0, 1, 0]]
    turn = to_y_up(np.eye(3), up)
    assert np.linalg.det(turn) == pytest.approx(1.0)
    np.testing.assert_array_equal(turn @ turn.T, np.eye(3))


def test_points_with_y_up_stay_and_are_copied() -> None:
    points = np.array([[1.0, 2.0, 3.0]])
    turned = to_y_up(points, "y")
    np.testing.assert_array_equal(turned, points)
    assert not np.shares_memory(turned, points)
    assert turned.dtype == np.float64


def test_z_up_looks_along_y_as_y_up_looks_along_minus_z() -> None:
    # A garment that is drawn with z up faces -y; with y up it faces +z.
    np.testing.assert_array_equal(to_y_up(np.array([[0.0, -1.0, 0.0]]), "z"), [[0.0, 0.0, 1.0]])


@pytest.mark.parametrize(
    ("name", "unit_mm"), [("a.glb", 1000), ("a.GLTF", 1000), ("a.obj", 10), ("a.ply", 10)]
)
def test_each_format_has_its_unit(name: str, unit_mm: float) -> None:
    # glTF 2.0 specification, section 3.4: metres.
    assert default_unit_mm(Path(name)) == unit_mm


def test_other_formats_are_refused() -> None:
    with pytest.raises(ValueError, match=r"'a\.stl' ends in none of \.gltf, \.glb, \.obj, \.ply"):
        default_unit_mm(Path("a.stl"))


@pytest.mark.parametrize("up", ["x", "y", "z", "-x", "-y", "-z"])
def test_turning_back_gives_the_same_points(up: Up) -> None:
    points = np.array([[1.0, 2.0, 3.0], [-0.1, 0.3, 7.0]])
    np.testing.assert_array_equal(from_y_up(to_y_up(points, up), up), points)
