"""The deck vest: two fronts that overlap, a back, a lining, three welts and a back belt."""

from dataclasses import dataclass

import numpy as np

from texbake.arrays import F64
from texbake.demo.body import MIRROR, Field, loft_field, upright
from texbake.demo.drape import Fold, both_sides, folds, lift
from texbake.demo.model import Model, draped, lined, weld
from texbake.demo.patches import Patch, outline, patched
from texbake.demo.pieces import Piece, fill, other_side, side_on
from texbake.demo.unwrap import Habit, lay_out

LOW, ARM, SHOULDER, NECK = 13, 9, 8, 6  # quads along side seam, armhole, shoulder and back neck
UV_PER_CM = 0.00846

# Chest 100 cm, waist 86 cm, and about 10 cm of ease.
TRUNK = (
    # y, x, z, half width, front, back, squareness
    (82.0, 0.0, 0.0, 19.1, 12.9, 13.9, 2.3),
    (90.0, 0.0, 0.0, 18.8, 12.7, 13.3, 2.3),
    (97.0, 0.0, 0.0, 18.0, 12.6, 12.2, 2.3),
    (105.0, 0.0, 0.0, 17.1, 12.6, 10.9, 2.3),
    (112.0, 0.0, 0.0, 17.3, 13.0, 10.9, 2.3),
    (120.0, 0.0, 0.0, 18.1, 13.8, 12.2, 2.35),
    (128.0, 0.0, 0.0, 18.7, 14.1, 13.5, 2.35),
    (134.0, 0.0, 0.0, 18.6, 12.5, 13.4, 2.3),
    (139.0, 0.0, 0.0, 18.8, 10.0, 12.5, 2.2),
    (143.0, 0.0, 0.0, 19.0, 7.6, 11.2, 2.1),
    (145.0, 0.0, 0.0, 18.1, 6.0, 10.1, 2.0),
    (146.5, 0.0, 0.0, 16.2, 4.6, 9.3, 2.0),
    (148.0, 0.0, 0.0, 12.6, 3.6, 8.4, 2.0),
    (149.5, 0.0, 0.0, 8.6, 3.2, 7.5, 2.0),
    (151.0, 0.0, 0.0, 7.0, 3.4, 6.9, 2.0),
    (154.0, 0.0, 0.0, 6.6, 4.0, 6.5, 2.0),
)
UNDERARM = (18.4, 126.0, -0.5)
SHOULDER_TIP = (15.8, 146.6, -1.5)
NECK_POINT = (7.6, 149.7, -1.2)
SIDE_HEM = (18.3, 92.5, -0.5)


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Sides:
    """The lines that the pieces share, for the wearer's left half; each (n + 1, 3) cm."""

    side: F64
    arm_front: F64
    arm_back: F64
    shoulder: F64


def shared_sides(body: Field) -> Sides:
    """Lay the side seam, the armhole and the shoulder seam on the body."""
    front = [
        UNDERARM,
        (18.1, 126.9, 3.2),
        (17.1, 129.4, 6.9),
        (15.5, 134.5, 9.2),
        (14.9, 140.5, 6.4),
    ]
    back = [
        UNDERARM,
        (18.1, 126.9, -4.0),
        (17.4, 130.0, -7.9),
        (16.2, 136.0, -10.2),
        (15.5, 142.0, -8.0),
    ]
    return Sides(
        side=side_on(body, [SIDE_HEM, (17.2, 108.0, -0.5), UNDERARM], LOW),
        arm_front=side_on(body, [*front, SHOULDER_TIP], ARM),
        arm_back=side_on(body, [*back, SHOULDER_TIP], ARM),
        shoulder=side_on(body, [NECK_POINT, (11.8, 148.5, -1.4), SHOULDER_TIP], SHOULDER),
    )


def front_left(body: Field, sides: Sides) -> F64:
    """Cut the left front: it passes the middle by 1 cm and opens below the last button."""
    corner, rise, waist, fall = (
        (1.6, 92.2, 12.0),
        (0.2, 94.6, 12.0),
        (-1.0, 99.0, 12.0),
        (-1.0, 125.0, 13.0),
    )
    closing = side_on(
        body, [corner, rise, waist, (-1.1, 106.0, 12.0), (-1.0, 116.0, 12.5), fall], LOW
    )
    vee = side_on(body, [fall, (1.1, 131.0, 12.5), (4.4, 140.0, 9.0), NECK_POINT], ARM)
    points = [
        corner,
        (3.4, 89.0, 12.0),
        (6.0, 88.0, 12.0),
        (9.2, 89.2, 11.5),
        (14.0, 91.5, 8.0),
        SIDE_HEM,
    ]
    return fill(
        body,
        bottom=side_on(body, points, SHOULDER),
        top=sides.shoulder,
        left=np.concatenate([closing, vee[1:]]),
        right=np.concatenate([sides.side, sides.arm_front[1:]]),
    )


def back(body: Field, sides: Sides) -> F64:
    """Cut the back, in one piece."""
    half_neck = [NECK_POINT, (5.6, 149.3, -5.4), (3.0, 148.8, -7.4), (0.0, 148.6, -8.0)]
    half_hem = [SIDE_HEM, (15.0, 92.2, -8.5), (8.0, 91.7, -12.0), (0.0, 91.4, -13.0)]
    neck = side_on(body, half_neck, NECK // 2)
    hem = side_on(body, half_hem, SHOULDER + NECK // 2)
    top = np.concatenate([sides.shoulder[::-1], neck[1:]])
    left = np.concatenate([sides.side, sides.arm_back[1:]])
    return fill(
        body,
        bottom=np.concatenate([hem, (hem * MIRROR)[-2::-1]]),
        top=np.concatenate([top, (top * MIRROR)[-2::-1]]),
        left=left,
        right=left * MIRROR,
    )


def cut() -> Model:
    """Cut the shell and weld it."""
    body = loft_field(upright(TRUNK))
    sides = shared_sides(body)
    left = front_left(body, sides)
    grids = {"front-left": left, "front-right": other_side(left), "back": back(body, sides)}
    return weld(
        "ferry-vest",
        [Piece(name=name, material="shell", points_cm=grid) for name, grid in grids.items()],
    )


def strokes() -> list[Fold]:
    """Draw the folds: stiff drill pulls from chest to underarm and breaks at the waist."""
    half = folds(
        ([(18.0, 112.0, 2.0), (13.0, 108.0, 9.5), (6.0, 106.0, 12.0)], 0.68, 2.6),
        ([(17.8, 104.0, 2.0), (13.0, 102.5, 9.5), (7.0, 104.0, 12.0)], 0.60, 2.4),
        ([(18.5, 124.0, 4.0), (12.0, 125.0, 11.0), (5.0, 121.0, 13.0)], 0.75, 3.0),
        ([(17.5, 107.0, -3.0), (11.0, 106.0, -9.5), (3.0, 107.5, -10.5)], 0.83, 2.6),
        ([(17.5, 112.0, -3.0), (11.0, 112.5, -9.5), (4.0, 111.5, -10.5)], 0.60, 2.4),
        ([(17.8, 128.0, -6.0), (13.0, 124.0, -11.0), (8.0, 118.0, -11.5)], 0.75, 3.0),
        ([(11.0, 101.0, -10.5), (12.0, 96.0, -11.5), (12.5, 88.0, -12.5)], 0.83, 3.2),
        ([(12.5, 100.0, 10.0), (12.0, 94.0, 11.0), (11.5, 86.0, 11.5)], 0.75, 3.0),
    )
    return both_sides(half, other=0.8, lower_cm=1.2)


def overlap(model: Model) -> F64:
    """Return the lift of the left front where it lies on the right one, (N,) cm."""
    left = next(sheet for sheet in model.sheets if sheet.name == "front-left").index
    share = np.clip((4.5 - model.points_cm[:, 0]) / 4.5, 0.0, 1.0)
    rise = np.zeros(len(model.points_cm))
    rise[left] = (0.75 * share * share * (3.0 - 2.0 * share))[left]
    return rise


def joined_points(model: Model) -> set[int]:
    """Return the points where the lining is sewn to the shell: fronts and neck."""
    index = {sheet.name: sheet.index for sheet in model.sheets}
    neck = index["back"][-1, SHOULDER : SHOULDER + NECK + 1]
    edges = [index["front-left"][:, 0], index["front-right"][:, -1], neck]
    return set(np.concatenate(edges).tolist())


def patches() -> list[Patch]:
    """Draw the welts and the back belt."""
    welt, chest, belt = outline(13.0, 3.6, point=0.3), outline(9.5, 2.6), outline(26.0, 4.0)
    shell, left, right = "shell", "front-left", "front-right"
    low_left, low_right, high = (11.6, 103.0, 10.6), (-11.6, 103.0, 10.6), (10.5, 131.0, 11.2)
    make = Patch
    return [
        make(
            name="welt-left",
            material=shell,
            on=left,
            near_cm=low_left,
            outline_cm=welt,
            cells=(6, 3),
            turn_deg=9.0,
        ),
        make(
            name="welt-right",
            material=shell,
            on=right,
            near_cm=low_right,
            outline_cm=welt,
            cells=(6, 3),
            turn_deg=-9.0,
        ),
        make(
            name="welt-chest",
            material=shell,
            on=left,
            near_cm=high,
            outline_cm=chest,
            cells=(5, 2),
            turn_deg=7.0,
        ),
        make(
            name="belt",
            material=shell,
            on="back",
            near_cm=(0.0, 104.0, -10.5),
            outline_cm=belt,
            cells=(10, 2),
        ),
    ]


HABITS = {
    "front-right": Habit(mirror=True, turns=1),
    "back": Habit(turns=2),
    "lining-front-left": Habit(density=0.82, turns=3),
    "front-left": Habit(squash=(1.0, 0.97)),
    "lining-back": Habit(density=0.82, straighten=0.25, turns=3),
    "lining-front-right": Habit(density=0.82),
    "belt": Habit(),
    "welt-right": Habit(turns=1),
    "welt-left": Habit(turns=1),
    "welt-chest": Habit(squash=(0.9, 1.0), turns=1),
}


def build() -> Model:
    """Make the vest: cut, drape, line, add welts, unwrap."""
    model = cut()
    model = draped(model, lift(model.points_cm, strokes()) + overlap(model))
    names = {"front-left", "front-right", "back"}
    model = lined(model, names=names, joined=joined_points(model), gap_cm=0.25)
    return lay_out(patched(model, patches()), HABITS, UV_PER_CM)
