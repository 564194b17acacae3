"""From a picture's codes to what can be averaged, and back.

Colour is averaged in linear light, weighted by its alpha where it has one: what is transparent
counts next to nothing (a ten-thousandth, so that hidden colours stay what they are). Data is
averaged as it is, every channel for itself. Normals are averaged as vectors, green up.

Rounding half up never gives a flat normal's code back for its opposite: 128 stands for 0.004, and
-0.004 is 127. So a normal map's own flat code is taken as zero, 127 or 128 (of green-down maps
mostly 127), whichever it has more of. That turns vectors by 0.2 degrees at 8 bits at most, which is
less than half a code, and flat cloth stays flat.
"""

from dataclasses import dataclass
from typing import Final, Literal

import numpy as np

from texbake.arrays import F32, U8, U16, bands
from texbake.colour import srgb_decode, srgb_encode

Kind = Literal["colour", "data", "normal"]
Green = Literal["up", "down"]

HIDDEN: Final = 1e-4
_SAMPLE_ROWS: Final = 256


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Coding:
    """How a picture's codes are to be understood.

    Attributes
    ----------
    kind : 'colour', 'data' or 'normal'
    top : int
        The greatest code, 255 or 65535.
    alpha : bool
        The last channel of a colour picture is its alpha.
    zero : (float, float)
        Of normals: the codes of red and green that are flat, green turned up.
    green : 'up' or 'down'
        Of normals.
    table : (top + 1,) float32
        Value of each code of colour or data.
    """

    kind: Kind
    top: int
    alpha: bool
    zero: tuple[float, float]
    green: Green
    table: F32


def coding_of(samples: U8 | U16, kind: Kind, *, green: Green = "up") -> Coding:
    """Say how a picture is coded.

    Parameters
    ----------
    samples : (H, W, C) uint8 or uint16
        C is 1 to 4; 2 and 4 are with alpha, if it is colour. Normals have 3.
    kind, green
        Green up or down, of normals.
    """
    top = 65535 if samples.dtype == np.uint16 else 255
    value = np.arange(top + 1, dtype=np.float64) / top
    if kind == "colour":
        value = srgb_decode(value)
    zero = (0.5 * top, 0.5 * top)
    if kind == "normal":
        red = _flat_code(samples[..., 0], top)
        stored = _flat_code(samples[..., 1], top, other=green == "down")
        zero = (red, stored if green == "up" else top - stored)
    alpha = kind == "colour" and samples.shape[2] in {2, 4}
    return Coding(
        kind=kind, top=top, alpha=alpha, zero=zero, green=green, table=value.astype(np.float32)
    )


def _flat_code(channel: U8 | U16, top: int, *, other: bool = False) -> float:
    """Which of the two codes beside the middle a channel has more of.

    Of equals the upper one, or the ``other``.
    """
    low = (top - 1) // 2
    below = above = 0
    for band in bands(len(channel), _SAMPLE_ROWS):
        below += int(np.count_nonzero(channel[band] == low))
        above += int(np.count_nonzero(channel[band] == low + 1))
    upper = above > below or (above == below and not other)
    return float(low + 1 if upper else low)


def decode(coding: Coding, codes: U8 | U16) -> F32:
    """Turn codes (h, w, C) into values to be averaged, (C, h, w) float32."""
    out: F32 = np.empty((codes.shape[2], *codes.shape[:2]), np.float32)
    if coding.kind == "normal":
        half = 0.5 * coding.top
        np.subtract(codes[..., 0], coding.zero[0], out=out[0], casting="unsafe")
        np.subtract(codes[..., 1], _green_zero(coding), out=out[1], casting="unsafe")
        if coding.green == "down":
            out[1] *= -1.0
        np.subtract(codes[..., 2], half, out=out[2], casting="unsafe")
        out *= 1.0 / half
        return out
    colours = codes.shape[2] - (1 if coding.alpha else 0)
    for k in range(colours):
        np.take(coding.table, codes[..., k], out=out[k])
    if coding.alpha:
        np.multiply(codes[..., -1], (1.0 - HIDDEN) / coding.top, out=out[-1], casting="unsafe")
        out[-1] += HIDDEN
        out[:-1] *= out[-1]
    return out


def _green_zero(coding: Coding) -> float:
    """The flat code of green as it is stored."""
    return coding.zero[1] if coding.green == "up" else coding.top - coding.zero[1]


def encode(coding: Coding, values: F32) -> U8 | U16:
    """Turn values (C, N) into codes (N, C), rounded half up; ``values`` is used up."""
    kind = np.uint16 if coding.top > 255 else np.uint8
    out = np.empty((values.shape[1], len(values)), kind)
    if coding.kind == "normal":
        _encode_normals(coding, values, out)
        return out
    alpha = values[-1].copy() if coding.alpha else None
    if alpha is not None:
        values[:-1] /= np.maximum(alpha, HIDDEN)
        values[-1] -= HIDDEN
        values[-1] *= 1.0 / (1.0 - HIDDEN)
    for k, channel in enumerate(values):
        np.clip(channel, 0.0, 1.0, out=channel)
        if coding.kind == "colour" and not (coding.alpha and k == len(values) - 1):
            channel = srgb_encode(channel)  # noqa: PLW2901 - another array from here on
        out[:, k] = channel * float(coding.top) + 0.5
    return out


def _encode_normals(coding: Coding, values: F32, out: U8 | U16) -> None:
    """Write unit vectors as codes."""
    half = 0.5 * coding.top
    for k, zero in enumerate((*coding.zero, half)):
        codes = values[k] * half
        codes += zero + 0.5
        np.clip(codes, 0.0, coding.top + 0.5, out=codes)
        out[:, k] = codes
    if coding.green == "down":
        np.subtract(coding.top, out[:, 1], out=out[:, 1])


def lengthen(values: F32) -> None:
    """Bring vectors (3, N) to unit length, in place; what has none points straight out."""
    length = np.sqrt(values[0] * values[0] + values[1] * values[1] + values[2] * values[2])
    nothing = length < 1e-6
    values /= np.maximum(length, 1e-6)
    values[2, nothing] = 1.0
