"""The studio: a large soft lamp, a fill, two rims, a light dome, and the backdrop.

It stands still before the camera, and the garment is turned, as a photographer would do it. All
lamps are sets of small ones, so that soft light and soft shadows are sums of hard ones. Strengths
are scaled by a grey card: a flat mid-grey cloth that faces the camera has in the picture the code
that it has in the albedo, gloss and all.
"""

import math
from dataclasses import replace
from typing import Final

import numpy as np

from texbake.arrays import F32, F64
from texbake.view.shade import Surface, shade
from texbake.view.values import Ground, Light, Model

GOLDEN_RAD: Final = math.pi * (3.0 - math.sqrt(5.0))  # turns that never line up (Vogel 1979)

# By eye, as all of this studio: pleasant, and relief shows.
_BACKDROP: Final = (0.87, 0.78)  # linear light at top and bottom
_FLOOR_GAP: Final = 0.035  # between garment and floor, of the garment's height
_SHADE: Final = 0.4  # most that the floor loses
_CELLS: Final = 96
_CARD: Final = 0.18  # the photographer's grey card
_CARD_ALPHA: Final = 0.6  # roughness 0.77, as measured cloth has (shared/tables)


def soft_box(
    azimuth_deg: float,
    height_deg: float,
    radius_deg: float,
    strength: float,
    *,
    count: int,
    shadow_px: int,
) -> tuple[Light, ...]:
    """A round lamp of some width, as several small ones.

    Parameters
    ----------
    azimuth_deg : float
        From the camera's axis, to the right in the picture.
    height_deg : float
        Above it.
    radius_deg : float
        Half the angle under which it is seen.
    strength : float
        Of all together.
    count : int
        Small lamps.
    shadow_px : int
        Size of the depth map of each.
    """
    radius = math.radians(radius_deg)
    towards = _direction(math.radians(azimuth_deg), math.radians(height_deg))
    right = np.array([towards[2], 0.0, -towards[0]])
    right /= math.sqrt(float((right * right).sum()))
    up = np.cross(towards, right)
    found = []
    for k in range(count):
        out = math.tan(radius) * math.sqrt((k + 0.5) / count)
        turn = k * GOLDEN_RAD
        ray = towards + out * (math.cos(turn) * right + math.sin(turn) * up)
        found.append(
            Light(
                to_light=_unit(ray),
                strength=strength / count,
                radius_rad=radius / math.sqrt(count),
                shadow_px=shadow_px,
            )
        )
    return tuple(found)


def dome(
    strength_up: float, strength_down: float, *, count: int, shadow_px: int
) -> tuple[Light, ...]:
    """Light from all around, brighter from above than from below.

    Parameters
    ----------
    strength_up, strength_down : float
        Radiance of zenith and nadir; a white matt surface in a dome of 1 and 1 reads 1.
    count : int
        Small lamps, spread evenly.
    shadow_px : int
        Size of the depth map of each.
    """
    found = []
    for k in range(count):
        height = 1.0 - 2.0 * (k + 0.5) / count
        level = math.sqrt(1.0 - height * height)
        ray = (level * math.cos(k * GOLDEN_RAD), height, level * math.sin(k * GOLDEN_RAD))
        share = 0.5 + 0.5 * height
        radiance = strength_down + (strength_up - strength_down) * share
        found.append(
            Light(
                to_light=ray,
                strength=4.0 * radiance / count,
                radius_rad=2.0 / math.sqrt(count),
                ambient=True,
                shadow_px=shadow_px,
            )
        )
    return tuple(found)


def studio_lights() -> tuple[Light, ...]:
    """Lamps for the whole garment: large key from the upper left, fill, rims, dome."""
    return _exposed(
        (
            *soft_box(-50.0, 36.0, 13.0, 1.0, count=9, shadow_px=384),
            *soft_box(60.0, 8.0, 20.0, 0.12, count=3, shadow_px=192),
            *soft_box(-135.0, 20.0, 12.0, 0.35, count=2, shadow_px=192),
            *soft_box(130.0, 25.0, 12.0, 0.45, count=2, shadow_px=192),
            *dome(0.36, 0.15, count=18, shadow_px=80),
            *dome(0.10, 0.08, count=4, shadow_px=0),  # what cloth throws back into its folds
        )
    )


def raking_lights(*, fewer: int = 1) -> tuple[Light, ...]:
    """Lamps for a close-up: the key comes in low, so that every yarn throws its shade.

    ``fewer``: so many times fewer small lamps, where nothing throws shadows whose edges would tell.
    """
    return _exposed(
        (
            *soft_box(-58.0, 24.0, 8.0, 1.0, count=8 // fewer, shadow_px=384),
            *soft_box(50.0, 20.0, 20.0, 0.15, count=4 // fewer, shadow_px=192),
            *dome(0.45, 0.35, count=16 // fewer, shadow_px=80),
        )
    )


def _exposed(lights: tuple[Light, ...]) -> tuple[Light, ...]:
    """Scale strengths so that a grey card of rough cloth that faces the camera reads its albedo."""
    zero, ahead = np.zeros((3, 1), np.float32), np.array([[0.0], [0.0], [1.0]], np.float32)
    texels = np.array([*(3 * [_CARD]), 0.0, 0.0, _CARD_ALPHA**2, 0.0, 1.0], np.float32)
    card = Surface(
        points_mm=zero, smooth=ahead, normals=ahead, to_eye=ahead, texels=texels[:, None]
    )
    seen = shade(card, [(light, light.to_light, None) for light in lights])
    scale = _CARD / float(seen[0, 0])
    return tuple(replace(light, strength=light.strength * scale) for light in lights)


def _direction(azimuth_rad: float, height_rad: float) -> F64:
    """Unit vector in the camera's axes."""
    level = math.cos(height_rad)
    return np.array(
        [level * math.sin(azimuth_rad), math.sin(height_rad), level * math.cos(azimuth_rad)]
    )


def _unit(ray: F64) -> tuple[float, float, float]:
    length = math.sqrt(float((ray * ray).sum()))
    return float(ray[0]) / length, float(ray[1]) / length, float(ray[2]) / length


def ground_under(model: Model) -> Ground:
    """A backdrop for a garment, with its soft shade on the floor.

    The shade is the garment's plan, each face weighted by its area and by how near to the floor
    it is, blurred: darker under what hangs low.
    """
    points = model.points_mm.reshape(-1, 3)
    low, high = points.min(axis=0), points.max(axis=0)
    tall = max(float(high[1] - low[1]), 1.0)
    floor = float(low[1]) - _FLOOR_GAP * tall
    reach = 0.55 * max(float(high[0] - low[0]), float(high[2] - low[2])) + 0.25 * tall
    middle = (low + high) / 2.0
    step = 2.0 * reach / _CELLS
    corner = (float(middle[0]) - reach, float(middle[2]) - reach)
    return Ground(
        top=_BACKDROP[0],
        bottom=_BACKDROP[1],
        floor_mm=floor,
        shade=_shade(model, floor, corner, step, tall),
        low_mm=corner,
        step_mm=step,
    )


def _shade(
    model: Model, floor: float, corner: tuple[float, float], step: float, tall: float
) -> F32:
    """Share of light that each cell of the floor loses. (N, N) float32, row 0 at least z."""
    from scipy.ndimage import gaussian_filter  # heavy: only where it is used

    side = model.points_mm[:, 1:] - model.points_mm[:, :1]
    area = 0.5 * np.sqrt((np.cross(side[:, 0], side[:, 1]) ** 2).sum(axis=1))
    middle = model.points_mm.mean(axis=1)
    near = np.exp(-(middle[:, 1] - floor) / (0.12 * tall))
    column = ((middle[:, 0] - corner[0]) / step).astype(np.int64).clip(0, _CELLS - 1)
    row = ((middle[:, 2] - corner[1]) / step).astype(np.int64).clip(0, _CELLS - 1)
    splat = np.bincount(row * _CELLS + column, area * near, _CELLS * _CELLS)
    cells = splat.reshape(_CELLS, _CELLS)
    blurred = sum(gaussian_filter(cells, width, mode="constant") for width in (5.0, 14.0))
    dark = _SHADE * (1.0 - np.exp(-1.5 * blurred / max(float(np.max(blurred)), 1e-12)))
    edge = np.sin(np.pi * (np.arange(_CELLS) + 0.5) / _CELLS) ** 0.5  # the floor ends unseen
    return np.asarray(dark * edge * edge[:, None], np.float32)
