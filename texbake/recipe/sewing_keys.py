"""The keys of a recipe that say how the garment is sewn."""

from typing import Annotated, Any, ClassVar, Literal, get_args

from pydantic import BeforeValidator, Field, model_validator

from texbake.recipe import units, words
from texbake.recipe.keys import (
    ALL,
    BOTH,
    COUNT,
    NONE,
    SCALE,
    ColourValue,
    Keys,
    key,
    length_of,
    need,
)
from texbake.recipe.kinds import Amount, Amounts, Choice, Flag, Vector, Whole
from texbake.recipe.mistake import WrongValueError
from texbake.recipe.values import Colour, StitchNumber


class ThreadKeys(Keys):
    """Sewing thread."""

    noun: ClassVar[str] = "thread"
    colour: Annotated[Colour | None, words.ColourText()] = key(
        None, "Colour; left out: the cloth's own, a little darker.", "#d8cfb8"
    )
    count: Annotated[float, COUNT] = key("60 tex", "Fineness (ISO 1144).", "Nm 30")
    metallic: Annotated[bool, Flag()] = key(False, "Metal thread.")


def _bare_thread(value: Any) -> Any:  # noqa: ANN401  # as pydantic passes it
    """Read a colour in place of a thread as the thread's colour."""
    return value if isinstance(value, dict) else {"colour": value}


_STITCH = Choice(of={**{n: n for n in get_args(StitchNumber)}, NONE: None})
_SEAMS = Choice(of={word: word for word in ("pressed", "lapped", "felled", "piped")})
_HEMS = Choice(of={word: word for word in ("turned", "bound", "banded")})
_PUCKER = Amount(of=units.SHARE, low=0.0, high=5.0, example="50 %")


_CLOTH = words.Text(what="a key of fabrics, or a structure such as plain, twill 2/1, felt")


def _strip(keys: "Stitching", made: str, *strips: str) -> None:
    """Refuse a cloth where nothing is laid over the panel's."""
    if keys.cloth is not None and made not in strips:
        fix = f"add construction: {strips[0]}, or take cloth out"
        raise WrongValueError(f"a {made} edge shows no cloth of its own", fix=fix, at=("cloth",))


class Stitching(Keys):
    """What seams and hems share."""

    name: Annotated[str | None, words.EntryName()] = key(
        None,
        "Name for paths of colourways; entries that share one are changed together.",
        "sides",
    )
    stitch: Annotated[StitchNumber | None, _STITCH] = key(
        "301",
        "Stitch type (ISO 4915), 301 is lockstitch; none: nothing is stitched.",
        301,
        602,
        "none",
    )
    seen: Annotated[Literal["face", "inside"], Choice(of={"face": "face", "inside": "inside"})] = (
        key("face", "Which side of the stitch the garment shows.", "inside")
    )
    gauge: Annotated[float | None, length_of(1.0, 25.0, "5.6 mm")] = key(
        None,
        "Between the outer needles, or width of a zigzag or overedge; left out: as usual.",
        "1/4 in",
    )
    rows: Annotated[int, Whole(low=1, high=4)] = key(1, "Rows of stitches.", 2)
    length: Annotated[float, length_of(0.5, 20.0, "2.5 mm")] = key(
        "2.5 mm", "Length of a stitch.", "1/8 in"
    )
    from_edge: Annotated[float, length_of(0.0, 50.0, "2 mm")] = key(
        "2 mm", "From the seam line, or the edge, to the first row.", "1/4 in"
    )
    spacing: Annotated[float, length_of(0.5, 50.0, "6 mm")] = key("6 mm", "Between rows.", "1/4 in")
    thread: Annotated[
        ThreadKeys,
        BeforeValidator(_bare_thread, json_schema_input_type=ColourValue | ThreadKeys),
    ] = Field(
        default_factory=ThreadKeys,
        description="Sewing thread: a colour, or a mapping.",
        examples=["#d8cfb8", {"colour": "#d8cfb8", "count": "Nm 30"}],
    )
    trim: Annotated[Colour | None, words.ColourText()] = key(
        None, "Colour of a piping or a binding; left out: the cloth's.", "#d8cfb8"
    )
    cloth: Annotated[str | None, _CLOTH] = key(
        None,
        "Fabric of a piping, a binding or a band. A woven binding lies on the bias; wales and a "
        "band's warp run across the edge.",
        "rib 2x2",
    )
    tack: Annotated[bool, Flag()] = key(
        True, "Whether a few stitches go back over open ends of rows and secure them."
    )
    pucker: Annotated[float, _PUCKER] = key(
        "100 %", "How strongly the thread draws the cloth in; 100 % is usual.", "50 %"
    )
    scale: Annotated[float, SCALE] = key(1.0, "How many times life size the stitches are.", 4)


class SeamKeys(Stitching):
    """How the seams between two panels are made."""

    noun: ClassVar[str] = "seam"
    between: Annotated[tuple[str, str], words.Names(count=2)] = need(
        "The two panels; all stands for any.", ["front", "back"]
    )
    side: Annotated[str, words.Text(what="both, or one of the two panels")] = key(
        BOTH, "Where the rows lie: on both sides, or on one panel.", "front"
    )
    groove: Annotated[float, length_of(0.0, 5.0, "0.4 mm")] = key(
        "0.4 mm", "Depth of the seam line.", "0.6 mm"
    )
    construction: Annotated[Literal["pressed", "lapped", "felled", "piped"], _SEAMS] = key(
        "pressed",
        "Pressed open; lapped or felled onto side (felled: at least two rows); or piped.",
        "felled",
    )
    cord: Annotated[float, length_of(0.5, 20.0, "3 mm")] = key(
        "3 mm", "Thickness of a piping.", "2 mm"
    )

    @model_validator(mode="after")
    def _check(self) -> "SeamKeys":
        _strip(self, self.construction, "piped")
        return self


class HemKeys(Stitching):
    """How open edges are finished."""

    noun: ClassVar[str] = "hem"
    on: Annotated[tuple[str, ...], words.Names()] = key(
        ALL, "Panels whose open edges are hemmed.", "front", ["front", "back"]
    )
    width: Annotated[float, length_of(1.0, 200.0, "12 mm")] = key(
        "12 mm", "From the edge to the end of the fold.", "3/4 in"
    )
    construction: Annotated[Literal["turned", "bound", "banded"], _HEMS] = key(
        "turned",
        "Turned in; bound with a strip that covers the edge for width; or ending in a folded band.",
        "bound",
    )
    fold: Annotated[float | None, length_of(0.0, 20.0, "1 mm")] = key(
        None, "Height of the step; left out: the thickness of the cloth.", "1 mm"
    )

    @model_validator(mode="after")
    def _check(self) -> "HemKeys":
        _strip(self, self.construction, "bound", "banded")
        if self.construction == "banded" and self.cloth is None:
            fix = "add cloth: the fabric of the band"
            raise WrongValueError("a band needs a cloth", fix=fix, at=("construction",))
        return self


_KIND = Choice(of={"bar tack": "bar tack", "buttonhole": "buttonhole"})
_ANGLE = Amount(of=units.ANGLE, low=-6.283185307179586, high=6.283185307179586, example="15 deg")


_FROM_TO = "from", "to"
_PLACE = Amount(of=units.SHARE, low=0.0, high=1.0, example="50 %")


class DetailKeys(Keys):
    """A bar tack or a buttonhole."""

    noun: ClassVar[str] = "detail"
    name: Annotated[str | None, words.EntryName()] = key(
        None,
        "Name for paths of colourways; entries that share one are changed together.",
        "tacks",
    )
    kind: Annotated[Literal["bar tack", "buttonhole"], _KIND] = need(
        "What is sewn.", "bar tack", "buttonhole"
    )
    at: Annotated[tuple[float, float, float] | None, Vector(length=3, whole=False, limit=1e6)] = (
        key(
            None,
            "Its middle: a point on the cloth, in the mesh's own unit and axes. Beside on or "
            "between: of several edges or seams only the one nearest to this point.",
            [0, 120, 14],
        )
    )
    on: Annotated[tuple[str, ...] | None, words.Names()] = key(
        None, "Along the open edges of these panels.", "pocket"
    )
    between: Annotated[tuple[str, str] | None, words.Names(count=2)] = key(
        None, "Along the seams between two panels.", ["front", "facing"]
    )
    share: Annotated[tuple[float, ...] | None, Amounts(each=_PLACE)] = key(
        None, "How far along the edge or seam; one or several.", "50 %", ["0 %", "100 %"]
    )
    every: Annotated[float | None, length_of(2.0, 2000.0, "80 mm")] = key(
        None,
        "From one to the next, as evenly as fits; beside it share is from where to where.",
        "80 mm",
    )
    from_edge: Annotated[float, length_of(0.0, 500.0, "10 mm")] = key(
        "10 mm", "From the edge or seam to its middle.", "15 mm"
    )
    panel: Annotated[str | None, words.Text(what="the name of a panel")] = key(
        None,
        "The panel that it lies on; left out: the nearest cloth; of a seam the first named.",
        "front",
    )
    angle: Annotated[float, _ANGLE] = key(
        "0 deg",
        "Turn from the panel's grain, or from the edge or seam; counter-clockwise from outside.",
        "90 deg",
    )
    length: Annotated[float | None, length_of(2.0, 100.0, "22 mm")] = key(
        None, "Length; left out: 10 mm of a bar tack, 18 mm of a buttonhole.", "22 mm"
    )
    width: Annotated[float | None, length_of(1.0, 20.0, "4 mm")] = key(
        None, "Width; left out: 2 mm of a bar tack, 4 mm of a buttonhole.", "3 mm"
    )
    thread: Annotated[
        ThreadKeys,
        BeforeValidator(_bare_thread, json_schema_input_type=ColourValue | ThreadKeys),
    ] = Field(
        default_factory=ThreadKeys,
        description="Sewing thread: a colour, or a mapping.",
        examples=["#d8cfb8"],
    )
    scale: Annotated[float, SCALE] = key(1.0, "How many times life size the thread is.", 4)

    @model_validator(mode="after")
    def _one_place(self) -> "DetailKeys":
        chains = [name for name in ("on", "between") if getattr(self, name) is not None]
        ways = [name for name in ("share", "every") if getattr(self, name) is not None]
        if not chains and self.at is None:
            fix = "give at, a point, or on or between with share or every"
            raise WrongValueError("nothing says where the detail is", fix=fix)
        if len(chains) > 1:
            raise WrongValueError("both on and between", fix="keep one")
        if bool(ways) != bool(chains):
            fix = "add share: 50 %, or every: 80 mm" if chains else "add on or between"
            if chains and self.at is not None:
                fix += f"; or take {chains[0]} out, as at is a place by itself"
            what = f"{chains[0]} without share or every" if chains else f"{ways[0]} of no edge"
            raise WrongValueError(what, fix=fix)
        share = self.share or ()
        if len(ways) > 1 and (len(share) != len(_FROM_TO) or share[0] >= share[1]):
            fix = "with every, share says from where to where: [40 %, 95 %]"
            raise WrongValueError("share is no range", fix=fix, at=("share",))
        return self
