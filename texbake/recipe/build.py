"""From what the file says to the values that the other stages use."""

import math
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from types import MappingProxyType
from typing import Any

import numpy as np

from texbake.recipe import models
from texbake.recipe.axes import default_unit_mm, to_y_up
from texbake.recipe.crease_keys import CreasePlaceKeys
from texbake.recipe.crease_values import CreasePlace, CreaseRecipe
from texbake.recipe.finish_keys import finish_of
from texbake.recipe.messages import dotted
from texbake.recipe.orders import order_of
from texbake.recipe.print_keys import print_of
from texbake.recipe.sewing_keys import DetailKeys, HemKeys, SeamKeys, Stitching, ThreadKeys
from texbake.recipe.structures import construction, parse_structure
from texbake.recipe.tree import Node, find, walk
from texbake.recipe.values import (
    Colour,
    DetailRecipe,
    Fabric,
    Felt,
    HemRecipe,
    Knit,
    Melange,
    Net,
    PanelRecipe,
    Pile,
    Recipe,
    SeamRecipe,
    Skin,
    Structure,
    Thread,
    Triple,
    Yarn,
    mixed,
)


def build(
    keys: models.RecipeKeys, tree: Node, path: Path, included: tuple[Path, ...] = ()
) -> Recipe:
    """Return the recipe. Fabrics and panels come in the order of their names, not of the file."""
    fabrics = _fabrics(keys, tree)
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
        file_name=keys.file_name,
        fabrics=MappingProxyType(fabrics),
        fabric=default,
        panels=MappingProxyType({n: _panel(n, keys, tree) for n in sorted(keys.panels)}),
        gone=keys.gone or (),
        seams=_seams(keys.seams, tree),
        hems=_hems(keys.hems, tree),
        details=tuple(
            _detail(detail, keys, _line(tree, "details", k))
            for k, detail in enumerate(keys.details)
        ),
        creases=_creases(keys, tree),
        prints=tuple(
            print_of(one, path.parent, _line(tree, "prints", k))
            for k, one in enumerate(keys.prints)
        ),
        lines=MappingProxyType({dotted(at): _home(node, tree) for at, node in walk(tree) if at}),
    )


def _line(tree: Node, *at: int | str) -> int | None:
    """Return the line of a key, or None where the recipe does not have it."""
    node = find(tree, at)
    return None if node is None else _home(node, tree)


def _home(node: Node, tree: Node) -> int:
    """Return the line of a key in the recipe; of what it includes, that of ``include``."""
    return node.key_line if node.source is None else tree.value["include"].key_line


def _fabrics(keys: models.RecipeKeys, tree: Node) -> dict[str, Fabric]:
    """Return every fabric: those described, then those that a structure's phrase stands for."""
    found = {
        name: _fabric(name, keys.fabrics[name], keys.colour, _line(tree, "fabrics", name))
        for name in sorted(keys.fabrics)
    }
    phrases = {keys.fabric: _line(tree, "fabric")}
    for name, panel in keys.panels.items():
        phrases.setdefault(panel.fabric, _line(tree, "panels", name, "fabric"))
    for kind, entries in (("seams", keys.seams), ("hems", keys.hems)):
        for k, entry in enumerate(entries or ()):
            phrases.setdefault(entry.cloth, _line(tree, kind, k, "cloth"))
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
    return _fabric(phrase, model.model_validate(spec), colour, line)


def _fabric(name: str, keys: models.Cloth, colour: Colour, line: int | None) -> Fabric:
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
        at=None if keys.at is None else _in_space(keys.at, recipe),
        object=keys.object,
        group=keys.group,
        material=keys.material,
        islands=islands if keys.island is None else (keys.island,),
        fabric=keys.fabric,
        grain_rad=keys.grain,
        line=_line(tree, "panels", name),
    )


def _in_space(point: Triple, recipe: models.RecipeKeys) -> Triple:
    """Return a point of the mesh file in mm, +Y up, as the mesh itself will be read."""
    unit = recipe.mesh_unit
    unit_mm = default_unit_mm(Path(recipe.mesh)) if unit is None else unit
    x, y, z = to_y_up(np.array([point]) * unit_mm, recipe.up)[0].tolist()
    return x, y, z


def _thread(keys: ThreadKeys) -> Thread:
    return Thread(colour=keys.colour, count_tex=keys.count, metallic=keys.metallic)


def _detail(keys: DetailKeys, recipe: models.RecipeKeys, line: int | None) -> DetailRecipe:
    return DetailRecipe(
        kind=keys.kind,
        at=None if keys.at is None else _in_space(keys.at, recipe),
        between=keys.between,
        on=keys.on,
        shares=keys.share or (),
        every_mm=keys.every,
        from_edge_mm=keys.from_edge,
        panel=keys.panel,
        angle_rad=keys.angle,
        length_mm=keys.length,
        width_mm=keys.width,
        thread=_thread(keys.thread),
        scale=keys.scale,
        line=line,
    )


def _creases(recipe: models.RecipeKeys, tree: Node) -> CreaseRecipe | None:
    """Return the creases; places left out are all seams and all open edges."""
    keys = recipe.creases
    if keys is None:
        return None
    if keys.places is None:
        everywhere = CreasePlace(between=("all", "all")), CreasePlace(on=("all",))
        return CreaseRecipe(strength=keys.strength, places=everywhere)
    lines = [_line(tree, "creases", "places", k) for k in range(len(keys.places))]
    places = tuple(_crease(*each, recipe) for each in zip(keys.places, lines, strict=True))
    return CreaseRecipe(strength=keys.strength, places=places)


def _crease(keys: CreasePlaceKeys, line: int | None, recipe: models.RecipeKeys) -> CreasePlace:
    way = keys.direction
    return CreasePlace(
        kind=keys.kind,
        between=keys.between,
        on=keys.on,
        at=None if keys.at is None else _in_space(keys.at, recipe),
        direction=None if way is None else _in_space(way, recipe),
        panel=keys.panel,
        radius_mm=keys.radius,
        strength=keys.strength,
        width_mm=keys.width,
        length_mm=keys.length,
        spacing_mm=keys.spacing,
        line=line,
    )


def _stitching(keys: Stitching, line: int | None) -> dict[str, Any]:
    return {
        "stitch": keys.stitch,
        "seen": keys.seen,
        "gauge_mm": keys.gauge,
        "trim": keys.trim,
        "cloth": keys.cloth,
        "tack": keys.tack,
        "pucker": keys.pucker,
        "rows": keys.rows,
        "length_mm": keys.length,
        "from_edge_mm": keys.from_edge,
        "spacing_mm": keys.spacing,
        "thread": _thread(keys.thread),
        "scale": keys.scale,
        "line": line,
    }


def _seams(keys: list[SeamKeys] | None, tree: Node) -> tuple[SeamRecipe, ...]:
    """Return the seams; left out, all seams are sewn from inside and show no stitches."""
    if keys is None:
        return (SeamRecipe(between=("all", "all"), stitch=None),)
    return tuple(
        SeamRecipe(
            between=seam.between,
            side=seam.side,
            groove_mm=seam.groove,
            construction=seam.construction,
            cord_mm=seam.cord,
            **_stitching(seam, _line(tree, "seams", k)),
        )
        for k, seam in enumerate(keys)
    )


def _hems(keys: list[HemKeys] | None, tree: Node) -> tuple[HemRecipe, ...]:
    """Return the hems; left out, every open edge is turned in 12 mm and stitched."""
    if keys is None:
        return (HemRecipe(on=("all",), stitch="301", width_mm=12.0),)
    return tuple(
        HemRecipe(
            on=hem.on,
            width_mm=hem.width,
            construction=hem.construction,
            fold_mm=hem.fold,
            **_stitching(hem, _line(tree, "hems", k)),
        )
        for k, hem in enumerate(keys)
    )
