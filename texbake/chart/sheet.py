"""The UV layout measured for drawing: borders, places for labels, and seams, all in pixels.

Pixels have their origin at the top left, y down, as pictures have. Everything is float64; nothing
here draws.
"""

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np

from texbake.advice import face_areas
from texbake.arrays import F64, I32, I64, Bool
from texbake.chart.uvmap import corners_of, side_uv, up_in_uv, uv_map
from texbake.garment.values import Chain, Garment

Part = tuple[int, int]  # numbers of an island and of a panel on it

# UVs nearer than this are one place; exporters write six digits.
SAME_UV = 1e-7
# How much nearer to the middle of its island a label wants to be: px of room given up per px.
CENTRED = 0.12


@dataclass(frozen=True, slots=True, kw_only=True)
class Square:
    """Where the UV square lies in the picture: its left, top and side, px."""

    left: float
    top: float
    side: float

    def px(self, uv: F64) -> F64:
        """Turn UVs (..., 2) into pixels."""
        x = self.left + uv[..., 0] * self.side
        y = self.top + (1.0 - uv[..., 1]) * self.side
        return np.stack([x, y], axis=-1)


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Wires:
    """The edges to draw under everything else.

    Attributes
    ----------
    inner : (E, 2) int64
        Half-edges' corners (3 * face + corner) at both ends, each inner edge once; diagonals of
        the file's polygons are left out.
    rim : (E, 2) int64
        The same of island borders.
    """

    inner: I64
    rim: I64


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Spot:
    """Where there is room on an island, or on a panel's part of one that several share.

    Attributes
    ----------
    island, panel : int
    middle : (2,) float64
        Pixel.
    room_px : float
        Radius of the circle round it that lies in the island.
    up : (2,) float64
        The grain there: a unit vector in pixels.
    run_px : float
        How far the island reaches along the grain, to the nearer side.
    """

    island: int
    panel: int
    middle: F64
    room_px: float
    up: F64
    run_px: float

    @property
    def part(self) -> Part:
        """Island and panel."""
        return self.island, self.panel


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Run:
    """One side of a chain, unbroken in UV.

    Attributes
    ----------
    kind : 'seam', 'hem' or 'cut'
    chain : int
    island, panel : int
    line : (N, 2) float64
        Pixels.
    inward : (N, 2) float64
        Unit vectors into the island at each point.
    """

    kind: Literal["seam", "hem", "cut"]
    chain: int
    island: int
    panel: int
    line: F64
    inward: F64

    @property
    def part(self) -> Part:
        """Island and panel."""
        return self.island, self.panel

    @property
    def length_px(self) -> float:
        """Length of the line."""
        return float(np.hypot(*np.diff(self.line, axis=0).T).sum())

    def inset(self, px: float) -> F64:
        """Return the line moved into the island."""
        return self.line + px * self.inward


def wires(garment: Garment) -> Wires:
    """Find island borders and the edges between the file's polygons."""
    faces = np.flatnonzero(garment.panel >= 0)
    place = np.concatenate(
        [garment.weld[faces].reshape(-1, 1), _whole(garment.mesh.uv[faces].reshape(-1, 2))], axis=1
    )
    place = np.concatenate([place, np.repeat(garment.island[faces], 3)[:, None]], axis=1)
    vertex = np.unique(place, axis=0, return_inverse=True)[1].reshape(-1, 3)
    ends = np.stack([vertex, np.roll(vertex, -1, axis=1)], axis=2).reshape(-1, 2)
    order = np.arange(len(ends))
    corner = np.stack([order, order - order % 3 + (order + 1) % 3], axis=1)
    corner = faces[corner // 3] * 3 + corner % 3
    _, first, edge, count = np.unique(
        np.sort(ends, axis=1), axis=0, return_index=True, return_inverse=True, return_counts=True
    )
    polygon = np.repeat(garment.mesh.polygon[faces], 3)
    mixed = np.zeros(len(first), np.bool_)
    mixed[edge.ravel()[polygon != polygon[first][edge.ravel()]]] = True
    return Wires(inner=corner[first[mixed & (count > 1)]], rim=corner[first[count == 1]])


def _whole(uv: F64) -> I64:
    return np.asarray(np.rint(uv / SAME_UV).astype(np.int64))


def island_picture(
    garment: Garment, square: Square, shape: tuple[int, int], number: I32 | None = None
) -> I32:
    """Paint the number of the island at each pixel; -1 for none. (H, W) int32.

    Another ``number`` of each face (F,) may be painted instead.

    Of islands that lie on each other the one with the lower face wins, as in the bake.
    """
    from PIL import Image, ImageDraw

    image = Image.new("I", (shape[1], shape[0]), -1)
    draw = ImageDraw.Draw(image)
    number = garment.island if number is None else number
    corners = square.px(garment.mesh.uv)
    for face in np.flatnonzero(garment.panel >= 0)[::-1].tolist():  # 24,000 faces: 0.1 s
        draw.polygon([*corners[face].ravel().tolist()], fill=int(number[face]))
    return np.asarray(image, np.int32)


def spots(garment: Garment, square: Square, shape: tuple[int, int]) -> list[Spot]:
    """Find the roomiest place of every part that can be seen, in the order of islands."""
    from scipy import ndimage

    names, part = _parts(garment)
    seen = island_picture(garment, square, shape, part)
    room = ndimage.distance_transform_edt(np.pad(_interior(seen), 1))[1:-1, 1:-1]
    numbers = np.unique(seen[seen >= 0])
    if not len(numbers):
        return []
    centre = np.array(ndimage.center_of_mass(seen >= 0, seen, numbers))
    of = np.zeros((int(numbers.max()) + 1, 2))
    of[numbers] = centre
    row, column = np.ogrid[: seen.shape[0], : seen.shape[1]]
    away = np.hypot(row - of[seen, 0], column - of[seen, 1])
    best = ndimage.maximum_position(room - CENTRED * away, seen, numbers)
    grain = _grain(garment, part)
    return [
        _spot(seen, room, names[number], number, (int(at[0]), int(at[1])), grain[number])
        for number, at in zip(numbers.tolist(), best, strict=True)
    ]


def _parts(garment: Garment) -> tuple[list[Part], I32]:
    """Return every part, in the order of islands, and which of them each face (F,) is of."""
    worn = garment.panel >= 0
    pair = np.stack([garment.island[worn], garment.panel[worn]], axis=1)
    names, of = np.unique(pair, axis=0, return_inverse=True)
    part = np.full(len(worn), -1, np.int32)
    part[worn] = of.ravel()
    return [(island, panel) for island, panel in names.tolist()], part


def _interior(seen: I32) -> Bool:
    """Tell the pixels (H, W) whose four neighbours are of the same part."""
    inside = seen >= 0
    inside[1:] &= seen[1:] == seen[:-1]
    inside[:-1] &= seen[1:] == seen[:-1]
    inside[:, 1:] &= seen[:, 1:] == seen[:, :-1]
    inside[:, :-1] &= seen[:, 1:] == seen[:, :-1]
    return inside


def _grain(garment: Garment, part: I32) -> dict[int, F64]:
    """Return the grain in pixels of every part."""
    to_uv, area = uv_map(garment), face_areas(garment)
    out = {}
    for number in np.unique(part[part >= 0]).tolist():
        faces = np.flatnonzero(part == number)
        up = up_in_uv(to_uv.by_y[faces], area[faces])
        out[number] = np.array([up[0], -up[1]])
    return out


def _spot(seen: I32, room: F64, part: Part, number: int, at: tuple[int, int], up: F64) -> Spot:
    row, column = at
    middle = np.array([column + 0.5, row + 0.5])
    run = min(_reach(seen, number, middle, up), _reach(seen, number, middle, -up))
    return Spot(
        island=part[0],
        panel=part[1],
        middle=middle,
        room_px=float(room[row, column]),
        up=up,
        run_px=run,
    )


def _reach(seen: I32, number: int, start: F64, direction: F64) -> float:
    """How far one can go from a pixel before the part ends."""
    most = math.hypot(*seen.shape)
    step = np.arange(1.0, most)
    way = np.floor(start + step[:, None] * direction).astype(np.int64)
    column, row = way.T
    inside = (row >= 0) & (row < seen.shape[0]) & (column >= 0) & (column < seen.shape[1])
    same = seen[np.where(inside, row, 0), np.where(inside, column, 0)] == number
    ends = np.flatnonzero(~(inside & same))
    return float(step[ends[0]]) - 1.0 if len(ends) else most


def runs(garment: Garment, square: Square) -> list[Run]:
    """Cut both sides of every chain where it jumps in UV."""
    out: list[Run] = []
    for index, chain in enumerate(garment.chains):
        for side in (0, 1):
            if len(chain.face[side]):
                out += _side_runs(garment, square, chain, index, side)
    return out


def _side_runs(garment: Garment, square: Square, chain: Chain, index: int, side: int) -> list[Run]:
    """Runs of one side: edges that follow each other in UV become one line."""
    face = chain.face[side]
    edge, third = side_uv(garment, face, corners_of(garment, chain, side))
    px, inner = square.px(edge), square.px(third)
    normal = _inward(px, inner)
    gap = np.abs(edge[1:, 0] - edge[:-1, 1]).max(axis=1, initial=0.0) > SAME_UV
    island = garment.island[face]
    start = np.flatnonzero(np.concatenate([[True], gap | (island[1:] != island[:-1])]))
    stop = [*start[1:].tolist(), len(face)]
    return [
        Run(
            kind=chain.kind,
            chain=index,
            island=int(island[a]),
            panel=int(garment.panel[face[a]]),
            line=np.concatenate([px[a:b, 0], px[b - 1 : b, 1]]),
            inward=_joined(normal[a:b], closed=bool((px[a, 0] == px[b - 1, 1]).all())),
        )
        for a, b in zip(start.tolist(), stop, strict=True)
    ]


def _inward(px: F64, inner: F64) -> F64:
    """Unit normals (E, 2) of edges towards the third corner of their faces."""
    along = px[:, 1] - px[:, 0]
    normal = np.stack([-along[:, 1], along[:, 0]], axis=1)
    length = np.maximum(np.hypot(normal[:, 0], normal[:, 1]), 1e-12)
    towards = np.where(((inner - px[:, 0]) * normal).sum(axis=1) < 0, -1.0, 1.0)
    return np.asarray(normal * (towards / length)[:, None])


def _joined(normal: F64, *, closed: bool) -> F64:
    """Normals at the points of a line (N + 1, 2) from those of its edges, mitred at bends."""
    before = np.concatenate([normal[-1:] if closed else normal[:1], normal])
    after = np.concatenate([normal, normal[:1] if closed else normal[-1:]])
    both = before + after
    square = np.maximum((both * both).sum(axis=1), 1.0)  # no more than twice the inset
    return np.asarray(both * (2.0 / square)[:, None])
