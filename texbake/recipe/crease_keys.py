"""The keys of a recipe that say where worn cloth is creased."""

from typing import Annotated, ClassVar, get_args

from pydantic import Field, model_validator

from texbake.recipe import units, words
from texbake.recipe.crease_values import CreaseKind
from texbake.recipe.keys import Keys, key, length_of
from texbake.recipe.kinds import Amount, Choice, Vector
from texbake.recipe.mistake import WrongValueError

_KIND = Choice(of={kind: kind for kind in get_args(CreaseKind)})
_STRENGTH = Amount(of=units.SHARE, low=0.0, high=3.0, example="50 %")
_POINT = Vector(length=3, whole=False, limit=1e6)
_ALONG_CHAINS, _AT_POINTS = ("drag lines", "roping"), ("whiskers", "honeycombs", "stacks")


class CreasePlaceKeys(Keys):
    """A place that is creased: a seam, an open edge, or round a point."""

    noun: ClassVar[str] = "place of creases"
    kind: Annotated[CreaseKind, _KIND] = key(
        "drag lines",
        "Drag lines leave a seam, an edge or a point of strain; roping twists a hem. At a point: "
        "whiskers at the hip, honeycombs behind the knee, stacks above the ankle or at the elbow.",
        "honeycombs",
    )
    between: Annotated[tuple[str, str] | None, words.Names(count=2)] = key(
        None, "Along the seams between two panels; all stands for any.", ["front", "sleeve-left"]
    )
    on: Annotated[tuple[str, ...] | None, words.Names()] = key(
        None, "Along the open edges of these panels.", "front", ["front", "back"]
    )
    at: Annotated[tuple[float, float, float] | None, _POINT] = key(
        None, "Round a point near the cloth, in the mesh's own unit and axes.", [9, 50, -6]
    )
    direction: Annotated[tuple[float, float, float] | None, _POINT] = key(
        None,
        "Which way the folds at a point run, in the mesh's axes; left out: around the body, and "
        "drag lines to all sides.",
        [1, 0.3, 0],
    )
    panel: Annotated[str | None, words.Text(what="the name of a panel")] = key(
        None, "The panel that the point lies on; left out: the nearest cloth.", "back"
    )
    radius: Annotated[float, length_of(5.0, 1000.0, "80 mm")] = key(
        "80 mm", "How far round the point.", "60 mm"
    )
    strength: Annotated[float, _STRENGTH] = key(
        "100 %", "How high folds are here, of the strength of all.", "50 %"
    )
    width: Annotated[float | None, length_of(2.0, 200.0, "12 mm")] = key(
        None, "Width of a fold; left out: as usual for its kind.", "16 mm"
    )
    length: Annotated[float | None, length_of(5.0, 1000.0, "60 mm")] = key(
        None, "Length of the longest folds; left out: as usual for its kind.", "90 mm"
    )
    spacing: Annotated[float | None, length_of(3.0, 500.0, "25 mm")] = key(
        None, "Between folds, on average; left out: as usual for its kind.", "20 mm"
    )

    @model_validator(mode="after")
    def _one_place(self) -> "CreasePlaceKeys":
        given = [name for name in ("between", "on", "at") if getattr(self, name) is not None]
        if len(given) != 1:
            found = " and ".join(given) or "no place"
            fix = "give one of between (a seam), on (an open edge) and at (a point)"
            raise WrongValueError(f"a place of creases has {found}", fix=fix)
        if self.at is None and self.kind in _AT_POINTS:
            what, fix = (
                f"{self.kind} lie round a point",
                "give at; along chains lie " + (" and ".join(_ALONG_CHAINS)),
            )
            raise WrongValueError(what, fix=fix, at=("kind",))
        if self.on is None and self.kind == "roping":
            raise WrongValueError("roping twists a hem", fix="give on", at=("kind",))
        return self


class CreaseKeys(Keys):
    """Folds that wear and drape leave in the cloth."""

    noun: ClassVar[str] = "set of creases"
    strength: Annotated[float, _STRENGTH] = key(
        "50 %", "How high folds are; 100 % is a garment long worn, 0 % none.", "30 %"
    )
    places: list[CreasePlaceKeys] | None = Field(
        default=None, description="Where; left out: drag lines at all seams and open edges."
    )
