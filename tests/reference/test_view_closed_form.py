"""Pictures against closed form: what optics says, without any other renderer."""

import math

import numpy as np
import pytest

from tests.seen_by_hand import Shape, ball, camera, flat_uv, plain_maps, slope_maps, surface
from texbake.arrays import F32, F64, Bool
from texbake.garment.values import Garment
from texbake.maps import MapArrays
from texbake.view import Light, Scene, model_of, radiance
from texbake.view.pyramid import ALPHA2, METAL, OCCLUSION
from texbake.view.shade import Surface, shade
from texbake.view.studio import dome, studio_lights

SIDEWAYS, ABOVE = (0.8, 0.0, 0.6), (0.0, 0.8, 0.6)


def lamp(to_light: tuple[float, float, float], strength: float = 1.0) -> Light:
    return Light(to_light=to_light, strength=strength)


def lit(garment: Garment, maps: MapArrays, to_light: tuple[float, float, float]) -> F32:
    """Red light of a matt garment under one lamp, seen square on; 0 where it is not."""
    scene = Scene(model=model_of(garment), maps=maps, lights=(lamp(to_light),), reflectance=0.0)
    light, cover = radiance(scene, camera(3000.0, 1.6, (200, 200)))
    return np.where(cover > 0.999, light[..., 0], 0.0).astype(np.float32)


# --- A ball under one lamp: Lambert's law (1760), light in proportion to N . L.


def test_a_matt_ball_is_as_bright_as_its_normal_faces_the_lamp() -> None:
    radius, away, scale = 50.0, 800.0, 1.8
    to_light = np.array([-0.48, 0.6, 0.64])
    scene = Scene(
        model=model_of(ball(radius, 192, 96)),
        maps=plain_maps(),
        lights=(lamp((-0.48, 0.6, 0.64)),),
        reflectance=0.0,
    )
    seen = camera(away, scale, (200, 200))
    light, cover = radiance(scene, seen)
    normal, hit = _ball_normals(radius, away, seen.focal_px, 200)
    expected = np.maximum(normal @ to_light, 0.0)
    sure = hit & (cover > 0.999) & (normal[..., 2] > 0.15)  # all but the outermost pixel's ring
    assert sure.sum() > 0.95 * hit.sum() > 20000
    assert np.abs(light[sure] - expected[sure][:, None]).max() < 0.01
    bright = sure & (expected > 0.3) & (normal[..., 2] > 0.3)
    assert np.abs(light[bright][:, 0] / expected[bright] - 1.0).max() < 0.01


def _ball_normals(radius: float, away: float, focal: float, size: int) -> tuple[F64, Bool]:
    """Where the rays through pixel centres first meet a ball, as normals; and whether they do."""
    at = (np.arange(size) + 0.5 - size / 2) / focal
    ray = np.stack(np.broadcast_arrays(at[None, :], -at[:, None], -1.0), axis=-1)
    ray /= np.sqrt((ray * ray).sum(axis=-1, keepdims=True))
    middle = away * ray[..., 2]
    inside = middle * middle - (away * away - radius * radius)
    distance = -middle - np.sqrt(np.maximum(inside, 0.0))
    point = distance[..., None] * ray + np.array([0.0, 0.0, away])
    return point / radius, inside > 0.0


# --- Furnace: under light that is the same from everywhere, nothing is brighter than white.


@pytest.mark.parametrize("roughness", [200, 225, 255])
def test_white_rough_cloth_in_even_light_is_white_and_no_brighter(roughness: int) -> None:
    # Smoother, the standard's mix of base and gloss gives too much at grazing angles: 1.1 at 128.
    light = _in_furnace(plain_maps(roughness=roughness))
    assert light.max() < 1.02
    assert light.min() > 0.95


@pytest.mark.parametrize(("roughness", "kept"), [(128, 0.85), (200, 0.6), (255, 0.38)])
def test_white_metal_in_even_light_is_no_brighter_than_white(roughness: int, kept: float) -> None:
    # Light that meets a second facet is not followed; at alpha = 1 that is up to 60 % (Heitz,
    # Hanika, d'Eon and Dachsbacher 2016).
    light = _in_furnace(plain_maps(roughness=roughness, metal=255))
    assert light.max() < 1.02
    assert light.mean() > kept


def _in_furnace(maps: MapArrays) -> F32:
    scene = Scene(model=model_of(ball()), maps=maps, lights=dome(1.0, 1.0, count=600, shadow_px=0))
    light, cover = radiance(scene, camera(800.0, 0.6, (64, 64)))
    return light[cover > 0.999]


def test_a_grey_card_that_faces_the_camera_reads_its_albedo() -> None:
    # sRGB code 118 is linear 0.181: the photographer's 18 % grey.
    card = surface(2, 2, lambda s, t: 100.0 * np.stack([s - 0.5, t - 0.5, 0.0 * s], axis=-1))
    lights = tuple(
        Light(to_light=one.to_light, strength=one.strength, ambient=one.ambient)
        for one in studio_lights()
    )
    scene = Scene(model=model_of(card), maps=plain_maps(albedo=118, roughness=198), lights=lights)
    light, cover = radiance(scene, camera(3000.0, 1.0, (64, 64)))
    assert light[cover > 0.999] == pytest.approx(0.181, abs=0.01)


# --- A bump in the normal map against the same bump as a surface.

HIGH_MM, WIDE_MM, SHEET_MM = 6.0, 14.0, 100.0


def bump_mm(x: F64, y: F64) -> F64:
    """A round bump, aside from the middle so that no mirror image fits."""
    away = (x - 10.0) ** 2 + (y - 5.0) ** 2
    return np.asarray(HIGH_MM * np.exp(-away / (2 * WIDE_MM**2)))


def bumped(s: F64, t: F64) -> F64:
    x, y = SHEET_MM * (s - 0.5), SHEET_MM * (t - 0.5)
    return np.stack([x, y, bump_mm(x, y)], axis=-1)


def flat(s: F64, t: F64) -> F64:
    return np.stack([SHEET_MM * (s - 0.5), SHEET_MM * (t - 0.5), 0.0 * s], axis=-1)


def bump_maps(uv_axes: F64, *, size: int = 256) -> MapArrays:
    """Maps of the bump for a layout whose +U and +V run along the rows of ``uv_axes``, in x, y."""
    at = (np.arange(size) + 0.5) / size - 0.5
    u, v = at[None, :], -at[:, None]
    x = SHEET_MM * (uv_axes[0, 0] * u + uv_axes[1, 0] * v)
    y = SHEET_MM * (uv_axes[0, 1] * u + uv_axes[1, 1] * v)
    high = bump_mm(x, y)
    by_x, by_y = -(x - 10.0) / WIDE_MM**2 * high, -(y - 5.0) / WIDE_MM**2 * high
    return slope_maps(
        by_x * uv_axes[0, 0] + by_y * uv_axes[0, 1], by_x * uv_axes[1, 0] + by_y * uv_axes[1, 1]
    )


def layout(uv_axes: F64) -> Shape:
    def uv(s: F64, t: F64) -> F64:
        x, y = s - 0.5, t - 0.5
        return np.stack(
            [
                0.5 + uv_axes[0, 0] * x + uv_axes[0, 1] * y,
                0.5 + uv_axes[1, 0] * x + uv_axes[1, 1] * y,
            ],
            axis=-1,
        )

    return uv


def correlation(a: F32, b: F32) -> float:
    inside = (a > 0) & (b > 0)
    return float(np.corrcoef(a[inside].astype(np.float64), b[inside].astype(np.float64))[0, 1])


UPRIGHT = np.array([[1.0, 0.0], [0.0, 1.0]])
TURNED = np.array([[0.0, 1.0], [-1.0, 0.0]])
MIRRORED = np.array([[-1.0, 0.0], [0.0, 1.0]])
MIRRORED_AND_TURNED = np.array([[0.0, 1.0], [1.0, 0.0]])


@pytest.mark.parametrize("to_light", [SIDEWAYS, ABOVE])
@pytest.mark.parametrize("uv_axes", [UPRIGHT, TURNED, MIRRORED, MIRRORED_AND_TURNED])
def test_a_bump_in_the_normal_map_looks_like_a_bump(
    uv_axes: F64, to_light: tuple[float, float, float]
) -> None:
    real = lit(surface(100, 100, bumped), plain_maps(), to_light)
    drawn = lit(surface(4, 4, flat, uv=layout(uv_axes)), bump_maps(uv_axes), to_light)
    assert correlation(real, drawn) > 0.98
    assert np.ptp(drawn[drawn > 0]) == pytest.approx(np.ptp(real[real > 0]), rel=0.1)


def test_green_down_read_as_green_up_turns_the_bump_into_a_dent() -> None:
    real = lit(surface(100, 100, bumped), plain_maps(), ABOVE)
    maps = bump_maps(UPRIGHT)
    np.subtract(65535, maps.normal_up[..., 1], out=maps.normal_up[..., 1])
    assert correlation(real, lit(surface(4, 4, flat), maps, ABOVE)) < -0.9


def test_a_mirrored_island_is_lit_like_any_other() -> None:
    plain = lit(surface(4, 4, flat), bump_maps(UPRIGHT), SIDEWAYS)
    mirrored = lit(surface(4, 4, flat, uv=layout(MIRRORED)), bump_maps(MIRRORED), SIDEWAYS)
    assert np.abs(plain - mirrored).max() < 0.005
    assert np.ptp(plain[plain > 0]) > 0.3


def test_the_back_of_a_bump_is_a_dent() -> None:
    # Seen from behind, with the lamp turned along, left is right and high is low.
    front = lit(surface(4, 4, flat), bump_maps(UPRIGHT), ABOVE)
    scene = Scene(
        model=model_of(surface(4, 4, flat)),
        maps=bump_maps(UPRIGHT),
        lights=(lamp(ABOVE),),
        reflectance=0.0,
    )
    seen = camera(3000.0, 1.6, (200, 200), back=(0.0, 0.0, -1.0))
    back = radiance(scene, seen)[0][..., 0]
    assert correlation(front, back[:, ::-1]) < -0.9


# --- Gloss: the microfacet model of glTF 2.0, appendix B, written out with its half vector.


@pytest.mark.parametrize("metal", [0.0, 1.0])
def test_gloss_is_the_microfacet_model_of_the_standard(metal: float) -> None:
    rng = np.random.default_rng(7)
    count = 200
    normals, to_eye = np.zeros((3, count)), _directions(rng, count)
    normals[2] = 1.0
    alpha = rng.uniform(0.1, 1.0, count)
    colour = rng.uniform(0.0, 1.0, (3, count))
    texels = np.zeros((8, count))
    texels[:3], texels[ALPHA2], texels[METAL], texels[OCCLUSION] = colour, alpha**2, metal, 1.0
    for _ in range(10):
        to_light = _directions(rng, 1)[:, 0]
        x, y, z = to_light.tolist()
        points = Surface(
            points_mm=np.zeros((3, count), np.float32),
            smooth=normals.astype(np.float32),
            normals=normals.astype(np.float32),
            to_eye=to_eye.astype(np.float32),
            texels=texels.astype(np.float32),
        )
        got = shade(points, [(lamp((x, y, z), 2.5), (x, y, z), None)])
        expected = 2.5 * _microfacets(colour, alpha, metal, to_eye, to_light)
        assert got == pytest.approx(expected, rel=2e-3, abs=1e-5)


def _directions(rng: np.random.Generator, count: int) -> F64:
    high = rng.uniform(0.05, 1.0, count)
    turn = rng.uniform(0.0, 2.0 * math.pi, count)
    level = np.sqrt(1.0 - high * high)
    return np.stack([level * np.cos(turn), level * np.sin(turn), high])


def _microfacets(colour: F64, alpha: F64, metal: float, to_eye: F64, to_light: F64) -> F64:
    """Light over a white matt surface's at normal incidence: pi f (N . L). glTF 2.0, B.3."""
    half = to_eye + to_light[:, None]
    half /= np.sqrt((half * half).sum(axis=0))
    nh, nv, nl = half[2], to_eye[2], to_light[2]
    vh = (half * to_eye).sum(axis=0)
    a2 = alpha**2
    spread = a2 / (math.pi * (nh * nh * (a2 - 1) + 1) ** 2)
    masked = 0.5 / (nl * np.sqrt(nv * nv * (1 - a2) + a2) + nv * np.sqrt(nl * nl * (1 - a2) + a2))
    rim = (1 - vh) ** 5
    coated = 0.04 + 0.96 * rim
    cloth = colour / math.pi * (1 - coated) + coated * spread * masked
    tinted = (colour + (1 - colour) * rim) * spread * masked
    return np.asarray(math.pi * nl * ((1 - metal) * cloth + metal * tinted))


# --- What is too fine to be seen becomes rougher, and colours mix as light.


def test_a_groove_too_fine_to_be_seen_makes_cloth_rough() -> None:
    # V-groove of slope tan(theta): variance tan(theta)^2 along one axis, 0 along the other, so
    # alpha'^2 = alpha^2 + tan(theta)^2 with the mean of both (shared/tables: normal filtering).
    slope = np.where(np.arange(64) % 2 == 0, 0.3, -0.3) * np.ones((64, 1))
    maps = slope_maps(slope, 0.0 * slope)
    maps.roughness[:] = 128
    from texbake.view.pyramid import pyramid
    from texbake.view.sample import read_maps

    steps = np.zeros((4, 5), np.float32)
    steps[0] = steps[3] = 4.0 / 64
    place = np.linspace(0.3, 0.7, 5).astype(np.float32)
    got = read_maps(pyramid(maps), place, place, steps)
    assert got[ALPHA2] == pytest.approx((128 / 255) ** 4 + 0.3**2, rel=1e-3)


def test_stripes_of_black_and_white_mix_to_half_the_light() -> None:
    maps = plain_maps(256)
    maps.albedo[:, ::2] = 0
    sheet = surface(4, 4, lambda s, t: 100 * np.stack([s - 0.5, t - 0.5, 0 * s], -1), uv=flat_uv)
    scene = Scene(
        model=model_of(sheet), maps=maps, lights=(lamp((0.0, 0.0, 1.0)),), reflectance=0.0
    )
    for px_per_mm in (0.3, 0.43, 0.6, 0.75, 1.0):  # a stripe is 0.39 mm: 0.12 to 0.4 px
        light, cover = radiance(scene, camera(3000.0, px_per_mm, (100, 100)))
        inside = light[cover > 0.999]
        assert inside.mean() == pytest.approx(0.5, abs=0.01)
        assert inside.std() < 0.03, "moiré"


def test_slanted_stripes_make_no_moire_and_stay_visible_along() -> None:
    # Seen at 75 degrees: 3.9 times as many texels across the slant as along.
    maps = plain_maps(256)
    band = (np.arange(256) // 8) % 2 == 0
    maps.albedo[:, band] = 0
    maps.albedo[::2] = 128
    sheet = surface(4, 4, lambda s, t: 100 * np.stack([s - 0.5, t - 0.5, 0 * s], -1), uv=flat_uv)
    scene = Scene(
        model=model_of(sheet), maps=maps, lights=(lamp((0.0, 0.0, 1.0)),), reflectance=0.0
    )
    seen = camera(3000.0, 1.4, (160, 80), back=(0.0, -math.sin(1.31), math.cos(1.31)))
    light, cover = radiance(scene, seen)
    rows = np.flatnonzero((cover > 0.999).sum(axis=1) > 100)[2:-2]
    middle = light[rows][:, 30:130, 0]
    assert np.diff(middle, axis=0).std() < 0.02, "rows differ: moiré across the slant"
    full = 0.5 * math.cos(1.31)  # the lamp stands beside the camera
    assert np.ptp(middle.mean(axis=0)) > 0.9 * full, "stripes along it are blurred away"
