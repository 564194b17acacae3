"""All channels move together, by one cover."""

import numpy as np
import pytest

from texbake.cloth.values import Cloth
from texbake.compose import compose
from texbake.sewing.values import Sewn

N = 5


def _cloth(variance: float = 0.02) -> Cloth:
    def plane(value: float) -> np.ndarray:
        return np.full(N, value, np.float32)

    return Cloth(
        height_mm=plane(0.4),
        slope=np.full((2, N), 0.3, np.float32),
        variance=plane(variance),
        occlusion=plane(0.8),
        cover=plane(1.0),
        weights=np.stack([plane(0.75), plane(0.25)]),
        metal=plane(0.0),
        alpha2=plane(0.09),
        level_mm=0.5,
    )


def _thread(cover: float) -> Sewn:
    def plane(value: float) -> np.ndarray:
        return np.full(2, value, np.float32)

    return Sewn(
        at=np.array([1, 3]),
        height_mm=plane(0.2),
        slope=np.full((2, 2), -0.1, np.float32),
        variance=plane(0.01),
        occlusion=plane(0.5),
        cover=plane(cover),
        shade=plane(1.1),
        thread=np.array([0.5, 0.25, 0.1], np.float32),
        alpha2=0.04,
        metal=1.0,
    )


COLOURS = np.array([[0.2, 0.3, 0.4], [0.6, 0.7, 0.8]], np.float32)


def test_bare_cloth_is_its_weighted_colours_and_its_lost_relief() -> None:
    surface = compose(_cloth(), COLOURS, [])
    np.testing.assert_allclose(surface.albedo[:, 0], [0.3, 0.4, 0.5], rtol=1e-6)
    # alpha'^2 = alpha^2 + 2 variance (Kaplanyan et al. 2016, after eq. 14).
    np.testing.assert_allclose(surface.alpha2, 0.09 + 2 * 0.02, rtol=1e-6)


@pytest.mark.parametrize(("r", "sigma", "want"), [(0.3, 0.1, 0.40943), (0.7, 0.3, 0.80508)])
def test_roughness_is_that_of_the_worked_examples(r: float, sigma: float, want: float) -> None:
    """shared/tables/normal_map_filtering.md: r' = (r^4 + 2 sigma^2)^(1/4), worked there."""
    cloth = _cloth(sigma * sigma)
    cloth.alpha2[:] = r**4
    assert compose(cloth, COLOURS, []).alpha2[0] ** 0.25 == pytest.approx(want, abs=1e-5)


def test_thread_hides_cloth_in_every_channel_by_one_cover() -> None:
    bare = compose(_cloth(), COLOURS, [])
    sewn = compose(_cloth(), COLOURS, [_thread(0.6)])
    at, off = [1, 3], [0, 2, 4]
    for field in ("height_mm", "alpha2", "metal", "occlusion"):
        assert (getattr(sewn, field)[off] == getattr(bare, field)[off]).all()
    for k, thread in enumerate((0.5, 0.25, 0.1)):
        want = 0.4 * bare.albedo[k, 0] + 0.6 * 1.1 * thread
        np.testing.assert_allclose(sewn.albedo[k, at], want, rtol=1e-5)
    np.testing.assert_allclose(sewn.slope[:, at], 0.4 * 0.3 - 0.1, rtol=1e-5)
    np.testing.assert_allclose(sewn.height_mm[at], 0.5 + 0.4 * (0.4 - 0.5) + 0.2, rtol=1e-5)
    np.testing.assert_allclose(sewn.alpha2[at], 0.4 * 0.13 + 0.6 * 0.04 + 0.02, rtol=1e-5)
    np.testing.assert_allclose(sewn.metal[at], 0.6, rtol=1e-5)
    np.testing.assert_allclose(sewn.occlusion[at], 0.4, rtol=1e-5)


def test_what_bends_cloth_without_hiding_it_adds_up() -> None:
    twice = compose(_cloth(), COLOURS, [_thread(0.0), _thread(0.0)])
    np.testing.assert_allclose(twice.slope[:, 1], 0.3 - 0.2, rtol=1e-5)
    np.testing.assert_allclose(twice.height_mm[1], 0.4 + 0.4, rtol=1e-5)
    np.testing.assert_allclose(twice.occlusion[1], 0.8 * 0.25, rtol=1e-5)


def test_a_later_layer_lies_on_the_earlier() -> None:
    top = compose(_cloth(), COLOURS, [_thread(0.5), _thread(1.0)])
    np.testing.assert_allclose(top.albedo[:, 1], 1.1 * _thread(1.0).thread, rtol=1e-5)


def test_nothing_leaves_its_range_and_the_cloth_is_left_as_it_was() -> None:
    cloth = _cloth(variance=3.0)
    before = cloth.height_mm.copy()
    bright = compose(cloth, COLOURS * 3.0, [_thread(0.5)])
    assert bright.albedo.max() <= 1.0
    assert bright.alpha2.max() <= 1.0
    assert (cloth.height_mm == before).all()
