"""Colour: the sRGB curve, CIE Lab, and the CIEDE2000 difference.

Recipes speak sRGB and pictures are stored in it; everything between is linear light. The exact
curve is here in the precision of its input. For whole maps there is a table: 65,536 steps of
linear light are so much finer than 255 codes (at most 0.05 code a step, near black) that it
differs from the rounded curve only within 0.026 code of a boundary.
"""

from typing import Final, TypeVar

import numpy as np
from numpy.typing import NDArray

from texbake.arrays import F32, F64, I64, U8, bands

_Float = TypeVar("_Float", np.float32, np.float64)

_STEPS: Final = 65535
_CHUNK: Final = 1 << 15  # values a time, so that the float and index buffers stay in the cache

# IEC 61966-2-1:1999, sRGB to XYZ, the standard's four digits. Its rows sum to the white point
# (0.9505, 1, 1.0890), which Lab here is relative to, so that greys have exactly no chroma.
_TO_XYZ: Final = ((0.4124, 0.3576, 0.1805), (0.2126, 0.7152, 0.0722), (0.0193, 0.1192, 0.9505))

# CIE 15:2004, section 8.2.1, with the exact fractions.
_EPSILON: Final = 216 / 24389
_KAPPA: Final = 24389 / 27


def srgb_encode(linear: NDArray[_Float]) -> NDArray[_Float]:
    """Encode linear light as sRGB (IEC 61966-2-1:1999).

    Parameters
    ----------
    linear : (...) float32 or float64
        Linear light, in [0, 1].

    Returns
    -------
    (...) in the precision given
        Encoded values, in [0, 1].
    """
    high = np.power(np.maximum(linear, 0.0031308), 1 / 2.4)
    high *= 1.055
    high -= 0.055
    np.multiply(linear, 12.92, out=high, where=linear <= 0.0031308)
    return high


def srgb_decode(encoded: NDArray[_Float]) -> NDArray[_Float]:
    """Decode sRGB to linear light (IEC 61966-2-1:1999, ``<= 0.04045``).

    Parameters
    ----------
    encoded : (...) float32 or float64
        sRGB values, in [0, 1].

    Returns
    -------
    (...) in the precision given
        Linear light, in [0, 1].
    """
    high = encoded + 0.055
    high /= 1.055
    np.power(np.maximum(high, 0.0, out=high), 2.4, out=high)
    np.divide(encoded, 12.92, out=high, where=encoded <= 0.04045)
    return high


def _codes() -> U8:
    """Return the 8-bit sRGB code of every step of linear light, rounded half up."""
    encoded = srgb_encode(np.arange(_STEPS + 1, dtype=np.float64) / _STEPS)
    codes = np.floor(encoded * 255.0 + 0.5).astype(np.uint8)
    codes.flags.writeable = False
    return codes


_CODES: Final = _codes()


def srgb_codes(linear: F32, *, out: U8 | None = None) -> U8:
    """Encode linear light as 8-bit sRGB, by table: 1.6 ns a value on one core.

    Parameters
    ----------
    linear : (...) float32
        Linear light, contiguous; values outside [0, 1] are clipped.
    out : (...) uint8, contiguous, optional
        Written and returned.

    Returns
    -------
    (...) uint8
        The code of the curve rounded half up; within 0.026 code of a boundary it may be the
        code on the boundary's other side.
    """
    out = np.empty(linear.shape, np.uint8) if out is None else out
    flat, codes = linear.reshape(-1), out.reshape(-1)
    step: F32 = np.empty(min(_CHUNK, flat.size), np.float32)
    index: I64 = np.empty(step.size, np.int64)
    for part in bands(flat.size, _CHUNK):
        s, i = step[: part.stop - part.start], index[: part.stop - part.start]
        np.multiply(flat[part], float(_STEPS), out=s)
        s += 0.5
        np.copyto(i, s, casting="unsafe")
        np.take(_CODES, i, out=codes[part], mode="clip")
    return out


def linear_to_lab(linear: F64 | F32) -> F64:
    """Turn linear sRGB light into CIE L*a*b*, relative to the white of sRGB (D65).

    Parameters
    ----------
    linear : (..., 3) float
        Linear light, in [0, 1].

    Returns
    -------
    (..., 3) float64
        L* in [0, 100], a*, b*.
    """
    matrix = np.array(_TO_XYZ, np.float64)
    xyz = linear.astype(np.float64) @ (matrix / matrix.sum(axis=1, keepdims=True)).T
    f = np.where(xyz > _EPSILON, np.cbrt(xyz), (_KAPPA * xyz + 16) / 116)
    x, y, z = f[..., 0], f[..., 1], f[..., 2]
    return np.stack([116 * y - 16, 500 * (x - y), 200 * (y - z)], axis=-1)


def _hue_deg(a: F64, b: F64) -> F64:
    """Return the hue angle in [0, 360); 0 for grey."""
    return np.degrees(np.arctan2(b, a)) % 360.0


def _mean_hue_deg(h1: F64, h2: F64) -> F64:
    """Return the mean of two hues on the shorter arc."""
    total = h1 + h2
    turned = np.where(total < 360.0, total + 360.0, total - 360.0)
    return np.where(np.abs(h1 - h2) > 180.0, turned, total) / 2


def _hue_step_deg(h1: F64, h2: F64) -> F64:
    """Return the turn from the first hue to the second, in [-180, 180]."""
    step = h2 - h1
    return np.where(step > 180.0, step - 360.0, np.where(step < -180.0, step + 360.0, step))


def _rotation(mean_hue_deg: F64, mean_chroma: F64) -> F64:
    """Return R_T, the coupling of chroma and hue in blue (Sharma et al., equations 16, 17, 21)."""
    theta = np.radians(30.0 * np.exp(-(((mean_hue_deg - 275.0) / 25.0) ** 2)))
    coupling: F64 = -2.0 * _chroma_share(mean_chroma) * np.sin(2.0 * theta)
    return coupling


def _chroma_share(chroma: F64) -> F64:
    """Return sqrt(C^7 / (C^7 + 25^7))."""
    c7 = chroma**7
    share: F64 = np.sqrt(c7 / (c7 + 25.0**7))
    return share


def _hue_weight(mean_hue_deg: F64) -> F64:
    """Return T, the hue term of S_H (Sharma et al., equation 15)."""
    h = np.radians(mean_hue_deg)
    weight: F64 = (
        1.0
        - 0.17 * np.cos(h - np.radians(30.0))
        + 0.24 * np.cos(2.0 * h)
        + 0.32 * np.cos(3.0 * h + np.radians(6.0))
        - 0.20 * np.cos(4.0 * h - np.radians(63.0))
    )
    return weight


def delta_e00(lab1: F64, lab2: F64) -> F64:
    """Return the CIEDE2000 colour difference, with kL = kC = kH = 1.

    Parameters
    ----------
    lab1, lab2 : (..., 3) float64
        CIE L*a*b*; shapes broadcast.

    Returns
    -------
    (...) float64
        The difference, >= 0. About 1 is just visible side by side.

    Notes
    -----
    G. Sharma, W. Wu, E. N. Dalal, "The CIEDE2000 color-difference formula", Color Research and
    Application 30(1), 2005, 21-30.
    """
    lightness1, a1, b1 = np.moveaxis(lab1, -1, 0)
    lightness2, a2, b2 = np.moveaxis(lab2, -1, 0)
    g = 1.0 + 0.5 * (1.0 - _chroma_share((np.hypot(a1, b1) + np.hypot(a2, b2)) / 2))
    c1, c2 = np.hypot(g * a1, b1), np.hypot(g * a2, b2)
    h1, h2 = _hue_deg(g * a1, b1), _hue_deg(g * a2, b2)

    mean_l = (lightness1 + lightness2) / 2 - 50.0
    mean_c = (c1 + c2) / 2
    mean_h = _mean_hue_deg(h1, h2)
    half_turn = np.radians(_hue_step_deg(h1, h2)) / 2

    dl = (lightness2 - lightness1) / (1.0 + 0.015 * mean_l**2 / np.sqrt(20.0 + mean_l**2))
    dc = (c2 - c1) / (1.0 + 0.045 * mean_c)
    # Grey has no hue. The paper gives it cases of its own; here the chroma of 0 makes dh 0 anyway.
    dh = 2.0 * np.sqrt(c1 * c2) * np.sin(half_turn) / (1.0 + 0.015 * mean_c * _hue_weight(mean_h))
    squared = dl**2 + dc**2 + dh**2 + _rotation(mean_h, mean_c) * dc * dh
    difference: F64 = np.sqrt(np.maximum(squared, 0.0))
    return difference
