"""The crew pullover: front, back, two set-in sleeves, and ribs at neck, cuffs and hem."""

from dataclasses import dataclass

import numpy as np

from texbake.arrays import F64
from texbake.demo.body import (
    MIRROR,
    UP,
    Field,
    Loft,
    limb,
    loft_field,
    mirrored,
    on_surface,
    union,
    upright,
)
from texbake.demo.drape import Fold, both_sides, folds, lift
from texbake.demo.model import Model, draped, weld
from texbake.demo.pieces import Piece, fill, other_side, round_limb, side_on
from texbake.demo.unwrap import Habit, lay_out

# Quads along the side seam, half an armhole, a shoulder, half a neck (front or back), a sleeve.
LOW, ARM, SHOULDER, NECK, SLEEVE = 13, 8, 5, 10, 20
UV_PER_CM = 0.00800

# Chest 100 cm and 12 cm of ease; blouses over the ribbed band; the neck is the wearer's own.
TRUNK = (
    # y, x, z, half width, front, back, squareness
    (86.0, 0.0, 0.0, 16.6, 11.2, 12.4, 2.3),
    (91.0, 0.0, 0.0, 17.2, 11.7, 12.6, 2.3),
    (95.5, 0.0, 0.0, 17.6, 12.0, 12.6, 2.3),
    (98.5, 0.0, 0.0, 18.9, 13.4, 13.3, 2.3),
    (103.0, 0.0, 0.0, 19.6, 14.0, 13.3, 2.3),
    (109.0, 0.0, 0.0, 19.5, 13.8, 12.6, 2.3),
    (115.0, 0.0, 0.0, 19.5, 14.1, 12.6, 2.3),
    (122.0, 0.0, 0.0, 19.6, 14.5, 13.5, 2.35),
    (128.0, 0.0, 0.0, 19.6, 14.4, 14.3, 2.35),
    (134.0, 0.0, 0.0, 18.8, 13.0, 14.0, 2.3),
    (139.0, 0.0, 0.0, 18.4, 10.6, 13.1, 2.2),
    (143.0, 0.0, 0.0, 18.2, 8.3, 11.7, 2.1),
    (145.5, 0.0, 0.0, 16.9, 6.6, 10.6, 2.0),
    (147.2, 0.0, 0.0, 14.0, 5.9, 9.7, 2.0),
    (148.8, 0.0, 0.0, 10.6, 5.6, 8.8, 2.0),
    (150.5, 0.0, 0.0, 7.9, 5.5, 7.9, 2.0),
    (153.0, 0.0, 0.0, 7.0, 5.5, 7.0, 2.0),
    (157.0, 0.0, 0.0, 6.7, 5.6, 6.6, 2.0),
)
# Upper arm 34 cm, wrist 17 cm under a 22 cm cuff; the elbow is bent a little.
ARM_LOFT = (
    # along, side, fore, half width, front, back, squareness
    (-7.5, -1.6, 0.0, 0.5, 0.5, 0.5, 2.0),
    (-6.0, -1.4, 0.0, 3.6, 4.0, 4.2, 2.0),
    (-2.5, -0.9, 0.0, 6.0, 6.2, 6.6, 2.0),
    (3.0, -0.3, 0.0, 6.9, 6.8, 7.2, 2.0),
    (12.0, 0.0, 0.0, 6.6, 6.4, 6.8, 2.0),
    (22.0, 0.0, 0.2, 6.1, 5.9, 6.1, 2.0),
    (30.0, 0.2, 0.7, 5.8, 5.6, 5.8, 2.0),
    (38.0, 0.2, 1.8, 5.5, 5.4, 5.4, 2.0),
    (46.0, 0.0, 3.4, 5.1, 5.0, 5.0, 2.0),
    (51.0, -0.1, 4.4, 5.0, 4.9, 4.9, 2.0),
    (54.0, -0.2, 5.0, 3.9, 3.8, 3.8, 2.0),
    (57.0, -0.3, 5.7, 3.7, 3.6, 3.6, 2.0),
    (64.0, -0.5, 7.2, 3.5, 3.4, 3.4, 2.0),
)
SHOULDER_JOINT = (16.4, 140.6, -1.6)
ARM_AXIS = (0.60, -0.80, 0.04)
UNDERARM = (18.6, 127.0, -0.8)
SHOULDER_TIP = (17.2, 147.0, -1.6)
NECK_POINT = (8.1, 149.8, -1.0)
SIDE_HEM = (18.4, 97.0, -0.5)
BAND_CM, CUFF_END_CM = 6.5, 61.5


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Sides:
    """The lines that the pieces share: the wearer's left, and hem and neck all across."""

    side: F64
    arm_front: F64
    arm_back: F64
    shoulder: F64
    neck_front: F64
    neck_back: F64
    hem_front: F64
    hem_back: F64


def across(half: F64) -> F64:
    """Join a line from the middle to the wearer's left with its mirror image, right to left."""
    return np.concatenate([(half * MIRROR)[::-1], half[1:]])


def shared_sides(body: Field) -> Sides:
    """Lay seams, neckline and hem on the body."""
    front = [
        UNDERARM,
        (18.2, 128.2, 3.4),
        (17.2, 131.4, 7.4),
        (16.2, 136.5, 9.0),
        (16.3, 142.4, 6.0),
    ]
    back = [
        UNDERARM,
        (18.3, 128.2, -5.0),
        (17.6, 131.4, -9.2),
        (16.8, 136.5, -11.2),
        (16.7, 142.4, -8.5),
    ]
    collar = [
        (0.0, 142.6, 8.6),
        (3.0, 142.9, 8.2),
        (5.7, 144.1, 6.6),
        (7.6, 146.6, 3.4),
        NECK_POINT,
    ]
    nape = [(0.0, 149.2, -8.4), (3.2, 149.3, -7.6), (6.2, 149.5, -5.2), NECK_POINT]
    hem = SHOULDER + NECK // 2
    corner = on_surface(body, np.array(SIDE_HEM), level=UP).tolist()
    return Sides(
        side=side_on(body, [corner, (18.4, 112.0, -0.5), UNDERARM], LOW),
        arm_front=side_on(body, [*front, SHOULDER_TIP], ARM),
        arm_back=side_on(body, [*back, SHOULDER_TIP], ARM),
        shoulder=side_on(body, [NECK_POINT, (12.6, 148.4, -1.3), SHOULDER_TIP], SHOULDER),
        neck_front=across(side_on(body, collar, NECK // 2)),
        neck_back=across(side_on(body, nape, NECK // 2)),
        hem_front=across(
            side_on(body, [(0.0, 97.0, 12.9), (11.0, 97.0, 10.8), corner], hem, level=UP)
        ),
        hem_back=across(
            side_on(body, [(0.0, 97.0, -13.0), (11.0, 97.0, -11.0), corner], hem, level=UP)
        ),
    )


def trunk_pieces(body: Field, sides: Sides) -> dict[str, F64]:
    """Cut front and back."""
    out = sides.shoulder
    front = np.concatenate([sides.side, sides.arm_front[1:]])
    back = np.concatenate([sides.side, sides.arm_back[1:]])
    top_front = np.concatenate([(out * MIRROR)[::-1], sides.neck_front[1:-1], out])
    top_back = np.concatenate([(out * MIRROR)[::-1], sides.neck_back[1:-1], out])
    return {
        "front": fill(
            body, bottom=sides.hem_front, top=top_front, left=front * MIRROR, right=front
        ),
        "back": fill(
            body, bottom=sides.hem_back[::-1], top=top_back[::-1], left=back, right=back * MIRROR
        ),
    }


def sleeve_pieces(body: Field, arm: Loft, sides: Sides) -> dict[str, F64]:
    """Cut the left sleeve and its cuff; their seam runs under the arm."""
    armhole = np.concatenate([sides.arm_front, sides.arm_back[-2::-1]])
    sleeve = round_limb(body, arm, top=armhole, end_cm=54.0, rows=SLEEVE)
    cuff = round_limb(body, arm, top=sleeve[0], end_cm=CUFF_END_CM, rows=2)
    return {"sleeve-left": sleeve, "cuff-left": cuff}


def bands(trunk: Field, sides: Sides) -> dict[str, F64]:
    """Cut neckband and hem band, rings with their seams at the nape and at the left side."""
    middle = NECK // 2
    neck = np.concatenate(
        [sides.neck_back[middle::-1], sides.neck_front[1:], sides.neck_back[-2 : middle - 1 : -1]]
    )
    above = on_surface(trunk, neck * np.array([0.88, 1.0, 0.9]) + np.array([0.0, 2.2, 0.0]))
    hem = np.concatenate([sides.hem_back[::-1], sides.hem_front[1:]])
    below = [on_surface(trunk, hem - BAND_CM * part * UP, level=UP) for part in (0.5, 1.0)]
    halfway = (neck + above) / 2.0 + np.array([0.0, 0.35, 0.0])
    return {
        "neckband": np.stack([neck, halfway, above]),
        "hem-band": np.stack([below[1], below[0], hem]),
    }


def cut() -> Model:
    """Cut all pieces and weld them."""
    arm = limb(SHOULDER_JOINT, ARM_AXIS, ARM_LOFT)
    trunk, sleeve = loft_field(upright(TRUNK)), loft_field(arm)
    body = union([trunk, sleeve, mirrored(sleeve)], 4.0)
    sides = shared_sides(body)
    grids = trunk_pieces(body, sides) | bands(trunk, sides)
    for name, grid in sleeve_pieces(body, arm, sides).items():
        grids[name] = grid
        grids[name.replace("left", "right")] = other_side(grid)
    ribs = ("neckband", "hem-band", "cuff-left", "cuff-right")
    return weld(
        "ferry-pullover",
        [
            Piece(
                name=name,
                material="rib" if name in ribs else "body",
                points_cm=grid,
            )
            for name, grid in grids.items()
        ],
    )


def strokes() -> list[Fold]:
    """Draw the folds: pulls from the armpits, bunching at elbows and cuffs, sag over the band."""
    half = folds(
        ([(16.5, 131.0, 9.0), (11.0, 127.0, 12.5), (5.0, 120.0, 14.0)], 0.9, 2.8),
        ([(18.0, 126.0, 4.0), (14.0, 119.0, 11.5), (8.0, 111.0, 13.5)], 0.7, 2.8),
        ([(16.8, 132.0, -10.0), (11.0, 128.0, -13.0), (5.0, 123.0, -13.2)], 0.8, 2.8),
        ([(18.0, 125.0, -5.0), (13.0, 117.0, -11.0), (7.0, 110.0, -12.2)], 0.7, 2.8),
        ([(18.5, 106.0, 4.0), (11.0, 102.5, 12.0), (2.0, 104.5, 13.8)], 0.8, 2.4),
        ([(18.5, 107.0, -4.0), (11.0, 103.5, -11.5), (2.0, 106.0, -12.6)], 0.9, 2.4),
        ([(19.0, 112.0, 1.0), (14.5, 108.0, 10.0), (9.0, 107.0, 12.5)], 0.6, 2.2),
        ([(21.0, 128.0, 2.5), (24.5, 131.5, 4.0), (26.5, 136.0, 1.0)], 1.0, 2.4),
        ([(21.5, 126.5, -4.0), (25.0, 129.0, -7.0), (28.0, 133.0, -5.5)], 1.0, 2.4),
        ([(31.0, 114.5, 5.5), (34.5, 116.5, 5.0), (38.5, 119.5, 0.5)], 1.2, 2.2),
        ([(30.5, 117.5, -3.0), (31.5, 119.5, 5.0), (36.5, 122.5, 4.0)], 1.0, 2.2),
        ([(33.0, 112.0, -2.0), (35.0, 112.5, 6.5), (40.5, 115.0, 4.0)], 1.0, 2.2),
        ([(39.5, 104.5, 0.5), (41.0, 104.8, 7.5), (46.0, 107.5, 6.5)], 1.0, 2.0),
        ([(38.5, 107.5, 5.5), (43.5, 110.5, 7.0), (46.0, 111.5, 1.5)], 0.9, 2.0),
    )
    return both_sides(half, other=0.85, lower_cm=0.8)


def knit(model: Model) -> F64:
    """Return 1 where folds may show and 0 on the ribs, which hug the body, (N,)."""
    share = np.ones(len(model.points_cm))
    for sheet in model.sheets:
        if sheet.material == "rib":
            share[sheet.index] = 0.0
    return share


HABITS = {
    "back": Habit(squash=(1.0, 0.95), turns=1),
    "sleeve-left": Habit(straighten=0.6, turns=1),
    "hem-band": Habit(straighten=1.0),
    "front": Habit(turns=1),
    "sleeve-right": Habit(straighten=0.6, mirror=True, turns=3),
    "cuff-right": Habit(straighten=0.5, turns=1),
    "cuff-left": Habit(straighten=0.5),
    "neckband": Habit(),
}


def build() -> Model:
    """Make the pullover: cut, drape, unwrap."""
    model = cut()
    model = draped(model, lift(model.points_cm, strokes()) * knit(model))
    return lay_out(model, HABITS, UV_PER_CM)
