"""The compositing engine: what is sewn, over what is woven, in linear light.

All channels move together. A stitch is in height, slope, albedo, roughness, metal and occlusion at
once, by one cover. Thread lies on the cloth and presses its relief flat where it covers it; fold,
groove and pucker bend cloth and thread alike, so their heights and slopes add.
"""

from collections.abc import Sequence

import numpy as np

from texbake.arrays import F32
from texbake.cloth.values import Cloth
from texbake.compose.values import Ink, Surface
from texbake.sewing.values import Sewn, Strip


def compose(
    cloth: Cloth,
    colours: F32,
    sewn: Sequence[Sewn | Strip],
    *,
    inks: Sequence[Ink] = (),
    holes: bool = False,
) -> Surface:
    """Lay prints and sewing over cloth.

    Parameters
    ----------
    cloth : Cloth
        The base, N texels.
    colours : (S, C) float32
        Linear colour of each of the cloth's weights: three channels, or those of several colourways
        side by side. Each channel is composed by itself.
    sewn : sequence of Sewn or Strip
        In order: a later one lies on the earlier.
    inks : sequence of Ink
        Prints on the cloth, under all sewing; a later one lies on the earlier.
    holes : bool
        The cloth is a net: what it does not cover is open.

    Returns
    -------
    Surface
        ``alpha2`` holds the relief that texels hide: alpha'^2 = alpha^2 + 2 variance (Kaplanyan,
        Hill, Patney and Lefohn, HPG 2016), at most 1.
    """
    albedo = _mixed(cloth.weights, colours)
    surface = Surface(
        albedo=albedo,
        height_mm=cloth.height_mm.copy(),
        slope=cloth.slope.copy(),
        alpha2=cloth.alpha2 + 2.0 * cloth.variance,
        metal=cloth.metal.copy(),
        occlusion=cloth.occlusion.copy(),
        opacity=np.clip(cloth.cover, 0.0, 1.0) if holes else None,
    )
    for ink in inks:
        _ink(surface, ink, cloth)
    for layer in sewn:
        if isinstance(layer, Strip):
            _cover(surface, layer, cloth.level_mm)
        else:
            _lay(surface, layer, cloth.level_mm)
    np.clip(albedo, 0.0, 1.0, out=albedo)
    np.minimum(surface.alpha2, 1.0, out=surface.alpha2)
    return surface


def _mixed(weights: F32, colours: F32) -> F32:
    """Weighted colours, (C, N). Not a matrix product: its rounding depends on N, against law 8."""
    out = np.empty((colours.shape[1], weights.shape[1]), np.float32)
    for k, channel in enumerate(out):
        np.multiply(weights[0], colours[0, k], out=channel)
        for weight, colour in zip(weights[1:], colours[1:], strict=True):
            np.add(channel, weight * colour[k], out=channel)
    return out


def _ink(surface: Surface, ink: Ink, cloth: Cloth) -> None:
    """Lay a print on the cloth, in place; it fills some of the relief, hidden relief too."""
    at, cover = ink.at, ink.cover
    bare = 1.0 - cover
    for k in range(3):
        surface.albedo[k, at] = bare * surface.albedo[k, at] + cover * ink.colour[k]
    left = 1.0 - ink.fill * cover
    level = cloth.level_mm
    surface.height_mm[at] = level + left * (surface.height_mm[at] - level)
    for k in (0, 1):
        surface.slope[k, at] *= left
    hidden = 2.0 * (1.0 - ink.fill) ** 2 * cloth.variance[at]
    surface.alpha2[at] = bare * surface.alpha2[at] + cover * (ink.alpha2 + hidden)
    surface.metal[at] *= bare
    surface.occlusion[at] = 1.0 - left * (1.0 - surface.occlusion[at])


def _lay(surface: Surface, layer: Sewn, level_mm: float) -> None:
    """Lay one chain's sewing on the surface, in place; three channels do for all colourways."""
    at, cover = layer.at, layer.cover
    bare = 1.0 - cover
    bright = cover * layer.shade
    for k, channel in enumerate(surface.albedo):
        channel[at] = bare * channel.take(at) + bright * float(layer.thread[k % len(layer.thread)])
    height = surface.height_mm.take(at)
    surface.height_mm[at] = level_mm + bare * (height - level_mm) + layer.height_mm
    for slope, own in zip(surface.slope, layer.slope, strict=True):
        slope[at] = bare * slope.take(at) + own
    alpha2 = bare * surface.alpha2.take(at) + cover * layer.alpha2
    surface.alpha2[at] = alpha2 + 2.0 * layer.variance
    surface.metal[at] = bare * surface.metal.take(at) + cover * layer.metal
    surface.occlusion[at] *= layer.occlusion
    if surface.opacity is not None:
        surface.opacity[at] += cover * (1.0 - surface.opacity[at])


def _cover(surface: Surface, strip: Strip, level_mm: float) -> None:
    """Lay another cloth over the surface, in place: its relief on the mean height of the first."""
    at, cover, cloth = strip.at, strip.cover, strip.cloth
    bare = 1.0 - cover
    colour = _mixed(cloth.weights, strip.colours)
    for k in range(len(surface.albedo)):
        surface.albedo[k, at] = bare * surface.albedo[k, at] + cover * colour[k]
    height = bare * (surface.height_mm[at] - level_mm)
    surface.height_mm[at] = level_mm + height + cover * (cloth.height_mm - cloth.level_mm)
    for k in (0, 1):
        surface.slope[k, at] = bare * surface.slope[k, at] + cover * cloth.slope[k]
    alpha2 = cloth.alpha2 + 2.0 * cloth.variance
    surface.alpha2[at] = bare * surface.alpha2[at] + cover * alpha2
    surface.metal[at] = bare * surface.metal[at] + cover * cloth.metal
    surface.occlusion[at] = bare * surface.occlusion[at] + cover * cloth.occlusion
    if surface.opacity is not None:
        surface.opacity[at] += cover * (1.0 - surface.opacity[at])
