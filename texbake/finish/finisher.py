"""Dye and finish the cloth of a band of texels.

Everything is linear in means over the texel (noise, exposure, cross-sections of the sewing, tops of
yarns), so it stays right at every texel size. A colour c changes to c + t d under a little more or
less dye t, to its faded self by the share that lost dye, and to its core by the share that is
rubbed off: the finished cloth is a cloth with more weights and more colours.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from texbake.arrays import F32
from texbake.cloth.facts import colours as own_colours
from texbake.cloth.facts import yarns
from texbake.cloth.values import Cloth
from texbake.finish.dye import per_dye, rubbed_off, with_dye
from texbake.finish.edge import GROOVE, RIDGE, THICK, WAVING, Marks
from texbake.finish.exposure import exposed
from texbake.finish.ground import Ground
from texbake.finish.pill import (
    ALPHA2,
    Pilled,
    Pills,
    mean_height_mm,
    mean_variance,
    pilled,
    pills,
    present,
)
from texbake.finish.space import fade, read_block
from texbake.layout import space_mm
from texbake.layout.values import Layout, Texels
from texbake.recipe.values import Fabric, Finish

# How far apart the smaller pair of octaves is from the larger, and its weight.
FINER, FINER_WEIGHT = 4.3, 0.4
MOTTLE_MM, MOTTLE = 45.0, 0.06  # of a stone-wash: size, and share of its strength (by eye)
# Of the greatest amount, at which garment-dyed places hold more dye (by eye, no source).
HELD = {GROOVE: 1.0, RIDGE: -0.5, THICK: 0.25, WAVING: -0.35}
# What is rubbed off beside the sewing, as a share of the strength (by eye, no source).
RUBBED = {RIDGE: 1.1, GROOVE: -1.0, THICK: 0.15, WAVING: 0.6}
FLANKS = 0.55  # how far rubbing that is past the tops takes flanks too
SHINY = {RIDGE: 0.8, THICK: 0.5, GROOVE: -0.6}
WORN_EDGE = {RIDGE: 1.0, WAVING: 0.3, GROOVE: -0.4}


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Finisher:
    """One fabric's finish, ready for texels.

    Attributes
    ----------
    finish : Finish
    ground : Ground
    pills : Pills or None
    colours : (S', 3) float32
        Linear: the cloth's own, then what the finish adds; some are differences of colours.
    offset : float
        Mean of the dye clouds over the garment, which is taken off.
    """

    finish: Finish
    ground: Ground
    pills: Pills | None
    colours: F32
    offset: float


def finisher(fabric: Fabric, ground: Ground | None, seed: int) -> Finisher | None:
    """Make a fabric's finish ready; None where it has none for texels."""
    finish = fabric.finish
    if ground is None or not finish.on_texels:
        return None
    offset = 0.0
    if finish.unlevel and ground.noise is not None:
        clouds = _clouds(ground, finish, ground.middles_mm, np.zeros(1, np.float32))
        offset = float((clouds * ground.shares).sum(dtype=np.float64))
    return Finisher(
        finish=finish,
        ground=ground,
        pills=pills(finish.pills_per_dm2, finish.pill_mm, seed) if finish.pills_per_dm2 else None,
        colours=finished_colours(fabric),
        offset=offset,
    )


def finished_colours(fabric: Fabric) -> F32:
    """Linear colours of a finished fabric in the order of its weights, (S', 3) float32."""
    own, finish = own_colours(fabric), fabric.finish
    rows = [own]
    if finish.unlevel or finish.garment_dyed:
        rows.append(per_dye(own))
    if finish.faded:
        rows.append(with_dye(own, 1.0 - finish.faded) - own)
    if finish.faded_edges:
        rows.append(with_dye(own, 1.0 - finish.faded_edges) - own)
    if finish.stone_washed:
        rows.append(_cores(fabric, own))
    return np.concatenate(rows).astype(np.float32)


def _cores(fabric: Fabric, own: F32) -> F32:
    """What comes to light of each colour: its core, never darker; of metal, itself."""
    core = np.maximum(own, rubbed_off(own, fabric.finish.core.linear))
    metal = [yarn.metallic for yarn in yarns(fabric) for _ in yarn.dyes]
    out: F32 = np.where(np.array(metal)[:, None], own, core)
    return out


def _clouds(ground: Ground, finish: Finish, points_mm: F32, texel_mm: F32) -> F32:
    """Dye clouds of several octaves, unit variance in all."""
    if ground.noise is None:
        raise ValueError("clouds need noise")
    large, small = finish.unlevel_mm, finish.unlevel_mm / FINER
    out = read_block(ground.noise, points_mm, large)
    out *= fade(texel_mm, large)
    finer = read_block(ground.noise, points_mm, small)
    finer *= FINER_WEIGHT * fade(texel_mm, small)
    out += finer
    out *= 1.0 / (1.0 + FINER_WEIGHT**2) ** 0.5
    return out


def apply(
    made: Finisher, cloth: Cloth, texels: Texels, layout: Layout, marked: Sequence[Marks]
) -> Cloth:
    """Finish the cloth of a band.

    Parameters
    ----------
    made : Finisher
    cloth : Cloth
        N texels; with ``tops`` if it is stone-washed.
    texels : Texels
        Where they lie.
    layout : Layout
    marked : sequence of Marks
        What each chain's sewing is like on the texels near it.

    Returns
    -------
    Cloth
        Its weights go with ``made.colours``.
    """
    finish = made.finish
    points = None
    if made.ground.noise is not None or made.pills is not None:
        points = space_mm(layout, texels)
    size = np.take(layout.texel_mm, texels.face)
    edge = _together(marked, len(texels.face)) if finish.by_edge else None
    weights = _weights(made, cloth, texels, points, size, edge)
    alpha2, variance = cloth.alpha2, cloth.variance
    if finish.pressed and edge is not None:
        dull = 1.0 - finish.pressed * np.clip(_mix(edge, SHINY), 0.0, 0.9)
        alpha2, variance = alpha2 * dull, variance * dull
    done = replace(cloth, weights=weights, alpha2=alpha2, variance=variance)
    if made.pills is None or made.ground.jacobian is None or points is None:
        return done
    found = pilled(made.pills, texels, points, made.ground.jacobian, layout.texel_mm)
    return _lay(done, found, made.pills, size)


def _together(marked: Sequence[Marks], count: int) -> F32:
    """Marks of all chains on a band of ``count`` texels, (4, count): where they meet, summed."""
    out = np.zeros((4, count), np.float32)
    for marks in marked:
        out[:, marks.at] += marks.fields
    np.clip(out, -1.0, 1.0, out=out)
    return out


def _mix(edge: F32, shares: dict[int, float]) -> F32:
    """Weighted sum of the marks."""
    out = np.zeros(edge.shape[1], np.float32)
    for k, share in shares.items():
        out += share * edge[k]
    return out


def _weights(
    made: Finisher,
    cloth: Cloth,
    texels: Texels,
    points: F32 | None,
    size: F32,
    edge: F32 | None,
) -> F32:
    """The cloth's weights, and those of the colours that the finish adds."""
    finish, own = made.finish, cloth.weights
    rubbed = None
    if finish.stone_washed and edge is not None and points is not None and cloth.tops is not None:
        rubbed = own * _rubbed(made, cloth.tops, points, size, edge)
        own = own - rubbed
    rows = [own]
    if finish.unlevel or finish.garment_dyed:
        rows.append(own * _dye(made, points, size, edge))
    if finish.faded and made.ground.sky is not None:
        rows.append(own * exposed(made.ground.sky, texels))
    if finish.faded_edges and edge is not None:
        rows.append(own * np.clip(_mix(edge, WORN_EDGE), 0.0, 1.0))
    if rubbed is not None:
        rows.append(rubbed)
    return np.concatenate(rows)


def _dye(made: Finisher, points: F32 | None, size: F32, edge: F32 | None) -> F32:
    """How much more dye there is, relative; mean 0 over the garment but for the sewing."""
    out = np.zeros(len(size), np.float32)
    finish = made.finish
    if finish.unlevel and points is not None:
        out += _clouds(made.ground, finish, points, size)
        out -= made.offset
        out *= finish.unlevel
    if finish.garment_dyed and edge is not None:
        out += finish.garment_dyed * _mix(edge, HELD)
    return out


def _rubbed(made: Finisher, tops: F32, points: F32, size: F32, edge: F32) -> F32:
    """Share of each weight whose dye is rubbed off, (S, N): tops first, then the flanks."""
    strength = made.finish.stone_washed
    if made.ground.noise is None:
        raise ValueError("a stone-wash needs noise")
    mottle = read_block(made.ground.noise, points, MOTTLE_MM)
    mottle *= MOTTLE * fade(size, MOTTLE_MM)
    beside = _mix(edge, RUBBED)
    high = np.clip(strength * (1.0 + mottle + beside), 0.0, 1.0)
    flank = np.clip(strength * FLANKS * beside, 0.0, 0.8)
    out: F32 = tops * (high - flank)
    out += flank
    return out


def _lay(cloth: Cloth, found: Pilled | None, strewn: Pills, size: F32) -> Cloth:
    """Lay pills on the cloth; what of them is too small to be seen, as its mean."""
    hidden = 1.0 - present(size, strewn.cube_mm)
    height = cloth.height_mm + hidden * mean_height_mm(strewn)
    variance = cloth.variance + hidden * mean_variance(strewn)
    slope, alpha2, weights = cloth.slope.copy(), cloth.alpha2.copy(), cloth.weights
    if found is not None:
        at, bare = found.at, 1.0 - found.cover
        height[at] += found.height_mm
        for k in (0, 1):
            slope[k, at] = bare * slope[k, at] + found.slope[k]
        alpha2[at] += found.cover * (ALPHA2 - alpha2[at])
        weights = weights.copy()
        weights[:, at] *= 1.0 + found.shade
    return replace(
        cloth, height_mm=height, variance=variance, slope=slope, alpha2=alpha2, weights=weights
    )
