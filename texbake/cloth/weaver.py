"""From a fabric of the recipe to cloth on texels.

``prepare`` does once what no texel changes: the tile, its filtered versions for the footprints of
the faces that wear it, the streaks of each yarn system. ``weave`` reads them at texels.
"""

import math
import zlib
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np

from texbake.arrays import F32, I64, Bool
from texbake.cloth.drift import Drift, drift, drift_sheet
from texbake.cloth.felt import felted
from texbake.cloth.footprint import Filtered, filter_tile
from texbake.cloth.knit import knitted
from texbake.cloth.net import MESH_MM, eyelets, tulle
from texbake.cloth.order import Stripes, common_repeat, shares, stripes
from texbake.cloth.pile import piled
from texbake.cloth.skin import skinned
from texbake.cloth.streak import STRIPS, Streaks, read, sheet, streaks
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
from texbake.cloth.values import Cloth
from texbake.cloth.woven import woven
from texbake.layout.values import Layout, Texels
from texbake.recipe.values import (
    Corduroy,
    Eyelet,
    Fabric,
    Felt,
    Knit,
    Net,
    Pile,
    Skin,
    Tulle,
    Weave,
    Yarn,
)

DULL, BRIGHT = 0.74, 0.34  # roughness at lustre 0 and 1: fabric_reflectance.md's cloths and nylon
TONE = 0.8  # brightness follows thickness by this much (by eye, no source)
KNIT_TONE = 0.4  # a loop's bends hide half of it (by eye, no source)
MOST_CELLS = 512  # along a side of a weave's tile: larger repeats are drawn more coarsely
SHEET_WANDER_MM, SHEET_FOLDS = 8.0, 0.22  # a sheet has no yarns to bend: it may stray 2 mm
FOLDS = 0.08  # of a pitch: how far yarns stray from their straight line (by eye, no source)
SHEETS = Felt | Pile | Skin  # no single yarns to be seen
FELT_MM = 2.0
# Usual thickness of the others (by eye, no source); corduroy with its pile.
THICK_MM: Mapping[str, float] = MappingProxyType(
    {"felt": FELT_MM, "fleece": 2.5, "corduroy": 1.5, "towelling": 3.0}
    | {"leather": 1.2, "coated": 0.4}
)


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class System:
    """One yarn system as texels read it.

    Attributes
    ----------
    streaks : Streaks
    along_x : bool
        The yarn runs along +x (weft, courses) rather than +y.
    tone : float
        Amplitude of brightness.
    shares : tuple of float
        Of each colour of its melange; empty for one colour.
    alpha2, metal : float
    weights : int
        Of the tile: one, or one per colour of a short order or of a marl.
    stripes : Stripes or None
        A long order of colours.
    """

    streaks: Streaks
    along_x: bool
    tone: float
    shares: tuple[float, ...]
    alpha2: float
    metal: float
    weights: int = 1
    stripes: Stripes | None = None


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Weaver:
    """A fabric, ready to be read at texels; ``level_mm``, ``top_mm``: its mean and top height."""

    filtered: Filtered
    drift: Drift
    systems: tuple[System, ...]
    level_mm: float
    top_mm: float


def colours(fabric: Fabric) -> F32:
    """Linear colours of a fabric in the order of `Cloth.weights`, (S, 3) float32."""
    dyes = [colour.linear for yarn in yarns(fabric) for colour, _ in yarn.dyes]
    return np.array(dyes, np.float32)


def yarns(fabric: Fabric) -> tuple[Yarn, ...]:
    """Yarn systems of a fabric: warp and weft, or the one yarn."""
    found = (fabric.yarn,) if fabric.yarn is not None else (fabric.warp, fabric.weft)
    return tuple(y for y in found if y is not None)


def has_yarns(fabric: Fabric) -> bool:
    """Whether single yarns could be seen; felt, pile and skins have none."""
    return not isinstance(fabric.structure, SHEETS)


def thickness_mm(fabric: Fabric) -> float:
    """Thickness of the cloth at its scale, mm."""
    from texbake.cloth.yarn import diameter_mm

    if isinstance(fabric.structure, SHEETS):
        return (fabric.thickness_mm or THICK_MM[fabric.structure.kind]) * fabric.scale
    return (
        fabric.scale
        * sum(diameter_mm(y.count_tex) for y in yarns(fabric))
        * (1.0 if len(yarns(fabric)) > 1 else 2.0)
    )


def pitch_mm(fabric: Fabric) -> tuple[float, float]:
    """Distance from yarn to yarn (wale to wale, course to course) at the recipe's scale."""
    structure = fabric.structure
    if isinstance(structure, Corduroy):
        return 25.4 * fabric.scale / structure.wales_per_inch, 1.0 * fabric.scale
    if isinstance(structure, SHEETS):
        return 1.0 * fabric.scale, 1.0 * fabric.scale
    if isinstance(structure, Tulle):
        return MESH_MM * fabric.scale, 0.5 * math.sqrt(3.0) * MESH_MM * fabric.scale
    if fabric.warp is not None and fabric.weft is not None:
        per_cm = fabric.warp.per_cm, fabric.weft.per_cm
    else:
        per_cm = fabric.wales_per_cm, fabric.courses_per_cm
    return 10.0 * fabric.scale / per_cm[0], 10.0 * fabric.scale / per_cm[1]


def yarn_mm(fabric: Fabric) -> float:
    """Distance from one yarn to the next on the face: a knit shows two legs to a wale."""
    across, along = pitch_mm(fabric)
    return 0.5 * across if fabric.warp is None else max(across, along)


def render(fabric: Fabric, cells: int) -> Tile:
    """One repeat of a fabric at life size, ``cells`` across a yarn."""
    structure = fabric.structure
    if isinstance(structure, SHEETS):
        return tile_of(_rendered_sheet(fabric, structure))
    if isinstance(structure, Knit | Net):
        (yarn,) = yarns(fabric)
        loops = fabric.wales_per_cm, fabric.courses_per_cm
        if isinstance(structure, Tulle):
            return tile_of(tulle(yarn, cells=2 * cells))
        if isinstance(structure, Eyelet):
            return tile_of(eyelets(yarn, *loops, cells=min(cells, 32)))
        return tile_of(knitted(structure, yarn, *loops, cells=cells))
    warp, weft = yarns(fabric)
    draft, ordered = common_repeat(structure, warp, weft)
    fewer = min(cells, max(12, MOST_CELLS // max(draft.shape)))
    return tile_of(woven(draft, warp, weft, cells=fewer, ordered=ordered))


def _rendered_sheet(fabric: Fabric, structure: Felt | Pile | Skin) -> Relief:
    """A sheet that no yarns divide."""
    if isinstance(structure, Felt):
        return felted(thickness_mm=fabric.thickness_mm or FELT_MM)
    return skinned(structure) if isinstance(structure, Skin) else piled(structure)


def prepare(fabric: Fabric, layout: Layout, worn: Bool, shift: F32, seed: int) -> Weaver:
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
    """
    boxes = np.where(worn[:, None, None], layout.footprint_mm, _sample_box(layout, worn))
    tile = render(fabric, _cells(fabric, boxes))
    key = seed * 7919 + zlib.crc32(fabric.name.encode())
    systems = tuple(
        _system(fabric, k, yarn, boxes, shift, key + 31 * k) for k, yarn in enumerate(yarns(fabric))
    )
    return Weaver(
        filtered=filter_tile(tile, boxes, fabric.scale),
        drift=_drift(fabric, shift, key),
        systems=systems,
        level_mm=float(tile.channels[HEIGHT].mean(dtype=np.float64)) * fabric.scale,
        top_mm=float(tile.channels[HEIGHT].max()) * fabric.scale,
    )


def _drift(fabric: Fabric, shift: F32, key: int) -> Drift:
    """How the cloth strays: yarns by a part of their pitch, a sheet by more than its fibres."""
    if isinstance(fabric.structure, SHEETS) and not isinstance(fabric.structure, Corduroy):
        size = SHEET_WANDER_MM * fabric.scale
        return drift_sheet((size, size), SHEET_FOLDS, shift, key)
    return drift_sheet(pitch_mm(fabric), FOLDS, shift, key)


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


def _system(fabric: Fabric, index: int, yarn: Yarn, boxes: F32, shift: F32, seed: int) -> System:
    """Streaks and surface of one yarn system."""
    extent = np.sqrt((boxes * boxes).sum(2))  # (F, 2): box of the same variance in x and in y
    parts = () if yarn.melange is None else tuple(share for _, share in yarn.melange.parts)
    # A knitting yarn runs along the course, but its flecks are seen on legs, along the wale.
    along_x = index == 1 or (isinstance(fabric.structure, Knit) and not parts)
    size_mm, keep = _strip(fabric, along_x=along_x, melange=bool(parts))
    full = sheet(1024, 256, shares=parts, keep=keep, seed=seed)
    alpha = (DULL + (BRIGHT - DULL) * yarn.lustre) ** 2
    return System(
        streaks=streaks(full, size_mm, extent[:, ::-1] if along_x else extent, shift),
        along_x=along_x,
        tone=_tone(fabric) * yarn.irregularity,
        shares=parts,
        alpha2=(0.5 * alpha if yarn.metallic else alpha) ** 2,
        metal=1.0 if yarn.metallic else 0.0,
        weights=weights_of(fabric)[index],
        stripes=_stripes(fabric, index, yarn, boxes),
    )


def _stripes(fabric: Fabric, index: int, yarn: Yarn, boxes: F32) -> Stripes | None:
    """An order that is too long for the tile."""
    if yarn.order is None or weights_of(fabric)[index] > 1:
        return None
    return stripes(yarn.order, pitch_mm(fabric)[index], boxes, index)


def weights_of(fabric: Fabric) -> tuple[int, ...]:
    """How many weights of the tile each yarn system has."""
    if fabric.warp is None or fabric.weft is None or not isinstance(fabric.structure, Weave):
        return (1,) * len(yarns(fabric))
    _, ordered = common_repeat(fabric.structure, fabric.warp, fabric.weft)
    return tuple(
        len(yarn.dyes) if yarn.marl or (ordered and yarn.order is not None) else 1
        for yarn in (fabric.warp, fabric.weft)
    )


def _tone(fabric: Fabric) -> float:
    """How strongly the yarn's thickness shows as brightness."""
    if isinstance(fabric.structure, SHEETS | Tulle):
        return 0.0  # no yarn; the fibres of the sheet have shades of their own
    return KNIT_TONE if isinstance(fabric.structure, Knit | Net) else TONE


def _strip(fabric: Fabric, *, along_x: bool, melange: bool) -> tuple[tuple[float, float], float]:
    """Size of a fleck (or of a yarn of one colour) across and along, mm; chance to go on."""
    pitch = pitch_mm(fabric)
    across_mm = pitch[1] if along_x else pitch[0]
    if isinstance(fabric.structure, SHEETS):
        return (0.10 * fabric.scale, 0.25 * fabric.scale), 0.55
    if melange and isinstance(fabric.structure, Knit):
        return (across_mm / STRIPS, pitch[1]), 0.15  # a loop up, the yarn shows other fibres
    along_mm = 3.0 * pitch[0] if isinstance(fabric.structure, Knit) else fabric.scale
    return (across_mm / STRIPS if melange else across_mm, along_mm), 0.65


def weave(weaver: Weaver, texels: Texels) -> Cloth:
    """Read a fabric at texels that wear it."""
    x, y = drift(weaver.drift, texels)
    seen = _read_tile(weaver.filtered, texels, x, y)
    slope = np.stack([seen[SLOPE_X], seen[SLOPE_Y]])
    variance = seen[MOMENT] - 0.5 * (slope * slope).sum(0)
    np.maximum(variance, 0.0, out=variance)
    weights, visible, first = [], [], WEIGHT
    for system in weaver.systems:
        own = seen[first : first + system.weights]
        first += system.weights
        visible.append(own[0] if len(own) == 1 else own.sum(0))
        weights.extend(_coloured(system, own, texels, x, y))
    shown = np.stack(visible)
    return Cloth(
        height_mm=seen[HEIGHT],
        slope=slope,
        variance=variance,
        occlusion=np.clip(seen[OCCLUSION], 0.0, 1.0),
        cover=seen[COVER],
        weights=np.stack(weights),
        metal=_blend(shown, [s.metal for s in weaver.systems]),
        alpha2=_blend(shown, [s.alpha2 for s in weaver.systems]),
        level_mm=weaver.level_mm,
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
    return [tone * (part + mean) for part, mean in zip(values[1:], system.shares, strict=True)]


def _read_tile(filtered: Filtered, texels: Texels, x: F32, y: F32) -> F32:
    """Bilinear read of the filtered tile, (8, N) float32."""
    start = np.take(filtered.start, texels.face)
    c0, c1, s = _wrapped(x, filtered.offset_mm[0], filtered.width_mm, filtered.columns)
    r0, r1, t = _wrapped(y, filtered.offset_mm[1], filtered.length_mm, filtered.rows)
    r0 *= filtered.columns
    r1 *= filtered.columns
    r0 += start
    r1 += start
    values, s, t = filtered.values, s[:, None], t[:, None]
    out = _towards(np.take(values, r0 + c0, 0), np.take(values, r0 + c1, 0), s)
    upper = _towards(np.take(values, r1 + c0, 0), np.take(values, r1 + c1, 0), s)
    return np.ascontiguousarray(_towards(out, upper, t).T)


def _towards(first: F32, second: F32, t: F32) -> F32:
    """``first`` moved towards ``second``, in place."""
    second -= first
    second *= t
    first += second
    return first


def _wrapped(mm: F32, offset: float, period: float, count: int) -> tuple[I64, I64, F32]:
    """Two neighbouring cells of a periodic axis and the place between them."""
    at = mm - offset
    at *= 1.0 / period
    at -= np.floor(at)
    at *= count
    low = at.astype(np.int64)
    at -= low.astype(np.float32)
    low[low >= count] -= count
    high = low + 1
    high[high == count] = 0
    return low, high, at
