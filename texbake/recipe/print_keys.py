"""The keys of a recipe that say what is printed on the cloth."""

from pathlib import Path
from typing import Annotated, ClassVar

from pydantic import model_validator

from texbake.recipe import units, words
from texbake.recipe.keys import ColourValue, Keys, key
from texbake.recipe.kinds import Amount
from texbake.recipe.mistake import WrongValueError
from texbake.recipe.print_values import PrintRecipe

_SHARE = Amount(of=units.SHARE, low=0.0, high=1.0, example="60 %")
_FILE = words.Text(what="the path of a picture")
_MESH = words.Text(what="the path of a mesh")


class PrintKeys(Keys):
    """Ink on the cloth, under all sewing, as a picture in the UV layout of a mesh."""

    noun: ClassVar[str] = "print"
    name: Annotated[str | None, words.EntryName()] = key(
        None,
        "Name for paths of colourways; entries that share one are changed together.",
        "crest",
    )
    picture: Annotated[str | None, _FILE] = key(
        None,
        "Inks in their colours, PNG or TIFF, square; its alpha is the share of ink.",
        "prints/crest.png",
    )
    mask: Annotated[str | None, _FILE] = key(
        None,
        "Instead of picture: one ink, where this is white (or, with alpha, opaque).",
        "prints/star.png",
    )
    colour: ColourValue = key("#e8e4dc", "Colour of the ink of a mask.", "#d8cfb8")
    painted_on: Annotated[str | None, _MESH] = key(
        None,
        "Mesh whose UV layout it was painted on, from the recipe's folder; left out: the mesh.",
        "meshes/ferry-vest-before.obj",
    )
    on: Annotated[tuple[str, ...], words.Names()] = key(
        "all", "Panels that are printed.", "front", ["front", "back"]
    )
    lustre: Annotated[float, _SHARE] = key("40 %", "0 = matt, 1 = glossy.", "80 %")
    fill: Annotated[float, _SHARE] = key(
        "30 %", "How much of the cloth's relief the ink fills: 0 as if dyed, 1 smooth.", "90 %"
    )

    @model_validator(mode="after")
    def _one(self) -> "PrintKeys":
        """Refuse neither or both."""
        if self.picture is None and self.mask is None:
            raise WrongValueError(
                "nothing says what is printed", fix="add picture: crest.png, or mask: star.png"
            )
        if self.picture is not None and self.mask is not None:
            raise WrongValueError(
                "both picture and mask", fix="keep one: a mask is one ink, a picture brings its own"
            )
        return self


def print_of(keys: PrintKeys, folder: Path, line: int | None) -> PrintRecipe:
    """Return a print; paths are from the recipe's folder."""

    def place(name: str | None) -> Path | None:
        return None if name is None else (folder / name).resolve()

    return PrintRecipe(
        picture=place(keys.picture),
        mask=place(keys.mask),
        colour=keys.colour,
        painted_on=place(keys.painted_on),
        on=keys.on,
        lustre=keys.lustre,
        fill=keys.fill,
        line=line,
    )
