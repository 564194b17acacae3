"""From a fabric of the recipe to cloth on texels.

``prepare`` does once what no texel changes: the tile, its filtered versions for the footprints of
the faces that wear it, the streaks of each yarn system. ``weave`` reads them at texels.
"""

import math
import zlib
from dataclasses import dataclass, fields, replace

import numpy as np

from texbake.arrays import F32, I32, Bool, bands
from texbake.cloth.drift import Drift, drift, drift_sheet
from texbake.cloth.facts import FELT_MM, SHEETS, pitch_mm, yarns
from texbake.cloth.footprint import Filtered, filter_tile
from texbake.cloth.lattice import between, channels
from texbake.cloth.order import common_repeat, shares
from texbake.cloth.slub import Slubs, amount, slubs, swell, swelling
from texbake.cloth.streak import Pair, read
from texbake.cloth.system import System, system_of
from texbake.cloth.tile import (
    COVER,
    HEIGHT,
    MOMENT,
    OCCLUSION,
    SLOPE_X,
    SLOPE_Y,
    WEIGHT,
    Relief,
    Tile,
    tile_of,
)
from texbake.cloth.tops import share_on_tops, with_tops
from texbake.cloth.values import Cloth
from texbake.layout.values import Layout, Texels
from texbake.recipe.values import (
    Corduroy,
    Fabric,
    Felt,
    Knit,
    Net,
    Pile,
    Skin,
    Tulle,
    Weave,
)

MOST_CELLS = 512  # along a side of a weave's tile: larger repeats are drawn more coarsely
EVEN_MM = 1.0  # forms of pile and felt are not larger: larger ones would be seen to come back
SHEET_WANDER_MM, SHEET_FOLDS = 8.0, 0.25  # a sheet has no yarns to bend: it may stray 2 mm
# Texels read at once: more fall out of the second-level cache, and of fewer the calls cost more
# than the sums. The vest's cloth at 2048 takes 146 ns a texel at 4 k, 114 at 16 k, 118 at 32 k and
# 126 at 64 k on one thread; two threads wait for each other at each call, so not fewer than 32 k.
AT_ONCE = 32768
FOLDS = 0.08  # of a pitch: how far yarns stray from their straight line (by eye, no source)


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Weaver:
    """A fabric, ready to be read at texels; ``level_mm``, ``top_mm``: its mean and top height.

    ``tops``: whether the tile has one more channel per weight, see `with_tops`.
    """

    filtered: Filtered
    drift: Drift
    systems: tuple[System, ...]
    level_mm: float
    top_mm: float
    swells: tuple[tuple[Slubs, Filtered], ...] = ()
    tops: bool = False


def render(fabric: Fabric, cells: int) -> Tile:
    """One repeat of a fabric at life size, ``cells`` across a yarn."""
    structure = fabric.structure
    if isinstance(structure, SHEETS):
        return tile_of(_rendered_sheet(fabric, structure))
    if isinstance(structure, Net):
        return tile_of(_rendered_net(fabric, structure, cells))
    if not fabric.raised:
        return tile_of(_rendered_yarns(fabric, structure, cells))
    from texbake.cloth import nap

    pitch = max(pitch_mm(fabric)) / fabric.scale
    relief = _rendered_yarns(fabric, structure, min(cells, nap.cells(pitch)))
    return tile_of(nap.raised(relief, fabric.raised, pitch))


def _rendered_yarns(fabric: Fabric, structure: Weave | Knit, cells: int) -> Relief:
    """One repeat of a weave or a knit, as it comes from the loom or the needles."""
    if isinstance(structure, Knit):
        from texbake.cloth.knit import knitted

        (yarn,) = yarns(fabric)
        return knitted(structure, yarn, fabric.wales_per_cm, fabric.courses_per_cm, cells=cells)
    from texbake.cloth.woven import woven

    warp, weft = yarns(fabric)
    draft, ordered = common_repeat(structure, warp, weft)
    fewer = min(cells, max(12, MOST_CELLS // max(draft.shape)))
    return woven(draft, warp, weft, cells=fewer, ordered=ordered)


def _rendered_net(fabric: Fabric, structure: Net, cells: int) -> Relief:
    from texbake.cloth.net import eyelets, tulle

    (yarn,) = yarns(fabric)
    if isinstance(structure, Tulle):
        return tulle(yarn, cells=2 * cells)
    return eyelets(yarn, fabric.wales_per_cm, fabric.courses_per_cm, cells=min(cells, 32))


def _rendered_sheet(fabric: Fabric, structure: Felt | Pile | Skin) -> Relief:
    """A sheet that no yarns divide."""
    from texbake.cloth.mat import evened

    if isinstance(structure, Felt):
        from texbake.cloth.felt import felted

        return evened(felted(thickness_mm=fabric.thickness_mm or FELT_MM), EVEN_MM)
    if isinstance(structure, Skin):
        from texbake.cloth.skin import skinned

        return skinned(structure)
    from texbake.cloth.pile import piled

    wide = pitch_mm(fabric)[0] / fabric.scale if isinstance(structure, Corduroy) else 0.0
    return evened(piled(structure), max(EVEN_MM, 0.65 * wide))


def prepare(
    fabric: Fabric,
    layout: Layout,
    worn: Bool,
    shift: F32,
    seed: int,
    period_mm: Pair | None = None,
) -> Weaver:
    """Make a fabric ready for the faces that wear it.

    Parameters
    ----------
    fabric : Fabric
    layout : Layout
    worn : (F,) bool
        Faces of panels in this fabric.
    shift : (F, 2) float32
        Per face, a place in [0, 1) that its panel takes on the sheets of streaks.
    seed : int
    period_mm : (float, float) or None
        Whole tiles (see `repeat.tile_mm`) in x and y: all that differs from yarn to yarn comes
        again after them too. None: cloth that never shows a repeat.
    """
    boxes = np.where(worn[:, None, None], layout.footprint_mm, _sample_box(layout, worn))
    cells = _cells(fabric, boxes)
    tile = _prepared(fabric, cells)
    key = seed * 7919 + zlib.crc32(fabric.name.encode())
    systems = tuple(
        system_of(fabric, k, yarn, boxes, shift, key + 31 * k, period_mm)
        for k, yarn in enumerate(yarns(fabric))
    )
    thick = [(k, _thick(fabric, k, cells)) for k, y in enumerate(yarns(fabric)) if y.slub > 0.0]
    tops = [float(t.channels[HEIGHT].max()) for t in (tile, *(t for _, t in thick))]
    strewn = [_slubs(fabric, k, boxes, shift, key + 31 * k, period_mm) for k, _ in thick]
    level = _level(tile)
    level += sum(s.mean * (_level(t) - level) for s, (_, t) in zip(strewn, thick, strict=True))
    return Weaver(
        filtered=filter_tile(tile, boxes, fabric.scale),
        drift=_drift(fabric, shift, key, period_mm),
        systems=systems,
        level_mm=level * fabric.scale,
        top_mm=max(tops) * fabric.scale,
        tops=fabric.finish.stone_washed > 0.0,
        swells=tuple(
            (slub, filter_tile(swelling(tile, other), boxes, fabric.scale))
            for slub, (_, other) in zip(strewn, thick, strict=True)
        ),
    )


def _prepared(fabric: Fabric, cells: int) -> Tile:
    """The fabric's tile, with the tops of yarns told apart if they are to be worn."""
    tile = render(fabric, cells)
    return with_tops(tile) if fabric.finish.stone_washed > 0.0 else tile


def _level(tile: Tile) -> float:
    """Mean height, mm."""
    return float(tile.channels[HEIGHT].mean(dtype=np.float64))


def _thick(fabric: Fabric, index: int, cells: int) -> Tile:
    """The fabric with one system as thick as its slubs."""
    name = "yarn" if fabric.yarn is not None else ("warp", "weft")[index]
    yarn = yarns(fabric)[index]
    swollen = replace(yarn, count_tex=yarn.count_tex * (1.0 + yarn.slub) ** 2)
    return _prepared(replace(fabric, **{name: swollen}), cells)  # type: ignore[arg-type]  # by name


def _slubs(
    fabric: Fabric, index: int, boxes: F32, shift: F32, seed: int, period_mm: Pair | None
) -> Slubs:
    """Where they lie."""
    along_x = index == 1 or fabric.warp is None
    return slubs(
        pitch_mm(fabric)[1 if along_x else 0],
        fabric.scale,
        np.sqrt((boxes * boxes).sum(2)),
        shift,
        along_x=along_x,
        seed=seed,
        period_mm=period_mm[::-1] if period_mm and along_x else period_mm,
    )


def _drift(fabric: Fabric, shift: F32, key: int, period_mm: Pair | None) -> Drift:
    """How the cloth strays: yarns by a part of their pitch, a sheet by more than its fibres."""
    if isinstance(fabric.structure, SHEETS):
        size = SHEET_WANDER_MM * fabric.scale
        strays = drift_sheet((size, size), SHEET_FOLDS, shift, key, period_mm)
        if isinstance(fabric.structure, Corduroy):  # its wales stay nearly straight
            moves = strays.moves_mm * np.array([0.1, 1.0], np.float32)
            return replace(strays, moves_mm=moves)
        return strays
    return drift_sheet(pitch_mm(fabric), FOLDS, shift, key, period_mm)


def _sample_box(layout: Layout, worn: Bool) -> F32:
    """Any footprint that is worn: faces without this fabric must not add classes."""
    first = int(np.argmax(worn))
    out: F32 = layout.footprint_mm[first : first + 1]
    return out


def _cells(fabric: Fabric, boxes: F32) -> int:
    """Grid cells across a yarn (a knit's wale has two legs): eight to the finest texel."""
    size = float(np.sqrt(np.abs(np.linalg.det(boxes.astype(np.float64))).min()))
    pitch = max(pitch_mm(fabric))
    least, most = (32, 48) if fabric.warp is not None else (48, 96)
    return int(np.clip(4 * math.ceil(2.0 * pitch / max(size, 1e-6)), least, most))


def weave(weaver: Weaver, texels: Texels) -> Cloth:
    """Read a fabric at texels that wear it, some at a time."""
    count = len(texels.face)
    if count <= AT_ONCE:
        return _woven(weaver, texels)
    parts = [_woven(weaver, _part(texels, some)) for some in bands(count, AT_ONCE)]
    names = [field.name for field in fields(Cloth) if getattr(parts[0], field.name) is not None]
    whole = {
        name: np.concatenate([getattr(part, name) for part in parts], axis=-1)
        for name in names
        if name != "level_mm"
    }
    return Cloth(**whole, level_mm=weaver.level_mm)


def _part(texels: Texels, some: slice) -> Texels:
    return Texels(
        index=texels.index[some],
        face=texels.face[some],
        x_mm=texels.x_mm[some],
        y_mm=texels.y_mm[some],
    )


def _woven(weaver: Weaver, texels: Texels) -> Cloth:
    x, y = drift(weaver.drift, texels)
    seen = _read_tile(weaver.filtered, texels, x, y)
    count = sum(system.weights for system in weaver.systems)
    for slub, change in weaver.swells:
        thick = amount(slub, texels.face, x, y)
        last = WEIGHT + count * (2 if weaver.tops else 1)
        swell(seen, _read_tile(change, texels, x, y), thick, last)
    slope = np.stack([seen[SLOPE_X], seen[SLOPE_Y]])
    variance = seen[MOMENT] - 0.5 * (slope * slope).sum(0)
    np.maximum(variance, 0.0, out=variance)
    weights, visible, tops, first = [], [], [], WEIGHT
    for system in weaver.systems:
        own = seen[first : first + system.weights]
        visible.append(own[0] if len(own) == 1 else own.sum(0))
        coloured = _coloured(system, own, texels, x, y)
        weights.extend(coloured)
        if weaver.tops:
            high = seen[first + count : first + count + system.weights]
            tops.extend(share_on_tops(own, high, coloured))
        first += system.weights
    shown = np.stack(visible)
    return Cloth(
        height_mm=seen[HEIGHT],
        slope=slope,
        variance=variance,
        occlusion=np.clip(seen[OCCLUSION], 0.0, 1.0),
        cover=np.clip(seen[COVER], 0.0, 1.0),
        weights=np.stack(weights),
        metal=_blend(shown, [s.metal for s in weaver.systems]),
        alpha2=_blend(shown, [s.alpha2 for s in weaver.systems]),
        level_mm=weaver.level_mm,
        tops=np.stack(tops) if tops else None,
    )


def _blend(shown: F32, values: list[float]) -> F32:
    """Mean of a per-system value over what shows."""
    if len(set(values)) == 1:
        return np.full(shown.shape[1], values[0], np.float32)
    total = np.maximum(shown.sum(0), 1e-6)
    out: F32 = sum(value * share for value, share in zip(values, shown, strict=True)) / total
    return out


def _coloured(system: System, own: F32, texels: Texels, x: F32, y: F32) -> list[F32]:
    """A system's weight, split over its colours and streaked."""
    across, along = (y, x) if system.along_x else (x, y)
    values = read(system.streaks, texels.face, across, along)
    tone = values[0]
    tone *= system.tone
    tone += 1.0
    if system.weights > 1:
        return [tone * part for part in own]
    tone *= own[0]
    if system.stripes is not None:
        return [tone * part for part in shares(system.stripes, texels.face, across)]
    if not system.shares:
        return [tone]
    departs = [*values[1:], -values[1:].sum(0)]  # what one colour gains the others lose
    parts = zip(departs, system.shares, strict=True)
    return [tone * np.maximum(part + mean, 0.0) for part, mean in parts]


def _read_tile(filtered: Filtered, texels: Texels, x: F32, y: F32) -> F32:
    """Bilinear read of the filtered tile, (8, N) or (16, N) float32."""
    column, s = _wrapped(x, filtered.offset_mm[0], filtered.width_mm, filtered.columns)
    cell, t = _wrapped(y, filtered.offset_mm[1], filtered.length_mm, filtered.rows)
    cell *= filtered.columns + 1
    cell += column
    cell += np.take(filtered.start, texels.face)
    seen = between(filtered.values, filtered.columns, cell, s, t)
    return channels(seen, seen.shape[1])


def _wrapped(mm: F32, offset: float, period: float, count: int) -> tuple[I32, F32]:
    """A cell of a periodic axis, and the place between it and the next."""
    at = mm - offset
    at *= 1.0 / period
    at -= np.floor(at)
    at *= count
    low = at.astype(np.int32)
    np.minimum(low, count - 1, out=low)  # rounding may reach the end, which is the next's
    at -= low.astype(np.float32)
    return low, at
