"""Prints of a recipe: carried from the layout they were painted on, and read by the bake.

A print is carried once for all colourways, as codes at the size of the maps: filtered as any other
picture, its colour weighted by its ink. Each texel then has a share of ink and a colour. What lies
outside the picture's own layout has none.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from texbake.arrays import F32, I64, U8, U16, Bool
from texbake.carry.files import checked_sizes, read_codes
from texbake.carry.resample import carry_picture
from texbake.carry.route import route
from texbake.carry.sheet import Sheet, read_sheet
from texbake.carry.way import way_between
from texbake.colour import srgb_decode
from texbake.compose.values import Ink
from texbake.errors import UserError
from texbake.garment.panels import panels_named
from texbake.garment.values import Garment
from texbake.layout.values import Texels
from texbake.recipe.print_values import PrintRecipe
from texbake.recipe.values import BLACK, Recipe

# Roughness of inks at lustre 0 and 1, by eye, no source: chalky pigment to a glossy film.
_MATT, _GLOSSY = 0.9, 0.2


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Print:
    """One print, ready for every texel.

    Attributes
    ----------
    said : PrintRecipe
    codes : (N, C) uint8 or uint16
        All texels of the maps, row by row: red, green, blue and ink; of a mask only ink.
    worn : (F,) bool
        Faces that are printed.
    light : (top + 1,) float32
        Linear light of each code.
    """

    said: PrintRecipe
    codes: U8 | U16
    worn: Bool
    light: F32


def prepare_prints(
    recipe: Recipe, built: Garment, known: Sequence[Print] = (), *, threads: int = 1
) -> tuple[Print, ...]:
    """Carry the prints of a recipe.

    Parameters
    ----------
    recipe : Recipe
    built : Garment
    known : sequence of Print
        Of another colourway: what differs in the colour of its ink alone is taken over.
    threads : int
        Speed only.

    Raises
    ------
    UserError
        For a picture or a mesh that is not there or does not fit, with the recipe's line.
    """
    ready = {_undyed(one.said): one for one in known}
    made = []
    for said in recipe.prints:
        there = ready.get(_undyed(said))
        if there is not None:
            made.append(replace(there, said=said))
            continue
        try:
            made.append(_carried(said, recipe, built, threads))
        except UserError as error:
            what = error.what if error.path is None else f"{error.path}: {error.what}"
            raise UserError(what, fix=error.fix, path=recipe.path, line=said.line) from error
    return tuple(made)


def _undyed(said: PrintRecipe) -> PrintRecipe:
    """The print but for what colours and surface alone make of it."""
    return replace(said, colour=BLACK, lustre=0.0, fill=0.0, line=None)


def _carried(said: PrintRecipe, recipe: Recipe, built: Garment, threads: int) -> Print:
    """Carry one print to the layout and the size of the maps."""
    width = checked_sizes([said.file], {})[said.file]
    codes = read_codes(said.file)
    new = Sheet(
        mesh=built.mesh, weld=built.weld, island=built.island, usable=np.asarray(built.panel >= 0)
    )
    way = way_between(_old(said, recipe, new), new)
    found = route(way, old_px=width, new_px=recipe.size_px, threads=threads)
    masked = said.picture is None
    samples = _mask(codes, said) if masked else _inks(codes)
    carried = carry_picture(found, samples, "data" if masked else "colour", threads=threads)
    top = int(np.iinfo(codes.dtype).max)
    light = srgb_decode(np.arange(top + 1, dtype=np.float64) / top).astype(np.float32)
    return Print(
        said=said,
        codes=carried.reshape(-1, carried.shape[2]),
        worn=_worn(said, built),
        light=light,
    )


def _old(said: PrintRecipe, recipe: Recipe, new: Sheet) -> Sheet:
    """Return the layout that a print was painted on."""
    if said.painted_on is None:
        return new
    alike = said.painted_on.suffix.lower() == recipe.mesh.suffix.lower()
    return read_sheet(
        said.painted_on,
        unit_mm=recipe.mesh_unit_mm if alike else None,
        up=recipe.up if alike else "y",
    )


def _inks(codes: U8 | U16) -> U8 | U16:
    """Return a picture as red, green, blue and ink."""
    top = np.iinfo(codes.dtype).max
    if codes.shape[2] < 3:
        codes = np.concatenate([codes[..., :1].repeat(3, axis=2), codes[..., 1:]], axis=2)
    if codes.shape[2] == 4:
        return codes
    return np.dstack([codes, np.full(codes.shape[:2], top, codes.dtype)])


def _mask(codes: U8 | U16, said: PrintRecipe) -> U8 | U16:
    """Return the share of ink that a mask tells: its alpha, or white."""
    if codes.shape[2] in {2, 4}:
        return codes[..., -1:].copy()
    if codes.shape[2] == 3 and not all((codes[..., 0] == codes[..., k]).all() for k in (1, 2)):
        raise UserError(
            "the mask is in colour, without alpha",
            fix="save it as grey, or use picture: instead of mask:",
            path=said.file,
        )
    return codes[..., :1].copy()


def _worn(said: PrintRecipe, built: Garment) -> Bool:
    """Say which faces are printed."""
    if "all" in said.on:
        return np.asarray(built.panel >= 0)
    panels = {panel for name in said.on for panel in panels_named(built.panels, name)}
    return np.asarray(np.isin(built.panel, sorted(panels)))


def inks(prints: Sequence[Print], band: Texels) -> list[Ink]:
    """Read the prints at the texels of a band, in the order of the recipe."""
    found = []
    for one in prints:
        top = float(len(one.light) - 1)
        at = np.flatnonzero(np.take(one.worn, band.face))
        share = one.codes[band.index[at], -1]
        at = at[share > 0]
        if at.size:
            found.append(_ink(one, at, band.index[at], top))
    return found


def _ink(one: Print, at: I64, index: I64, top: float) -> Ink:
    """Ink at some texels of a band."""
    codes = one.codes[index]
    if one.said.picture is None:
        colour: F32 = np.array(one.said.colour.linear, np.float32)[:, None]
    else:
        colour = np.take(one.light, codes[:, :3].T)
    rough = _MATT + (_GLOSSY - _MATT) * one.said.lustre
    cover = codes[:, -1].astype(np.float32)
    cover *= 1.0 / top
    return Ink(at=at, cover=cover, colour=colour, alpha2=rough**4, fill=one.said.fill)
