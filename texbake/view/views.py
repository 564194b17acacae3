"""The named views, and cameras that hold the garment whole.

The garment faces +Z and stands on +Y; the wearer's left is +X, at the right of its front view.
Views are named by the side they show. All views of one picture have one scale, so that front and
back can be compared.
"""

import difflib
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import Final

import numpy as np

from texbake.arrays import F64
from texbake.errors import UserError, UserErrors
from texbake.view.values import Camera, Cell, Model

# Where the camera stands, turned from +Z towards +X.
AZIMUTHS_DEG: Final[Mapping[str, float]] = MappingProxyType(
    {"front": 0.0, "back": 180.0, "left": 90.0, "right": 270.0, "three-quarter": 35.0}
)
LEAST_PX: Final = 64
MOST_PX: Final = 8192

# An 85 mm lens on 36 x 24 mm film sees 16.1 degrees across its 24 mm.
LENS_RAD: Final = 2.0 * math.atan(12.0 / 85.0)
_PITCH_RAD: Final = math.radians(5.0)  # the camera looks a little down
_MARGIN: Final = 0.045  # of the shorter side of a view, on each side
_FLOOR_RIM: Final = 0.08  # of the garment's height: so far its shade is seen on the floor
_ROWS_GAIN: Final = 1.15  # views go into several rows only where they grow by more


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


def cells(
    model: Model, views: Sequence[str], size_px: tuple[int, int], *, floor_mm: float
) -> tuple[Cell, ...]:
    """Place a camera for each view of one picture.

    Parameters
    ----------
    model : Model
    views : sequence of str
        As ``check_views`` allows.
    size_px : (int, int)
        Of the whole picture.
    floor_mm : float
        Height of the floor, which is seen with the garment.

    Returns
    -------
    tuple of Cell
        Side by side; in several rows where the garment is wide, so that it becomes much larger.
        It is whole in each, with a margin, and has one scale in all.
    """
    posed = _poses(model, views, floor_mm)
    best = _grid(posed, 1, size_px)
    for rows in range(2, len(views) + 1):
        grid = _grid(posed, rows, size_px)
        if grid[0] > _ROWS_GAIN * best[0]:
            best = grid
    return best[1]


@dataclass(frozen=True, slots=True, eq=False)
class _Pose:
    """A camera before its picture is cut: what it sees at a focal length of 1."""

    eye_mm: F64
    axes: F64
    near_mm: float
    box: tuple[float, float, float, float]  # left, top, right, bottom; y down


def _poses(model: Model, views: Sequence[str], floor_mm: float) -> list[_Pose]:
    """Stand the camera before each side of the garment, all equally far."""
    points = model.points_mm.reshape(-1, 3)
    middle = _middle(points)
    reach = float(np.sqrt(((points - middle) ** 2).sum(axis=1)).max(initial=1.0))
    away = reach / math.tan(LENS_RAD / 2.0)
    level, drop = math.cos(_PITCH_RAD), math.sin(_PITCH_RAD)
    posed = []
    for name in views:
        turn = math.radians(AZIMUTHS_DEG[name])
        back = np.array([level * math.sin(turn), drop, level * math.cos(turn)])
        eye, axes = middle + away * back, axes_of(back)
        box = _seen(points, eye, axes)
        foot = _seen(_floor(points, floor_mm), eye, axes)
        box = (*box[:3], max(box[3], foot[3]))
        posed.append(_Pose(eye, axes, 0.05 * away, box))
    return posed


def _floor(points: F64, floor_mm: float) -> F64:
    """Corners of the floor under a garment, with its soft shade's rim."""
    low, high = points.min(axis=0), points.max(axis=0)
    rim = _FLOOR_RIM * float(high[1] - low[1])
    x, z = (low[0] - rim, high[0] + rim), (low[2] - rim, high[2] + rim)
    return np.array([[a, floor_mm, b] for a in x for b in z])


def _grid(
    posed: list[_Pose], rows: int, size_px: tuple[int, int]
) -> tuple[float, tuple[Cell, ...]]:
    """Share the picture among the views in so many rows; also the focal length that fits."""
    columns = -(-len(posed) // rows)
    lefts = [round(k * size_px[0] / columns) for k in range(columns + 1)]
    tops = [round(k * size_px[1] / rows) for k in range(rows + 1)]
    high, wide = (max(p.box[3] for p in posed), min(p.box[1] for p in posed)), lefts[1]
    boxes = [(p.box[0], high[1], p.box[2], high[0]) for p in posed]
    focal = min(_focal(box, (wide, tops[1])) for box in boxes)
    found = []
    for k, (pose, box) in enumerate(zip(posed, boxes, strict=True)):
        row, column = divmod(k, columns)
        short = columns * (row + 1) - len(posed)  # the last row may be short: it is centred
        shift = (size_px[0] - lefts[columns - short]) // 2 if short > 0 else 0
        size = lefts[column + 1] - lefts[column], tops[row + 1] - tops[row]
        camera = Camera(
            eye_mm=pose.eye_mm,
            axes=pose.axes,
            focal_px=focal,
            centre_px=(
                size[0] / 2.0 - focal * (box[0] + box[2]) / 2.0,
                size[1] / 2.0 - focal * (box[1] + box[3]) / 2.0,
            ),
            size_px=size,
            near_mm=pose.near_mm,
        )
        found.append(Cell(left=lefts[column] + shift, top=tops[row], camera=camera))
    return focal, tuple(found)


def _middle(points_mm: F64) -> F64:
    """Middle of the box round points (N, 3)."""
    return np.asarray((points_mm.min(axis=0) + points_mm.max(axis=0)) / 2.0)


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
    seen = (points_mm - eye) @ axes.T
    x, y = seen[:, 0] / -seen[:, 2], seen[:, 1] / seen[:, 2]
    return float(x.min()), float(y.min()), float(x.max()), float(y.max())


def _focal(box: tuple[float, float, float, float], size_px: tuple[int, int]) -> float:
    """Largest focal length, px, with which the box fits into a cell with its margins."""
    wide, high = max(box[2] - box[0], 1e-9), max(box[3] - box[1], 1e-9)
    margin = 2.0 * _MARGIN * min(size_px)
    return min((size_px[0] - margin) / wide, (size_px[1] - margin) / high)
