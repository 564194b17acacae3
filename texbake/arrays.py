"""Array types and row bands, shared by every stage."""

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

F32 = NDArray[np.float32]
F64 = NDArray[np.float64]
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
