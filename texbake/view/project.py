"""A garment as a camera sees it: where faces lie in the picture, and what lies at its points.

On one face, each corner's share of a point, divided by the point's depth, is affine in the
picture (homogeneous rasterising: Olano and Greer 1997). One table per face therefore gives shares,
UV and their change from pixel to pixel, all exact in perspective.
"""

from dataclasses import dataclass

import numpy as np

from texbake.arrays import F32, F64, I32, Bool
from texbake.view.spans import Faces, faces_in
from texbake.view.values import Camera, Model

# A face seen from behind counts as this much farther: where a lining lies on its shell to the
# bit, the side that was made to be seen is seen.
_BEHIND_MM = 0.2


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Projected:
    """The faces before a camera.

    Attributes
    ----------
    faces : Faces
        In pixels, for the depth buffer; ``number`` is the row in the tables below.
    origin_px : (F, 2) float32
        First corner in the picture; the table counts from there.
    shares : (F, 3, 3) float32
        ``shares[f, :, k]`` at (x, y, 1) is the share of corner k over the depth.
    turned : (F,) bool
        Seen from behind.
    """

    faces: Faces
    origin_px: F32
    shares: F32
    turned: Bool


def project(model: Model, camera: Camera) -> Projected:
    """Lay the faces of a model into a camera's picture.

    Parameters
    ----------
    model : Model
    camera : Camera

    Returns
    -------
    Projected
        Faces nearer than ``camera.near_mm``, or seen edge on, are not among ``faces``.
    """
    px, depth = to_picture(camera, model.points_mm)
    side = px[:, 1:] - px[:, :1]
    area = side[:, 0, 0] * side[:, 1, 1] - side[:, 0, 1] * side[:, 1, 0]
    drawn = (depth.min(axis=1) >= camera.near_mm) & (np.abs(area) > 1e-9)
    turned = area > 0.0  # y runs down: faces towards the eye turn the other way round
    shares = _shares(px - px[:, :1], np.where(drawn[:, None], depth, 1.0), area, drawn)
    reach = max(float(np.median(depth)), 1e-9) if len(depth) else 1.0
    plane = shares.sum(axis=2) * reach
    plane[:, 2] -= (plane[:, :2] * px[:, 0]).sum(axis=1) + 1.0
    plane[:, 2] -= np.where(turned, _BEHIND_MM / reach, 0.0)
    number = np.flatnonzero(drawn)
    faces = faces_in(px[number], plane[number], camera.size_px)
    renumbered = Faces(
        corner=faces.corner,
        number=number[faces.number].astype(np.int32),
        plane=faces.plane,
        top=faces.top,
        bottom=faces.bottom,
    )
    return Projected(
        faces=renumbered,
        origin_px=px[:, 0].astype(np.float32),
        shares=shares.astype(np.float32),
        turned=turned,
    )


def to_picture(camera: Camera, points_mm: F64) -> tuple[F64, F64]:
    """Where points lie in the picture, and how deep.

    Returns
    -------
    px : (..., 2) float64
        x to the right, y down.
    depth : (...) float64
        mm along the camera's axis; points at or behind the eye are at 1e-6.
    """
    away = points_mm - camera.eye_mm
    x, y, back = (
        away[..., 0] * row[0] + away[..., 1] * row[1] + away[..., 2] * row[2] for row in camera.axes
    )
    depth = np.maximum(-back, 1e-6)
    scale = camera.focal_px / depth
    px = np.stack([camera.centre_px[0] + x * scale, camera.centre_px[1] - y * scale], axis=-1)
    return px, depth


def _shares(px: F64, depth: F64, area: F64, drawn: Bool) -> F64:
    """Each corner's share over the depth, at (x, y, 1) from the first corner. (F, 3, 3)."""
    inverse = 1.0 / np.where(drawn, area, np.inf)
    x, y = px[:, :, 0], px[:, :, 1]
    after, before = (1, 2, 0), (2, 0, 1)
    by_x = (y[:, after] - y[:, before]) * inverse[:, None]
    by_y = (x[:, before] - x[:, after]) * inverse[:, None]
    rest = (x[:, after] * y[:, before] - x[:, before] * y[:, after]) * inverse[:, None]
    return np.stack([by_x, by_y, rest], axis=1) / depth[:, None, :]


@dataclass(frozen=True, slots=True, eq=False)
class Places:
    """Where N points of the picture lie on their faces.

    Attributes
    ----------
    face : (N,) int32
    shares : (3, N) float32
        Of the three corners; they sum to 1.
    steps : (6, N) float32
        Change of the three shares with a pixel to the right, then with one down.
    """

    face: I32
    shares: F32
    steps: F32


def places(projected: Projected, face: I32, x_px: F32, y_px: F32) -> Places:
    """Find the points of faces that lie at points of the picture.

    Parameters
    ----------
    projected : Projected
    face : (N,) int32
    x_px, y_px : (N,) float32
    """
    origin = np.take(projected.origin_px, face, axis=0)
    x, y = x_px - origin[:, 0], y_px - origin[:, 1]
    table = np.ascontiguousarray(np.take(projected.shares.reshape(-1, 9), face, axis=0).T)
    shares = table[0:3] * x
    shares += table[3:6] * y
    shares += table[6:9]
    inverse = 1.0 / (shares[0] + shares[1] + shares[2])
    shares *= inverse
    steps = table[:6]
    for k in (0, 3):
        steps[k : k + 3] -= shares * (steps[k] + steps[k + 1] + steps[k + 2])
    steps *= inverse
    return Places(face, shares, steps)


def at_places(where: Places, corners: F32) -> F32:
    """Value at points, from values at the corners.

    Parameters
    ----------
    where : Places
    corners : (F, 3, D) float32

    Returns
    -------
    (D, N) float32
    """
    deep = corners.shape[2]
    table = np.take(corners.reshape(len(corners), -1), where.face, axis=0).T
    out: F32 = table[:deep] * where.shares[0]
    out += table[deep : 2 * deep] * where.shares[1]
    out += table[2 * deep :] * where.shares[2]
    return out


def steps_at(where: Places, corners: F32) -> F32:
    """Change of values from pixel to pixel: (2 D, N), to the right for all, then down for all."""
    deep = corners.shape[2]
    table = np.take(corners.reshape(len(corners), -1), where.face, axis=0).T
    out = np.empty((2 * deep, len(where.face)), np.float32)
    for half in (0, 1):
        steps = where.steps[3 * half : 3 * half + 3]
        part = out[half * deep : (half + 1) * deep]
        np.multiply(table[:deep], steps[0], out=part)
        part += table[deep : 2 * deep] * steps[1]
        part += table[2 * deep :] * steps[2]
    return out
