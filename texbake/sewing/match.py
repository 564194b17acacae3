"""Which seam and hem of a garment is sewn how.

An entry of the recipe speaks of all chains between the panels that it names. Where several speak
of one chain, the one that names more panels counts, and of equals the last. A seam that no entry
speaks of is a plain pressed seam; a hem that none speaks of is left as it is cut.
"""

import functools
from collections.abc import Mapping, Sequence
from types import MappingProxyType

from texbake.errors import UserError, UserErrors
from texbake.garment.panels import panels_named
from texbake.garment.values import Chain, Garment
from texbake.recipe.values import HemRecipe, Recipe, SeamRecipe
from texbake.sewing import stitch_types
from texbake.sewing.corners import turns
from texbake.sewing.facts import ClothFacts
from texbake.sewing.meant import chains_meant
from texbake.sewing.spec import (
    Draw,
    SewnSpec,
    hem_rows_mm,
    spec_for_hem,
    spec_for_seam,
)

_PLAIN = SeamRecipe()
_NO_STRIPS: Mapping[str, ClothFacts] = MappingProxyType({})


def specs(
    garment: Garment,
    recipe: Recipe,
    cloths: Sequence[ClothFacts],
    *,
    draw: Draw = stitch_types.stitches,
    strips: Mapping[str, ClothFacts] = _NO_STRIPS,
) -> tuple[SewnSpec, ...]:
    """Resolve all the sewing of a garment.

    Parameters
    ----------
    garment : Garment
    recipe : Recipe
        Its ``seams``, ``hems``, ``seed`` and ``path`` count.
    cloths : sequence of ClothFacts
        The cloth of each panel of ``garment``.
    draw : function like ``stitch_types.stitches``
        Called once for each kind of stitch.
    strips : mapping of str to ClothFacts
        The fabrics that bindings and bands are of.

    Returns
    -------
    tuple of SewnSpec
        In the order of the chains: every seam, and the hems that the recipe speaks of.

    Raises
    ------
    UserErrors
        Entries that match nothing, or whose rows of stitches do not fit: all at once.
    """
    seams = [chains_meant(garment, entry.between, None) for entry in recipe.seams]
    hems = [chains_meant(garment, None, entry.on) for entry in recipe.hems]
    errors: list[UserError] = []
    for seam, found in zip(recipe.seams, seams, strict=True):
        errors += _seam_faults(garment, recipe, seam, found)
    for hem, found in zip(recipe.hems, hems, strict=True):
        errors += _hem_faults(garment, recipe, hem, found)
    if errors:
        raise UserErrors(errors)
    seam_of = _choice([2 - entry.between.count("all") for entry in recipe.seams], seams)
    hem_of = _choice([int("all" not in entry.on) for entry in recipe.hems], hems)
    cut = turns(garment, hem_of)
    draw = functools.cache(draw)  # lives as long as this call
    out = []
    for index, chain in enumerate(garment.chains):
        if chain.kind == "seam":
            entry = recipe.seams[seam_of[index]] if index in seam_of else _PLAIN
            out.append(_seam(garment, entry, cloths, index, recipe.seed, draw))
        elif chain.kind == "hem" and index in hem_of:
            hem = recipe.hems[hem_of[index]]
            cloth = cloths[chain.panels[0]]
            look = cloth.colour_linear, cloth.thickness_mm
            strip = strips.get(hem.cloth or "")
            own = spec_for_hem(
                *(chain, hem, *look),
                index=index,
                seed=recipe.seed,
                draw=draw,
                turns=cut[index],
                strip=strip,
            )
            out.append(own)
    return tuple(out)


def wearers(
    garment: Garment, recipe: Recipe
) -> tuple[list[tuple[int, ...]], list[tuple[int, ...]]]:
    """Find the panels that the stitches of each entry of ``seams`` and of ``hems`` lie on.

    Only chains for which the entry counts: another that names more panels may have taken some.
    """
    seams = [chains_meant(garment, entry.between, None) for entry in recipe.seams]
    hems = [chains_meant(garment, None, entry.on) for entry in recipe.hems]
    seam_of = _choice([2 - entry.between.count("all") for entry in recipe.seams], seams)
    hem_of = _choice([int("all" not in entry.on) for entry in recipe.hems], hems)
    on_seams: list[set[int]] = [set() for _ in recipe.seams]
    for index, entry in seam_of.items():
        chain = garment.chains[index]
        seen = _side_mask(garment, chain, recipe.seams[entry].side)
        on_seams[entry] |= {panel for panel, on in zip(chain.panels, seen, strict=True) if on}
    on_hems: list[set[int]] = [set() for _ in recipe.hems]
    for index, entry in hem_of.items():
        on_hems[entry].add(garment.chains[index].panels[0])
    return [tuple(sorted(on)) for on in on_seams], [tuple(sorted(on)) for on in on_hems]


def _seam(
    garment: Garment,
    entry: SeamRecipe,
    cloths: Sequence[ClothFacts],
    index: int,
    seed: int,
    draw: Draw,
) -> SewnSpec:
    """Resolve one seam; thread without a colour follows the cloths that it is seen on."""
    chain = garment.chains[index]
    seen = _side_mask(garment, chain, entry.side)
    facts = [cloths[panel] for panel in chain.panels]
    under = [cloth for cloth, on in zip(facts, seen, strict=True) if on] or facts
    red, green, blue = (
        sum(cloth.colour_linear[k] for cloth in under) / len(under) for k in range(3)
    )
    thickness = sum(cloth.thickness_mm for cloth in facts) / len(facts)
    return spec_for_seam(
        chain, entry, (red, green, blue), thickness, seen, index=index, seed=seed, draw=draw
    )


def _side_mask(garment: Garment, chain: Chain, side: str) -> tuple[bool, bool]:
    """On which sides of a seam stitches are seen."""
    if side == "both":
        return True, True
    named = panels_named(garment.panels, side)
    return chain.panels[0] in named, chain.panels[1] in named


def _choice(ranks: list[int], chains: list[list[int]]) -> dict[int, int]:
    """Chain to the entry that counts for it: the highest rank, of equals the last."""
    out: dict[int, int] = {}
    for entry, found in enumerate(chains):
        for index in found:
            if index not in out or ranks[entry] >= ranks[out[index]]:
                out[index] = entry
    return out


def _seam_faults(
    garment: Garment, recipe: Recipe, entry: SeamRecipe, found: list[int]
) -> list[UserError]:
    """What is wrong with an entry of ``seams``."""
    unknown = _unknown(garment, recipe, (*entry.between, entry.side), entry.line, ("all", "both"))
    if unknown:
        return unknown
    between = " and ".join(repr(name) for name in entry.between)
    if not found and entry.between == ("all", "all"):
        return []  # all seams of a garment that has none: nothing to sew is no mistake
    if not found:
        what, fix = f"there is no seam between {between}", _seams_there(garment)
    elif not any(any(_side_mask(garment, garment.chains[i], entry.side)) for i in found):
        what = f"no seam between {between} lies on {entry.side!r}"
        fix = f"side is 'both' or one of {_panels_of(garment, found)}"
    else:
        return []
    return [UserError(what, fix=fix, path=recipe.path, line=entry.line)]


def _hem_faults(
    garment: Garment, recipe: Recipe, entry: HemRecipe, found: list[int]
) -> list[UserError]:
    """What is wrong with an entry of ``hems``."""
    faults = _unknown(garment, recipe, entry.on, entry.line, ("all",))
    if not faults and not found and entry.on != ("all",):
        names = ", ".join(repr(name) for name in entry.on)
        hems = [i for i, chain in enumerate(garment.chains) if chain.kind == "hem"]
        fix = f"these have one: {_panels_of(garment, hems)}" if hems else "remove this entry"
        what = f"no open edge on {names}"
        faults.append(UserError(what, fix=fix, path=recipe.path, line=entry.line))
    rows = hem_rows_mm(entry)
    if min(rows, default=0.0) < 0.0:
        what = f"{_rows(len(rows))} of stitches do not fit a hem {entry.width_mm:g} mm wide"
        fix = f"make it at least {entry.width_mm - min(rows):g} mm wide, or bring the rows closer"
        faults.append(UserError(what, fix=fix, path=recipe.path, line=entry.line))
    return faults


def _rows(count: int) -> str:
    return "1 row" if count == 1 else f"{count} rows"


def _unknown(
    garment: Garment,
    recipe: Recipe,
    names: tuple[str, ...],
    line: int | None,
    words: tuple[str, ...],
) -> list[UserError]:
    """Names that are no panel of the garment."""
    fix = f"the panels are {', '.join(sorted(panel.name for panel in garment.panels))}"
    return [
        UserError(f"there is no panel {name!r}", fix=fix, path=recipe.path, line=line)
        for name in dict.fromkeys(names)
        if name not in words and not panels_named(garment.panels, name)
    ]


def _seams_there(garment: Garment) -> str:
    """The seams that a garment has, for a message."""
    pairs = {
        " and ".join(sorted(garment.panels[panel].name for panel in chain.panels))
        for chain in garment.chains
        if chain.kind == "seam"
    }
    return f"the seams are between {'; '.join(sorted(pairs))}" if pairs else "remove this entry"


def _panels_of(garment: Garment, chains: list[int]) -> str:
    """Names of the panels that some chains lie on, for a message."""
    panels = {panel for index in chains for panel in garment.chains[index].panels if panel >= 0}
    return ", ".join(sorted(garment.panels[panel].name for panel in panels))
