"""What light leaves the cloth for the eye: matt below, a rough gloss above (GGX).

The model is that of glTF 2.0, appendix B: a Lambert base under a layer of microfacets with the
distribution of Trowbridge and Reitz (GGX, Walter et al. 2007), the height-correlated masking of
Smith (Heitz 2014) and Schlick's Fresnel term (1994); metal has no base and tints its gloss. Lamps
are grey, so only sums of grey terms are carried until the colours come in.

A lamp of some width is a lamp without, on a surface that much rougher.
"""

from collections.abc import Callable, Iterable
from dataclasses import dataclass

import numpy as np

from texbake.arrays import F32
from texbake.view.pyramid import ALPHA2, BLUE, METAL, OCCLUSION, RED
from texbake.view.values import Light
from texbake.view.vectors import along, dot

REFLECTANCE = 0.04  # of cloth and thread, seen straight on: refractive index 1.5
_GRAZING = 50.0  # under a reflectance of 2 % the rim's goes down too: nothing in nature has less
_LEAST_COS = 1e-3


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Surface:
    """N points to be lit. Vectors are (3, N) float32 in space.

    Attributes
    ----------
    points_mm : (3, N) float32
    smooth : (3, N) float32
        Unit normals of the mesh, on the eye's side.
    normals : (3, N) float32
        The same with the relief of the maps.
    to_eye : (3, N) float32
        Unit.
    texels : (8, N) float32
        Channels as in `pyramid`, from ``read_maps``.
    """

    points_mm: F32
    smooth: F32
    normals: F32
    to_eye: F32
    texels: F32


@dataclass(frozen=True, slots=True, eq=False)
class _Sums:
    """Light that falls in, as seen by base and gloss, each without and with the rim's share."""

    base: F32
    base_rim: F32
    gloss: F32
    gloss_rim: F32


Seen = Callable[[F32, F32], F32]
Lamp = tuple[Light, tuple[float, float, float], Seen | None]


def shade(
    surface: Surface,
    lamps: Iterable[Lamp],
    *,
    reflectance: float = REFLECTANCE,
) -> F32:
    """Light the points.

    Parameters
    ----------
    surface : Surface
    lamps : iterable of (Light, direction, seen)
        Direction to the lamp in space; ``seen(points, normals)`` says how much of it each point
        sees, None: all.
    reflectance : float
        Of what is not metal, seen straight on. 0 leaves the matt base alone.

    Returns
    -------
    (3, N) float32
        Linear light; a white matt surface square to one lamp has the lamp's strength.
    """
    sums = _gather(surface, lamps)
    metal = surface.texels[METAL]
    rim = min(1.0, _GRAZING * reflectance)
    base = sums.base * (1.0 - reflectance)
    base += sums.base_rim * (1.0 - rim)
    base *= 1.0 - metal
    plain = (1.0 - metal) * reflectance
    edge = sums.gloss_rim
    edge *= metal + (1.0 - metal) * rim
    out = np.empty((3, len(base)), np.float32)
    for channel in range(RED, BLUE + 1):
        colour = surface.texels[channel]
        np.multiply(colour, base, out=out[channel])
        out[channel] += (plain + colour * metal) * sums.gloss
        out[channel] += edge
    return out


def _gather(surface: Surface, lamps: Iterable[Lamp]) -> _Sums:
    """Sum over all lamps what base and gloss receive."""
    count = surface.points_mm.shape[1]
    sums = _Sums(*(np.zeros(count, np.float32) for _ in range(4)))
    towards_eye = np.maximum(dot(surface.normals, surface.to_eye), _LEAST_COS)
    for lamp in lamps:
        _add_lamp(surface, lamp, towards_eye, sums)
    return sums


def _add_lamp(surface: Surface, lamp: Lamp, towards_eye: F32, sums: _Sums) -> None:
    """Add one lamp.

    Points that turn away from it are counted along, with no light: picking the others out takes
    longer (twice the time of all, for a lamp that half of them see).
    """
    light, direction, seen = lamp
    facing = along(surface.normals, direction)
    np.maximum(facing, 0.0, out=facing)
    received = facing * light.strength
    if seen is not None:
        received *= seen(surface.points_mm, surface.smooth)
    if light.ambient:
        received *= surface.texels[OCCLUSION]
    half_cos2 = along(surface.to_eye, direction)
    half_cos2 += 1.0
    half_cos2 *= 0.5
    np.clip(half_cos2, 1e-6, 1.0, out=half_cos2)
    rim = _rim(half_cos2)
    alpha2 = surface.texels[ALPHA2] + (0.5 * light.radius_rad) ** 2
    np.minimum(alpha2, 1.0, out=alpha2)
    gloss = _gloss(alpha2, facing, towards_eye, half_cos2)
    gloss *= received
    _add(sums.base, sums.base_rim, received, rim)
    _add(sums.gloss, sums.gloss_rim, gloss, rim)


def _add(total: F32, total_rim: F32, light: F32, rim: F32) -> None:
    """Share light among two sums: ``rim`` of it to the second. ``light`` is used up."""
    total += light
    light *= rim
    total -= light
    total_rim += light


def _rim(half_cos2: F32) -> F32:
    """Schlick's (1 - cos)^5, from the square of the half angle's cosine."""
    rest = np.sqrt(half_cos2)
    np.subtract(1.0, rest, out=rest)
    power: F32 = rest * rest
    power *= power
    power *= rest
    return power


def _gloss(alpha2: F32, facing: F32, towards_eye: F32, half_cos2: F32) -> F32:
    """Microfacets' reflectance times pi, without Fresnel's term: D V.

    The half vector is not needed: its cosines follow from those of lamp and eye.
    """
    normal_half = facing + towards_eye
    normal_half *= normal_half
    normal_half /= half_cos2
    normal_half *= 0.25
    np.minimum(normal_half, 1.0, out=normal_half)
    normal_half *= alpha2 - 1.0
    normal_half += 1.0
    normal_half *= normal_half
    rest = 1.0 - alpha2
    masked = facing * np.sqrt(towards_eye * towards_eye * rest + alpha2)
    masked += towards_eye * np.sqrt(facing * facing * rest + alpha2)
    masked *= normal_half
    gloss = alpha2 * 0.5
    gloss /= masked
    return gloss
