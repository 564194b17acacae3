"""The keys of a recipe file, as pydantic models: the one source of what may be written.

Reading, the JSON Schema and ``recipes/REFERENCE.md`` all come from here. The models hold what a
file says; ``build`` makes of it the values that the other stages use.
"""

from collections.abc import Mapping
from types import MappingProxyType
from typing import Annotated, Any, ClassVar, Literal, Self

from pydantic import BeforeValidator, Discriminator, Field, Tag, model_validator

from texbake.recipe import kinds, knits, orders, units, weaves, words
from texbake.recipe.colourway_keys import Entries
from texbake.recipe.crease_keys import CreaseKeys
from texbake.recipe.delivery_keys import DeliveryKeys, DeliveryValue, refuse_files
from texbake.recipe.finish_keys import FinishKeys
from texbake.recipe.keys import (
    ALL,
    BOTH,
    COUNT,
    NONE,
    SCALE,
    SHARE,
    ColourValue,
    Keys,
    MelangeValue,
    key,
    length_of,
    need,
)
from texbake.recipe.kinds import Amount, Choice, Flag, Whole
from texbake.recipe.mistake import WrongValueError
from texbake.recipe.panel_keys import PanelKeys
from texbake.recipe.print_keys import PrintKeys
from texbake.recipe.sewing_keys import DetailKeys, HemKeys, SeamKeys
from texbake.recipe.values import Chart, Colour, Draft, Structure, Up

_PER_CM = Amount(of=units.ENDS, low=1.0, high=100.0, example="24")
_LOOPS = Amount(of=units.DENSITY, low=1.0, high=100.0, example="14 /cm")
_IRREGULAR = Amount(of=units.SHARE, low=0.0, high=0.5, example="10 %")
_UNITS_MM = {u: units.LENGTH.units[u] for u in units.LENGTH.all_units}
_PANEL_NAME = words.Text(what="the name of a panel", taken=(ALL, BOTH, NONE))
_FABRIC_NAME = words.Text(what="the name of a fabric", taken=(NONE,))
_FABRIC = words.Text(what="a key of fabrics, or a structure such as plain, twill 2/1, felt")
_WEAVE = words.Phrase(read=weaves.parse_weave, form=weaves.WEAVES, examples=weaves.WEAVE_WORDS)
_ORDER = words.Phrase(read=orders.parse_order, form=orders.ORDERS, examples=orders.ORDER_WORDS)
_SETT, _SETT_SAID = "navy/24 white 4 red/6", "Order of colours in warp and weft alike."
_NAMED = "Colours by name, for sett and order; a colourway changes each by its path."
Named = dict[str, ColourValue]
_NAMES: tuple[object, ...] = ({"navy": "#22304a", "fog": "#d5d8da"},)
_KNIT = words.Phrase(read=knits.parse_knit, form=knits.KNITS, examples=knits.KNIT_WORDS)
_PILE = words.Phrase(read=knits.parse_pile, form=knits.PILES, examples=knits.PILE_WORDS)
_SKIN = words.Phrase(read=knits.parse_skin, form=knits.SKINS, examples=knits.SKIN_WORDS)
_NET = words.Phrase(read=knits.parse_net, form=knits.NETS, examples=knits.NET_WORDS)


class Fibre(Keys):
    """What a felt is matted from."""

    noun: ClassVar[str] = "fibre"
    colour: Annotated[Colour | None, words.ColourText()] = key(
        None, "Colour; left out: the fabric's, else the recipe's.", "#3d5a6c", "steelblue"
    )
    melange: MelangeValue | None = Field(
        default=None,
        description="Colours of the fibres, each with its share; instead of colour. Sum: 100 %.",
        examples=[{"#e8e4dc": "60 %", "#8f8a86": "40 %"}],
    )
    metallic: Annotated[bool, Flag()] = key(False, "Metal fibres.")
    lustre: Annotated[float, SHARE] = key(0.2, "0 = dull staple, 1 = smooth filament.", 0.6, "60 %")


class KnitYarn(Fibre):
    """The yarn of a knit."""

    noun: ClassVar[str] = "yarn"
    count: Annotated[float | None, COUNT] = key(
        None, "Fineness (ISO 1144); left out: as usual for the structure.", "20 tex", "Ne 30"
    )
    twist: Annotated[Literal["S", "Z"], Choice(of={"S": "S", "Z": "Z"})] = key(
        "Z", "Direction of the yarn's twist."
    )
    irregularity: Annotated[float, _IRREGULAR] = key(
        0.1, "How much the thickness varies along the yarn (coefficient of variation).", "15 %"
    )
    ply: Annotated[int, Whole(low=1, high=4)] = key(
        1, "Single yarns twisted into one; the count is that of the whole.", 2
    )
    marl: Annotated[tuple[Colour, ...] | None, words.Colours(low=2, high=4)] = key(
        None, "A colour for each ply (marl, mouline); instead of colour.", ["#e8e4dc", "#3b3733"]
    )
    spaced: Annotated[float | None, length_of(2.0, 2000.0, "40 mm")] = key(
        None,
        "Space-dyed: colours of the melange follow one another, each about this long.",
    )
    slub: Annotated[float, SHARE] = key(
        0.0, "Slubs: how much thicker than the yarn its thick places are.", "60 %"
    )
    hair: Annotated[float, SHARE] = key(0.2, "Fuzz: 0 = smooth, 1 = hairy.", "50 %")


class WovenYarn(KnitYarn):
    """Warp or weft of a weave."""

    noun: ClassVar[str] = "yarn of a weave"
    per_cm: Annotated[float | None, _PER_CM] = key(
        None, "Ends or picks; a bare number is per cm. Left out: as usual.", 24, "60 /in"
    )
    order: Annotated[orders.Turns | None, _ORDER] = key(
        None, "Colours of the yarns side by side; left out: the fabric's sett.", "navy 8 white 4"
    )


class Cloth(Keys):
    """What every fabric has."""

    colour: Annotated[Colour | None, words.ColourText()] = key(
        None, "Colour of its yarns that name none; left out: the recipe's.", "#3d5a6c"
    )
    scale: Annotated[float, SCALE] = key(1.0, "How many times life size the yarns are.", 4)
    finish: FinishKeys = Field(
        default_factory=FinishKeys,
        description="Dyeing and finish of the sewn garment.",
        examples=[{"stone_washed": "60 %"}],
    )


_RAISED = "Raised by brushing: how much of the yarns the nap hides; flannel has 70 %."


class WovenFabric(Cloth):
    """What every weave has."""

    raised: Annotated[float, SHARE] = key(0.0, _RAISED, "70 %")
    warp: WovenYarn = Field(default_factory=WovenYarn, description="Yarn along the grain.")
    weft: WovenYarn = Field(default_factory=WovenYarn, description="Yarn across the grain.")
    sett: Annotated[orders.Turns | None, _ORDER] = key(None, _SETT_SAID, _SETT)
    colours: dict[str, ColourValue] = Field(
        default_factory=dict, description=_NAMED, examples=list(_NAMES)
    )

    @model_validator(mode="after")
    def _known_colours(self) -> Self:
        """Refuse an order in colours that are none."""
        places: list[tuple[tuple[str, ...], orders.Turns | None]] = [
            (("sett",), self.sett),
            (("warp", "order"), self.warp.order),
            (("weft", "order"), self.weft.order),
        ]
        for at, turns in places:
            try:
                _ = turns and orders.order_of(turns, self.colours)
            except WrongValueError as error:
                raise WrongValueError(error.what, fix=error.fix, at=at) from error
        return self


class WeaveFabric(WovenFabric):
    """A weave by its name."""

    noun: ClassVar[str] = "weave"
    weave: Annotated[Structure, _WEAVE] = need("The weave (ISO 3572).", "twill 2/1 Z", "satin 5/2")


class DraftFabric(WovenFabric):
    """A weave that is drawn."""

    noun: ClassVar[str] = "draft"
    draft: Annotated[Draft, words.Rows(read=weaves.parse_draft)] = need(
        "The weave, drawn: the last row is woven first.", ["xx..", ".xx.", "..xx", "x..x"]
    )


class Looped(Cloth):
    """What every knit has."""

    yarn: KnitYarn = Field(default_factory=KnitYarn, description="Its yarn.")
    wales: Annotated[float | None, _LOOPS] = key(
        None, "Columns of loops; face and back all count. Left out: as usual.", "14 /cm"
    )
    courses: Annotated[float | None, _LOOPS] = key(
        None, "Rows of loops; left out: as usual for the structure.", "18 /cm"
    )


class KnitFabric(Looped):
    """A knit by its name."""

    noun: ClassVar[str] = "knit"
    knit: Annotated[Structure, _KNIT] = need("The knit.", "single jersey", "rib 2x2")
    raised: Annotated[float, SHARE] = key(0.0, _RAISED, "70 %")


class ChartFabric(Looped):
    """A knit that is drawn."""

    noun: ClassVar[str] = "chart"
    chart: Annotated[Chart, words.Loops(read=knits.parse_chart)] = need(
        "The knit, drawn: the last row is knitted first.", ["kkpp", "kkpp", "ppkk", "ppkk"]
    )
    raised: Annotated[float, SHARE] = key(0.0, _RAISED, "70 %")


RAISABLE = (WeaveFabric, DraftFabric, KnitFabric, ChartFabric)


class NetFabric(Looped):
    """A cloth with holes; tulle has no wales and courses."""

    noun: ClassVar[str] = "net"
    net: Annotated[Structure, _NET] = need("The net.", "tulle", "eyelet")


class FeltForm(Keys):
    """The body of a felt."""

    noun: ClassVar[str] = "body of a felt"
    thickness: Annotated[float, length_of(0.1, 50.0, "2 mm")] = key("2 mm", "Thickness.", "3 mm")


def _plain_felt(value: Any) -> Any:  # noqa: ANN401  # as pydantic passes it
    """Read ``felt: plain`` as a felt with nothing said about it."""
    return {} if value == "plain" else value


class FeltFabric(Cloth):
    """A felt."""

    noun: ClassVar[str] = "felt"
    felt: Annotated[
        FeltForm, BeforeValidator(_plain_felt, json_schema_input_type=Literal["plain"] | FeltForm)
    ] = need("plain, or a mapping with the thickness.", "plain", {"thickness": "3 mm"})
    yarn: Fibre = Field(default_factory=Fibre, description="Its fibres.")


class PileFabric(Cloth):
    """A cloth with pile; the number of a corduroy is its wales per inch, 11 if left out."""

    noun: ClassVar[str] = "pile"
    pile: Annotated[Structure, _PILE] = need("The pile cloth.", "corduroy 11", "fleece")
    yarn: Fibre = Field(default_factory=Fibre, description="Its fibres.")


class Finish(Fibre):
    """The surface of a skin."""

    noun: ClassVar[str] = "surface of a skin"
    lustre: Annotated[float, SHARE] = key(0.7, "0 = matt, 1 = glossy.", 0.5, "90 %")


class SkinFabric(Cloth):
    """A closed surface: leather grain, or a smooth film over cloth."""

    noun: ClassVar[str] = "skin"
    skin: Annotated[Structure, _SKIN] = need("The skin.", "leather", "coated")
    yarn: Finish = Field(default_factory=Finish, description="Its surface.")


FABRICS: Mapping[str, type[Cloth]] = MappingProxyType(
    {
        "weave": WeaveFabric,
        "draft": DraftFabric,
        "knit": KnitFabric,
        "chart": ChartFabric,
        "felt": FeltFabric,
        "pile": PileFabric,
        "skin": SkinFabric,
        "net": NetFabric,
    }
)
# A fabric that forgot its structure is judged by keys that only one kind has.
_HINTS = {"wales": "knit", "courses": "knit", "yarn": "knit"}


def structure_of(fabric: object) -> str:
    """Return the key in ``FABRICS`` of the model that reads this fabric."""
    keys = fabric if isinstance(fabric, dict) else {}
    named = next((k for k in keys if k in FABRICS), None)
    return named or next((_HINTS[k] for k in keys if k in _HINTS), "weave")


FabricValue = Annotated[
    Annotated[WeaveFabric, Tag("weave")]
    | Annotated[DraftFabric, Tag("draft")]
    | Annotated[KnitFabric, Tag("knit")]
    | Annotated[ChartFabric, Tag("chart")]
    | Annotated[FeltFabric, Tag("felt")]
    | Annotated[PileFabric, Tag("pile")]
    | Annotated[SkinFabric, Tag("skin")]
    | Annotated[NetFabric, Tag("net")],
    Discriminator(structure_of),
]


def _none_is_empty(value: Any) -> Any:  # noqa: ANN401  # as pydantic passes it
    """Read ``none`` as an empty list."""
    return [] if value == NONE else value


class RecipeKeys(Keys):
    """The recipe: garment and mesh, and what the garment is made of."""

    noun: ClassVar[str] = "recipe"
    garment: Annotated[str, words.FileWord()] = need("Name; part of file names.", "ferry-vest")
    mesh: Annotated[str, words.Text(what="the path of a mesh")] = need(
        "Mesh file (.obj, .gltf, .glb, .ply), from the recipe's folder.", "meshes/ferry-vest.obj"
    )
    mesh_unit: Annotated[float | None, Choice(of=_UNITS_MM)] = key(
        None, "One unit of the mesh; left out: m for glTF, cm for OBJ and PLY.", "cm"
    )
    up: Annotated[Up, Choice(of={a: a for a in ("x", "y", "z", "-x", "-y", "-z")})] = key(
        "y", "Axis of the mesh that points up.", "z"
    )
    uv_set: Annotated[int, Whole(low=0, high=7)] = key(0, "Which UV set of the mesh.", 1)
    tile: Annotated[tuple[int, int], kinds.Vector(length=2, whole=True, limit=99)] = Field(
        default=(0, 0),
        description="Whole-number corner of the UV square that is baked.",
        examples=[[1, 0]],
    )
    size: Annotated[int, Whole(low=16, high=16384, powers=True)] = key(
        1024, "Width and height of the maps, px.", 2048
    )
    gutter: Annotated[int, Whole(low=0, high=256)] = key(16, "Border around islands, px.", 8)
    seed: Annotated[int, Whole(low=0, high=2**32 - 1)] = key(1, "Another seed, other yarns.", 7)
    normal_bits: Annotated[Literal[8, 16], Whole(low=8, high=16, only=(8, 16))] = key(
        8, "Bits per channel of the normal maps.", 16
    )
    file_name: Annotated[str, words.FilePattern()] = key(
        "{garment}_{colourway}_{map}",
        "Names of the maps, without ending; left out, those of several sizes end in _{size}.",
        "{garment}-{map}",
    )
    delivery: DeliveryValue = Field(
        default_factory=DeliveryKeys,
        description="Which files a set has; left out: everything.",
        examples=["gltf", {"ready": "small", "format": "tiff"}],
    )
    fabric: Annotated[str | None, _FABRIC] = key(
        None,
        "Cloth of panels that name none; left out: one of fabrics, see the rules.",
        "plain",
        "drill",
    )
    colour: ColourValue = key("#e8e4dc", "Colour of all yarns that name none.", "#3d5a6c")
    include: Annotated[tuple[str, ...], words.Includes()] = Field(
        default=(),
        description="Files with fabrics, from the recipe's folder, or names of shipped fabrics.",
        examples=["denim", ["denim", "fabrics/awning.yaml"]],
    )
    fabrics: dict[Annotated[str, _FABRIC_NAME], FabricValue] = Field(
        default_factory=dict, description="Fabrics by name; each has one structure."
    )
    panels: dict[Annotated[str, _PANEL_NAME], PanelKeys] = Field(
        default_factory=dict, description="Panels by name; what none finds is a panel by itself."
    )
    gone: Annotated[tuple[str, ...] | None, words.Names()] = key(
        None, "Panels of an earlier bake whose cloth was taken out of the mesh.", ["pocket"]
    )
    seams: Annotated[
        list[SeamKeys] | None,
        BeforeValidator(_none_is_empty, json_schema_input_type=list[SeamKeys] | Literal["none"]),
    ] = Field(default=None, description="Seams; left out: all, without stitches. Or none.")
    hems: Annotated[
        list[HemKeys] | None,
        BeforeValidator(_none_is_empty, json_schema_input_type=list[HemKeys] | Literal["none"]),
    ] = Field(default=None, description="Hems; left out: all, 12 mm, stitched. Or none.")
    details: list[DetailKeys] = Field(
        default_factory=list, description="Bar tacks and buttonholes, each at its place."
    )
    creases: CreaseKeys | None = Field(
        default=None, description="Creases and drape wrinkles; left out: none."
    )
    prints: list[PrintKeys] = Field(
        default_factory=list, description="Inks on the cloth, each over the one before."
    )
    colourways: Entries = Field(
        default_factory=dict,
        description="Colourways by name, and rules that make many; or from: a table.",
        examples=[{"sand": {"drill.warp.colour": "#b59b74"}}, {"from": "palette.csv"}],
    )

    @model_validator(mode="after")
    def _deliverable(self) -> Self:
        """Refuse files that cannot be."""
        written = self.file_name if "file_name" in self.model_fields_set else None
        refuse_files(self.delivery, self.size, written)
        return self
