"""The work trousers: four legs' pieces, a yoke, a waistband, two patch pockets, belt loops."""

from dataclasses import dataclass

import numpy as np

from texbake.arrays import F64
from texbake.demo.body import MIRROR, UP, Field, loft_field, mirrored, on_surface, union, upright
from texbake.demo.drape import Fold, both_sides, folds, lift
from texbake.demo.model import Model, draped, weld
from texbake.demo.patches import Patch, outline, patched
from texbake.demo.pieces import Piece, fill, other_side, side_on
from texbake.demo.unwrap import Habit, lay_out

# Quads: along a leg, front rise, back rise below the yoke, yoke, and across a front and a back.
LEG, RISE, SEAT, YOKE, FRONT, BACK = 30, 9, 7, 2, 7, 9
UV_PER_CM = 0.00770

# Waist 86 cm worn low, hip 102 cm, and ease. The legs carry on inside, so that the fork is round.
HIPS = (
    # y, x, z, half width, front, back, squareness
    (77.5, 0.0, -0.5, 5.2, 3.1, 4.1, 2.0),
    (80.0, 0.0, -0.5, 10.8, 7.2, 9.1, 2.1),
    (82.5, 0.0, -0.3, 14.4, 9.6, 11.7, 2.2),
    (86.0, 0.0, -0.2, 17.1, 11.2, 13.7, 2.25),
    (90.0, 0.0, 0.0, 17.6, 11.7, 14.1, 2.3),
    (95.0, 0.0, 0.0, 17.0, 11.4, 12.6, 2.3),
    (99.0, 0.0, 0.0, 16.0, 11.0, 11.0, 2.3),
    (103.0, 0.0, 0.0, 15.4, 10.8, 10.1, 2.3),
    (107.0, 0.0, 0.0, 15.2, 10.7, 9.8, 2.3),
    (112.0, 0.0, 0.0, 15.2, 10.7, 9.8, 2.3),
)
LEG_LOFT = (
    (0.0, 12.4, -1.4, 6.7, 8.0, 7.4, 2.1),
    (8.0, 12.2, -1.5, 6.7, 7.7, 7.4, 2.1),
    (16.0, 12.0, -1.6, 6.8, 7.5, 7.6, 2.1),
    (30.0, 11.4, -1.4, 7.1, 7.6, 8.2, 2.1),
    (40.0, 11.0, -0.7, 7.3, 7.9, 8.0, 2.1),
    (48.0, 10.6, -0.2, 7.6, 8.3, 7.8, 2.1),
    (58.0, 10.2, 0.0, 8.4, 9.1, 8.8, 2.1),
    (68.0, 9.9, 0.0, 9.2, 10.2, 10.4, 2.15),
    (75.0, 9.6, -0.1, 9.3, 10.4, 11.6, 2.2),
    (80.0, 9.3, -0.2, 9.4, 10.5, 12.5, 2.2),
    (86.0, 8.9, -0.1, 9.0, 10.2, 12.6, 2.2),
    (92.0, 8.6, 0.0, 7.6, 8.9, 10.5, 2.2),
    (98.0, 8.6, 0.0, 4.1, 4.1, 6.2, 2.2),
)
FORK = (0.0, 76.0, -1.5)
SIDE_HIP = (19.0, 80.0, -0.3)
SIDE_WAIST = (15.8, 102.0, -0.3)
IN_HEM, OUT_HEM = (5.6, 4.5, -1.6), (19.0, 4.5, -1.6)
BAND_CM = 4.0


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Sides:
    """The lines that the pieces share, for the wearer's left half."""

    inseam: F64
    outseam: F64
    hip: F64
    centre_front: F64
    centre_back: F64
    waist_front: F64
    waist_back: F64


def shared_sides(body: Field) -> Sides:
    """Lay the seams on the body, upwards; waist lines run from the middle to the side."""
    corners = on_surface(body, np.array([IN_HEM, OUT_HEM]), level=UP).tolist()
    inseam = [corners[0], (4.3, 30.0, -1.6), (3.0, 48.0, -1.0), (1.1, 66.0, -1.2), FORK]
    outseam = [corners[1], (18.5, 30.0, -1.4), (18.2, 48.0, -0.4), (18.6, 66.0, 0.0), SIDE_HIP]
    front = [FORK, (0.0, 78.6, 4.0), (0.0, 83.0, 9.4), (0.0, 91.0, 11.4), (0.0, 100.8, 11.0)]
    behind = [FORK, (0.0, 78.4, -6.5), (0.0, 82.5, -11.5), (0.0, 91.0, -13.4), (0.0, 103.2, -10.0)]
    waist = [(0.0, 100.8, 11.0), (6.0, 101.0, 10.8), (11.5, 101.5, 8.0), SIDE_WAIST]
    nape = [(0.0, 103.2, -10.0), (6.0, 103.0, -9.8), (11.5, 102.5, -7.2), SIDE_WAIST]
    return Sides(
        inseam=side_on(body, inseam, LEG),
        outseam=side_on(body, outseam, LEG),
        hip=side_on(body, [SIDE_HIP, (18.1, 92.0, -0.3), SIDE_WAIST], RISE),
        centre_front=side_on(body, front, RISE),
        centre_back=side_on(body, behind, SEAT + YOKE),
        waist_front=side_on(body, waist, FRONT),
        waist_back=side_on(body, nape, BACK),
    )


def front_left(body: Field, sides: Sides) -> F64:
    """Cut the left front, from the hem up."""
    start, end = sides.inseam[0].tolist(), sides.outseam[0].tolist()
    hem = [start, (7.6, 4.6, 4.4), (12.2, 4.8, 6.2), (17.0, 4.6, 4.4), end]
    return fill(
        body,
        bottom=side_on(body, hem, FRONT, level=UP),
        top=sides.waist_front,
        left=np.concatenate([sides.inseam, sides.centre_front[1:]]),
        right=np.concatenate([sides.outseam, sides.hip[1:]]),
    )


def back_left(body: Field, sides: Sides) -> tuple[F64, F64]:
    """Cut the left back and the yoke above it, lower in the middle than at the side."""
    start, end = sides.outseam[0].tolist(), sides.inseam[0].tolist()
    hem = [start, (17.0, 4.2, -7.4), (12.2, 4.0, -9.0), (7.6, 4.2, -7.4), end]
    side = np.concatenate([sides.outseam, sides.hip[1:]])
    middle = np.concatenate([sides.inseam, sides.centre_back[1:]])
    high, low = side[-1 - YOKE], middle[-1 - YOKE]
    seam = side_on(body, [high.tolist(), *between(high, low), low.tolist()], BACK)
    leg = fill(
        body,
        bottom=side_on(body, hem, BACK, level=UP),
        top=seam,
        left=side[:-YOKE],
        right=middle[:-YOKE],
    )
    yoke = fill(
        body,
        bottom=seam,
        top=sides.waist_back[::-1],
        left=side[-1 - YOKE :],
        right=middle[-1 - YOKE :],
    )
    return leg, yoke


def between(high: F64, low: F64) -> list[list[float]]:
    """Return knots of the yoke seam, round the seat."""
    return [
        [13.0, high[1] + (low[1] - high[1]) * 0.30, -9.0],
        [7.0, high[1] + (low[1] - high[1]) * 0.65, -12.4],
    ]


def waistband(body: Field, sides: Sides) -> F64:
    """Cut the waistband, a ring that opens at the centre front."""
    left = np.concatenate([sides.waist_front, sides.waist_back[-2::-1]])
    ring = np.concatenate([left, (left * MIRROR)[-2::-1]])
    rows = [on_surface(body, ring + BAND_CM * part * UP, level=UP) for part in (0.5, 1.0)]
    return np.stack([ring, *rows])


def cut() -> Model:
    """Cut all pieces and weld them."""
    leg = loft_field(upright(LEG_LOFT))
    body = union([union([leg, mirrored(leg)], 1.5), loft_field(upright(HIPS))], 5.0)
    sides = shared_sides(body)
    behind, yoke = back_left(body, sides)
    pieces = [
        Piece(name="waistband", material="denim", points_cm=waistband(body, sides), layer="band")
    ]
    for name, grid in {"front": front_left(body, sides), "back": behind, "yoke": yoke}.items():
        pieces += [
            Piece(name=f"{name}-left", material="denim", points_cm=grid),
            Piece(name=f"{name}-right", material="denim", points_cm=other_side(grid)),
        ]
    return weld("ferry-trousers", pieces)


def strokes() -> list[Fold]:
    """Draw the folds: whiskers at the fork, hollows behind the knees, breaks over the shoes."""
    half = folds(
        ([(1.5, 81.5, 8.5), (7.0, 85.0, 11.0), (13.5, 88.5, 9.5)], 0.4, 2.2),
        ([(2.0, 78.0, 7.5), (8.0, 80.5, 10.5), (15.5, 84.0, 8.0)], 0.35, 2.2),
        ([(3.5, 73.5, 7.5), (9.0, 75.0, 10.2), (16.0, 77.0, 7.5)], 0.35, 2.2),
        ([(2.0, 79.0, -9.0), (7.5, 76.0, -12.0), (14.5, 77.5, -10.5)], 0.8, 2.2),
        ([(3.0, 73.5, -8.0), (9.0, 71.0, -10.8), (16.0, 73.5, -8.0)], 0.6, 2.4),
        ([(5.0, 53.5, -5.5), (10.8, 51.5, -8.4), (17.5, 54.5, -5.0)], 1.28, 2.2),
        ([(4.8, 47.5, -5.5), (11.0, 46.0, -8.2), (17.8, 48.5, -5.0)], 1.44, 2.2),
        ([(5.2, 41.5, -5.5), (11.4, 40.5, -8.8), (18.0, 43.0, -5.0)], 0.96, 2.2),
        ([(6.5, 55.0, 5.5), (11.0, 52.0, 8.6), (17.0, 49.0, 5.5)], 0.80, 2.6),
        ([(6.0, 42.5, 4.5), (11.5, 40.0, 7.4), (18.0, 42.5, 4.0)], 0.80, 2.4),
        ([(6.0, 15.5, 2.5), (12.0, 12.5, 6.8), (19.0, 15.0, 2.0)], 1.60, 2.2),
        ([(6.2, 20.5, 0.0), (12.0, 18.5, 6.2), (18.8, 22.5, 3.0)], 1.12, 2.2),
        ([(6.0, 11.0, -6.5), (12.5, 14.0, -9.8), (18.5, 10.5, -6.5)], 1.12, 2.2),
        ([(18.8, 88.0, 2.0), (15.0, 93.5, 8.0), (10.0, 97.5, 10.2)], 0.4, 2.2),
    )
    return both_sides(half, other=0.85, lower_cm=0.9)


def patches() -> list[Patch]:
    """Draw the back pockets."""
    pocket = outline(13.5, 13.5, point=2.0, taper=1.0)
    place = {"left": ((8.8, 85.5, -13.5), 3.0), "right": ((-8.8, 85.5, -13.5), -3.0)}
    fly = Patch(
        name="fly",
        material="denim",
        on="front-left",
        near_cm=(2.2, 92.0, 11.6),
        outline_cm=curved_fly(),
        cells=(3, 6),
        height_cm=0.35,
    )
    return [fly] + [
        Patch(
            name=f"pocket-{side}",
            material="denim",
            on=f"back-{side}",
            near_cm=near,
            outline_cm=pocket,
            cells=(6, 6),
            turn_deg=turn,
        )
        for side, (near, turn) in place.items()
    ]


def curved_fly() -> tuple[F64, F64, F64, F64]:
    """Return the sides of a fly facing: straight along the middle, rounded below."""
    bottom = np.array([(-1.8, -7.6), (-0.4, -7.0), (0.8, -5.9)])
    right = np.array([(0.8, -5.9), (1.5, -4.2), (1.8, -2.0), (1.8, 7.0)])
    return bottom, np.array([(-1.8, 7.0), (1.8, 7.0)]), np.array([(-1.8, -7.6), (-1.8, 7.0)]), right


HABITS = {
    "front-right": Habit(turns=1),
    "front-left": Habit(),
    "back-left": Habit(),
    "back-right": Habit(mirror=True),
    "waistband": Habit(straighten=1.0, turns=1),
    "pocket-left": Habit(turns=1),
    "pocket-right": Habit(turns=1),
    "yoke-left": Habit(turns=1),
    "yoke-right": Habit(turns=1),
    "fly": Habit(turns=1),
}


def build() -> Model:
    """Make the trousers: cut, drape, add pockets, unwrap."""
    model = cut()
    model = draped(model, lift(model.points_cm, strokes()))
    return lay_out(patched(model, patches()), HABITS, UV_PER_CM)
