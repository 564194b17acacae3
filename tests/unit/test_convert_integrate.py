"""Normal to height: what comes back, in which unit, and what is refused."""

from typing import Any

import numpy as np
import pytest

from tests.convert_by_hand import codes16, waves
from texbake.convert import flip_green, height_to_normal, normal_to_height
from texbake.convert.integrate import slopes_of
from texbake.convert.values import EDGES, Edge


@pytest.mark.parametrize("edge", EDGES)
def test_a_flat_map_is_a_flat_height(edge: Edge) -> None:
    for code in ((128, 128, 255), (128, 127, 255), (127, 127, 254)):
        flat = np.full((40, 50, 3), code, np.uint8)
        assert (normal_to_height(flat, texel_mm=1.0, edge=edge) == 0.0).all()


@pytest.mark.parametrize("edge", ["hold", "mirror"])
def test_a_plane_comes_back_in_mm(edge: Edge) -> None:
    normals = np.broadcast_to(np.array([-0.3, 0.4, 1.0], np.float32), (30, 41, 3))
    found = normal_to_height(normals, texel_mm=0.25, edge="hold")
    rows, columns = np.mgrid[:30, :41]
    want = 0.25 * (0.3 * (columns - 20) + 0.4 * (rows - 14.5))
    np.testing.assert_allclose(found, want, atol=1e-5)
    assert found.dtype == np.float32
    assert abs(normal_to_height(normals, texel_mm=0.25, edge=edge).mean()) < 1e-6


def test_green_down_is_read_as_such() -> None:
    height = codes16(waves(64, 64))
    up = height_to_normal(height, depth_mm=3, texel_mm=1, edge="wrap", bits=16)
    from_up = normal_to_height(up, texel_mm=1, edge="wrap")
    from_down = normal_to_height(flip_green(up), texel_mm=1, edge="wrap", green="down")
    np.testing.assert_allclose(from_down, from_up, atol=1e-5)


def test_vectors_may_have_any_length() -> None:
    normals = height_to_normal(codes16(waves(50, 60)), depth_mm=3, texel_mm=1, bits=None)
    long = normals * np.linspace(0.5, 3.0, 60, dtype=np.float32)[:, None]
    np.testing.assert_allclose(
        normal_to_height(long, texel_mm=1), normal_to_height(normals, texel_mm=1), atol=1e-4
    )


def test_normals_that_do_not_point_out_are_very_steep() -> None:
    normals = np.array([[[1, 0, 0], [0, -1, -0.2], [0, 0, 0]]], np.float32)
    across, down = slopes_of(normals, "up")
    np.testing.assert_allclose(across[0], [-127.5, 0, 0], atol=1e-4)
    np.testing.assert_allclose(down[0], [0, -127.5, 0], atol=1e-4)


def test_pieces_that_do_not_touch_come_back_each_about_0() -> None:
    height = waves(90, 120, finest=20.0)
    covered = np.zeros(height.shape, np.bool_)
    covered[5:60, 5:50] = covered[20:85, 60:115] = True
    covered[30:34, 20:24] = False
    normals = height_to_normal(
        height.astype(np.float32), depth_mm=8, texel_mm=0.5, alpha=covered, bits=None
    )
    found = normal_to_height(normals, texel_mm=0.5, alpha=covered)
    assert (found[~covered] == 0.0).all()
    for piece in (slice(5, 50), slice(60, 115)):
        here = covered.copy()
        here[:, : piece.start] = here[:, piece.stop :] = False
        true = 8 * height[here] - 8 * height[here].mean()
        assert np.corrcoef(found[here], true)[0, 1] > 0.9999
        assert np.abs(found[here] - true).max() < 0.05
        assert abs(found[here].mean()) < 1e-5


def test_a_piece_may_wrap() -> None:
    height = waves(64, 64, finest=16.0)
    covered = np.ones(height.shape, np.bool_)
    covered[20:40] = False
    normals = height_to_normal(
        height.astype(np.float32), depth_mm=8, texel_mm=1, edge="wrap", alpha=covered, bits=None
    )
    found = normal_to_height(normals, texel_mm=1, edge="wrap", alpha=covered)
    true = 8 * height[covered] - 8 * height[covered].mean()
    assert np.abs(found[covered] - true).max() < 0.05


def test_lone_texels_and_empty_pictures_do_no_harm() -> None:
    normals = np.full((6, 7, 3), (160, 128, 250), np.uint8)
    covered = np.zeros((6, 7), np.bool_)
    assert (normal_to_height(normals, texel_mm=1, alpha=covered) == 0.0).all()
    covered[3, 3] = True
    assert (normal_to_height(normals, texel_mm=1, alpha=covered) == 0.0).all()
    for shape in ((1, 1), (1, 6), (5, 1), (2, 2)):
        for edge in EDGES:
            found = normal_to_height(normals[: shape[0], : shape[1]], texel_mm=1, edge=edge)
            assert np.isfinite(found).all()


def test_threads_change_nothing() -> None:
    normals = height_to_normal(codes16(waves(64, 80)), depth_mm=3, texel_mm=1)
    for edge in EDGES:
        one, two = (
            normal_to_height(normals, texel_mm=1, edge=edge, threads=threads) for threads in (1, 2)
        )
        np.testing.assert_array_equal(one, two)


@pytest.mark.parametrize(
    ("change", "word"),
    [
        ({"normal": np.zeros((3, 3), np.uint8)}, "shape"),
        ({"normal": np.zeros((3, 3, 4), np.uint8)}, "shape"),
        ({"normal": np.zeros((0, 3, 3), np.uint8)}, "shape"),
        ({"normal": np.zeros((3, 3, 3), np.int64)}, "int64"),
        ({"normal": np.full((3, 3, 3), np.nan, np.float32)}, "finite"),
        ({"texel_mm": 0.0}, "above 0"),
        ({"edge": "none"}, "none"),
    ],
)
def test_what_cannot_be_is_refused(change: dict[str, Any], word: str) -> None:
    plain: dict[str, Any] = {"normal": np.zeros((3, 3, 3), np.uint8), "texel_mm": 1.0}
    with pytest.raises(ValueError, match=word):
        normal_to_height(**(plain | change))
