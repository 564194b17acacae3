"""A flat sheet of cloth to look at: one face, any texel size and turn; and fabrics to put on it."""

import math
from dataclasses import dataclass

import numpy as np

from texbake import cloth
from texbake.arrays import F32, F64
from texbake.layout import Layout, Texels
from texbake.recipe.values import (
    Basket,
    Chart,
    Colour,
    Corduroy,
    Draft,
    Eyelet,
    Fabric,
    Felt,
    Fleece,
    Herringbone,
    Jersey,
    Melange,
    Order,
    Plain,
    RepWeave,
    Rib,
    Sateen,
    Satin,
    Towelling,
    Twill,
    Yarn,
)

SLATE = Colour(srgb=(0.24, 0.35, 0.42))
ECRU = Colour(srgb=(0.85, 0.82, 0.76))
INK = Colour(srgb=(0.12, 0.14, 0.20))


def yarn(tex: float, per_cm: float = 0.0, colour: Colour = SLATE, **more: object) -> Yarn:
    return Yarn(count_tex=tex, per_cm=per_cm, colour=colour, **more)  # type: ignore[arg-type]


TEETH = Order(slots=(0, 0, 0, 0, 1, 1, 1, 1), colours=(INK, ECRU))
# A tartan, from its middle to its middle: too long for a tile.
HALF_SETT = ((0, 10), (1, 4), (0, 4), (1, 20), (2, 4), (1, 20), (3, 2))
SETT = Order(
    slots=tuple(k for k, n in (*HALF_SETT, *HALF_SETT[::-1]) for _ in range(n)),
    colours=(INK, SLATE, Colour(srgb=(0.66, 0.15, 0.17)), ECRU),
)
MELANGE = Melange(parts=((ECRU, 0.6), (SLATE, 0.3), (INK, 0.1)))

# Counts and densities: shared/tables/woven_constructions.csv and knit_numbers.csv (sources there).
FABRICS: dict[str, Fabric] = {
    f.name: f
    for f in (
        Fabric(name="plain", structure=Plain(), warp=yarn(18.5, 26.8), weft=yarn(18.5, 26.8)),
        Fabric(
            name="denim",
            structure=Twill(over=3, under=1, direction="Z"),
            warp=yarn(84.4, 24.8, INK),
            weft=yarn(98.4, 16.1, ECRU),
        ),
        Fabric(
            name="drill",
            structure=Twill(over=2, under=1, direction="S"),
            warp=yarn(36.9, 37.8),
            weft=yarn(49.2, 18.9),
        ),
        Fabric(
            name="satin",
            structure=Satin(ends=5, move=2),
            warp=yarn(9.84, 68.1, lustre=0.7),
            weft=yarn(9.84, 47.2),
        ),
        Fabric(
            name="crepe",
            structure=Draft(rows=("x..x", ".xx.", "xx..", "..xx")),
            warp=yarn(20, 24),
            weft=yarn(20, 22),
        ),
        Fabric(
            name="hopsack",
            structure=Basket(ends=2, picks=2),
            warp=yarn(29.5, 30),
            weft=yarn(29.5, 25),
        ),
        Fabric(
            name="warp rib",
            structure=RepWeave(system="warp", over=2, under=2),
            warp=yarn(14.8, 52.4),
            weft=yarn(14.8, 28.3, ECRU),
        ),
        Fabric(
            name="herringbone",
            structure=Herringbone(over=2, under=2, turn=6),
            warp=yarn(50, 16, INK, hair=0.6),
            weft=yarn(50, 15, ECRU, hair=0.6),
        ),
        Fabric(
            name="sateen",
            structure=Sateen(ends=8, move=3),
            warp=yarn(14.8, 33.9),
            weft=yarn(14.8, 53.1, ECRU),
        ),
        Fabric(
            name="houndstooth",
            structure=Twill(over=2, under=2),
            warp=yarn(50, 16, order=TEETH),
            weft=yarn(50, 16, order=TEETH),
        ),
        Fabric(
            name="tartan",
            structure=Twill(over=2, under=2),
            warp=yarn(42, 18, order=SETT),
            weft=yarn(42, 18, order=SETT),
        ),
        Fabric(
            name="marl",
            structure=Plain(),
            warp=yarn(84, 11, plies=2, marl=(ECRU, INK)),
            weft=yarn(84, 10, plies=2, marl=(ECRU, SLATE)),
        ),
        Fabric(
            name="slub",
            structure=Plain(),
            warp=yarn(10, 36, lustre=0.7),
            weft=yarn(25, 20, ECRU, slub=0.9),
        ),
        Fabric(
            name="flannel",
            structure=Twill(over=2, under=2),
            warp=yarn(29.5, 16.5),
            weft=yarn(59, 15, hair=0.8),
            raised=0.7,
        ),
        Fabric(
            name="jersey",
            structure=Jersey(),
            yarn=yarn(19.7, colour=ECRU),
            wales_per_cm=15,
            courses_per_cm=19,
        ),
        Fabric(
            name="melange",
            structure=Jersey(),
            yarn=yarn(19.7, colour=ECRU, melange=MELANGE),
            wales_per_cm=15,
            courses_per_cm=19,
        ),
        Fabric(
            name="rib",
            structure=Rib(face=2, back=2),
            yarn=yarn(29.5),
            wales_per_cm=10,
            courses_per_cm=14,
        ),
        Fabric(
            name="moss",
            structure=Chart(rows=("kp", "pk")),
            yarn=yarn(39.4),
            wales_per_cm=8,
            courses_per_cm=11,
        ),
        Fabric(
            name="eyelet",
            structure=Eyelet(),
            yarn=yarn(19.7),
            wales_per_cm=14,
            courses_per_cm=18,
        ),
        Fabric(name="felt", structure=Felt(), yarn=yarn(60), thickness_mm=2.0),
        Fabric(name="corduroy", structure=Corduroy(wales_per_inch=11), yarn=yarn(60)),
        Fabric(name="fleece", structure=Fleece(), yarn=yarn(60)),
        Fabric(name="towelling", structure=Towelling(), yarn=yarn(60)),
    )
}


def flat(texel_mm: float, size_px: int, *, turn_rad: float = 0.0) -> Layout:
    """One face that fills the picture, its texels square, its U axis turned from +x."""
    c, s = math.cos(turn_rad), math.sin(turn_rad)
    step = np.array([[c, -s], [s, c]]) @ np.diag([texel_mm, -texel_mm])
    box = step[None].astype(np.float32)
    none = np.zeros(0, np.int64)
    return Layout(
        size_px=size_px,
        face=np.zeros((size_px, size_px), np.int32),
        partial=none,
        to_pattern=np.concatenate([box, np.zeros((1, 2, 1), np.float32)], 2),
        to_space=np.zeros((1, 3, 3), np.float32),
        footprint_mm=box,
        frame=np.array([[[c, s], [-s, c]]], np.float32),
        texel_mm=np.full(1, texel_mm, np.float32),
        gutter_to=none,
        gutter_from=none,
    )


def all_texels(layout: Layout) -> Texels:
    """Every texel of a flat layout."""
    size = layout.size_px
    row, column = np.mgrid[0:size, 0:size] + 0.5
    step = layout.to_pattern[0].astype(np.float64)
    return Texels(
        index=np.arange(size * size),
        face=np.zeros(size * size, np.int32),
        x_mm=(step[0, 0] * column + step[0, 1] * row).ravel().astype(np.float32),
        y_mm=(step[1, 0] * column + step[1, 1] * row).ravel().astype(np.float32),
    )


@dataclass(frozen=True)
class Baked:
    """Cloth on a square of texels; every field (size, size) or (k, size, size)."""

    albedo: F64
    slope: F64
    height_mm: F64
    variance: F64
    alpha2: F64
    cloth: cloth.Cloth


def bake_flat(
    fabric: Fabric, texel_mm: float, size_px: int, *, turn_rad: float = 0.0, seed: int = 1
) -> Baked:
    layout = flat(texel_mm, size_px, turn_rad=turn_rad)
    shift = np.full((1, 2), 0.37, np.float32)
    weaver = cloth.prepare(fabric, layout, np.ones(1, np.bool_), shift, seed)
    woven = cloth.weave(weaver, all_texels(layout))
    square = (size_px, size_px)
    albedo = np.tensordot(cloth.colours(fabric).T.astype(np.float64), woven.weights, 1)
    return Baked(
        albedo=albedo.reshape(3, *square),
        slope=woven.slope.astype(np.float64).reshape(2, *square),
        height_mm=woven.height_mm.astype(np.float64).reshape(square),
        variance=woven.variance.astype(np.float64).reshape(square),
        alpha2=woven.alpha2.astype(np.float64).reshape(square),
        cloth=woven,
    )


def box_mean(values: F64, over: int) -> F64:
    """Mean over blocks of the last two axes."""
    rows, columns = values.shape[-2:]
    cut = values.reshape(*values.shape[:-2], rows // over, over, columns // over, over)
    out: F64 = cut.mean((-3, -1))
    return out


def pitch_mm(fabric: Fabric) -> float:
    """The finer pitch, which has to be resolved."""
    return min(cloth.pitch_mm(fabric))


def linear(colour: Colour) -> F32:
    return np.array(colour.linear, np.float32)
