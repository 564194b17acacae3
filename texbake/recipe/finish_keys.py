"""The keys of a recipe that say how a cloth is dyed and finished once it is sewn."""

from typing import Annotated, ClassVar

from texbake.recipe import units
from texbake.recipe.finish_values import Finish
from texbake.recipe.keys import ColourValue, Keys, key, length_of
from texbake.recipe.kinds import Amount

_WHOLE = Amount(of=units.SHARE, low=0.0, high=1.0, example="40 %")
_CLOUDS = Amount(of=units.SHARE, low=0.0, high=0.3, example="5 %")
_GATHERED = Amount(of=units.SHARE, low=0.0, high=0.6, example="25 %")
_PILLS = Amount(of=units.PER_AREA, low=0.0, high=300.0, example="15 /dm2")


class FinishKeys(Keys):
    """What is done to the sewn garment; nothing, unless said."""

    noun: ClassVar[str] = "finish"
    unlevel: Annotated[float, _CLOUDS] = key(
        "0 %", "Dye clouds: coefficient of variation of the dye; the mean colour stays.", "5 %"
    )
    unlevel_size: Annotated[float, length_of(10.0, 2000.0, "120 mm")] = key(
        "120 mm", "Size of the largest clouds; smaller ones lie in them.", "8 cm"
    )
    garment_dyed: Annotated[float, _GATHERED] = key(
        "0 %",
        "Dyed when sewn: how much more dye grooves and thick seams hold; ridges less.",
        "25 %",
    )
    thread_dyed: Annotated[float, _WHOLE] = key(
        "0 %", "How much of the cloth's shade the sewing thread takes along; 0 = polyester.", "70 %"
    )
    faded: Annotated[float, _WHOLE] = key(
        "0 %", "Dye lost by what faces the sky; upright cloth loses half of it.", "30 %"
    )
    faded_edges: Annotated[float, _WHOLE] = key(
        "0 %", "Dye lost on folded edges and on ridges of the sewing.", "30 %"
    )
    stone_washed: Annotated[float, _WHOLE] = key(
        "0 %",
        "Dye rubbed off the tops of yarns, off ridges and edges; at 100 % the plain cloth's mean "
        "goes 35 % of the way to core.",
        "60 %",
    )
    core: ColourValue = key(
        "#ddd6c6", "What comes to light where dye is rubbed off: the core of the yarn.", "#c9c2b0"
    )
    pressed: Annotated[float, _WHOLE] = key(
        "0 %", "Shine of the iron on ridges, seams and hems; in roughness alone.", "40 %"
    )
    pilling: Annotated[float, _PILLS] = key("0 /dm2", "Pills on a square decimetre.", "15 /dm2")
    pill_size: Annotated[float, length_of(0.3, 8.0, "1.5 mm")] = key(
        "1.5 mm", "Diameter of a pill; multiply it by the scale of the cloth.", "4 mm"
    )


def finish_of(keys: FinishKeys) -> Finish:
    """Return the finish that the keys describe."""
    return Finish(
        unlevel=keys.unlevel,
        unlevel_mm=keys.unlevel_size,
        garment_dyed=keys.garment_dyed,
        thread_dyed=keys.thread_dyed,
        faded=keys.faded,
        faded_edges=keys.faded_edges,
        stone_washed=keys.stone_washed,
        core=keys.core,
        pressed=keys.pressed,
        pills_per_dm2=keys.pilling,
        pill_mm=keys.pill_size,
    )
