"""Bindings, pipings and bands of a cloth of their own.

A strip has a pattern plane of its own: along it the arc length of its chain, across it the distance
from the chain. Cloth is read there, turned by 45 degrees where it is cut on the bias, as woven
bindings are, so that they go round bends (common practice). Wales of a knit and the warp of a band
run across the edge. On a closed chain the strip is stretched a little, so that whole repeats fit.

A texel's footprint in that plane follows from the segment of the chain that is nearest to it and
from its face. So each pair of face and segment counts as a face of the strip, and what the cloth's
own filters promise for faces holds here: one class for each kind of footprint, no alias.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from texbake import cloth
from texbake.arrays import F32, F64, I32, I64
from texbake.layout import Layout, Reach, Texels
from texbake.layout.raster import spread
from texbake.layout.values import Near
from texbake.recipe.values import Fabric, Recipe
from texbake.sewing.spec import SewnSpec
from texbake.sewing.values import Strip

_BIAS_RAD = math.radians(45.0)
_HEDGE = 1e-3  # of a texel: shares of one hidden by less are rounding


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class StripSpec:
    """The cloth of one chain's strip.

    Attributes
    ----------
    fabric : Fabric
    weaver : cloth.Weaver
        Its faces are pairs of face and segment; shared by all chains of one cloth.
    colours : (S, 3) float32
        Linear colour of each of the cloth's weights.
    pairs : (C,) int64
        Face times ``segments`` plus segment, ascending.
    segments : int
    first : int
        The weaver's face of the first pair.
    turn : (2, 2) float32
        From (along, across) to the cloth's (x, y), stretch included.
    """

    fabric: Fabric
    weaver: cloth.Weaver
    colours: F32
    pairs: I64
    segments: int
    first: int
    turn: F32


def strips(
    recipe: Recipe,
    specs: Sequence[SewnSpec],
    reaches: Sequence[Reach],
    layout: Layout,
    known: Sequence[StripSpec | None] = (),
) -> tuple[StripSpec | None, ...]:
    """Make the strips of all chains ready; None where a chain has none.

    Parameters
    ----------
    recipe : Recipe
    specs, reaches : sequence of SewnSpec, sequence of Reach
        Of each chain.
    layout : Layout
    known : sequence of StripSpec or None
        Of another colourway, of the same reaches: what differs in colours alone is taken over.
    """
    out: list[StripSpec | None] = [None] * len(specs)
    names = sorted({(spec.strip, spec.bias) for spec in specs if spec.strip is not None})
    for name, bias in names:
        fabric = recipe.fabrics[name]
        mine = [k for k, spec in enumerate(specs) if (spec.strip, spec.bias) == (name, bias)]
        old = [known[k] if known else None for k in mine]
        taken = [o for o in old if o is not None and o.fabric.undyed == fabric.undyed]
        made = (
            [replace(o, fabric=fabric, colours=cloth.colours(fabric)) for o in taken]
            if len(taken) == len(mine)
            else _of_one_cloth(recipe.seed, fabric, [(specs[k], reaches[k]) for k in mine], layout)
        )
        for k, strip in zip(mine, made, strict=True):
            out[k] = strip
    return tuple(out)


def _of_one_cloth(
    seed: int, fabric: Fabric, chains: Sequence[tuple[SewnSpec, Reach]], layout: Layout
) -> list[StripSpec]:
    """Strips of one fabric: one weaver for the pairs of all their chains."""
    parts = [_pairs(fabric, spec, reach, layout) for spec, reach in chains]
    boxes = np.concatenate([box for _, _, box in parts]).astype(np.float32)
    shift = np.concatenate(
        [np.tile(_place(spec), (len(p[0]), 1)) for (spec, _), p in zip(chains, parts, strict=True)]
    )
    faces = replace(layout, footprint_mm=boxes)
    weaver = cloth.prepare(fabric, faces, np.ones(len(boxes), bool), shift, seed)
    first = np.cumsum([0, *(len(pairs) for pairs, _, _ in parts)]).tolist()
    return [
        StripSpec(
            fabric=fabric,
            weaver=weaver,
            colours=cloth.colours(fabric),
            pairs=pairs,
            segments=len(reach.side),
            first=start,
            turn=turn.astype(np.float32),
        )
        for (pairs, turn, _), (_, reach), start in zip(parts, chains, first[:-1], strict=True)
    ]


def _pairs(fabric: Fabric, spec: SewnSpec, reach: Reach, layout: Layout) -> tuple[I64, F64, F64]:
    """Pairs of face and segment of a chain; the turn of its cloth; texels in the cloth's plane."""
    face, at = spread(reach.first.astype(np.int64), reach.count.astype(np.int64))
    segment = reach.segment[at].astype(np.int64)
    pairs = np.unique((face * len(reach.side) + segment)[reach.own[segment]])
    face, segment = np.divmod(pairs, len(reach.side))
    along = (reach.along * reach.pace)[:, segment].T.astype(np.float64)
    across = reach.inward[:, segment].T.astype(np.float64)
    across *= np.sign(along[:, 0] * across[:, 1] - along[:, 1] * across[:, 0])[:, None]
    plane = np.stack([along, across], axis=1)
    turn = _turn(fabric, spec)
    boxes = np.einsum("ij,kjl,klm->kim", turn, plane, layout.footprint_mm[face])
    return pairs, turn, boxes


def _turn(fabric: Fabric, spec: SewnSpec) -> F64:
    """From (along, across) to the cloth's (x, y): turned on the bias, whole repeats round."""
    angle = _BIAS_RAD if spec.bias and fabric.warp is not None else 0.0
    turn = np.array([[math.cos(angle), -math.sin(angle)], [math.sin(angle), math.cos(angle)]])
    if spec.closed:
        tile = cloth.render(fabric, 8)
        for k, size in enumerate((tile.width_mm, tile.length_mm)):
            repeats = abs(turn[k, 0]) * spec.length_mm / (size * fabric.scale)
            if repeats > 0.5:
                turn[k, 0] *= max(round(repeats), 1) / repeats
    return turn


def _place(spec: SewnSpec) -> F32:
    """Where a chain's strip lies on the sheets of what differs from yarn to yarn, in [0, 1)."""
    return np.array([[spec.seed & 0xFFFF, (spec.seed >> 12) & 0xFFFF]], np.float32) / 65536.0


def lay_strip(near: Near, face: I32, strip: StripSpec, share: F32) -> Strip | None:
    """Lay a strip's cloth over the texels near its chain; it comes before what is sewn through it.

    Parameters
    ----------
    near : Near
        M texels.
    face : (M,) int
        Their faces.
    strip : StripSpec
    share : (M,) float32
        Share of each that the strip covers.

    Returns
    -------
    Strip or None
        None where there is none.
    """
    hit = np.flatnonzero(share > _HEDGE)
    if not hit.size or near.segment is None:
        return None
    pair = face[hit].astype(np.int64) * strip.segments + near.segment[hit]
    along, away = near.along[:, hit], near.away[:, hit]
    left = along[0] * away[1] >= along[1] * away[0]
    across = np.where(left, near.distance_mm[hit], -near.distance_mm[hit])
    arc, turn = near.arc_mm[hit], strip.turn
    seen = cloth.weave(
        strip.weaver,
        Texels(
            index=near.at[hit],
            face=(np.searchsorted(strip.pairs, pair) + strip.first).astype(np.int32),
            x_mm=turn[0, 0] * arc + turn[0, 1] * across,
            y_mm=turn[1, 0] * arc + turn[1, 1] * across,
        ),
    )
    away = np.where(left, away, -away)
    run, rise = (turn[0, k] * seen.slope[0] + turn[1, k] * seen.slope[1] for k in (0, 1))
    cover = share[hit] * seen.cover if cloth.has_holes(strip.fabric) else share[hit]
    return Strip(
        at=near.at[hit],
        cover=cover,
        cloth=replace(seen, slope=along * run + away * rise),
        colours=strip.colours,
    )
