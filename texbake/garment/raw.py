"""What a reader hands over: the file's mesh in the file's own unit and axes."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from texbake.arrays import F64, I32, I64
from texbake.garment.weld import first_seen

# A coordinate past this is a fault of the file, whatever its unit: squares still fit in float64.
MOST_COORDINATE = 1e9
MOST_UV = 1e6
CROSSED = (
    "polygon crosses itself and was cut into triangles as a fan",
    "polygons cross themselves and were cut into triangles as a fan",
)


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Raw:
    """A mesh before its unit, up axis and tile are applied; fields as in ``values.Mesh``.

    Attributes
    ----------
    points : (V, 3) float64
        In the file's unit and axes, node transforms applied.
    uv : (F, 3, 2) float64
        (0, 0) at the bottom left.
    """

    points: F64
    faces: I32
    uv: F64
    polygon: I32
    object_of: I32
    group_of: I32
    material_of: I32
    objects: tuple[str, ...]
    groups: tuple[str, ...]
    materials: tuple[str, ...]
    normals: F64 | None = None
    notes: tuple[str, ...] = ()


def used_names(names: Sequence[str], index: I64) -> tuple[I32, tuple[str, ...]]:
    """Number names by first use; equal names are one, unused names are left out.

    >>> used_names(["spare", "left", "right", "left"], np.array([2, 1, 3]))
    (array([0, 1, 1], dtype=int32), ('right', 'left'))
    """
    once = {name: at for at, name in enumerate(dict.fromkeys(names))}
    label = np.array([once[name] for name in names], np.int64)[index]
    distinct = tuple(once)
    return first_seen(label), tuple(distinct[at] for at in dict.fromkeys(label.tolist()))


def counted(count: int, one: str, several: str) -> str:
    """Say how many there are, in words that fit the number.

    >>> counted(1, "face has", "faces have"), counted(3, "face has", "faces have")
    ('1 face has', '3 faces have')
    """
    return f"{count} {one if count == 1 else several}"


def listed(items: Sequence[str], most: int = 5) -> str:
    """Join the first few of a list for a message.

    >>> listed(["a", "b", "c"], 2)
    'a, b and 1 more'
    """
    shown = ", ".join(items[:most])
    return shown if len(items) <= most else f"{shown} and {len(items) - most} more"
