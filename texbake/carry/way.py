"""From a new mesh to an old one: face by face where they are the same, else by the nearest place.

Most UV changes leave the faces alone, and then the way is exact. Faces that are cut otherwise, or
moved a little, look for the nearest place on the old surface whose side agrees, so that shell and
lining are never mixed up.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np

from texbake.arrays import F64
from texbake.carry.pair import Pairs, diagonal_mm, pair_faces
from texbake.carry.sheet import Sheet
from texbake.errors import UserError
from texbake.garment.closest import Surface, closest, surface
from texbake.garment.raw import counted

# How far the surfaces may lie apart: 4 mm on a vest. By eye, no source: a mesh of half the
# triangles keeps within it, and a shirt lies farther off a jacket in most places.
REACH_OF_DIAGONAL: Final = 0.005
# Less of the new surface on the old one than this, and it is another garment (by eye, no source).
LEAST_SHARE: Final = 0.5
# Where each triangle is asked, as shares of its corners.
_ASKED: Final = (
    (1 / 3, 1 / 3, 1 / 3),
    (2 / 3, 1 / 6, 1 / 6),
    (1 / 6, 2 / 3, 1 / 6),
    (1 / 6, 1 / 6, 2 / 3),
)


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Way:
    """From each face of a new mesh to the old one.

    Attributes
    ----------
    old, new : Sheet
    pairs : Pairs
    on : Surface or None
        The old surface, to look for the nearest place; None where all faces are paired.
    reach_mm : float
        What lies farther away is not found.
    share : float
        Of the new surface's area, what lies on the old one.
    paired : float
        Of the new surface's area, what has the same face in the old mesh.
    """

    old: Sheet
    new: Sheet
    pairs: Pairs
    on: Surface | None
    reach_mm: float
    share: float
    paired: float

    @property
    def notes(self) -> tuple[str, ...]:
        """What the user should know of the two meshes."""
        lost = int(((self.pairs.face < 0) & self.new.usable).sum())
        if not lost:
            return ()
        told = counted(lost, "triangle is", "triangles are")
        note = (
            f"{told} new or cut otherwise ({1.0 - self.paired:.1%} of the surface): "
            f"the nearest places of the old mesh are taken, up to {self.reach_mm:.3g} mm away"
        )
        return (note,)


def way_between(old: Sheet, new: Sheet) -> Way:
    """Find the way from a new mesh to the old one.

    Raises
    ------
    UserError
        If less than half of the new surface lies on the old one, with the measured share.
    """
    pairs = pair_faces(old, new)
    area = _areas(new.corners_mm)
    area[~new.usable] = 0.0
    have = pairs.face >= 0
    total = max(float(area.sum()), 1e-300)
    reach = REACH_OF_DIAGONAL * diagonal_mm(old)
    found = have.astype(np.float64)
    left = np.flatnonzero(~have & new.usable)
    on = surface(old.corners_mm, keep=old.usable) if len(left) else None
    if on is not None:
        found[left] = _found(on, new.corners_mm[left], reach)
    share = float((area * found).sum()) / total
    if share < LEAST_SHARE:
        raise _another(old, new, share, reach)
    paired = float(area[have].sum()) / total
    return Way(old=old, new=new, pairs=pairs, on=on, reach_mm=reach, share=share, paired=paired)


def _areas(corners: F64) -> F64:
    """Areas of triangles (F, 3, 3)."""
    turn = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    return np.asarray(0.5 * np.linalg.norm(turn, axis=1))


def face_normals(corners: F64) -> F64:
    """Unit normals of triangles (F, 3, 3); 0 for those without area."""
    turn = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    length = np.linalg.norm(turn, axis=1, keepdims=True)
    return np.asarray(np.divide(turn, length, out=np.zeros_like(turn), where=length > 0.0))


def _found(on: Surface, corners: F64, reach_mm: float) -> F64:
    """Share of each triangle (F, 3, 3) that lies on a surface, of four places on it."""
    asked = np.einsum("sk,fkd->fsd", np.array(_ASKED), corners)
    normals = np.repeat(face_normals(corners), len(_ASKED), axis=0)
    face = closest(on, asked.reshape(-1, 3), normals=normals, within_mm=reach_mm).face
    return np.asarray((face >= 0).reshape(-1, len(_ASKED)).mean(axis=1))


def _another(old: Sheet, new: Sheet, share: float, reach_mm: float) -> UserError:
    """Say that these are not the same garment, by what was measured."""
    sizes = [
        " x ".join(f"{mm:.0f}" for mm in np.ptp(s.corners_mm[s.usable].reshape(-1, 3), axis=0))
        for s in (old, new)
    ]
    return UserError(
        f"only {share:.1%} of the new mesh lies on the old one, within {reach_mm:.3g} mm: the old "
        f"measures {sizes[0]} mm ({old.mesh.path.name}), the new {sizes[1]} mm",
        fix="name two meshes of the same garment, in the same place and pose; if one is in another "
        "unit or has another axis up, say so with --from-unit, --to-unit, --from-up, --to-up",
        path=new.mesh.path,
    )
