"""After how much cloth a structure comes again, and after how much its maps do.

A mill's repeat is that of draft and colours: five ends and five picks of a five-end satin (ISO
3572). The tile that is rendered may hold several, so that plied yarns do not all turn in step; and
a sheet of fibres has no repeat of its own, but its tile has a size all the same.
"""

import math
from dataclasses import dataclass

import numpy as np

from texbake.arrays import Bool
from texbake.cloth import felt, nap, net, pile, skin
from texbake.cloth.chart import loops_of
from texbake.cloth.draft import draft_of
from texbake.cloth.facts import pitch_mm
from texbake.cloth.order import common_repeat
from texbake.recipe.values import (
    Cable,
    Corduroy,
    Eyelet,
    Fabric,
    Felt,
    Interlock,
    Knit,
    Pile,
    Skin,
    Terry,
    Tulle,
    Weave,
)

Pair = tuple[float, float]
Counts = tuple[int, int]


@dataclass(frozen=True, slots=True, kw_only=True)
class Repeat:
    """What a fabric repeats after.

    Attributes
    ----------
    names : (str, str)
        What is counted across and along: ``ends`` and ``picks``, ``wales`` and ``courses``,
        ``meshes``; empty for a sheet of fibres, which has no repeat.
    counts : (int, int)
        So many of them in one repeat; 0 for a sheet.
    size_mm : (float, float)
        Of the repeat, x across the grain, y along it, at the recipe's scale; of a sheet, its tile.
    whole_mm : (float, float)
        What is whole both in repeats and in tiles: maps of it tile.
    """

    names: tuple[str, str]
    counts: Counts
    size_mm: Pair
    whole_mm: Pair


def repeat_of(fabric: Fabric) -> Repeat:
    """Find a fabric's repeat.

    >>> from texbake.recipe.values import BLACK, Satin, Yarn
    >>> yarn = Yarn(count_tex=10.0, per_cm=50.0, colour=BLACK)
    >>> cloth = Fabric(name="lining", structure=Satin(ends=5, move=2), warp=yarn, weft=yarn)
    >>> repeat_of(cloth).counts, repeat_of(cloth).size_mm
    ((5, 5), (1.0, 1.0))
    """
    structure, pitch = fabric.structure, pitch_mm(fabric)
    if isinstance(structure, Weave):
        own, tile = _woven(fabric, structure)
        names = "ends", "picks"
    elif isinstance(structure, Knit):
        own, tile = _knitted(structure)
        names = "wales", "courses"
    elif isinstance(structure, Eyelet):
        own = tile = net.EYE_WALES, net.EYE_COURSES
        names = "wales", "courses"
    elif isinstance(structure, Tulle):
        own = tile = 1, 2
        names = "meshes", "rows of meshes"
    else:
        return _sheet(structure, fabric.scale, pitch[0])
    if fabric.raised:
        sides = [c * p / fabric.scale for c, p in zip(tile, pitch, strict=True)]
        tile = tile[0] * nap.repeats(sides[0]), tile[1] * nap.repeats(sides[1])
    whole = math.lcm(own[0], tile[0]), math.lcm(own[1], tile[1])
    return Repeat(
        names=names,
        counts=own,
        size_mm=(own[0] * pitch[0], own[1] * pitch[1]),
        whole_mm=(whole[0] * pitch[0], whole[1] * pitch[1]),
    )


def _sheet(structure: Felt | Pile | Skin, scale: float, wale_mm: float) -> Repeat:
    """A sheet of fibres: only corduroy has something to count."""
    width, length = (side * scale for side in _sheet_mm(structure))
    whole = width, length
    if isinstance(structure, Corduroy):
        return Repeat(names=("wale", ""), counts=(1, 0), size_mm=(wale_mm, length), whole_mm=whole)
    return Repeat(names=("", ""), counts=(0, 0), size_mm=whole, whole_mm=whole)


def _woven(fabric: Fabric, weave: Weave) -> tuple[Counts, Counts]:
    """Ends and picks of draft and colours together, and of the tile."""
    warp, weft = fabric.warp, fabric.weft
    if warp is None or weft is None:
        raise ValueError(f"{fabric.name} is woven, but has no warp or no weft")
    draft = draft_of(weave)
    picks, ends = (
        math.lcm(count, len(yarn.order.slots)) if yarn.order is not None else count
        for count, yarn in zip(draft.shape, (weft, warp), strict=True)
    )
    tile = common_repeat(weave, warp, weft)[0].shape
    return (ends, picks), (tile[1], tile[0])


def _knitted(knit: Knit) -> tuple[Counts, Counts]:
    """Wales and courses of the least repeat, and of the chart that is drawn."""
    loops = loops_of(knit)
    courses, wales = loops.face.shape
    if isinstance(knit, Terry):  # its floats, not its loops, make the repeat
        return (knit.every, courses), (wales, courses)
    if isinstance(knit, Interlock | Cable):
        return (wales, courses), (wales, courses)
    return (_period(loops.face, 1), _period(loops.face, 0)), (wales, courses)


def _period(values: Bool, axis: int) -> int:
    """After how many places along an axis the values come again."""
    count = int(values.shape[axis])
    for step in range(1, count):
        if count % step == 0 and np.array_equal(np.roll(values, step, axis), values):
            return step
    return count


def _sheet_mm(structure: Felt | Pile | Skin) -> Pair:
    """Size of the tile of a sheet at life size."""
    if isinstance(structure, Corduroy):
        return pile.corduroy_mm(structure)
    if isinstance(structure, Felt):
        return felt.SPAN_MM, felt.SPAN_MM
    side = skin.SPAN_MM if isinstance(structure, Skin) else pile.SPAN_MM
    return side, side
