"""The named views, and cameras that hold the garment whole.

The garment faces +Z and stands on +Y; the wearer's left is +X, at the right of its front view.
Views are named by the side they show. All views of one picture have one scale, so that front and
back can be compared.
"""

import difflib
import math
from collections.abc import Mapping, Sequence
from types import MappingProxyType
from typing import Final

import numpy as np

from texbake.arrays import F64
from texbake.errors import UserError, UserErrors
from texbake.view.values import Camera, Model

# Where the camera stands, turned from +Z towards +X.
AZIMUTHS_DEG: Final[Mapping[str, float]] = MappingProxyType(
    {"front": 0.0, "back": 180.0, "left": 90.0, "right": 270.0, "three-quarter": 35.0}
)
LEAST_PX: Final = 64
MOST_PX: Final = 8192

# An 85 mm lens on 36 x 24 mm film sees 16.1 degrees across its 24 mm.
LENS_RAD: Final = 2.0 * math.atan(12.0 / 85.0)
_PITCH_RAD: Final = math.radians(5.0)  # the camera looks a little down
_MARGIN: Final = 0.055  # of the shorter side of the picture, on each side
_FOOT: Final = 0.03  # more under the garment, for its shade on the floor


def check_views(views: Sequence[str], size_px: tuple[int, int]) -> None:
    """Say everything that is wrong with the views and the size asked for.

    Parameters
    ----------
    views : sequence of str
    size_px : (int, int)
        Width and height of the picture.

    Raises
    ------
    UserErrors
        For views that there are not, for none at all, and for sizes out of range.
    """
    known = ", ".join(AZIMUTHS_DEG)
    wrong = [_unknown(name, known) for name in views if name not in AZIMUTHS_DEG]
    if not views:
        wrong.append(UserError("no view is named", fix=f"there are: {known}"))
    for what, px in zip(("width", "height"), size_px, strict=True):
        if not LEAST_PX <= px <= MOST_PX:
            wrong.append(
                UserError(
                    f"the {what} of the picture is {px} px",
                    fix=f"it is {LEAST_PX} to {MOST_PX} px",
                )
            )
    if not wrong and size_px[0] < LEAST_PX * len(views):
        wrong.append(
            UserError(
                f"{len(views)} views side by side do not fit into {size_px[0]} px",
                fix=f"each needs {LEAST_PX} px: make the picture wider, or name fewer views",
            )
        )
    if wrong:
        raise UserErrors(wrong)


def _unknown(name: str, known: str) -> UserError:
    near = difflib.get_close_matches(name, AZIMUTHS_DEG, 1)
    hint = f"did you mean {near[0]}? " if near else ""
    return UserError(f"there is no view '{name}'", fix=f"{hint}there are: {known}")


def cameras(
    model: Model, views: Sequence[str], size_px: tuple[int, int]
) -> tuple[tuple[int, Camera], ...]:
    """Place a camera for each view, side by side in one picture.

    Parameters
    ----------
    model : Model
    views : sequence of str
        As ``check_views`` allows.
    size_px : (int, int)
        Of the whole picture.

    Returns
    -------
    tuple of (int, Camera)
        First column of each view, and its camera. The garment is whole in each, with a margin,
        and has one scale in all.
    """
    width, height = size_px
    left = [round(k * width / len(views)) for k in range(len(views) + 1)]
    middle = _middle(model.points_mm)
    reach = float(np.linalg.norm(model.points_mm - middle, axis=-1).max(initial=1.0))
    away = reach / math.tan(LENS_RAD / 2.0)
    posed = [_pose(middle, away, math.radians(AZIMUTHS_DEG[name])) for name in views]
    boxes = [_seen(model.points_mm, eye, axes) for eye, axes in posed]
    cells = list(zip(left[:-1], np.diff(left).tolist(), boxes, posed, strict=True))
    focal = min(_focal(box, (cell, height)) for _, cell, box, _ in cells)
    top, bottom = min(box[1] for box in boxes), max(box[3] for box in boxes)
    margin = _MARGIN * min(width, height)
    spare = height - focal * (bottom - top) - 2.0 * margin - _FOOT * height
    middle_y = margin + spare / 2.0 - focal * top
    return tuple(
        (
            start,
            Camera(
                eye_mm=eye,
                axes=axes,
                focal_px=focal,
                centre_px=(cell / 2.0 - focal * (box[0] + box[2]) / 2.0, middle_y),
                size_px=(cell, height),
                near_mm=0.05 * away,
            ),
        )
        for start, cell, box, (eye, axes) in cells
    )


def _middle(points_mm: F64) -> F64:
    """Middle of the box round all points; the origin if there are none."""
    flat = points_mm.reshape(-1, 3)
    if not len(flat):
        return np.zeros(3)
    return np.asarray((flat.min(axis=0) + flat.max(axis=0)) / 2.0)


def _pose(middle: F64, away: float, azimuth: float) -> tuple[F64, F64]:
    """Eye and axes of a camera that looks at the middle, a little down."""
    level, drop = math.cos(_PITCH_RAD), math.sin(_PITCH_RAD)
    back = np.array([level * math.sin(azimuth), drop, level * math.cos(azimuth)])
    return middle + away * back, axes_of(back)


def axes_of(back: F64, up: F64 | None = None) -> F64:
    """Axes of an upright camera, rows right, up, back.

    Parameters
    ----------
    back : (3,) float64
        Unit vector from what is seen to the eye.
    up : (3,) float64, optional
        Roughly up in the picture; +Y if not given, or -Z when looking straight down.
    """
    if up is None:
        up = np.array([0.0, 1.0, 0.0]) if abs(back[1]) < 0.98 else np.array([0.0, 0.0, -1.0])
    right = np.cross(up, back)
    right = right / np.sqrt((right * right).sum())
    return np.stack([right, np.cross(back, right), back])


def _seen(points_mm: F64, eye: F64, axes: F64) -> tuple[float, float, float, float]:
    """Box of the points in a picture of focal length 1: left, top, right, bottom, y down."""
    seen = (points_mm.reshape(-1, 3) - eye) @ axes.T
    if not len(seen):
        return -0.1, -0.1, 0.1, 0.1
    x, y = seen[:, 0] / -seen[:, 2], seen[:, 1] / seen[:, 2]
    return float(x.min()), float(y.min()), float(x.max()), float(y.max())


def _focal(box: tuple[float, float, float, float], size_px: tuple[int, int]) -> float:
    """Largest focal length, px, with which the box fits into a cell with its margins."""
    wide, high = max(box[2] - box[0], 1e-9), max(box[3] - box[1], 1e-9)
    margin = 2.0 * _MARGIN * min(size_px)
    return min((size_px[0] - margin) / wide, (size_px[1] - margin - _FOOT * size_px[1]) / high)
