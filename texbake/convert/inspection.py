"""What a normal map tells of itself: its convention, its lengths, whether it wraps.

The slopes of a height have no curl: how the slope across changes downwards is how the slope
down changes across. With green the wrong way up the two have opposite signs. So the sign of their
correlation tells the convention, if the relief has any parts that are not straight along the
axes. A map whose red is turned over as well is that of hollows for hills: no map can tell that.
"""

import math
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from texbake.arrays import F32, F64, bands
from texbake.convert.integrate import slopes_of
from texbake.convert.values import Green, white_of

_ROWS: Final = 64
_PIXELS: Final = 1 << 22
_STEEP: Final = 4.0  # steeper slopes would outvote all others
_AGREE: Final = 0.05  # correlation from which on it tells
_SURE: Final = 8.0  # and that many standard errors
_SCALES: Final = (1, 4, 16)  # texels to a side of what is compared: rounding hides gentle slopes
_LIKE: Final = 1.25  # times the jump that two in a hundred neighbours inside exceed


@dataclass(frozen=True, slots=True, kw_only=True)
class Inspection:
    """What was found in a normal map.

    Attributes
    ----------
    width_px, height_px : int
    bits : int
        8, 16 or 32.
    green : 'up', 'down' or None
        The convention in which it is a height's; None if it cannot be told.
    agreement : float
        The correlation that says so: 1 is a height's with green up, -1 with green down.
    mean : tuple of 3 float
        The mean vector.
    length_mean, length_worst : float
        How far lengths are from 1: mean of the amount, and the greatest.
    off_share : float
        Texels whose length is off by more than rounding could make it, 0.87 of a step.
    steepest_deg : float
    clipped_share : float
        Texels whose red or green is at an end of its range, or whose blue is not over the middle.
    flat_share : float
        Texels that point straight out.
    wraps_across, wraps_down : bool
    jump_across, jump_down : float
        The difference across the border over what two in a hundred inside exceed.
    """

    width_px: int
    height_px: int
    bits: int
    green: Green | None
    agreement: float
    mean: tuple[float, float, float]
    length_mean: float
    length_worst: float
    off_share: float
    steepest_deg: float
    clipped_share: float
    flat_share: float
    wraps_across: bool
    wraps_down: bool
    jump_across: float
    jump_down: float

    @property
    def tilt_deg(self) -> float:
        """The angle of the mean vector to straight out."""
        return math.degrees(math.atan2(math.hypot(*self.mean[:2]), self.mean[2]))

    def as_json(self, path: Path) -> dict[str, Any]:
        """Return all of it by name, for JSON."""
        return {"source": path.as_posix(), **asdict(self), "tilt_deg": self.tilt_deg}


def inspect(normal: NDArray[Any]) -> Inspection:
    """Look at a normal map.

    Parameters
    ----------
    normal : (H, W, 3) uint8, uint16 or float32
        Codes, or vectors.

    Returns
    -------
    Inspection

    Raises
    ------
    ValueError
        If the shape or the type is another.
    """
    slopes_of(normal[:1], "up")  # raises what there is to raise
    agreement, errors = _agreement(normal)
    told = abs(agreement) >= _AGREE and errors >= _SURE
    lengths = _lengths(normal)
    across, down = border_jumps(normal)
    return Inspection(
        width_px=normal.shape[1],
        height_px=normal.shape[0],
        bits=normal.itemsize * 8,
        green=None if not told else "up" if agreement > 0.0 else "down",
        agreement=agreement,
        **lengths,
        wraps_across=across <= _LIKE,
        wraps_down=down <= _LIKE,
        jump_across=across,
        jump_down=down,
    )


def _agreement(normal: NDArray[Any]) -> tuple[float, float]:
    """Return the correlation of the two mixed derivatives, and over how many standard errors.

    At the scale that tells most.
    """
    sums: F64 = np.zeros((len(_SCALES), 3))
    for band in bands(len(normal), _ROWS):
        slopes = slopes_of(normal[band], "up")
        for part in slopes:
            np.clip(part, -_STEEP, _STEEP, out=part)
        sums += [_products(*(_reduced(part, scale) for part in slopes)) for scale in _SCALES]
    product, square, spread = sums.T
    errors = np.abs(product) / np.sqrt(np.maximum(spread, 1e-300))
    best = int(errors.argmax())
    return float(2.0 * product[best] / max(square[best], 1e-300)), float(errors[best])


def _reduced(part: F32, scale: int) -> F32:
    """Return the means over squares of ``scale`` texels; what is left over is left out."""
    rows, columns = part.shape[0] // scale, part.shape[1] // scale
    square = part[: rows * scale, : columns * scale].reshape(rows, scale, columns, scale)
    mean: F32 = square.mean(axis=(1, 3))
    return mean


def _products(across: F32, down: F32) -> F64:
    """Return the sums of the mixed derivatives' products, squares, and products squared."""
    if min(across.shape) < 2:
        return np.zeros(3)
    first, second = (part.astype(np.float64) for part in _mixed(across, down))
    both = first * second
    squares = (first * first).sum() + (second * second).sum()
    return np.array([both.sum(), squares, (both * both).sum()])


def _mixed(across: F32, down: F32) -> tuple[F32, F32]:
    """Return how slopes across change downwards, and those down change across, between texels."""
    first = across[1:] - across[:-1]
    second = down[:, 1:] - down[:, :-1]
    # Each is the mean over the same four texels.
    return first[:, 1:] + first[:, :-1], second[1:] + second[:-1]


def _lengths(normal: NDArray[Any]) -> dict[str, Any]:
    """Return what is to be said of single vectors, by the names of `Inspection`'s fields."""
    codes = normal.dtype.kind == "u"
    half = white_of(normal) / 2.0 if codes else 1.0
    total: F64 = np.zeros(3)
    off_total = worst = steepest = 0.0
    counts: NDArray[np.int64] = np.zeros(3, np.int64)
    limit = math.sqrt(3.0) / 2.0 / half + 1e-6 if codes else 1e-3
    level = 1.0 / half if codes else 1e-6  # the codes on both sides of 0
    for band in bands(len(normal), _ROWS):
        vector = normal[band].astype(np.float64)
        if codes:
            vector -= half
        vector /= half
        length = np.sqrt((vector * vector).sum(axis=2))
        off = np.abs(length - 1.0)
        off_total, worst = off_total + float(off.sum()), max(worst, float(off.max()))
        sides = np.abs(vector[..., :2]).max(axis=2)
        vector[sides < level, :2] = 0.0
        total += vector.reshape(-1, 3).sum(axis=0)
        side = np.hypot(vector[..., 0], vector[..., 1])
        steepest = max(steepest, float(np.arctan2(side, vector[..., 2]).max()))
        counts += [
            np.count_nonzero(off > limit),
            np.count_nonzero((sides >= 1.0) | (vector[..., 2] <= 0.0)),
            np.count_nonzero(sides < level),
        ]
    size = normal.shape[0] * normal.shape[1]
    mean = total / size
    return {
        "mean": (float(mean[0]), float(mean[1]), float(mean[2])),
        "length_mean": off_total / size,
        "length_worst": worst,
        "off_share": int(counts[0]) / size,
        "steepest_deg": math.degrees(steepest),
        "clipped_share": int(counts[1]) / size,
        "flat_share": int(counts[2]) / size,
    }


def border_jumps(image: NDArray[Any]) -> tuple[float, float]:
    """Return how much opposite borders differ, as measured by neighbours inside.

    Parameters
    ----------
    image : (H, W) or (H, W, C) uint8, uint16 or float32
        Large pictures are looked at in parts.

    Returns
    -------
    across, down : float
        The root mean square difference of the last and the first column (row), over that which
        two in a hundred neighbouring columns (rows) exceed, or over one code if that is more.
    """
    flat = image if image.ndim == 3 else image[..., None]
    every = max(1, math.ceil(image.shape[0] * image.shape[1] / _PIXELS))
    parts = [flat[band] for band in bands(len(flat), _ROWS)][::every]
    columns = np.sum([_squares(part, part.shape[1], axis=1) for part in parts], axis=0)
    rows = np.concatenate([_squares(part, len(part) - 1, axis=0) for part in parts])
    ends = _squares(flat[[-1, 0]], 1, axis=0)
    size = sum(len(part) for part in parts) * flat.shape[2]
    least = 1.0 if image.dtype.kind == "u" else 1e-3
    across = _ratio(columns[:-1] / size, columns[-1] / size, least)
    return across, _ratio(rows / flat[0].size, ends[0] / flat[0].size, least)


def _squares(part: NDArray[Any], pairs: int, *, axis: int) -> F64:
    """Return the summed squared differences of neighbouring rows or columns; the last to the first.

    Only the first ``pairs`` are returned, of as many pairs as there are rows or columns.
    """
    values = part.astype(np.float32)
    step = np.roll(values, -1, axis=axis)
    step -= values
    total: F64 = np.square(step, dtype=np.float64).sum(axis=(1 - axis, 2))
    return total[:pairs]


def _ratio(inside: F64, border: float, least: float) -> float:
    """Return the root of the border's square, over the root that few inside exceed."""
    usual = math.sqrt(float(np.percentile(inside, 98.0))) if inside.size else 0.0
    return math.sqrt(float(border)) / max(usual, least)
