"""Every map as a small picture with its name, and the UV outline over it.

What lies between the islands is there for filters, not for eyes: it is left blank. Height uses a
small part of its range, which is spread from black to white and told.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

import numpy as np

from texbake.arrays import F32, U8, U16
from texbake.chart import look
from texbake.chart.sheet import Square, wires
from texbake.garment.values import Garment
from texbake.maps import MapArrays, to_eight
from texbake.sheet import shrink

TILE_PX: Final = 512
_FINE: Final = 4  # stencils are drawn so many times larger, then reduced
_OUTLINE_PX: Final = 1.25
_FAINT: Final = 0.55
_BRIGHT: Final = 120  # on tiles brighter than this the outline is dark
_TAIL: Final = 2.0  # per cent of texels darker, and brighter, than what is spread
_HOLLOW: Final = 0.4  # room for hollows, as a share of what stands out of the cloth


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Tile:
    """One map on the sheet.

    Attributes
    ----------
    name : str
    said : str
        Size, depth and colour space.
    meaning : str
        How its numbers are to be read.
    picture : (TILE_PX, TILE_PX, 3) uint8
    """

    name: str
    said: str
    meaning: str
    picture: U8


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Stencil:
    """Where the islands lie on a tile: shares of each pixel, 0 to 1.

    Attributes
    ----------
    outline : (N, N) float32
        Ink of the islands' borders.
    cover : (N, N) float32
        Islands.
    """

    outline: F32
    cover: F32


def stencil_of(garment: Garment, size_px: int = TILE_PX) -> Stencil:
    """Draw the islands and their borders at the size of a tile."""
    from PIL import Image, ImageDraw

    side = size_px * _FINE
    corners = Square(left=0.0, top=0.0, side=float(side)).px(garment.mesh.uv)
    islands, borders = (Image.new("L", (side, side), 0) for _ in range(2))
    draw = ImageDraw.Draw(islands)
    for face in corners[garment.panel >= 0].reshape(-1, 6).tolist():  # 24,000 faces: 0.1 s
        draw.polygon(face, fill=255, outline=255)
    draw = ImageDraw.Draw(borders)
    for edge in corners.reshape(-1, 2)[wires(garment).rim].reshape(-1, 4).tolist():
        draw.line(edge, fill=255, width=round(_OUTLINE_PX * _FINE))
    cover, outline = (
        np.asarray(image.reduce(_FINE), np.float32) * np.float32(1.0 / 255.0)
        for image in (islands, borders)
    )
    return Stencil(outline=outline, cover=cover)


def tiles(maps: MapArrays, stencil: Stencil) -> Iterator[Tile]:
    """Make the tiles of all maps, in the order of the sheet.

    Parameters
    ----------
    maps : MapArrays
        Sizes are powers of two.
    stencil : Stencil
        Of `TILE_PX`, as from `stencil_of`.
    """
    size = TILE_PX
    up = shrink.vectors(maps.normal_up, size)
    down = up.copy()
    down[..., 1] = 255 - up[..., 1]
    light = shrink.light(to_eight(maps.albedo), size)
    seen, span = _spread(shrink.numbers(maps.height, size), stencil.cover, maps)
    rows: tuple[tuple[str, U8 | U16, U8, str], ...] = (
        (
            "albedo",
            maps.albedo,
            light,
            "base colour, no light or shadow",
        ),
        (
            "roughness",
            maps.roughness,
            shrink.grey(shrink.roughness(maps, size)),
            "black smooth, white rough",
        ),
        (
            "metal",
            maps.metal,
            shrink.grey(shrink.numbers(maps.metal, size)),
            "black cloth, white metal",
        ),
        (
            "occlusion",
            maps.occlusion,
            shrink.grey(shrink.numbers(maps.occlusion, size)),
            "white open, dark in hollows",
        ),
        ("normal-up", maps.normal_up, up, "green up: glTF 2.0, OpenGL"),
        ("normal-down", maps.normal_up, down, "green down: DirectX"),
        ("height", maps.height, seen, span),
    )
    for name, image, picture, meaning in rows:
        space = "sRGB" if name == "albedo" else "linear"
        yield Tile(
            name=name,
            said=_said(image, space),
            meaning=meaning,
            picture=_stencilled(picture, stencil),
        )


def _said(image: U8 | U16, space: str) -> str:
    """Size, depth and colour space of a map."""
    height, width = image.shape[:2]
    channels = "3 x " if image.ndim == 3 else ""
    return f"{width} x {height} px, {channels}{image.itemsize * 8} bits, {space}"


def _spread(shares: F32, cover: F32, maps: MapArrays) -> tuple[U8, str]:
    """Spread the heights of the islands from black to white; say what they are in mm.

    Most of a garment is plain cloth at one height, which comes out grey: hollows are seen too.
    """
    inside = shares[cover > 0.5]
    if not inside.size:
        inside = shares.ravel()
    ends = (_TAIL, 50.0, 100.0 - _TAIL)
    low, plain, high = (float(np.percentile(inside, at, method="nearest")) for at in ends)
    low = max(0.0, min(low, plain - _HOLLOW * (high - plain)))
    picture = shrink.grey((shares - low) * (1.0 / max(high - low, 1e-6)))
    lo, hi = maps.height_lo_mm, maps.height_hi_mm
    seen = " to ".join(f"{lo + (hi - lo) * share:.2f}" for share in (low, high))
    return picture, f"full scale {lo:.2f} to {hi:.2f} mm; seen here {seen} mm"


def _stencilled(picture: U8, stencil: Stencil) -> U8:
    """Blank what lies between the islands, and draw their borders: dark on bright, or white."""
    out = picture.astype(np.float32)
    inside = out[stencil.cover > 0.5]
    bright = inside.size > 0 and float(inside.mean()) > _BRIGHT
    ink = look.NAVY if bright else look.WHITE
    for colour, share in (
        (look.GRID, 1.0 - stencil.cover),
        (ink, stencil.outline * stencil.cover * _FAINT),
    ):
        out += (np.array(colour, np.float32) - out) * share[..., None]
    return (out + 0.5).astype(np.uint8)
