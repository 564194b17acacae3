"""A flat sheet of finished cloth in space, any texel size, turn and tilt."""

from dataclasses import dataclass, replace

import numpy as np

from tests.flat_cloth import all_texels, flat
from texbake import cloth
from texbake.arrays import F32, F64
from texbake.finish.exposure import Exposure
from texbake.finish.finisher import apply, finisher
from texbake.finish.ground import Ground, needs_of
from texbake.finish.pill import to_space
from texbake.finish.space import block
from texbake.layout import Layout, Texels, space_mm
from texbake.recipe.values import Fabric, Finish

NOISE = block(1)


@dataclass(frozen=True)
class Finished:
    """Cloth on a square of texels; every field (size, size) or (k, size, size)."""

    albedo: F64
    slope: F64
    height_mm: F64
    variance: F64
    alpha2: F64
    cloth: cloth.Cloth


def laid(texel_mm: float, size_px: int, turn_rad: float, tilt: F64) -> Layout:
    """A sheet whose x runs along ``tilt[:, 0]`` in space and y along ``tilt[:, 1]``, (3, 2)."""
    layout = flat(texel_mm, size_px, turn_rad=turn_rad)
    space = (tilt @ layout.to_pattern[0].astype(np.float64)).astype(np.float32)
    return replace(layout, to_space=space[None])


def ground_of(layout: Layout, texels: Texels, finish: Finish, sky: float) -> Ground:
    points = space_mm(layout, texels)
    count = points.shape[1]
    return Ground(
        needs=needs_of([finish]),
        noise=NOISE,
        sky=Exposure(
            linear=np.array([[0.0, 0.0, sky]], np.float32), corners=np.full((1, 3), sky, np.float32)
        ),
        jacobian=to_space(layout),
        middles_mm=points,
        shares=np.full(count, 1.0 / count, np.float32),
    )


LEVEL = np.array([[1.0, 0.0], [0.0, 1.0], [0.0, 0.0]])


def finish_flat(
    fabric: Fabric,
    finish: Finish,
    texel_mm: float,
    size_px: int,
    *,
    turn_rad: float = 0.0,
    sky: float = 1.0,
    tilt: F64 = LEVEL,
) -> Finished:
    """Weave a sheet and finish it."""
    fabric = replace(fabric, finish=finish)
    layout = laid(texel_mm, size_px, turn_rad, tilt)
    texels = all_texels(layout)
    shift = np.full((1, 2), 0.37, np.float32)
    weaver = cloth.prepare(fabric, layout, np.ones(1, np.bool_), shift, 1)
    woven = cloth.weave(weaver, texels)
    colours: F32 = cloth.colours(fabric)
    made = finisher(fabric, ground_of(layout, texels, finish, sky), 1)
    if made is not None:
        woven, colours = apply(made, woven, texels, layout, []), made.colours
    square = (size_px, size_px)
    albedo = np.tensordot(colours.T.astype(np.float64), woven.weights, 1)
    return Finished(
        albedo=albedo.reshape(3, *square),
        slope=woven.slope.astype(np.float64).reshape(2, *square),
        height_mm=woven.height_mm.astype(np.float64).reshape(square),
        variance=woven.variance.astype(np.float64).reshape(square),
        alpha2=woven.alpha2.astype(np.float64).reshape(square),
        cloth=woven,
    )
