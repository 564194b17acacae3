"""What a fabric of the recipe says about itself: yarns, colours, pitches, thickness."""

import math
from collections.abc import Mapping
from types import MappingProxyType

import numpy as np

from texbake.arrays import F32
from texbake.cloth.net import MESH_MM
from texbake.cloth.yarn import diameter_mm
from texbake.recipe.values import Corduroy, Fabric, Felt, Net, Pile, Skin, Tulle, Yarn

SHEETS = Felt | Pile | Skin  # no single yarns to be seen
FELT_MM = 2.0
# Usual thickness of the others (by eye, no source); corduroy with its pile.
THICK_MM: Mapping[str, float] = MappingProxyType(
    {"felt": FELT_MM, "fleece": 2.5, "corduroy": 1.5, "towelling": 3.0}
    | {"leather": 1.2, "coated": 0.4}
)


def colours(fabric: Fabric) -> F32:
    """Linear colours of a fabric in the order of `Cloth.weights`, (S, 3) float32."""
    dyes = [colour.linear for yarn in yarns(fabric) for colour, _ in yarn.dyes]
    return np.array(dyes, np.float32)


def yarns(fabric: Fabric) -> tuple[Yarn, ...]:
    """Yarn systems of a fabric: warp and weft, or the one yarn."""
    found = (fabric.yarn,) if fabric.yarn is not None else (fabric.warp, fabric.weft)
    return tuple(y for y in found if y is not None)


def has_holes(fabric: Fabric) -> bool:
    """Whether one sees through: its cover is then the opacity of the maps."""
    return isinstance(fabric.structure, Net)


def has_yarns(fabric: Fabric) -> bool:
    """Whether single yarns could be seen; felt, pile and skins have none."""
    return not isinstance(fabric.structure, SHEETS)


def thickness_mm(fabric: Fabric) -> float:
    """Thickness of the cloth at its scale, mm."""
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
