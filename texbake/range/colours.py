"""The colours that name a colourway: of the fabrics that are worn, and of the thread."""

from collections.abc import Iterator, Sequence

import numpy as np

from texbake.cloth import colour_shares, dyed, yarns
from texbake.colour import linear_to_lab
from texbake.garment.values import Garment
from texbake.prepared import fabric_names
from texbake.range.values import Entry, Main, Value
from texbake.recipe import Colour, Fabric, Recipe
from texbake.sheet.words import dyes, thread_colours


def entry_of(name: str, recipe: Recipe, garment: Garment) -> Entry:
    """Gather the colours of a colourway.

    Parameters
    ----------
    name : str
    recipe : Recipe
        The colourway's own.
    garment : Garment
    """
    worn = [recipe.fabrics[fabric] for fabric in _worn(recipe, garment)]
    mean = np.array(dyed(worn[0], colour_shares(worn[0])), np.float64)
    return Entry(
        name=name,
        mains=tuple(Main(fabric=one.name, hex=_main(one).hex) for one in worn),
        values=tuple(dict.fromkeys(_values(worn, recipe))),
        lab=linear_to_lab(mean),
    )


def _worn(recipe: Recipe, garment: Garment) -> list[str]:
    """Fabrics that panels wear, the largest area first."""
    area: dict[str, float] = {}
    for panel, name in zip(garment.panels, fabric_names(recipe, garment), strict=True):
        area[name] = area.get(name, 0.0) + panel.area_mm2
    return sorted(area, key=lambda name: (-area[name], name))


def _main(fabric: Fabric) -> Colour:
    """Return the colour that shows most of a fabric."""
    shown: dict[Colour, float] = {}
    found = [colour for yarn in yarns(fabric) for colour, _ in yarn.dyes]
    for colour, share in zip(found, colour_shares(fabric).tolist(), strict=True):
        shown[colour] = shown.get(colour, 0.0) + share
    return max(shown, key=lambda colour: shown[colour])


def _values(worn: Sequence[Fabric], recipe: Recipe) -> Iterator[Value]:
    """Give all colours, cloth first."""
    for fabric in worn:
        for dye in dyes(fabric):
            words = dye.said.split()
            share = words[-1] if words[-1].endswith("%") else ""
            system = words[0] if not words[0].startswith("#") else ""
            of = f"{fabric.name} {system}".strip()
            yield Value(of=of, share=share, hex=dye.colour.hex)
    for colour in thread_colours(recipe):
        yield Value(of="thread", share="", hex=colour.hex)
