"""One chain's sewing, resolved to numbers and to the tables that texels read.

What a recipe leaves to the tailor is decided here: a whole number of stitches is fitted to the
chain, so the stitch length it asks for is met as nearly as that allows; thread gets its diameter
from its count; the cloth's thickness sets how high an allowance stands and how deep a row sinks.

``scale`` makes sewing larger than life for coarse textures: it multiplies the thread's diameter and
the stitch length. Offsets, widths and depths of the cloth are where the tailor put them and stay.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from texbake.arrays import F32
from texbake.garment.values import Chain
from texbake.recipe.values import HemRecipe, SeamRecipe, Stitching
from texbake.sewing import fold, stitch_types, tables, thread
from texbake.sewing.construct import hem_across, is_felled, seam_across
from texbake.sewing.drawing import VARIANTS
from texbake.sewing.facts import ClothFacts
from texbake.sewing.fold import Across
from texbake.sewing.stitch_types import STITCHES, StitchType
from texbake.sewing.sums import Line, Plane

_TROUGH = 0.4, 0.10, 0.30  # of a thickness, and at least and at most mm
_PUCKER = 0.8  # height of the waves, as a share of the trough's depth
_HIDDEN_STITCH_MM = 2.5  # of the seam itself, which draws the cloth in though nobody sees it
_TACKS = ("301", "304", "401")  # the others are secured where the next seam crosses them
_TACKED = 3  # stitches; trade practice is 3 to 4
_ROOM = 2.2  # diameters, at least, between needles
_SHARED_STEP = 0.04  # stitch lengths this close share one drawing

Draw = Callable[[str, bool, float, float, float], Plane]


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class SewnSpec:
    """All that one chain's sewing is. Lengths in mm.

    Attributes
    ----------
    kind : 'seam' or 'hem'
    chain : int
        Index of the chain in the garment.
    length_mm : float
    closed : bool
    across : tuple of two Across
        What lies across the chain, per side.
    turn : int
        0 where a stitch is laid as the chain runs; else +1 or -1: the table's x goes away from
        the chain or towards it.
    lockstitch : bool
        Whether it looks like one straight row.
    tacked : int
        How many stitches go back over a row at each of its ends.
    turns : (float, float)
        How much earlier a row starts and ends, per mm of its distance: see ``corners``.
    stitches : int
        How many fit the chain: a whole number.
    stitch_mm, diameter_mm : float
        Length of a stitch and diameter of the thread, scale included.
    thread : (3,) float32
        Linear light.
    alpha2, metal : float
        Of the thread.
    trim : (3,) float32
        Of a piping or a binding, linear light.
    strip : str or None
        Name of the fabric that these are of; None: they have no weave.
    bias : bool
        Whether the strip is cut on the bias if it is woven.
    pucker_mm : float
        Height of the pucker's waves.
    seed : int
        The chain's own.
    holes_mm : (stitches + 1,) float32
        Place of each needle hole along the chain.
    tone : (rows, stitches + 1) float32
        Running sum over stitches of how much brighter than usual each is.
    cloth : Line
        Per side, across: height, slope, slope squared, darkness, then the pucker's envelope, its
        slope, and the square of both.
    wave : Line
        Along: the pucker's wave in mm, its slope, and the square of both.
    table : Plane or None
        The stitches; None where no row is seen.
    """

    kind: Literal["seam", "hem"]
    chain: int
    length_mm: float
    closed: bool
    across: tuple[Across, Across]
    turn: int
    lockstitch: bool
    tacked: int
    turns: tuple[float, float]
    stitches: int
    stitch_mm: float
    diameter_mm: float
    thread: F32
    alpha2: float
    metal: float
    trim: F32
    strip: str | None
    bias: bool
    pucker_mm: float
    seed: int
    holes_mm: F32
    tone: F32
    cloth: Line
    wave: Line
    table: Plane | None


def spec_for_seam(
    chain: Chain,
    recipe: SeamRecipe,
    cloth_colour_linear: tuple[float, float, float],
    cloth_thickness_mm: float,
    side_mask: tuple[bool, bool],
    *,
    index: int = 0,
    seed: int = 1,
    draw: Draw = stitch_types.stitches,
) -> SewnSpec:
    """Resolve a seam.

    Parameters
    ----------
    chain : Chain
    recipe : SeamRecipe
    cloth_colour_linear : tuple of three float
        Mean colour of the cloth, for thread that has no colour of its own.
    cloth_thickness_mm : float
    side_mask : (bool, bool)
        On which sides of the chain rows of stitches are seen.
    index : int
        Of the chain in the garment.
    seed : int
        Of the recipe.
    draw : function like ``stitch_types.stitches``
        Makes the table of stitches; one that remembers lets chains share them.

    Returns
    -------
    SewnSpec
    """
    rows, lines = seam_rows_mm(recipe), seam_lines_mm(recipe)
    plain = Across(
        groove_mm=recipe.groove_mm,
        lift_mm=fold.ALLOWANCE_SHARE * cloth_thickness_mm,
        lift_to_mm=max(fold.ALLOWANCE_MM, max(rows, default=0.0) + recipe.from_edge_mm),
        lift_soft_mm=fold.ALLOWANCE_SOFT_MM,
        trough_mm=_trough_mm(cloth_thickness_mm),
        trough_half_mm=_trough_half_mm(recipe),
    )
    sewn = replace(plain, rows_mm=rows, lines_mm=lines)
    first, second = (sewn if seen else plain for seen in side_mask)
    first, second = seam_across(recipe, (first, second), cloth_thickness_mm)
    colour = cloth_colour_linear
    return _resolve(
        chain, recipe, "seam", (first, second), colour, index=index, seed=seed, draw=draw
    )


def spec_for_hem(
    chain: Chain,
    recipe: HemRecipe,
    cloth_colour_linear: tuple[float, float, float],
    cloth_thickness_mm: float,
    *,
    index: int = 0,
    seed: int = 1,
    draw: Draw = stitch_types.stitches,
    turns: tuple[float, float] = (0.0, 0.0),
    strip: ClothFacts | None = None,
) -> SewnSpec:
    """Resolve a hem; parameters as for ``spec_for_seam``, turns as in ``corners``, its strip's.

    The first row holds the turned edge down, so ``from_edge_mm`` counts from there outwards, and
    further rows come nearer to the fold. A hem of no width is a single layer, not folded: there
    ``from_edge_mm`` counts from the edge inwards.

    Raises
    ------
    ValueError
        If a row falls off the cloth.
    """
    rows = hem_rows_mm(recipe)
    if min(rows, default=0.0) < 0.0:
        raise ValueError(f"row of stitches {-min(rows):.4g} mm outside the edge of the cloth")
    turned = recipe.width_mm > 0.0 and not _edged(recipe)
    side = Across(
        lift_mm=_fold_mm(recipe, cloth_thickness_mm) if turned else 0.0,
        lift_to_mm=recipe.width_mm,
        roll_mm=cloth_thickness_mm if turned else 0.0,
        rows_mm=rows,
        lines_mm=hem_lines_mm(recipe),
        trough_mm=_trough_mm(cloth_thickness_mm),
        trough_half_mm=_trough_half_mm(recipe),
    )
    side = hem_across(recipe, side, cloth_thickness_mm, strip.thickness_mm if strip else None)
    colour = strip.colour_linear if strip else cloth_colour_linear
    return _resolve(
        chain, recipe, "hem", (side, side), colour, index=index, seed=seed, draw=draw, turns=turns
    )


def seam_rows_mm(recipe: SeamRecipe) -> tuple[float, ...]:
    """Distance of each row from the seam, mm; none where the recipe asks for no stitch."""
    return _needles_mm(recipe, seam_lines_mm(recipe), 1.0)


def seam_lines_mm(recipe: SeamRecipe) -> tuple[float, ...]:
    """Distance of the middle of each line of stitches from the seam, mm.

    The face of a seam that is overedged on the inside shows none.
    """
    kind = _kind(recipe)
    if kind is None or (kind.edge and recipe.seen == "face"):
        return ()
    first = recipe.from_edge_mm + 0.5 * gauge_mm(recipe)
    rows = max(recipe.rows, 2) if is_felled(recipe) else recipe.rows
    return tuple(first + k * recipe.spacing_mm for k in range(rows))


def hem_rows_mm(recipe: HemRecipe) -> tuple[float, ...]:
    """Distance of each row from the hem's outer edge, mm; negative ones miss the cloth."""
    return _needles_mm(recipe, hem_lines_mm(recipe), -1.0)


def hem_lines_mm(recipe: HemRecipe) -> tuple[float, ...]:
    """Distance of the middle of each line of stitches from the hem's outer edge, mm."""
    kind, half = _kind(recipe), 0.5 * gauge_mm(recipe)
    if kind is None:
        return ()
    if kind.edge:
        return (half,)
    if recipe.width_mm > 0.0:
        first, step = recipe.width_mm - recipe.from_edge_mm - half, -recipe.spacing_mm
    else:
        first, step = recipe.from_edge_mm + half, recipe.spacing_mm
    return tuple(first + k * step for k in range(recipe.rows))


def gauge_mm(recipe: Stitching) -> float:
    """Distance of the outer needles, mm; 0 for a single straight row.

    A zigzag is as wide as its thread is thick, so it grows with ``scale``. Other gauges stay, as
    long as their threads find room.
    """
    kind = _kind(recipe)
    if kind is None or kind.gauge_mm == 0.0:
        return 0.0
    asked = kind.gauge_mm if recipe.gauge_mm is None else recipe.gauge_mm
    if kind.number == "304":
        return asked * recipe.scale
    return max(asked, _ROOM * _diameter_mm(recipe) * (len(kind.needles) - 1 + kind.edge))


def _edged(recipe: Stitching) -> bool:
    """Whether the stitch goes round a raw edge."""
    kind = _kind(recipe)
    return kind is not None and kind.edge


def _kind(recipe: Stitching) -> StitchType | None:
    """The stitch type, if anything is stitched."""
    return None if recipe.stitch is None else STITCHES[recipe.stitch]


def _needles_mm(recipe: Stitching, lines: tuple[float, ...], sign: float) -> tuple[float, ...]:
    """Where needle rows draw the cloth in; ``sign`` says which way the stitch is laid."""
    kind = _kind(recipe)
    needles = kind.needles if kind else ()
    return tuple(line + sign * needle * gauge_mm(recipe) for line in lines for needle in needles)


def reach_mm(spec: SewnSpec, texel_mm: float = 0.0) -> float:
    """How far from the chain, mm, anything happens to texels of ``texel_mm``."""
    table_mm: float = spec.cloth.step_mm * (spec.cloth.sums.shape[1] - 1)
    return table_mm + math.sqrt(0.5) * texel_mm


def first_variant(spec: SewnSpec, row: int) -> int:
    """Which of the drawn stitches a row starts with, so that chains and rows differ."""
    return (spec.seed + row) % VARIANTS


def _fold_mm(recipe: HemRecipe, thickness_mm: float) -> float:
    return thickness_mm if recipe.fold_mm is None else recipe.fold_mm


def _trough_mm(thickness_mm: float) -> float:
    """Depth that a row is drawn in: thick cloth gives way more."""
    share, least, most = _TROUGH
    return min(max(share * thickness_mm, least), most)


def _trough_half_mm(recipe: Stitching) -> float:
    """Half width of the trough under a row: wide enough for the thread that lies in it."""
    return max(fold.TROUGH_MM, 2.0 * _diameter_mm(recipe))


def _diameter_mm(recipe: Stitching) -> float:
    return thread.diameter_mm(recipe.thread.count_tex) * recipe.scale


def _resolve(
    chain: Chain,
    recipe: SeamRecipe | HemRecipe,
    kind: Literal["seam", "hem"],
    across: tuple[Across, Across],
    cloth_colour: tuple[float, float, float],
    *,
    index: int,
    seed: int,
    draw: Draw,
    turns: tuple[float, float] = (0.0, 0.0),
) -> SewnSpec:
    """Fit stitches to the chain and make its tables."""
    seed = _chain_seed(chain, seed)
    inner_mm = chain.length_mm - max(across[0].lines_mm, default=0.0) * sum(turns)
    if inner_mm < 0.2 * chain.length_mm:  # rows would pass one another
        turns, inner_mm = (0.0, 0.0), chain.length_mm
    count = _stitches(inner_mm, recipe, closed=chain.closed)
    stitch_mm, diameter = chain.length_mm / count, _diameter_mm(recipe)
    lines = max(len(side.lines_mm) for side in across)
    if inner_mm < 2.0 * diameter * count:  # a chain too short for one stitch
        bare, other = (replace(side, rows_mm=(), lines_mm=()) for side in across)
        lines, across = 0, (bare, other)
    own = recipe.thread.colour
    inside = recipe.seen == "inside"
    table = None
    if lines and recipe.stitch is not None:
        table = draw(
            recipe.stitch, inside, diameter, _shared_mm(inner_mm / count), gauge_mm(recipe)
        )
    holes = tables.holes_mm(count, stitch_mm, seed)
    pucker_mm = _PUCKER * recipe.pucker * across[0].trough_mm
    return SewnSpec(
        kind=kind,
        chain=index,
        length_mm=chain.length_mm,
        closed=chain.closed,
        across=across,
        turn=(1 if kind == "seam" else -1) if _edged(recipe) else 0,
        lockstitch=recipe.stitch is not None and stitch_types.plain(recipe.stitch, inside),
        tacked=_TACKED if recipe.tack and not chain.closed and recipe.stitch in _TACKS else 0,
        turns=turns,
        stitches=count,
        stitch_mm=stitch_mm,
        diameter_mm=diameter,
        thread=thread.thread_colour(None if own is None else own.linear, cloth_colour),
        alpha2=thread.alpha2(metallic=recipe.thread.metallic),
        metal=float(recipe.thread.metallic),
        strip=recipe.cloth,
        bias=recipe.construction != "banded",
        trim=np.asarray(cloth_colour if recipe.trim is None else recipe.trim.linear, np.float32),
        pucker_mm=pucker_mm,
        seed=seed,
        holes_mm=holes.astype(np.float32),
        tone=tables.tone(lines, count, seed),
        cloth=tables.cloth_table(across, mirrored=kind == "seam"),
        wave=tables.wave_table(
            holes, pucker_mm, seed, closed=chain.closed, still_mm=tables.still_mm(across[0], turns)
        ),
        table=table,
    )


def _stitches(length_mm: float, recipe: Stitching, *, closed: bool) -> int:
    """How many whole stitches come nearest to the length that is asked for."""
    asked = recipe.length_mm * recipe.scale if recipe.stitch else _HIDDEN_STITCH_MM
    if recipe.stitch == "304" and closed:  # which ends on the side where it began
        return max(2, 2 * round(0.5 * length_mm / asked))
    return max(1, round(length_mm / asked))


def _chain_seed(chain: Chain, seed: int) -> int:
    """Seed that belongs to the chain's place in space, whatever its number or direction."""
    middle = np.rint(chain.points_mm.mean(axis=(0, 1))).astype(np.int64)
    for part in middle.tolist():
        seed = (seed * 0x01000193 + part) & 0x7FFFFFFF
    return seed


def _shared_mm(stitch_mm: float) -> float:
    """Stitch length that chains with almost the same one share, so that one drawing serves."""
    return math.exp(round(math.log(stitch_mm) / _SHARED_STEP) * _SHARED_STEP)
