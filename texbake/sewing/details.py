"""Bar tacks and buttonholes: sewing at a place.

Both are zigzags so close that they look like satin (ISO 4915 type 304). A bar tack lies over a
few long stitches; a buttonhole is two such bars along a slit, and one across each of its ends.
They are drawn as the stitch types are, and read through the same tables.

Coordinates of a drawing: along from 0 to its length with a margin at each end, across from its
middle, both in mm of the pattern plane.
"""

import functools
import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from texbake.arrays import F32, F64, Bool
from texbake.errors import UserError, UserErrors
from texbake.garment.values import Garment
from texbake.layout.values import Texels
from texbake.recipe.values import DetailRecipe, Recipe
from texbake.sewing import strand, thread
from texbake.sewing.drawing import (
    ACROSS,
    ALONG,
    COVER,
    DARK,
    HEIGHT,
    SHADE,
    SQUARES,
    VARIANTS,
    table,
)
from texbake.sewing.facts import ClothFacts
from texbake.sewing.spots import Lost, Spot, spots
from texbake.sewing.strand import Picture
from texbake.sewing.sums import Plane, plane_mean
from texbake.sewing.values import Sewn

_TACK_SPACING = 0.9  # diameters between the legs of a bar tack: 28 of a usual thread on 10 mm
_HOLE_SPACING = 0.75  # closer: a buttonhole must not fray
_SLIT_MM = 0.5  # of a buttonhole, between its bars; at least 1.5 diameters
_MARGIN = 1.5  # diameters, around
_TRACE = 2e-3  # of cover: less is rounding


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class DetailSpec:
    """One bar tack or buttonhole. Lengths in mm.

    Attributes
    ----------
    faces : (F,) bool
        Faces that it can lie on.
    centre, along : (2,) float64
        In the pattern plane: its middle, and the unit vector along it.
    length_mm : float
        Of the drawing, margins included.
    diameter_mm : float
        Of the thread.
    thread : (3,) float32
        Linear light.
    alpha2, metal : float
        Of the thread.
    table : Plane
        Of ``VARIANTS`` units, which are quarters of the length.
    """

    faces: Bool
    centre: F64
    along: F64
    length_mm: float
    diameter_mm: float
    thread: F32
    alpha2: float
    metal: float
    table: Plane


def bar_tack(diameter_mm: float, length_mm: float, width_mm: float) -> list[F64]:
    """Threads of a bar tack from 0 to its length: long ones beneath, close ones across."""
    half = 0.5 * width_mm
    beneath = np.linspace(-0.55, 0.55, 3) * half
    long = [(s, x, 0.1) for k, x in enumerate(beneath.tolist()) for s in _ends(k, length_mm)]
    over = _satin(0.0, length_mm, (-half, half), diameter_mm, _TACK_SPACING)
    return [np.array(long) * (1.0, 1.0, diameter_mm), over]


def _ends(number: int, length_mm: float) -> tuple[float, float]:
    """Both ends, in the order of a thread that goes to and fro."""
    return (length_mm, 0.0) if number % 2 else (0.0, length_mm)


def buttonhole(diameter_mm: float, length_mm: float, width_mm: float) -> list[F64]:
    """Threads of a buttonhole from 0 to its length: a bar beside each lip, one over each end."""
    half, slit = 0.5 * width_mm, 0.5 * max(_SLIT_MM, 1.5 * diameter_mm)
    bar = max(1.2, 4.0 * diameter_mm)
    sides = [
        _satin(0.0, length_mm, across, diameter_mm, _HOLE_SPACING)
        for across in ((slit, half), (-half, -slit))
    ]
    ends = [
        _satin(start, start + bar, (-half, half), diameter_mm, _HOLE_SPACING, rise=0.4)
        for start in (0.0, length_mm - bar)
    ]
    return [*sides, *ends]


def _satin(
    start_mm: float,
    end_mm: float,
    across_mm: tuple[float, float],
    diameter_mm: float,
    spacing: float,
    rise: float = 0.0,
) -> F64:
    """Points of a close zigzag: (K, 3) mm; it dives into the cloth on each side."""
    legs = max(2, round((end_mm - start_mm) / (spacing * diameter_mm)))
    low, high = across_mm
    points = []
    for leg in range(legs):
        here, there = (low, high) if leg % 2 == 0 else (high, low)
        for t, z in ((0.0, -0.7), (0.1, 0.1), (0.35, 0.5), (0.65, 0.5), (0.9, 0.1)):
            s = start_mm + (leg + t) / legs * (end_mm - start_mm)
            lift = rise if t > 0.0 else 0.0
            points.append((s, here + t * (there - here), (z + lift) * diameter_mm))
    return np.array(points)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Kind:
    """How one kind of detail is drawn, and how large it usually is, mm."""

    threads: Callable[[float, float, float], list[F64]]
    length_mm: float
    width_mm: float
    slit: bool


# Usual sizes: bar tacks of 28 stitches are 10 x 2 mm; a shirt's buttonhole is 14 to 16 mm long,
# a coat's 22 to 28 mm (trade practice, from memory).
_KINDS = {
    "bar tack": _Kind(threads=bar_tack, length_mm=10.0, width_mm=2.0, slit=False),
    "buttonhole": _Kind(threads=buttonhole, length_mm=18.0, width_mm=4.0, slit=True),
}


def draw(kind: str, diameter_mm: float, length_mm: float, width_mm: float) -> Plane:
    """Draw a detail into a table of ``VARIANTS`` units along; see ``drawing.table``."""
    margin = _MARGIN * diameter_mm
    whole = length_mm + 2.0 * margin
    threads = _KINDS[kind].threads(diameter_mm, length_mm, width_mm)
    shift = np.array([margin, 0.0, 0.0])
    # A curve comes again a period on; here it goes there far beneath the cloth.
    dive = np.array([0.0, 0.0, -9.0 * diameter_mm])
    again = np.array([whole, 0.0, -9.0 * diameter_mm])
    strands = tuple(np.concatenate([t, t[-1:] + dive, t[:1] + again]) + shift for t in threads)
    holes = np.zeros((0, 2))
    if _KINDS[kind].slit:
        steps = np.arange(margin + 1.2, whole - margin - 1.2, 0.6 * diameter_mm)
        holes = np.stack([steps, np.zeros_like(steps)], axis=1)
    picture = Picture(strands=strands, holes=holes, half_mm=0.5 * width_mm + margin)
    unit = whole / VARIANTS
    along = strand.cells(1.4 * diameter_mm, unit, 512)  # close threads need no finer ones
    across = strand.cells(1.4 * diameter_mm, 2.0 * picture.half_mm, 1024)
    drawn = strand.draw(picture, diameter_mm, unit, along, across)
    return table(drawn, picture.half_mm, unit)


def details(
    garment: Garment,
    recipe: Recipe,
    cloths: Sequence[ClothFacts],
    *,
    drawing: Callable[[str, float, float, float], Plane] = draw,
) -> tuple[DetailSpec, ...]:
    """Place the details of a recipe on a garment.

    Raises
    ------
    UserErrors
        For places where there is no cloth, all at once.
    """
    once = functools.cache(drawing)
    out: list[DetailSpec] = []
    errors: list[UserError] = []
    for entry in recipe.details:
        size = _size_of(entry)
        found = spots(garment, entry, (size.length_mm, size.width_mm))
        if isinstance(found, Lost):
            errors.append(UserError(found.what, fix=found.fix, path=recipe.path, line=entry.line))
        else:
            out += [_spec(garment, entry, cloths, spot, size, once) for spot in found]
    if errors:
        raise UserErrors(errors)
    return tuple(out)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Size:
    """Of one detail, mm."""

    length_mm: float
    width_mm: float
    diameter_mm: float


def _size_of(entry: DetailRecipe) -> _Size:
    """Its own size, else the usual one; never narrower than its thread allows."""
    kind = _KINDS[entry.kind]
    diameter = thread.diameter_mm(entry.thread.count_tex) * entry.scale
    width = kind.width_mm if entry.width_mm is None else entry.width_mm
    return _Size(
        length_mm=kind.length_mm if entry.length_mm is None else entry.length_mm,
        width_mm=max(width, 4.0 * diameter),
        diameter_mm=diameter,
    )


def _spec(
    garment: Garment,
    entry: DetailRecipe,
    cloths: Sequence[ClothFacts],
    spot: Spot,
    size: _Size,
    once: Callable[[str, float, float, float], Plane],
) -> DetailSpec:
    """Resolve one detail at its spot."""
    drawn = once(entry.kind, size.diameter_mm, size.length_mm, size.width_mm)
    whole = size.length_mm + 2.0 * _MARGIN * size.diameter_mm
    reach = math.hypot(0.5 * whole, drawn.half_mm) + 5.0
    low, high = garment.pattern_mm.min(axis=1) - reach, garment.pattern_mm.max(axis=1) + reach
    inside = ((low < spot.centre) & (spot.centre < high)).all(axis=1)
    own = entry.thread.colour
    return DetailSpec(
        faces=(garment.panel == spot.panel) & inside,
        centre=spot.centre,
        along=spot.along,
        length_mm=whole,
        diameter_mm=size.diameter_mm,
        thread=thread.thread_colour(
            None if own is None else own.linear, cloths[spot.panel].colour_linear
        ),
        alpha2=thread.alpha2(metallic=entry.thread.metallic),
        metal=float(entry.thread.metallic),
        table=drawn,
    )


def sew_detail(texels: Texels, footprint_mm: F32, spec: DetailSpec) -> Sewn | None:
    """Sew one detail onto the texels of a band.

    Parameters
    ----------
    texels : Texels
    footprint_mm : (F, 2, 2) float32
        ``Layout.footprint_mm``.
    spec : DetailSpec

    Returns
    -------
    Sewn or None
        None where no texel is touched.
    """
    at = np.flatnonzero(spec.faces[texels.face])
    if not at.size:
        return None
    ahead = spec.along.astype(np.float32)
    right = np.array([ahead[1], -ahead[0]], np.float32)
    off = texels.x_mm[at] - float(spec.centre[0]), texels.y_mm[at] - float(spec.centre[1])
    s, x = (off[0] * way[0] + off[1] * way[1] for way in (ahead, right))
    steps = footprint_mm[texels.face[at]]
    half_s, half_x = (0.5 * _size(steps, way) for way in (ahead, right))
    hit = (np.abs(s) < half_s + 0.5 * spec.length_mm) & (np.abs(x) < half_x + spec.table.half_mm)
    at, s, x, half_s, half_x = (field[hit] for field in (at, s, x, half_s, half_x))
    if not at.size:
        return None
    unit = spec.length_mm / VARIANTS
    half_s = np.maximum(half_s / unit, 0.5 / spec.table.cells)
    cell = spec.table.half_mm / (spec.table.sums.shape[1] - 1)
    half_x = np.maximum(half_x, cell)
    s = s / unit + 0.5 * VARIANTS
    low, high = np.clip(s - half_s, 0.0, VARIANTS - 1e-3), np.clip(s + half_s, 1e-3, VARIANTS)
    mean = plane_mean(spec.table, (low, high), (x - half_x, x + half_x))
    mean *= np.minimum((high - low) / (2.0 * half_s), 1.0)
    variance = 0.5 * (mean[SQUARES] - np.square(mean[ACROSS]) - np.square(mean[ALONG]))
    shade = np.ones_like(variance)
    np.divide(mean[SHADE], mean[COVER], out=shade, where=mean[COVER] > _TRACE)
    return Sewn(
        at=at,
        height_mm=mean[HEIGHT],
        slope=right[:, None] * mean[ACROSS] + ahead[:, None] * mean[ALONG],
        variance=np.maximum(variance, 0.0),
        occlusion=1.0 - np.clip(mean[DARK], 0.0, 1.0),
        cover=np.clip(mean[COVER], 0.0, 1.0),
        shade=shade,
        thread=spec.thread,
        alpha2=spec.alpha2,
        metal=spec.metal,
    )


def _size(steps: F32, way: F32) -> F32:
    """Size of each texel along a direction; see ``build.footprint``."""
    along = steps[:, 0] * way[0] + steps[:, 1] * way[1]
    size: F32 = np.sqrt((along * along).sum(axis=1))
    return size
