"""What the maps of a set depend on, part by part, each as a digest.

Equal parts are equal maps, to the byte; a part that differs says why a set must be baked. What
colours alone are is a part of its own (its name ends in ``.colours``): two sets that differ in
nothing else differ in the albedo only.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, fields, replace
from typing import Final

from texbake.batch.program import beside_program, maps_program
from texbake.deliver import Record
from texbake.deliver.record import key_of
from texbake.garment.content import demand_mesh, mesh_digest
from texbake.garment.panels import Named, fabrics_worn
from texbake.recipe import Recipe
from texbake.recipe.canonical import digest, words_in

COLOURS = ".colours"

# What `parts_of` says in its own way, or what says where things are and not what they are.
_SAID: Final = frozenset(
    {
        *("path", "lines", "included", "garment", "mesh", "mesh_unit_mm", "up", "uv_set", "tile"),
        *("size_px", "gutter_px", "seed", "normal_bits", "file_name", "zipped"),
        *("fabrics", "fabric", "panels"),
    }
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Common:
    """What all sets of a recipe depend on alike, read once: digests.

    ``maps`` and ``beside`` are the code that makes maps, and view, sheet and GLB; ``known`` is what
    the last bake tells of panels, empty if nothing.
    """

    mesh: str
    maps: str
    beside: str
    known: str = ""


def common_parts(recipe: Recipe) -> Common:
    """Read what all sets of a recipe depend on.

    Raises
    ------
    UserError
        If there is no mesh.
    """
    demand_mesh(recipe)
    return Common(mesh=mesh_digest(recipe.mesh), maps=maps_program(), beside=beside_program())


def parts_of(
    recipe: Recipe, colourway: str, common: Common, panels: Sequence[Named]
) -> dict[str, str]:
    """Return the digest of each part that the maps of a set depend on.

    Parameters
    ----------
    recipe : Recipe
        The colourway's own.
    colourway : str
        Its name.
    common : Common
    panels : sequence
        The garment's panels, by name: only fabrics count that one of them wears, or that sewing
        names.
    """
    worn = fabrics_worn(recipe, panels)
    plain = {
        "size": recipe.size_px,
        "gutter": recipe.gutter_px,
        "seed": recipe.seed,
        "normal_bits": recipe.normal_bits,
        "name": (recipe.garment, colourway),
        "file_name": recipe.file_name,
        "mesh_options": (
            *(recipe.mesh_unit_mm, recipe.up, recipe.uv_set, recipe.tile),
            "tile" in recipe.lines,  # who names a tile allows islands outside it
        ),
        "panels": {name: replace(entry, fabric=None) for name, entry in recipe.panels.items()},
        "worn": [(panel.name, name) for panel, name in zip(panels, worn, strict=True)],
    }
    found = {name: digest(value) for name, value in plain.items()}
    found |= {"texbake": common.maps, "mesh": common.mesh}
    found |= {"known": common.known} if common.known else {}
    for name in sorted({*worn, *_named(recipe)} & set(recipe.fabrics)):
        fabric = recipe.fabrics[name]
        found |= _dyed(f"fabrics.{name}", digest(fabric.undyed), digest(fabric))
    # All else that a recipe says, whatever it may be: nothing is forgotten that is added to it.
    for name, value in _rest(recipe):
        entries = value if isinstance(value, tuple) else (value,)
        for number, entry in enumerate(entries):
            told = f"{name}.{number}" if isinstance(value, tuple) else name
            found |= _dyed(told, digest(entry, dyed=False), digest(entry))
    return found


def _rest(recipe: Recipe) -> Iterator[tuple[str, object]]:
    """Give name and value of all that `parts_of` does not say in its own way."""
    for one in fields(recipe):
        if one.name not in _SAID:
            yield one.name, getattr(recipe, one.name)


def _named(recipe: Recipe) -> set[str]:
    """Return every word in the rest of a recipe: a binding names its fabric there."""
    return {word for _, value in _rest(recipe) for word in words_in(value)}


def _dyed(name: str, undyed: str, dyed: str) -> dict[str, str]:
    """Return the two parts of what has colours."""
    return {name: undyed, name + COLOURS: dyed}


def still_of(record: Record, recipe: Recipe, colourway: str, common: Common) -> bool:
    """Say whether a set shows what the recipe says now.

    Whatever its size and its files, and whatever Texbake baked it.
    """
    now = parts_of(recipe, colourway, common, record.panels)
    differ = (name for name in {*now, *record.parts} if now.get(name) != record.parts.get(name))
    same = {"size", "texbake", "file_name", "delivery", f"delivery{COLOURS}"}
    return same.issuperset(differ)


def undyed_key(parts: Mapping[str, str]) -> str:
    """Return the key of everything but colours and names: what all maps but albedo depend on."""
    names = ("name", "file_name")
    return key_of(
        {name: of for name, of in parts.items() if not name.endswith(COLOURS) and name not in names}
    )


def extra_keys(record: Record, common: Common) -> dict[str, str]:
    """Return the key of each file that goes beside the maps of a set.

    Parameters
    ----------
    record : Record
        Of the set; its parts and, for the sheet, the name of the recipe count.
    common : Common
    """
    made = {"maps": record.key, "program": common.beside}
    return {
        "view": key_of({**made, "kind": "view"}),
        "glb": key_of({**made, "kind": "glb"}),
        "sheet": key_of({**made, "kind": "sheet", "recipe": record.recipe.name}),
    }
