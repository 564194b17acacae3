"""Smooth noise in space, cheap enough to be asked for every texel.

Whatever differs over the garment and not with its yarns lives in space, so that no seam and no UV
cut shows it. Gradient noise (Perlin 2002) of two octaves is put into a periodic block of SIDE cells
once; a texel reads it between the eight nearest, which lie together, so one gather fetches all. The
block is turned against the axes: its planes and its period of 8 sizes meet no straight seam.
"""

from dataclasses import dataclass

import numpy as np

from texbake.arrays import F32, F64
from texbake.cloth.noise import noise3

SIDE = 64  # cells of the block; packed with their neighbours 8 MiB
LOBES = 8  # of the larger octave along a side; the smaller has twice as many
SMALLER = 0.5  # its amplitude
# A box of w cells of noise takes sinc(f w) of a wave of frequency f, which is nearly
# exp(-(pi f w)^2 / 6); most of the noise lies about f = 0.7 per cell (measured: tests).
FADE = 0.8
# Any turn that has no small whole numbers in it; rows are at right angles (checked by a test).
TURN = np.array(
    [
        [0.78446454, -0.52151155, 0.33552714],
        [0.58171004, 0.80915217, -0.10236472],
        [-0.21810903, 0.27548217, 0.93648486],
    ]
)


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Block:
    """Periodic noise, zero mean and unit variance over the block.

    Attributes
    ----------
    packed : (SIDE**3, 8) float32
        Each cell's value, then those of its neighbours at +x, +y, +xy, +z, +xz, +yz, +xyz.
    """

    packed: F32


def turn() -> F64:
    """A turn of space, (3, 3) float64, rows at right angles to the last bit."""
    q, r = np.linalg.qr(TURN.T)
    return np.asarray((q * np.sign(np.diag(r))).T)


def block(seed: int) -> Block:
    """Make the block; 0.15 s."""
    at = np.arange(SIDE, dtype=np.float32) / SIDE
    x, y, z = np.meshgrid(at, at, at, indexing="ij")
    value = np.zeros((SIDE, SIDE, SIDE), np.float32)
    for octave, amplitude in ((1, 1.0), (2, SMALLER)):
        lobes = LOBES * octave
        repeat = (lobes, lobes, lobes)
        base = (seed + 101 * octave) % 200
        value += amplitude * noise3(x * lobes, y * lobes, z * lobes, repeat=repeat, base=base)
    wide = value.astype(np.float64)
    wide -= wide.mean()
    value = (wide / wide.std()).astype(np.float32)
    corners = [
        np.roll(value, (-i, -j, -k), (0, 1, 2)) for k in (0, 1) for j in (0, 1) for i in (0, 1)
    ]
    return Block(packed=np.stack(corners, -1).reshape(-1, 8))


def fade(texel_mm: F32, size_mm: float) -> F32:
    """Share of the noise that a texel's mean leaves."""
    out: F32 = np.exp(-FADE * np.square(texel_mm * (1.0 / size_mm)))
    return out


def read_block(noise: Block, points_mm: F32, size_mm: float) -> F32:
    """Value at each point; about 30 ns a texel.

    Parameters
    ----------
    noise : Block
    points_mm : (3, N) float32
        In space.
    size_mm : float
        Of a lobe of the larger octave.

    Returns
    -------
    (N,) float32
    """
    per_mm = SIDE / (LOBES * size_mm)
    index, parts = None, []
    for row in turn() * per_mm:
        at = points_mm[0] * float(row[0])
        at += points_mm[1] * float(row[1])
        at += points_mm[2] * float(row[2])
        low = np.floor(at)
        at -= low
        parts.append(at)
        cell = low.astype(np.int32)
        cell &= SIDE - 1
        if index is None:
            index = cell
        else:
            index *= SIDE
            index += cell
    assert index is not None  # noqa: S101  # the turn has three rows
    values = np.take(noise.packed, index, 0)
    for part in parts:
        values = _between(values, part)
    out: F32 = values[:, 0]
    return out


def _between(values: F32, part: F32) -> F32:
    """Go ``part`` of the way from each even column to the odd one after it."""
    low, high = values[:, 0::2], values[:, 1::2]
    out = high - low
    out *= part[:, None]
    out += low
    return out
