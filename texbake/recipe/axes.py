"""How the points of a mesh file become millimetres with +Y up."""

from pathlib import Path

import numpy as np

from texbake.arrays import F64
from texbake.recipe.values import Up

# glTF 2.0, section 3.4: "The units for all linear distances are meters." OBJ and PLY name no
# unit; garments are mostly drawn in centimetres.
UNIT_MM = {".gltf": 1000.0, ".glb": 1000.0, ".obj": 10.0, ".ply": 10.0}

# Signed permutations: column k of the result is sign * column of the input. All are rotations
# (determinant +1), so a mesh is never mirrored.
_TURNS: dict[Up, tuple[tuple[int, float], tuple[int, float], tuple[int, float]]] = {
    "y": ((0, 1.0), (1, 1.0), (2, 1.0)),
    "z": ((0, 1.0), (2, 1.0), (1, -1.0)),
    "x": ((1, -1.0), (0, 1.0), (2, 1.0)),
    "-y": ((0, -1.0), (1, -1.0), (2, 1.0)),
    "-z": ((0, 1.0), (2, -1.0), (1, 1.0)),
    "-x": ((1, 1.0), (0, -1.0), (2, 1.0)),
}


def default_unit_mm(path: Path) -> float:
    """Return the millimetres in one unit of a mesh file, by its format.

    Raises
    ------
    ValueError
        The name ends in none of the known formats.

    >>> default_unit_mm(Path("vest.GLB"))
    1000.0
    """
    suffix = path.suffix.lower()
    if suffix not in UNIT_MM:
        raise ValueError(f"{path.name!r} ends in none of {', '.join(UNIT_MM)}")
    return UNIT_MM[suffix]


def to_y_up(points: F64, up: Up) -> F64:
    """Turn points so that the axis ``up`` becomes +Y: a rotation, exact to the bit.

    Parameters
    ----------
    points : (N, 3) float64
        In any unit.
    up : 'x', 'y', 'z', '-x', '-y' or '-z'
        The axis that points up in ``points``.

    Returns
    -------
    (N, 3) float64
        A new array.
    """
    turned = np.empty_like(points)
    for column, (source, sign) in enumerate(_TURNS[up]):
        np.multiply(points[:, source], sign, out=turned[:, column])
    return turned


def from_y_up(points: F64, up: Up) -> F64:
    """Turn points back into the axes in which ``up`` points up: undoes ``to_y_up`` to the bit.

    Parameters
    ----------
    points : (N, 3) float64
        With +Y up, in any unit.
    up : 'x', 'y', 'z', '-x', '-y' or '-z'

    Returns
    -------
    (N, 3) float64
        A new array.
    """
    back = np.empty_like(points)
    for column, (source, sign) in enumerate(_TURNS[up]):
        np.multiply(points[:, column], sign, out=back[:, source])
    return back
