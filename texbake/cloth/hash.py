"""Randomness that belongs to a place: a hash of integer cells.

Law 8 wants the same bytes whatever the band, tile or thread, so nothing here has state: a value is
a function of (seed, cell) alone. The mixer is the 32-bit finaliser of MurmurHash3 (A. Appleby,
public domain), whose avalanche is known to be good; tests measure ours.
"""

import numpy as np
from numpy.typing import NDArray

from texbake.arrays import F32, I32, I64

U32 = NDArray[np.uint32]

_X, _Y, _SEED = 0x9E3779B1, 0x85EBCA77, 0xC2B2AE3D


def hash32(ix: I32 | I64, iy: I32 | I64 | int, seed: int) -> U32:
    """Hash integer cells to 32 bits.

    Parameters
    ----------
    ix, iy : (...) int32 or int64
        Cells; only their low 32 bits count, so negative cells are fine.
    seed : int
        Any integer; different seeds give unrelated values.

    Returns
    -------
    (...) uint32
    """
    h = ix.astype(np.uint32)  # wraps: cells are taken modulo 2**32
    h *= np.uint32(_X)
    h ^= np.asarray(iy).astype(np.uint32) * np.uint32(_Y)
    h += np.uint32((seed * _SEED) & 0xFFFFFFFF)
    h ^= h >> np.uint32(16)
    h *= np.uint32(0x85EBCA6B)
    h ^= h >> np.uint32(13)
    h *= np.uint32(0xC2B2AE35)
    h ^= h >> np.uint32(16)
    return h


def hash01(ix: I32 | I64, iy: I32 | I64 | int, seed: int) -> F32:
    """Hash integer cells to [0, 1).

    Returns
    -------
    (...) float32
        Uniform in steps of 2**-24, the finest that float32 holds evenly.
    """
    h = hash32(ix, iy, seed)
    h >>= np.uint32(8)
    out = h.astype(np.float32)
    out *= np.float32(2.0**-24)
    return out


def draws(count: int, seed: int) -> F32:
    """``count`` uniform values in [0, 1) for cells 0, 1, 2 ... of ``seed``."""
    return hash01(np.arange(count, dtype=np.int64), 0, seed)


def normals(shape: tuple[int, ...], seed: int) -> F32:
    """Standard normal values for the cells of an array (Box and Muller 1958)."""
    count = int(np.prod(shape))
    radius = np.sqrt(-2.0 * np.log(1.0 - draws(count, seed)))
    angle = draws(count, seed + 0x51ED) * np.float32(2.0 * np.pi)
    out: F32 = (radius * np.cos(angle)).reshape(shape)
    return out
