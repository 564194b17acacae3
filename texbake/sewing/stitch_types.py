"""The stitch types of ISO 4915 that a recipe may name, as threads in space.

For each: how many threads and needles it has, how far apart its outer needles are as a rule, and
how its threads run, on the side that the needles enter (the face) and on the other (the inside).
Threads, needles and what interlaces with what are as ISO 4915:1991 describes them; widths are
common gauges, and how far threads bow, rise and sink is by eye, no source.

In a picture x = 0 is the middle of the stitch. Where a stitch goes round an edge of the cloth, the
edge is at +gauge/2.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np

from texbake.arrays import F64, I64
from texbake.cloth.hash import hash01
from texbake.sewing import stitch301, strand
from texbake.sewing.drawing import MAX_CELLS, VARIANTS, table
from texbake.sewing.strand import Picture
from texbake.sewing.sums import Plane

_MARGIN = 1.6  # diameters beyond the outermost thread's middle, with its dips
_WANDER = 0.06  # of a diameter: how far points of a thread lie off
_LIE, _OVER = 0.16, 0.55  # height of a thread's middle, in diameters: on cloth, on another thread
_DEEP = -0.9  # below the cloth


@dataclass(frozen=True, slots=True, kw_only=True)
class Size:
    """Of a stitch, mm: thread's diameter, length, and distance of the outer needles."""

    diameter_mm: float
    stitch_mm: float
    gauge_mm: float


Paths = Callable[[Size], list[F64]]


@dataclass(frozen=True, slots=True, kw_only=True)
class StitchType:
    """One type of stitch.

    Attributes
    ----------
    number, name : str
        By ISO 4915.
    threads : int
    needles : tuple of float
        Place of each needle row, as a share of the gauge from the middle.
    gauge_mm : float
        Usual; 0 for one straight row.
    edge : bool
        Whether it goes round an edge of the cloth.
    face, inside : function of Size to threads, or None
        None: it looks like lockstitch.
    """

    number: str
    name: str
    threads: int
    needles: tuple[float, ...] = (0.0,)
    gauge_mm: float = 0.0
    edge: bool = False
    face: Paths | None = None
    inside: Paths | None = None


def _run(size: Size, key: int, *points: tuple[float, float, float]) -> F64:
    """Repeat points of one stitch (stitches along, mm across, diameters up), a little unevenly."""
    one = np.array(points)
    number = np.arange(VARIANTS)
    out = np.tile(one, (VARIANTS, 1))
    out[:, 0] = (out[:, 0] + np.repeat(number, len(one))) * size.stitch_mm
    place = np.arange(len(out))
    off = 2.0 * np.stack([hash01(place, key, k) for k in (1, 2)], 1).astype(np.float64) - 1.0
    out[:, :2] += _WANDER * size.diameter_mm * off
    out[:, 2] *= size.diameter_mm
    return out


def _needle(size: Size, x: float, key: int, rise: float = 0.0) -> F64:
    """Needle thread: out of one hole, along the row, into the next."""
    high = _LIE + rise
    ends = ((0.0, x, _DEEP), (0.11, x, 0.3 * high - 0.15))
    return _run(
        size,
        key,
        *ends,
        (0.3, x, high),
        (0.5, x, high + 0.03),
        (0.7, x, high),
        (0.89, x, ends[1][2]),
    )


def _bars(size: Size, x: float, key: int) -> F64:
    """Needle loops on the inside: across the threads that pass through them, at every hole."""
    wide = 0.75 * size.diameter_mm
    return _run(
        size, key,
        (-0.02, x - wide, -0.7), (0.0, x, _OVER + 0.3), (0.02, x + wide, -0.7), (0.5, x, -2.0),
    )  # fmt: skip


def _zigzag(size: Size) -> list[F64]:
    """304: the needle thread goes from one side to the other and back."""
    half, out = 0.5 * size.gauge_mm, []
    for number in range(VARIANTS):
        side = half if number % 2 else -half
        for t, z in ((0.0, _DEEP), (0.1, 0.0), (0.3, _LIE), (0.5, _LIE), (0.7, _LIE), (0.9, 0.0)):
            out.append((number + t, side * (1.0 - 2.0 * t), z))
    points = np.array(out)
    points[:, 0] *= size.stitch_mm
    points[:, 2] *= size.diameter_mm
    return [points]


def _chain(size: Size, x: float = 0.0) -> list[F64]:
    """401 inside: each loop of the looper thread holds the next, a chain of links."""
    b = 1.15 * size.diameter_mm
    looper = _run(
        size, 401,
        (0.02, x, _OVER), (0.3, x + b, _LIE + 0.1), (0.75, x + 0.9 * b, _LIE + 0.1),
        (1.08, x + 0.4 * b, _OVER), (1.16, x, _OVER + 0.2), (1.08, x - 0.4 * b, _OVER),
        (0.75, x - 0.9 * b, _LIE + 0.1), (0.3, x - b, _LIE + 0.1), (0.12, x - 0.3 * b, 0.0),
        (0.5, x, -0.1),
    )  # fmt: skip
    return [looper, _bars(size, x, 402)]


def _rows(type_needles: tuple[float, ...], size: Size, rise: float = 0.0) -> list[F64]:
    """Needle threads side by side."""
    return [_needle(size, n * size.gauge_mm, 406 + k, rise) for k, n in enumerate(type_needles)]


def _net(type_needles: tuple[float, ...], size: Size) -> list[F64]:
    """Inside of the cover stitches: the looper goes over to the last needle and comes back."""
    d = size.diameter_mm
    a, b = type_needles[0] * size.gauge_mm, type_needles[-1] * size.gauge_mm
    looper = _run(
        size, 600,
        (0.0, a - 0.5 * d, _OVER), (0.14, a + d, _LIE + 0.1), (0.8, b - d, _LIE + 0.1),
        (0.98, b + 0.3 * d, _OVER), (1.12, b + 0.5 * d, _OVER), (1.12, b - d, _OVER),
        (1.0, 0.5 * (a + b), _LIE + 0.35), (0.9, a + d, _LIE + 0.3),
    )  # fmt: skip
    legs = [
        _run(size, 610 + k, (0.05, n * size.gauge_mm, _LIE + 0.25), (0.5, n * size.gauge_mm, _LIE))
        for k, n in enumerate(type_needles)
    ]
    return [
        looper,
        *legs,
        *(_bars(size, n * size.gauge_mm, 620 + k) for k, n in enumerate(type_needles)),
    ]


def _cover(type_needles: tuple[float, ...], size: Size) -> list[F64]:
    """Face of 602, 605, 607: needle rows hold down a thread laid from side to side and back."""
    half = 0.5 * size.gauge_mm + 1.3 * size.diameter_mm
    top = _run(
        size, 630,
        (-0.09, -half + 0.2 * size.diameter_mm, _LIE), (0.06, -half, _LIE + 0.05),
        (0.2, -0.75 * half, _LIE), (0.35, 0.75 * half, _LIE),
        (0.44, half, _LIE + 0.05), (0.59, half - 0.2 * size.diameter_mm, _LIE),
        (0.7, 0.75 * half, _LIE), (0.85, -0.75 * half, _LIE),
    )  # fmt: skip
    return [top, *_rows(type_needles, size, rise=_OVER)]


def _overedge(type_needles: tuple[float, ...], size: Size) -> list[F64]:
    """504, 514: needles hold a looper that goes to the edge and back; there another meets it."""
    d, edge = size.diameter_mm, 0.5 * size.gauge_mm
    inner = type_needles[0] * size.gauge_mm
    upper = _run(
        size, 504,
        (0.0, inner - 0.5 * d, _LIE), (0.12, inner + 0.3 * d, _LIE),
        (0.42, edge - 0.8 * d, _LIE), (0.5, edge + 0.3 * d, 0.0), (0.58, edge - 0.8 * d, _LIE),
        (0.88, inner + 0.3 * d, _LIE),
    )  # fmt: skip
    knots = _run(
        size, 505,
        (0.0, edge - 0.1 * d, 0.0), (0.25, edge - 0.35 * d, _LIE), (0.42, edge - 0.9 * d, _OVER),
        (0.5, edge - 1.0 * d, _OVER + 0.1), (0.58, edge - 0.9 * d, _OVER),
        (0.75, edge - 0.35 * d, _LIE),
    )  # fmt: skip
    return [upper, knots, *_rows(type_needles, size, rise=_OVER)]


def _safety(size: Size) -> list[F64]:
    """516: an overedge, and a two-thread chain further in."""
    return [*_overedge(_SAFETY[1:], size), _needle(size, _SAFETY[0] * size.gauge_mm, 516)]


def _safety_inside(size: Size) -> list[F64]:
    """516 from the looper's side: the chain shows its links."""
    return [*_overedge(_SAFETY[1:], size), *_chain(size, _SAFETY[0] * size.gauge_mm)]


def _for(
    paths: Callable[[tuple[float, ...], Size], list[F64]], needles: tuple[float, ...]
) -> Paths:
    return lambda size: paths(needles, size)


_TWO, _THREE, _FOUR = (-0.5, 0.5), (-0.5, 0.0, 0.5), (-0.5, -1.0 / 6.0, 1.0 / 6.0, 0.5)
_MOCK = (-0.5, -0.1)  # 514: 2.2 mm between needles of a 5.5 mm bite
_SAFETY = (-0.5, -0.125)  # 516: 3 mm between the chain and the overedge, 5 mm to the edge


def _covered(
    number: str, name: str, threads: int, needles: tuple[float, ...], mm: float
) -> StitchType:
    face, inside = _for(_cover, needles), _for(_net, needles)
    return StitchType(
        number=number,
        name=name,
        threads=threads,
        needles=needles,
        gauge_mm=mm,
        face=face,
        inside=inside,
    )


# Gauges: 4.8 to 6.4 mm (3/16 to 1/4 in) for two and three needles, 5.2 to 6 mm for four, 3 to
# 5 mm bite of an overedge: common practice, from memory. 304: 4 mm, the usual zigzag.
STITCHES: Mapping[str, StitchType] = MappingProxyType(
    {
        each.number: each
        for each in (
            StitchType(number="301", name="lockstitch", threads=2),
            StitchType(number="304", name="zigzag lockstitch", threads=2, needles=_TWO,
                       gauge_mm=4.0, face=_zigzag, inside=_zigzag),
            StitchType(number="401", name="two-thread chainstitch", threads=2, inside=_chain),
            StitchType(number="406", name="two-needle cover stitch", threads=3, needles=_TWO,
                       gauge_mm=5.6, face=_for(_rows, _TWO), inside=_for(_net, _TWO)),
            StitchType(number="504", name="three-thread overedge", threads=3, needles=(-0.5,),
                       gauge_mm=4.0, edge=True,
                       face=_for(_overedge, (-0.5,)), inside=_for(_overedge, (-0.5,))),
            StitchType(number="514", name="four-thread overedge", threads=4, needles=_MOCK,
                       gauge_mm=5.5, edge=True,
                       face=_for(_overedge, _MOCK), inside=_for(_overedge, _MOCK)),
            StitchType(number="516", name="five-thread safety stitch", threads=5, needles=_SAFETY,
                       gauge_mm=8.0, edge=True, face=_safety, inside=_safety_inside),
            _covered("602", "two-needle covering stitch", 4, _TWO, 5.6),
            _covered("605", "three-needle covering stitch", 5, _THREE, 5.6),
            _covered("607", "four-needle flat seaming", 6, _FOUR, 5.6),
        )
    }
)  # fmt: skip


def plain(number: str, inside: bool) -> bool:
    """Say whether a stitch looks like lockstitch: one straight row."""
    kind = STITCHES[number]
    return (kind.inside if inside else kind.face) is None


def picture(number: str, size: Size, *, inside: bool) -> Picture | None:
    """Return the threads of a stitch; None where it looks like lockstitch."""
    kind = STITCHES[number]
    paths = kind.inside if inside else kind.face
    if paths is None:
        return None
    strands = tuple(paths(size))
    most = max(float(np.abs(points[:, 1]).max()) for points in strands)
    return Picture(
        strands=strands, holes=_holes(kind, size), half_mm=most + _MARGIN * size.diameter_mm
    )


def _holes(kind: StitchType, size: Size) -> F64:
    """Needle holes: one per needle and stitch; of a zigzag, sides in turn."""
    number: I64 = np.arange(VARIANTS)
    if kind.number == "304":
        across = np.where(number % 2, 0.5, -0.5) * size.gauge_mm
        return np.stack([number * size.stitch_mm, across], 1)
    pairs = [(s * size.stitch_mm, n * size.gauge_mm) for n in kind.needles for s in number.tolist()]
    return np.array(pairs)


def stitches(
    number: str, inside: bool, diameter_mm: float, stitch_mm: float, gauge_mm: float
) -> Plane:
    """Draw a stitch type into a table of running sums; see ``drawing.table``."""
    size = Size(diameter_mm=diameter_mm, stitch_mm=stitch_mm, gauge_mm=gauge_mm)
    seen = picture(number, size, inside=inside)
    if seen is None:
        return stitch301.stitches(diameter_mm, stitch_mm)
    along = strand.cells(diameter_mm, stitch_mm, MAX_CELLS)
    across = strand.cells(diameter_mm, 2.0 * seen.half_mm, 4 * MAX_CELLS)
    drawn = strand.draw(seen, diameter_mm, stitch_mm, along, across)
    return table(drawn, seen.half_mm, stitch_mm)
