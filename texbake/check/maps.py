"""What the texels of a set's maps say, a band of rows at a time.

Only texels that an island covers count: gutter and background belong to nobody. Codes are counted
before they are turned into light, so sums are whole numbers and exact in any order.
"""

import math
from dataclasses import dataclass
from pathlib import Path
from threading import Lock
from typing import Any

import numpy as np
from numpy.typing import NDArray

from texbake.arrays import F64, I32, I64, Bool, bands
from texbake.colour import srgb_decode
from texbake.convert.pictures import read_picture
from texbake.errors import UserError
from texbake.garment.values import Garment
from texbake.layout import lay_out
from texbake.view.read import read_png

BAND_TEXELS = 1 << 19
# Luminance of linear sRGB (IEC 61966-2-1:1999).
LUMINANCE = (0.2126, 0.7152, 0.0722)
METAL = 128  # codes from here on are metal, which may have any colour


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Cover:
    """Which texels count, and of which panel they are.

    Attributes
    ----------
    panel : (H, W) int32
        -1 for background.
    count : int
        Panels of the garment.
    """

    panel: I32
    count: int

    @property
    def rows(self) -> int:
        """Rows to a band."""
        return max(1, BAND_TEXELS // len(self.panel))


class Covers:
    """The covers of one garment at every size that its maps have, each worked out once."""

    def __init__(self, garment: Garment) -> None:
        self.garment, self.known = garment, dict[int, Cover]()
        self.one_at_a_time = Lock()

    def at(self, size_px: int) -> Cover:
        """Return the cover of one size."""
        with self.one_at_a_time:
            if size_px not in self.known:
                self.known[size_px] = cover_of(self.garment, size_px)
            return self.known[size_px]


def cover_of(garment: Garment, size_px: int) -> Cover:
    """Say which texels are of which panel."""
    face = lay_out(garment, size_px, gutter_px=0).face
    panel = np.append(garment.panel, np.int32(-1))  # face -1, background, reads the last
    return Cover(panel=panel[face], count=len(garment.panels))


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Albedo:
    """Mean colour of each panel, (P, 3) float64 in linear light, NaN for one without texels; and
    shares of the dielectric texels under and over the limits, with the extremes met.
    """

    mean: F64
    under: float
    over: float
    darkest: float
    lightest: float


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Normals:
    """Most that a length is off 1, and how far the mean of all normals leans, radians.

    Single panels may lean, where one hem or crease is most of them; a sheet of many does not.
    """

    off: float
    tilt_rad: float


def read_map(path: Path, size_px: int) -> NDArray[Any]:
    """Read a map that must be square and of one size.

    Raises
    ------
    UserError
        If it is damaged, or of another size.
    """
    image = read_picture(path).samples if path.suffix == ".tif" else read_png(path)
    if image.shape[:2] != (size_px, size_px):
        what = f"the map is {image.shape[1]} x {image.shape[0]} px, its record says {size_px}"
        raise UserError(what, fix="bake the recipe again", path=path)
    return image


def albedo(
    image: NDArray[Any], metal: NDArray[Any] | None, cover: Cover, low: float, high: float
) -> Albedo:
    """Measure an albedo map.

    Parameters
    ----------
    image : (H, W, 3) uint8
        sRGB.
    metal : (H, W) uint8 or None
        None: nothing is metal.
    cover : Cover
    low, high : float
        Luminance that dielectrics have.
    """
    light = srgb_decode(np.arange(256, dtype=np.float64) / 255.0)
    parts = [(light * share).astype(np.float32) for share in LUMINANCE]
    counts = np.zeros((3, cover.count * 256), np.int64)
    under = over = texels = 0
    darkest, lightest = np.inf, -np.inf
    for band in bands(len(image), cover.rows):
        inside = cover.panel[band] >= 0
        panel, codes = cover.panel[band][inside], image[band][inside]
        counts += _counts(panel, codes, cover.count)
        if metal is not None:
            codes = codes[metal[band][inside] < METAL]
        if len(codes):
            luminance = sum(part[codes[:, k]] for k, part in enumerate(parts))
            under += int(np.count_nonzero(luminance < low))
            over += int(np.count_nonzero(luminance > high))
            texels += len(codes)
            darkest = min(darkest, float(np.min(luminance)))
            lightest = max(lightest, float(np.max(luminance)))
    each = counts.reshape(3, cover.count, 256)
    return Albedo(
        mean=_means(each, light),
        under=under / max(texels, 1),
        over=over / max(texels, 1),
        darkest=darkest,
        lightest=lightest,
    )


def normals(image: NDArray[Any], cover: Cover) -> Normals:
    """Measure a normal map, (H, W, 3) uint8 or uint16, of either convention."""
    top = float(np.iinfo(image.dtype).max)
    total, off = np.zeros(3), 0.0
    for band in bands(len(image), cover.rows):
        vector = image[band][cover.panel[band] >= 0].astype(np.float32)
        vector *= 2.0 / top
        vector -= 1.0
        if len(vector):
            length = np.sqrt(np.einsum("ij,ij->i", vector, vector))
            off = max(off, float(np.max(np.abs(length - 1.0))))
            total += vector.sum(axis=0, dtype=np.float64)
    return Normals(off=off, tilt_rad=math.atan2(math.hypot(total[0], total[1]), total[2]))


def height_used(image: NDArray[Any], cover: Cover) -> float:
    """Share of the codes between a height map's lowest and highest texel."""
    low, high = np.inf, -np.inf
    for band in bands(len(image), cover.rows):
        codes = image[band][cover.panel[band] >= 0]
        if len(codes):
            low, high = min(low, float(codes.min())), max(high, float(codes.max()))
    return max(high - low, 0.0) / float(np.iinfo(image.dtype).max)


def _counts(panel: I32, codes: NDArray[np.uint8], panels: int) -> I64:
    """How often each panel has each code, per channel. (3, panels * 256)."""
    start = panel.astype(np.int64) * 256
    return np.stack([np.bincount(start + codes[:, k], minlength=panels * 256) for k in range(3)])


def _means(counts: I64, light: F64) -> F64:
    """Mean light of each panel. (P, 3)."""
    total: F64 = counts.sum(axis=2).astype(np.float64)
    empty: Bool = total == 0
    mean = (counts * light).sum(axis=2) / np.where(empty, np.nan, total)
    return np.asarray(mean.T)
