"""Flaps, welts and pockets: small pieces laid on a bigger one.

They are drawn on the flattened piece, in cm, as a tailor chalks a pocket, and then lifted into
space through the triangle that each of their points falls in.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from texbake.arrays import F64
from texbake.demo.model import Model, Sheet, normals, quads, shorter
from texbake.demo.pieces import coons, even
from texbake.demo.unwrap import flatten, halves


@dataclass(frozen=True, slots=True, kw_only=True)
class Patch:
    """A small piece to be laid on a sheet.

    Attributes
    ----------
    name, material, on : str
        ``on`` is the sheet that carries it.
    near_cm : (float, float, float)
        A point on the body; the middle of the patch is the sheet's corner nearest to it.
    outline_cm : tuple of 4 polylines
        Bottom, top (both left to right), left and right (both upwards) about the middle.
    cells : (int, int)
        Columns and rows.
    turn_deg : float
        Counter-clockwise from upright.
    height_cm, edge_cm : float
        How far the middle and the rim stand off the cloth beneath.
    """

    name: str
    material: str
    on: str
    near_cm: tuple[float, float, float]
    outline_cm: tuple[F64, F64, F64, F64]
    cells: tuple[int, int]
    turn_deg: float = 0.0
    height_cm: float = 0.4
    edge_cm: float = 0.25


def outline(
    width: float, height: float, *, point: float = 0.0, taper: float = 0.0
) -> tuple[F64, F64, F64, F64]:
    """Return a patch's sides: ``point`` lowers the middle of the bottom, ``taper`` narrows it."""
    w, h, low = width / 2.0, height / 2.0, width / 2.0 - taper
    bottom = np.array([(-low, -h), (0.0, -h - point), (low, -h)])
    top = np.array([(-w, h), (w, h)])
    return bottom, top, np.array([(-low, -h), (-w, h)]), np.array([(low, -h), (w, h)])


def drawn(patch: Patch, up: F64) -> F64:
    """Return the patch's grid about its middle, (R + 1, C + 1, 2) cm; ``up`` (2,) is upright."""
    columns, rows = patch.cells
    bottom, top, left, right = patch.outline_cm
    grid = coons(
        bottom=even(bottom, columns),
        top=even(top, columns),
        left=even(left, rows),
        right=even(right, rows),
    )
    angle = math.radians(patch.turn_deg)
    tilt = math.cos(angle) * up + math.sin(angle) * np.array([-up[1], up[0]])
    return np.asarray(grid @ np.array([[tilt[1], -tilt[0]], [tilt[0], tilt[1]]]))


def middle_and_up(shape: F64, points: F64, near_cm: tuple[float, float, float]) -> tuple[F64, F64]:
    """Return where a flat grid (R + 1, C + 1, 2) is nearest to a point, and what is up there."""
    away = np.linalg.norm(points - np.array(near_cm), axis=-1)
    row, column = np.unravel_index(away.argmin(), away.shape)
    around = (slice(max(row - 1, 0), row + 2), slice(max(column - 1, 0), column + 2))
    flat = (shape[around] - shape[row, column]).reshape(-1, 2)
    rise = (points[around] - points[row, column])[..., 1].reshape(-1)
    slope = np.linalg.solve(flat.T @ flat, flat.T @ rise)
    return shape[row, column], slope / np.linalg.norm(slope)


def lifted(flat: F64, at: F64, corner_values: Sequence[F64]) -> list[F64]:
    """Read values (F, 3, K) of triangles ``flat`` (F, 3, 2) at points (P, 2): (P, K) each."""
    a, ab, ac = flat[:, 0], flat[:, 1] - flat[:, 0], flat[:, 2] - flat[:, 0]
    area = ab[:, 0] * ac[:, 1] - ab[:, 1] * ac[:, 0]
    to = at[:, None] - a[None]
    second = (to[..., 0] * ac[:, 1] - to[..., 1] * ac[:, 0]) / area
    third = (ab[:, 0] * to[..., 1] - ab[:, 1] * to[..., 0]) / area
    share = np.stack([1.0 - second - third, second, third], axis=-1)
    best = share.min(axis=-1).argmax(axis=1)
    rows = np.arange(len(at))
    if share[rows, best].min() < -1e-6:
        raise ValueError("the patch reaches over the edge of its piece")
    return [(share[rows, best][..., None] * value[best]).sum(axis=1) for value in corner_values]


def patched(model: Model, patches: Sequence[Patch]) -> Model:
    """Add patches to a draped model."""
    points, sheets = model.points_cm, list(model.sheets)
    for patch in patches:
        base = next(sheet for sheet in model.sheets if sheet.name == patch.on)
        shape = flatten(points[base.index], base.leans)
        faces = halves(base.index, base.leans)
        local = np.arange(base.index.size).reshape(base.index.shape)
        flat = shape.reshape(-1, 2)[halves(local, base.leans)]
        middle, upright = middle_and_up(shape, points[base.index], patch.near_cm)
        grid = drawn(patch, upright)
        outwards = normals(points, quads(base.index, base.leans))
        where, up = lifted(flat, grid.reshape(-1, 2) + middle, [points[faces], outwards[faces]])
        height = np.full(grid.shape[:2], patch.height_cm)
        height[[0, -1]] = patch.edge_cm
        height[:, [0, -1]] = patch.edge_cm
        where = where + up * height.reshape(-1, 1)
        index = len(points) + np.arange(len(where)).reshape(grid.shape[:2])
        points = np.concatenate([points, where])
        sheets.append(
            Sheet(
                name=patch.name,
                material=patch.material,
                layer=patch.name,
                index=index,
                leans=shorter(points[index]),
            )
        )
    return replace(model, points_cm=points, sheets=tuple(sheets))
