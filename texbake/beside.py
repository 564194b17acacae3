"""What goes beside the maps of a set: the dressed view, the sheet, and the GLB.

All three are made from the very maps that are delivered, in memory, and are part of the set: they
are swapped in with it and stand in its record.
"""

from collections.abc import Callable, Collection, Mapping

from texbake.arrays import U8
from texbake.cloth import mean_colour
from texbake.deliver import Record, Writer, write_png
from texbake.deliver.png import Sink
from texbake.garment.values import Garment
from texbake.maps import MapArrays, eight_bits
from texbake.prepared import fabric_names
from texbake.recipe import Recipe

KINDS = ("view", "sheet", "glb")


def writers(
    recipe: Recipe,
    garment: Garment,
    maps: MapArrays,
    record: Record,
    *,
    kinds: Collection[str] = KINDS,
    threads: int | None = None,
) -> Mapping[str, Writer]:
    """Return what writes each further file of a set.

    Parameters
    ----------
    recipe : Recipe
        The colourway's own.
    garment : Garment
    maps : MapArrays
        As delivered, background filled.
    record : Record
        For names, sizes and texel density.
    kinds : collection of str
        Of `KINDS`.
    threads : int, optional
        For the view, which is drawn here, at once: the sheet shows it too.
    """
    if not {*kinds} & {*KINDS}:
        return {}
    maps = eight_bits(maps)
    found: dict[str, Writer] = {}
    if "glb" in kinds:
        found["glb"] = _glb(recipe, garment, maps, record)
    if "view" in kinds or "sheet" in kinds:
        from texbake.view import show_picture

        picture = show_picture(garment, maps, threads=threads)
        if "view" in kinds:
            found["view"] = lambda out: write_png(out, picture, srgb=True)
        if "sheet" in kinds:
            found["sheet"] = _sheet(recipe, garment, maps, record, picture)
    return found


def _glb(
    recipe: Recipe, garment: Garment, maps: MapArrays, record: Record
) -> Callable[[Sink], None]:
    """Return the writer of the GLB: knits and felts have sheen."""
    from texbake.deliver.glb import write_glb
    from texbake.deliver.sheen import sheen_of

    fabrics = [recipe.fabrics[name] for name in fabric_names(recipe, garment)]
    sheen = [sheen_of(fabric, mean_colour(fabric)) for fabric in fabrics]

    def write(out: Sink) -> None:
        name = f"{record.garment}_{record.colourway}"
        write_glb(out, garment, maps, name=name, version=record.texbake, sheen=sheen)

    return write


def _sheet(
    recipe: Recipe, garment: Garment, maps: MapArrays, record: Record, picture: U8
) -> Callable[[Sink], None]:
    """Return the writer of the sheet."""

    def write(out: Sink) -> None:
        from texbake.sheet import sheet_picture

        page = sheet_picture(
            garment,
            maps,
            recipe=recipe,
            worn=fabric_names(recipe, garment),
            record=record,
            views=picture,
        )
        write_png(out, page, srgb=True)

    return write
