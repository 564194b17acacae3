"""Yarn systems: what texels read of each beside the tile: streaks, colours, surface."""

from dataclasses import dataclass

import numpy as np

from texbake.arrays import F32
from texbake.cloth.facts import SHEETS, pitch_mm, yarns
from texbake.cloth.order import Stripes, common_repeat, stripes
from texbake.cloth.streak import STRIPS, Pair, Streaks, fitted, sheet, streaks
from texbake.recipe.values import Fabric, Fleece, Knit, Net, Tulle, Weave, Yarn

DULL, BRIGHT = 0.74, 0.30  # roughness at lustre 0 and 1: fabric_reflectance.md's cloths and nylon
NAP_DULL = 0.45  # share of the way to full roughness that a nap takes it (by eye, no source)
PILE_DULL = 0.65  # the same of fleece, all of it fibre ends (by eye, no source)
NAP_EVEN = 0.7  # how far it hides that yarns are uneven (by eye, no source)
TONE = 0.8  # brightness follows thickness by this much (by eye, no source)
PANEL_MM = 300.0  # fine yarns have a longer sheet, so that a panel shows no repeat
SPACED_CELLS = 60  # to a colour of a space-dyed yarn in the mean, at most: else half a loop
SPACED_BLEND = 2  # passes of 1-2-1: dye wicks over one or two loops (by eye, no source)
KNIT_TONE = 0.25  # a loop's bends hide most of it (by eye, no source)


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


def system_of(
    fabric: Fabric,
    index: int,
    yarn: Yarn,
    boxes: F32,
    shift: F32,
    seed: int,
    period_mm: Pair | None = None,
) -> System:
    """Streaks and surface of one yarn system; ``period_mm``: in x and y, of cloth that repeats."""
    extent = np.sqrt((boxes * boxes).sum(2))  # (F, 2): box of the same variance in x and in y
    parts = _parts(fabric, yarn)
    flecked = bool(parts) and yarn.spaced_mm == 0.0
    # A knitting yarn runs along the course, but its flecks are seen on legs, along the wale.
    along_x = index == 1 or (isinstance(fabric.structure, Knit) and not flecked)
    size_mm, keep = _strip(fabric, along_x=along_x, melange=flecked)
    counts = (1024 if flecked or 1024.0 * size_mm[0] >= PANEL_MM else 2048, 256)
    if parts and not flecked:  # whole yarns in one colour: fewer of them, but longer, even out
        each_mm = yarn.spaced_mm * fabric.scale
        cell_mm = max(0.5 * pitch_mm(fabric)[0 if along_x else 1], each_mm / SPACED_CELLS)
        counts, keep = (256, 2048), max(0.0, 1.0 - cell_mm / each_mm)
        size_mm = size_mm[0], cell_mm
    if period_mm is not None:
        counts, size_mm = fitted(counts, size_mm, period_mm[::-1] if along_x else period_mm)
    bundles = STRIPS if flecked else 1
    full = sheet(*counts, shares=parts, keep=keep, seed=seed, bundles=bundles)
    if flecked:  # fibres of a nap lie over each other and mix
        full[:, :, 1:] *= 1.0 - NAP_EVEN * fabric.raised
    if parts and not flecked:
        full[:, :, 1:] = _wicked(full[:, :, 1:])
    full = full[:, :, :-1] if parts else full  # the last share follows from the others
    rough = DULL + (BRIGHT - DULL) * yarn.lustre
    rough += (PILE_DULL if isinstance(fabric.structure, Fleece) else 0.0) * (1.0 - rough)
    rough += NAP_DULL * fabric.raised * (1.0 - rough)
    alpha = rough * rough
    return System(
        streaks=streaks(
            full,
            size_mm,
            extent[:, ::-1] if along_x else extent,
            shift,
            moved_by=STRIPS if flecked and period_mm is None else 0,
            seed=seed,
        ),
        along_x=along_x,
        tone=_tone(fabric) * yarn.irregularity * (1.0 - NAP_EVEN * fabric.raised),
        shares=parts,
        alpha2=(0.5 * alpha if yarn.metallic else alpha) ** 2,
        metal=1.0 if yarn.metallic else 0.0,
        weights=weights_of(fabric)[index],
        stripes=_stripes(fabric, index, yarn, boxes),
    )


def _wicked(parts: F32) -> F32:
    """Colours of a yarn that run into each other where they meet, along axis 1."""
    for _ in range(SPACED_BLEND):
        parts = 0.5 * parts + 0.25 * (np.roll(parts, 1, 1) + np.roll(parts, -1, 1))
    return parts


def _parts(fabric: Fabric, yarn: Yarn) -> tuple[float, ...]:
    """Shares that the sheet of streaks deals out: of a melange, and of a knit's marl."""
    if yarn.melange is not None or (yarn.marl and not isinstance(fabric.structure, Weave)):
        return tuple(share for _, share in yarn.dyes)
    return ()


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
