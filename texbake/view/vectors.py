"""Vectors as three rows of numbers, (3, N) float32: the fastest way to work on many."""

import numpy as np

from texbake.arrays import F32


def dot(a: F32, b: F32) -> F32:
    """Dot products of vectors (3, N). (N,) float32."""
    total: F32 = a[0] * b[0]
    total += a[1] * b[1]
    total += a[2] * b[2]
    return total


def along(vectors: F32, direction: F32 | tuple[float, float, float]) -> F32:
    """Dot products of vectors (3, N) with one direction. (N,) float32."""
    x, y, z = (float(part) for part in direction)
    total: F32 = vectors[0] * x
    total += vectors[1] * y
    total += vectors[2] * z
    return total


def cross(a: F32, b: F32) -> F32:
    """Cross products of vectors (3, N)."""
    out = np.empty_like(a)
    for k, (i, j) in enumerate(((1, 2), (2, 0), (0, 1))):
        np.multiply(a[i], b[j], out=out[k])
        out[k] -= a[j] * b[i]
    return out


def make_unit(vectors: F32) -> None:
    """Scale vectors (3, N) to unit length, in place; 0 stays 0."""
    length = dot(vectors, vectors)
    np.maximum(length, 1e-20, out=length)
    np.sqrt(length, out=length)
    vectors /= length
