"""The depth buffer, against a look at every sample and every face."""

import numpy as np
import pytest

from texbake.arrays import F64, I32
from texbake.view.fragments import fragments, resolve
from texbake.view.spans import BITS, CENTRES, FAR_PX, PATTERN, faces_in, owners

WIDTH, HEIGHT = 37, 23


def loose_faces(seed: int, count: int = 60) -> tuple[F64, F64]:
    """Random triangles over and beyond the picture, on the grid; and random planes."""
    rng = np.random.default_rng(seed)
    corner = rng.uniform(-15.0, 50.0, (count, 3, 2))
    corner = np.rint(corner * 2**BITS) / 2**BITS
    plane = rng.uniform(-0.1, 0.1, (count, 3))
    plane[:, 2] += rng.uniform(-5.0, 5.0, count)
    return corner, plane


def looked_at(corner: F64, plane: F64, shifts: tuple[float, ...]) -> I32:
    """Nearest face of each sample, one after the other."""
    owner = np.full((HEIGHT, len(shifts), WIDTH), -1, np.int32)
    for row in range(HEIGHT):
        for k, shift in enumerate(shifts):
            x, y = np.arange(WIDTH) + shift, row + (k + 0.5) / len(shifts)
            best = np.full(WIDTH, -np.inf)
            for face, ((ax, ay), (bx, by), (cx, cy)) in enumerate(corner):
                turn = (bx - ax) * (cy - ay) - (by - ay) * (cx - ax)
                inside = np.ones(WIDTH, bool)
                for px, py, qx, qy in ((ax, ay, bx, by), (bx, by, cx, cy), (cx, cy, ax, ay)):
                    inside &= ((qx - px) * (y - py) - (qy - py) * (x - px)) * np.sign(turn) > 0
                near = plane[face, 0] * x + plane[face, 1] * y + plane[face, 2]
                wins = inside & (near > best)
                best[wins], owner[row, k, wins] = near[wins], face
    return owner


@pytest.mark.parametrize("shifts", [PATTERN, CENTRES])
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_each_sample_has_the_nearest_face_over_it(seed: int, shifts: tuple[float, ...]) -> None:
    corner, plane = loose_faces(seed)
    got = owners(faces_in(corner, plane, (WIDTH, HEIGHT)), slice(0, HEIGHT), WIDTH, shifts)
    expected = looked_at(corner, plane, shifts)
    assert (expected >= 0).mean() > 0.5
    assert np.array_equal(got, expected)


def test_bands_of_rows_never_change_an_owner() -> None:
    corner, plane = loose_faces(4)
    faces = faces_in(corner, plane, (WIDTH, HEIGHT))
    whole = owners(faces, slice(0, HEIGHT), WIDTH)
    parts = [owners(faces, slice(k, min(k + 5, HEIGHT)), WIDTH) for k in range(0, HEIGHT, 5)]
    assert np.array_equal(whole, np.concatenate(parts))


def test_faces_that_share_edges_leave_no_gap() -> None:
    rng = np.random.default_rng(5)
    middle, angle = np.array([18.3, 11.7]), np.sort(rng.uniform(0, 2 * np.pi, 40))
    rim = middle + 60.0 * np.stack([np.cos(angle), np.sin(angle)], axis=1)
    corner = np.stack([np.broadcast_to(middle, rim.shape), rim, np.roll(rim, -1, axis=0)], axis=1)
    plane = np.zeros((len(corner), 3))
    got = owners(faces_in(corner, plane, (WIDTH, HEIGHT)), slice(0, HEIGHT), WIDTH)
    assert (got >= 0).all()


def test_a_face_that_reaches_too_far_is_refused() -> None:
    corner = np.array([[[0.0, 0.0], [FAR_PX + 1.0, 0.0], [0.0, 10.0]]])
    with pytest.raises(ValueError, match="65536"):
        faces_in(corner, np.zeros((1, 3)), (WIDTH, HEIGHT))


def test_a_pixel_without_faces_has_no_fragment() -> None:
    none = np.full((2, 8, 3), -1, np.int32)
    parts = fragments(none, 0, PATTERN)
    assert len(parts.pixel) == 0
    colour, cover = resolve(parts, np.empty((3, 0), np.float32), 6)
    assert not colour.any()
    assert not cover.any()


def test_a_face_inside_a_pixel_is_shaded_once_at_its_middle() -> None:
    parts = fragments(np.full((1, 8, 2), 7, np.int32), 10, PATTERN)
    assert parts.face.tolist() == [7, 7]
    assert parts.x_px.tolist() == [0.5, 1.5]
    assert parts.y_px.tolist() == [10.5, 10.5]
    assert parts.share.tolist() == [1.0, 1.0]


def test_two_faces_in_a_pixel_share_it_and_the_rest_stays_free() -> None:
    owner = np.array([[[3], [3], [-1], [5]]], np.int32)
    shifts = (3 / 8, 7 / 8, 1 / 8, 5 / 8)
    parts = fragments(owner, 0, shifts)
    assert dict(zip(parts.face.tolist(), parts.share.tolist(), strict=True)) == {3: 0.5, 5: 0.25}
    at = {f: (x, y) for f, x, y in zip(parts.face.tolist(), parts.x_px, parts.y_px, strict=True)}
    assert at[5] == (5 / 8, 0.875)
    assert at[3] == (5 / 8, 0.25)
    colour, cover = resolve(parts, np.ones((3, 2), np.float32), 1)
    assert cover.tolist() == [0.75]
    assert colour[:, 0].tolist() == [0.75] * 3
