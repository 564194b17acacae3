"""From what the file says to the values that the other stages use."""

import math
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from types import MappingProxyType
from typing import Any

from texbake.recipe import models
from texbake.recipe.build_sewing import (
    creases_of,
    details_of,
    hems_of,
    home_of,
    in_space,
    line_of,
    seams_of,
)
from texbake.recipe.finish_keys import finish_of
from texbake.recipe.messages import dotted
from texbake.recipe.orders import order_of
from texbake.recipe.print_keys import print_of
from texbake.recipe.print_values import PrintRecipe
from texbake.recipe.structures import construction, parse_structure
from texbake.recipe.tree import Node, walk
from texbake.recipe.values import (
    Colour,
    Fabric,
    Felt,
    Knit,
    Melange,
    Net,
    PanelRecipe,
    Pile,
    Recipe,
    Skin,
    Structure,
    Yarn,
    mixed,
)


def build(
    keys: models.RecipeKeys, tree: Node, path: Path, included: tuple[Path, ...] = ()
) -> Recipe:
    """Return the recipe. Fabrics and panels come in the order of their names, not of the file."""
    fabrics = fabrics_of(keys, tree)
    default = keys.fabric if keys.fabric is not None else next(iter(fabrics))
    return Recipe(
        path=path,
        included=included,
        garment=keys.garment,
        mesh=(path.parent / keys.mesh).resolve(),
        mesh_unit_mm=keys.mesh_unit,
        up=keys.up,
        uv_set=keys.uv_set,
        tile=keys.tile,
        size_px=keys.size,
        gutter_px=keys.gutter,
        seed=keys.seed,
        normal_bits=keys.normal_bits,
        file_name=_file_name(keys),
        delivery=keys.delivery.value,
        zipped=keys.delivery.zip,
        fabrics=MappingProxyType(fabrics),
        fabric=default,
        panels=MappingProxyType({n: _panel(n, keys, tree) for n in sorted(keys.panels)}),
        gone=keys.gone or (),
        seams=seams_of(keys.seams, tree),
        hems=hems_of(keys.hems, tree),
        details=details_of(keys, tree),
        creases=creases_of(keys, tree),
        prints=prints_of(keys, tree, path),
        lines=MappingProxyType({dotted(at): home_of(node) for at, node in walk(tree) if at}),
    )


def prints_of(keys: models.RecipeKeys, tree: Node, path: Path) -> tuple[PrintRecipe, ...]:
    """Return the prints; their files are seen from the folder of ``path``."""
    return tuple(
        print_of(one, path.parent, line_of(tree, "prints", k)) for k, one in enumerate(keys.prints)
    )


def _file_name(keys: models.RecipeKeys) -> str:
    """Return the pattern of file names; where none is written, sizes are told apart."""
    several = len(keys.delivery.value.sizes_px(keys.size)) > 1
    written = "file_name" in keys.model_fields_set
    return f"{keys.file_name}_{{size}}" if several and not written else keys.file_name


def fabrics_of(keys: models.RecipeKeys, tree: Node) -> dict[str, Fabric]:
    """Return every fabric: those described, then those that a structure's phrase stands for."""
    found = {
        name: fabric_of(name, keys.fabrics[name], keys.colour, line_of(tree, "fabrics", name))
        for name in sorted(keys.fabrics)
    }
    phrases = {keys.fabric: line_of(tree, "fabric")}
    for name, panel in keys.panels.items():
        phrases.setdefault(panel.fabric, line_of(tree, "panels", name, "fabric"))
    for kind, entries in (("seams", keys.seams), ("hems", keys.hems)):
        for k, entry in enumerate(entries or ()):
            phrases.setdefault(entry.cloth, line_of(tree, kind, k, "cloth"))
    for phrase in sorted(p for p in phrases if p is not None and p not in found):
        found[phrase] = _ordered(phrase, keys.colour, phrases[phrase])
    return found


def _ordered(phrase: str, colour: Colour, line: int | None) -> Fabric:
    """Return the cloth that a tailor would order by the name of its structure alone."""
    structure = parse_structure(phrase)
    spec: dict[str, Any]
    if isinstance(structure, Felt):
        spec = {"felt": "plain"}
    elif isinstance(structure, Knit):
        spec = {"knit": phrase}
    elif isinstance(structure, Pile):
        spec = {"pile": phrase}
    elif isinstance(structure, Skin | Net):
        spec = {"skin" if isinstance(structure, Skin) else "net": phrase}
    else:
        spec = {"weave": phrase}
    model = models.FABRICS[next(iter(spec))]
    return fabric_of(phrase, model.model_validate(spec), colour, line)


def fabric_of(name: str, keys: models.Cloth, colour: Colour, line: int | None) -> Fabric:
    """Return a fabric; what it leaves open is as usual for its structure."""
    colour = keys.colour or colour
    finish = finish_of(keys.finish)
    common: dict[str, Any] = {"name": name, "scale": keys.scale, "finish": finish, "line": line}
    if isinstance(keys, models.RAISABLE):
        common["raised"] = keys.raised
    match keys:
        case models.WeaveFabric() | models.DraftFabric():
            structure = keys.weave if isinstance(keys, models.WeaveFabric) else keys.draft
            usual = construction(structure)
            warp = _woven(keys, keys.warp, colour, usual.first_tex, usual.first_per_cm)
            weft = _woven(keys, keys.weft, colour, usual.second_tex, usual.second_per_cm)
            return Fabric(structure=structure, warp=warp, weft=weft, **common)
        case models.KnitFabric(knit=made) | models.ChartFabric(chart=made):
            return _looped(keys, made, colour, common)
        case models.NetFabric():
            return _looped(keys, keys.net, colour, common)
        case models.PileFabric(pile=made) | models.SkinFabric(skin=made):
            return _matted(made, keys.yarn, colour, common)
        case models.FeltFabric():
            tex = construction(Felt()).first_tex
            yarn = Yarn(count_tex=tex, per_cm=0.0, **_fibre(keys.yarn, colour))
            thick = keys.felt.thickness
            return Fabric(structure=Felt(), yarn=yarn, thickness_mm=thick, **common)
        case _:
            raise TypeError(f"no structure: {keys!r}")


def _looped(
    keys: models.Looped, structure: Structure, colour: Colour, common: Mapping[str, Any]
) -> Fabric:
    usual = construction(structure)
    return Fabric(
        structure=structure,
        yarn=_spun(keys.yarn, colour, usual.first_tex, 0.0),
        wales_per_cm=usual.first_per_cm if keys.wales is None else keys.wales,
        courses_per_cm=usual.second_per_cm if keys.courses is None else keys.courses,
        **common,
    )


def _matted(
    structure: Structure, fibre: models.Fibre, colour: Colour, common: Mapping[str, Any]
) -> Fabric:
    tex = construction(structure).first_tex
    yarn = Yarn(count_tex=tex, per_cm=0.0, **_fibre(fibre, colour))
    return Fabric(structure=structure, yarn=yarn, **common)


def _woven(
    cloth: models.WovenFabric, keys: models.WovenYarn, colour: Colour, tex: float, per_cm: float
) -> Yarn:
    """Return warp or weft, its order of colours its own or the fabric's sett."""
    yarn = _spun(keys, colour, tex, per_cm if keys.per_cm is None else keys.per_cm)
    dyed = keys.colour or keys.melange or keys.marl
    turns = keys.order or (None if dyed else cloth.sett)
    if turns is None:
        return yarn
    order = order_of(turns, cloth.colours)
    return replace(yarn, order=order, colour=order.mean)


def _spun(keys: models.KnitYarn, colour: Colour, tex: float, per_cm: float) -> Yarn:
    yarn = Yarn(
        count_tex=tex if keys.count is None else keys.count,
        per_cm=per_cm,
        twist=keys.twist,
        irregularity=keys.irregularity,
        plies=keys.ply,
        spaced_mm=keys.spaced or 0.0,
        slub=keys.slub,
        hair=keys.hair,
        **_fibre(keys, colour),
    )
    if keys.marl is None:
        return yarn
    mean = mixed((c, 1.0 / len(keys.marl)) for c in keys.marl)
    return replace(yarn, marl=keys.marl, plies=len(keys.marl), colour=mean)


def _fibre(keys: models.Fibre, colour: Colour) -> dict[str, Any]:
    """Return the fields that fibres decide; shares sum to 1, in an order of no file."""
    melange = None
    if keys.melange is not None:
        total = math.fsum(keys.melange.values())
        parts = sorted(keys.melange.items(), key=lambda part: part[0].srgb)
        melange = Melange(tuple((c, share / total) for c, share in parts))
    own = keys.colour or colour
    return {
        "colour": own if melange is None else melange.mean,
        "melange": melange,
        "metallic": keys.metallic,
        "lustre": keys.lustre,
    }


def _panel(name: str, recipe: models.RecipeKeys, tree: Node) -> PanelRecipe:
    keys = recipe.panels[name]
    islands = keys.islands or ()
    return PanelRecipe(
        name=name,
        at=None if keys.at is None else in_space(keys.at, recipe),
        object=keys.object,
        group=keys.group,
        material=keys.material,
        islands=islands if keys.island is None else (keys.island,),
        fabric=keys.fabric,
        grain_rad=keys.grain,
        line=line_of(tree, "panels", name),
    )
