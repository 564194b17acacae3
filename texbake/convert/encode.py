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

# Half a step, less what the square of the error adds to the length: |e|^2 / 2 |v|, 0.003 of a
# step at 8 bits.
_HALF: Final = 0.497

# 1 / p and 1 / p^2 with p^3 = p + 1, the golden ratio of two dimensions: the thresholds of
# neighbours are spread as evenly as may be (M. Roberts, "The unreasonable effectiveness of
# quasirandom sequences", 2018).
_SPREAD: Final = (0.7548776662466927, 0.5698402909980532)


def half_of(bits: Bits | None) -> float:
    """Return the length of a unit vector in steps of its codes: half the greatest code."""
    return 1.0 if bits is None else (2.0**bits - 1.0) / 2.0


def unit_normals(across: F32, down: F32, slope: float, half: float, bench: Bench) -> F32:
    """Turn doubled slopes into the x and y of green-up normals of length ``half``, in place.

    Parameters
    ----------
    across, down : (N,) float32
        Twice the slopes, samples per texel; become x and y.
    slope : float
        The slope that is one sample per texel.
    half : float
    bench : Bench

    Returns
    -------
    (N,) float32, on the bench
        z.
    """
    across *= -0.5 * slope
    down *= 0.5 * slope
    z, square = bench.flat("z", across.size), bench.flat("a", across.size)
    np.multiply(across, across, out=z)
    np.multiply(down, down, out=square)
    z += square
    z += 1.0
    np.sqrt(z, out=z)
    np.divide(half, z, out=z)
    across *= z
    down *= z
    return z


def rounded(vector: tuple[F32, F32, F32], half: float, bench: Bench) -> tuple[F32, F32, F32]:
    """Round normals to codes, less the code ``half`` + 0.5 that stands for 0 and a little more.

    Parameters
    ----------
    vector : three (N,) float32
        x, y and z, of length ``half``.
    half : float
    bench : Bench

    Returns
    -------
    three (N,) float32, on the bench
        Whole numbers; n stands for n + 0.5.
    """
    size = vector[0].size
    codes = (bench.flat("a", size), bench.flat("b", size), bench.flat("c", size))
    longer, part = bench.flat("d", size), bench.flat("e", size)
    for number, (value, code) in enumerate(zip(vector, codes, strict=True)):
        np.floor(value, out=code)
        np.subtract(code, value, out=part)  # the error, less 0.5
        part += 0.5
        part *= value
        if number == 0:
            longer[:] = part
        else:
            longer += part
    np.abs(longer, out=part)
    wrong = np.flatnonzero(part > _HALF * half)
    if wrong.size:
        _mend_length(vector, codes, wrong, half)
    return codes


def _mend_length(
    vector: tuple[F32, F32, F32],
    codes: tuple[F32, F32, F32],
    wrong: I64,
    half: float,
) -> None:
    """Move one component of each wrong normal by a step, so that the length is right."""
    unit: F32 = np.stack([v[wrong] for v in vector])
    error: F32 = np.stack([c[wrong] for c in codes]) + np.float32(0.5) - unit
    unit /= half
    longer = (error * unit).sum(axis=0)
    move = np.where(unit < 0.0, np.sign(longer), -np.sign(longer))
    left = longer + unit * move
    # The part of the error across the vector, squared, less what is the same for all three.
    turn = 2.0 * error * move - left * left
    turn[np.abs(left) > _HALF] = np.inf  # never all three: one component is 0.577 at least
    best = turn.argmin(axis=0)
    for number, code in enumerate(codes):
        mine = best == number
        code[wrong[mine]] += move[number, mine]


def dithered(
    vector: tuple[F32, F32, F32], half: float, corner: tuple[int, int], width: int, bench: Bench
) -> tuple[F32, F32, F32]:
    """Round as `rounded` does, but x and y to either neighbour, by thresholds that differ.

    The means of red and green over a few texels are those of the normals. z is rounded from the
    length that is left. What is quite flat stays as it is.

    Parameters
    ----------
    vector : three (N,) float32
    half : float
    corner : (int, int)
        Row and column of the first texel.
    width : int
        Texels to a row.
    bench : Bench

    Returns
    -------
    three (N,) float32, on the bench
    """
    size = vector[0].size
    codes = (bench.flat("a", size), bench.flat("b", size), bench.flat("c", size))
    square = bench.flat("d", size)
    tilted = (vector[0] != 0.0) | (vector[1] != 0.0)
    left = codes[2]
    left[:] = half * half
    for number in (0, 1):
        code = codes[number]
        code[:] = _thresholds(number, corner, size // width, width).reshape(-1)
        code *= tilted
        code += vector[number]
        np.floor(code, out=code)
        np.minimum(code, half - 0.5, out=code)
        np.maximum(code, -half - 0.5, out=code)
        np.add(code, 0.5, out=square)
        square *= square
        left -= square
    np.maximum(left, 0.0, out=left)
    np.sqrt(left, out=left)
    np.floor(left, out=left)
    np.copyto(left, half - 0.5, where=~tilted)
    return codes


def _thresholds(channel: int, corner: tuple[int, int], rows: int, columns: int) -> F32:
    """Return values in [-0.5, 0.5) by row and column of the whole picture, (R, C)."""
    # float64: at 16384 a float32 would leave 1/1024 of the fraction
    down = (corner[0] + np.arange(rows)) * _SPREAD[1] + 0.5 * channel
    along = (corner[1] + np.arange(columns)) * _SPREAD[0]
    value = down[:, None] + along
    value -= np.floor(value)
    return (value - 0.5).astype(np.float32)


def store(
    codes: tuple[F32, F32, F32], half: float, green: Green, keep: tuple[int, int], out: U8 | U16
) -> None:
    """Write codes into a picture.

    Parameters
    ----------
    codes : three (R * width,) float32
        From `rounded` or `dithered`.
    half : float
    green : 'up' or 'down'
        Green-down is the maximum less the green-up code, to the bit.
    keep : (int, int)
        The width of the rows in ``codes``, and how many of its columns to leave out first.
    out : (R, C, 3) uint8 or uint16
    """
    for channel, code in enumerate(codes):
        if channel == 1 and green == "down":
            np.subtract(half - 0.5, code, out=code)
        else:
            np.add(code, half + 0.5, out=code)
        out[..., channel] = _kept(code, keep, out.shape[1])


def store_vectors(
    vector: tuple[F32, F32, F32], green: Green, keep: tuple[int, int], out: F32
) -> None:
    """Write unit vectors into a picture, (R, C, 3) float32; see `store`."""
    for channel, part in enumerate(vector):
        out[..., channel] = _kept(part, keep, out.shape[1])
    if green == "down":
        np.negative(out[..., 1], out=out[..., 1])


def _kept(flat: F32, keep: tuple[int, int], columns: int) -> F32:
    """Return the columns of a flat block that count, (R, C)."""
    return flat.reshape(-1, keep[0])[:, keep[1] : keep[1] + columns]
