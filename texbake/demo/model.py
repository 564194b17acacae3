"""A garment of welded sheets, and what is done to it after cutting: draping, lining, pockets."""

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace

import numpy as np

from texbake.arrays import F64, I64, Bool
from texbake.demo.pieces import Piece

WELD_DECIMALS = 6  # cm: 10 nm, far above rounding errors and far below any edge


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Sheet:
    """A piece whose corners are numbers into the model's points.

    Attributes
    ----------
    index : (R + 1, C + 1) int64
    leans : (R, C) bool
        Quads that are cut in two from lower right to upper left, not from lower left to upper
        right.
    uv : (R + 1, C + 1, 2) float64 or None
        None until the pieces are laid out.
    """

    name: str
    material: str
    layer: str
    index: I64
    leans: Bool
    uv: F64 | None = None


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Model:
    """A garment: points in cm and the sheets that use them."""

    name: str
    points_cm: F64
    sheets: tuple[Sheet, ...]


def weld(name: str, pieces: Sequence[Piece]) -> Model:
    """Give every place in space one number."""
    flat = np.concatenate([piece.points_cm.reshape(-1, 3) for piece in pieces])
    key = np.round(flat, WELD_DECIMALS) + 0.0  # + 0.0 turns -0.0 into 0.0
    points, number = np.unique(key, axis=0, return_inverse=True)
    sheets, start = [], 0
    for piece in pieces:
        shape = piece.points_cm.shape[:2]
        stop = start + shape[0] * shape[1]
        index = number.reshape(-1)[start:stop].reshape(shape).astype(np.int64)
        sheets.append(
            Sheet(
                name=piece.name,
                material=piece.material,
                layer=piece.layer,
                index=index,
                leans=shorter(piece.points_cm),
            )
        )
        start = stop
    return Model(name=name, points_cm=points, sheets=tuple(sheets))


def quads(index: I64, leans: Bool) -> I64:
    """Return the corners of a grid's quads, (R * C, 4), counter-clockwise from outside.

    Who cuts a quad in two joins its first and third corner, so the first corner decides how.
    """
    corners = [index[:-1, :-1], index[:-1, 1:], index[1:, 1:], index[1:, :-1]]
    upright, leaning = np.stack(corners, axis=-1), np.stack([*corners[1:], corners[0]], axis=-1)
    return np.where(leans[..., None], leaning, upright).reshape(-1, 4)


def shorter(points: F64) -> Bool:
    """Return the quads of a grid (R + 1, C + 1, 3) whose leaning diagonal is the shorter one."""
    rising = np.linalg.norm(points[1:, 1:] - points[:-1, :-1], axis=-1)
    falling = np.linalg.norm(points[1:, :-1] - points[:-1, 1:], axis=-1)
    return np.asarray(falling < rising - 1e-6)


def normals(points: F64, faces: I64) -> F64:
    """Return unit normals per point, (N, 3), weighted by the area of the quads around it."""
    corner = points[faces]
    across = np.cross(corner[:, 2] - corner[:, 0], corner[:, 3] - corner[:, 1])
    total = np.zeros_like(points)
    for k in range(4):
        np.add.at(total, faces[:, k], across)
    size = np.linalg.norm(total, axis=1, keepdims=True)
    return np.asarray(total / np.maximum(size, 1e-12))


def draped(model: Model, lift_cm: F64) -> Model:
    """Move every point outwards by its own length, (N,) cm."""
    faces = np.concatenate([quads(sheet.index, sheet.leans) for sheet in model.sheets])
    outwards = normals(model.points_cm, faces)
    return replace(model, points_cm=model.points_cm + outwards * lift_cm[:, None])


def lined(model: Model, *, names: Collection[str], joined: Collection[int], gap_cm: float) -> Model:
    """Add a lining inside the sheets ``names``, on the same points along ``joined``.

    The lining's lowest row is drawn up by a third of a quad, as a lining that must not show.
    """
    shell = [sheet for sheet in model.sheets if sheet.name in names]
    faces = np.concatenate([quads(sheet.index, sheet.leans) for sheet in shell])
    inner = model.points_cm - gap_cm * normals(model.points_cm, faces)
    for sheet in shell:
        hem, above = sheet.index[0], sheet.index[1]
        inner[hem] += (inner[above] - inner[hem]) / 3.0
    number = np.full(len(inner), -1)
    used = np.setdiff1d(np.unique(faces), np.array(sorted(joined), dtype=np.int64))
    number[used] = len(model.points_cm) + np.arange(len(used))
    number = np.where(number < 0, np.arange(len(number)), number)
    linings = [
        Sheet(
            name=f"lining-{sheet.name}",
            material="lining",
            layer="lining",
            index=number[sheet.index][:, ::-1],
            leans=~sheet.leans[:, ::-1],
        )
        for sheet in shell
    ]
    points = np.concatenate([model.points_cm, inner[used]])
    return replace(model, points_cm=points, sheets=(*model.sheets, *linings))
