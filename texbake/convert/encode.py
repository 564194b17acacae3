"""From slopes to normals: codes of 8 or 16 bits, or unit vectors.

A code c of a maximum m stands for 2 c / m - 1 in glTF 2.0 (section 3.9.3: +X is right, +Y is up,
+Z points toward the viewer), so codes lie at the odd multiples of half a step. Each component is
rounded to the nearest, half up, as those of baked maps are (`maps.normal_codes`). But three errors
of half a step can add up to a length that is off by 0.87 of a step. Where it would be off by more
than half a step, one component takes the code on its other side: the one of the three that turns
the vector least. The greatest turn stays what rounding alone gives, 0.39 degrees at 8 bits.
"""

from typing import Final

import numpy as np

from texbake.arrays import F32, I64, U8, U16
from texbake.convert.bench import Bench
from texbake.convert.values import Bits, Green

# Lengths that are off by more than this many steps are looked at closely: float32 leaves some of a
# step open at 16 bits.
_SUSPECT: Final = 0.49

# 1 / p and 1 / p^2 with p^3 = p + 1, the golden ratio of two dimensions: the thresholds of
# neighbours are spread as evenly as may be (M. Roberts, "The unreasonable effectiveness of
# quasirandom sequences", 2018).
_SPREAD: Final = (0.7548776662466927, 0.5698402909980532)


def half_of(bits: Bits | None) -> float:
    """Return the length of a unit vector in steps of its codes: half the greatest code."""
    return 1.0 if bits is None else (2.0**bits - 1.0) / 2.0


def unit_normals(vector: F32, slope: float, half: float, bench: Bench) -> None:
    """Turn doubled slopes into green-up normals of length ``half``, in place.

    Parameters
    ----------
    vector : (3, N) float32
        Twice the slopes along columns and rows, samples per texel, and room for z.
    slope : float
        The slope that is one sample per texel.
    half : float
    bench : Bench
    """
    across, down, z = vector
    across *= -0.5 * slope
    down *= 0.5 * slope
    square = bench.flat("a", z.size)
    np.multiply(across, across, out=z)
    np.multiply(down, down, out=square)
    z += square
    z += 1.0
    np.sqrt(z, out=z)
    np.divide(half, z, out=z)
    across *= z
    down *= z


def rounded(vector: F32, half: float, bench: Bench) -> F32:
    """Round normals to the nearest vectors that codes stand for, of the right length.

    Parameters
    ----------
    vector : (3, N) float32
        Of length ``half``.
    half : float
    bench : Bench

    Returns
    -------
    (3, N) float32, on the bench
        Whole numbers and a half: codes less ``half``.
    """
    size = vector.shape[1]
    codes = np.floor(vector, out=bench.three("codes", size))
    codes += 0.5
    square, part = bench.flat("a", size), bench.flat("b", size)
    np.multiply(codes[0], codes[0], out=square)
    for code in codes[1:]:
        np.multiply(code, code, out=part)
        square += part
    # Lengths from half - 0.5 to half + 0.5 are right.
    square -= half * half + 0.25
    np.abs(square, out=square)
    suspects = np.flatnonzero(square > 2.0 * _SUSPECT * half)
    if suspects.size:
        _mend_length(vector, codes, suspects, half)
    return codes


def _mend_length(vector: F32, codes: F32, suspects: I64, half: float) -> None:
    """Move one component by a step where the length is off by more than half a step."""
    exact, code = vector.take(suspects, axis=1), codes.take(suspects, axis=1)
    # float64: at 16 bits the squares have 31 bits
    square = np.einsum("ij,ij->j", code, code, dtype=np.float64)
    off = np.sqrt(square) - half
    move = np.where(np.abs(off) > 0.5, -np.sign(off), 0.0).astype(np.float32)
    move = np.copysign(np.float32(1.0), exact) * move
    left = np.sqrt(square + (2.0 * code * move + 1.0)) - half
    # The part of the error across the vector, squared, less what is the same for all three.
    turn = 2.0 * (code - exact) * move - left * left
    turn[np.abs(left) > 0.5] = np.inf  # never all three: one component is 0.577 of the length
    first = (turn[0] <= turn[1]) & (turn[0] <= turn[2])  # argmin takes ten times as long
    second = ~first & (turn[1] <= turn[2])
    move *= np.stack([first, second, ~(first | second)])
    code += move
    codes[:, suspects] = code


def dithered(vector: F32, half: float, corner: tuple[int, int], width: int, bench: Bench) -> F32:
    """Round as `rounded` does, but x and y to either neighbour, by thresholds that differ.

    The means of red and green over a few texels are those of the normals. z is what gives the
    right length, but within a step of its own value. What is quite flat stays as it is.

    Parameters
    ----------
    vector : (3, N) float32
    half : float
    corner : (int, int)
        Row and column of the first texel.
    width : int
        Texels to a row.
    bench : Bench

    Returns
    -------
    (3, N) float32, on the bench
        As from `rounded`.
    """
    size = vector.shape[1]
    codes, square = bench.three("codes", size), bench.flat("a", size)
    tilted = (vector[0] != 0.0) | (vector[1] != 0.0)
    left = codes[2]
    left[:] = half * half
    for number in (0, 1):
        code = codes[number]
        code[:] = _thresholds(number, corner, size // width, width).reshape(-1)
        code *= tilted
        code += vector[number]
        np.floor(code, out=code)
        code += 0.5
        np.minimum(code, half, out=code)
        np.maximum(code, -half, out=code)
        np.multiply(code, code, out=square)
        left -= square
    np.maximum(left, 0.0, out=left)
    np.sqrt(left, out=left)
    np.floor(left, out=left)
    left += 0.5
    # Where it is steep, a step of red turns blue by many: it keeps within one.
    np.floor(vector[2], out=square)
    square -= 0.5
    np.maximum(left, square, out=left)
    square += 2.0
    np.minimum(left, square, out=left)
    np.maximum(left, 0.5, out=left)
    np.copyto(left, half, where=~tilted)
    return codes


def _thresholds(channel: int, corner: tuple[int, int], rows: int, columns: int) -> F32:
    """Return values in [-0.5, 0.5) by row and column of the whole picture, (R, C)."""
    # float64: at 16384 a float32 would leave 1/1024 of the fraction
    down = (corner[0] + np.arange(rows)) * _SPREAD[1] + 0.5 * channel
    along = (corner[1] + np.arange(columns)) * _SPREAD[0]
    value = down[:, None] + along
    value -= np.floor(value)
    return (value - 0.5).astype(np.float32)


def store(codes: F32, half: float, green: Green, keep: tuple[int, int], out: U8 | U16) -> None:
    """Write codes into a picture.

    Parameters
    ----------
    codes : (3, R * width) float32
        From `rounded` or `dithered`; overwritten.
    half : float
    green : 'up' or 'down'
        Green-down is the maximum less the green-up code, to the bit.
    keep : (int, int)
        The width of the rows in ``codes``, and how many of its columns to leave out first.
    out : (R, C, 3) uint8 or uint16
    """
    if green == "down":
        np.negative(codes[1], out=codes[1])
    codes += half
    for channel, code in enumerate(codes):
        out[..., channel] = _kept(code, keep, out.shape[1])


def store_vectors(vector: F32, green: Green, keep: tuple[int, int], out: F32) -> None:
    """Write unit vectors into a picture, (R, C, 3) float32; see `store`."""
    for channel, part in enumerate(vector):
        out[..., channel] = _kept(part, keep, out.shape[1])
    if green == "down":
        np.negative(out[..., 1], out=out[..., 1])


def _kept(flat: F32, keep: tuple[int, int], columns: int) -> F32:
    """Return the columns of a flat block that count, (R, C)."""
    return flat.reshape(-1, keep[0])[:, keep[1] : keep[1] + columns]
