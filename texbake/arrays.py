"""Array types and row bands, shared by every stage."""

from collections.abc import Iterator
from typing import Any

import numpy as np
from numpy.typing import NDArray

# numpy's stubs call float32 times a Python float `floating[Any]`, though it stays float32: these
# two names therefore tell the reader which it is, and the tests check dtypes.
F32 = NDArray[np.floating[Any]]
F64 = NDArray[np.floating[Any]]
I32 = NDArray[np.int32]
I64 = NDArray[np.int64]
U8 = NDArray[np.uint8]
U16 = NDArray[np.uint16]
Bool = NDArray[np.bool_]


def bands(count: int, rows: int) -> Iterator[slice]:
    """Cut ``count`` rows into slices of at most ``rows``, in order.

    >>> list(bands(5, 2))
    [slice(0, 2, None), slice(2, 4, None), slice(4, 5, None)]
    """
    for start in range(0, count, rows):
        yield slice(start, min(start + rows, count))
