"""What a recipe says, as frozen values: lengths in mm, angles in radians, shares 0 to 1.

Everything after ``recipe`` works with these and never sees a dict or a text with a unit in it.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from types import MappingProxyType
from typing import Literal

from texbake.recipe.crease_values import CreaseRecipe
from texbake.recipe.delivery_values import Delivery
from texbake.recipe.finish_values import NO_FINISH, Finish
from texbake.recipe.knit_values import Cable, Chart, Interlock, Jersey, Knit, Rib, Terry
from texbake.recipe.panel_values import PanelRecipe
from texbake.recipe.pile_values import (
    Coated,
    Corduroy,
    Eyelet,
    Fleece,
    Leather,
    Net,
    Pile,
    Skin,
    Towelling,
    Tulle,
)
from texbake.recipe.print_values import PrintRecipe
from texbake.recipe.weave_values import Basket, Crepe, Herringbone, RepWeave, Sateen
from texbake.recipe.yarn_values import (
    BLACK,
    Colour,
    Melange,
    Order,
    Triple,
    Yarn,
    mixed,
    to_linear,
    to_srgb,
)

__all__ = [
    "BLACK",
    "Basket",
    "Cable",
    "Chart",
    "Coated",
    "Colour",
    "Corduroy",
    "Crepe",
    "Draft",
    "Eyelet",
    "Fabric",
    "Felt",
    "Finish",
    "Fleece",
    "HemRecipe",
    "Herringbone",
    "Interlock",
    "Jersey",
    "Knit",
    "Leather",
    "Melange",
    "Net",
    "Order",
    "PanelRecipe",
    "Pile",
    "Plain",
    "Project",
    "Recipe",
    "RepWeave",
    "Rib",
    "Sateen",
    "Satin",
    "SeamRecipe",
    "Skin",
    "Stitching",
    "Structure",
    "Terry",
    "Thread",
    "Towelling",
    "Triple",
    "Tulle",
    "Twill",
    "Up",
    "Weave",
    "Yarn",
    "mixed",
    "to_linear",
    "to_srgb",
]


@dataclass(frozen=True, slots=True)
class Plain:
    """Plain weave: over one, under one."""

    kind: Literal["plain"] = "plain"


@dataclass(frozen=True, slots=True, kw_only=True)
class Twill:
    """Each end goes over ``over`` picks, under ``under``; Z leans like the bar of the letter."""

    over: int
    under: int
    direction: Literal["S", "Z"] = "Z"
    kind: Literal["twill"] = "twill"

    def __post_init__(self) -> None:
        """Refuse what cannot be."""
        if min(self.over, self.under) < 1:
            raise ValueError(f"twill {self.over}/{self.under}: each must be at least 1")


@dataclass(frozen=True, slots=True, kw_only=True)
class Satin:
    """One binding point per end, each ``move`` ends on from the last (ISO 3572)."""

    ends: int
    move: int
    kind: Literal["satin"] = "satin"

    def __post_init__(self) -> None:
        """Refuse what cannot be."""
        if not 1 < self.move < self.ends - 1 or math.gcd(self.ends, self.move) != 1:
            raise ValueError(f"satin {self.ends}/{self.move} does not bind evenly")


@dataclass(frozen=True, slots=True, kw_only=True)
class Draft:
    """A drawn weave: 'x' = warp on top, '.' = weft. ``rows[0]`` is the bottom row, woven first."""

    rows: tuple[str, ...]
    kind: Literal["draft"] = "draft"

    def __post_init__(self) -> None:
        """Refuse what cannot be."""
        widths = {len(row) for row in self.rows}
        if len(widths) != 1 or 0 in widths or set("".join(self.rows)) - set("x."):
            raise ValueError(f"a draft is rows of 'x' and '.', equally long, not {self.rows}")


@dataclass(frozen=True, slots=True)
class Felt:
    """Matted fibres without a thread structure."""

    kind: Literal["felt"] = "felt"


Weave = Plain | Twill | Satin | Draft | Basket | RepWeave | Herringbone | Sateen | Crepe
Structure = Weave | Knit | Felt | Pile | Skin | Net


@dataclass(frozen=True, slots=True, kw_only=True)
class Fabric:
    """One cloth. Weaves have ``warp`` and ``weft``; knits and felts have ``yarn``.

    Attributes
    ----------
    wales_per_cm, courses_per_cm : float
        Of a knit; else 0.
    thickness_mm : float or None
        Of a felt.
    raised : float
        How much of a weave or knit the nap hides that brushing pulled out of it; 0 = clear.
    scale : float
        How many times life size the yarns are drawn.
    finish : Finish
        What is done to it once the garment is sewn.
    line : int or None
        Where the recipe names it.
    """

    name: str
    structure: Structure
    warp: Yarn | None = None
    weft: Yarn | None = None
    yarn: Yarn | None = None
    wales_per_cm: float = 0.0
    courses_per_cm: float = 0.0
    thickness_mm: float | None = None
    raised: float = 0.0
    scale: float = 1.0
    finish: Finish = NO_FINISH
    line: int | None = None

    @property
    def undyed(self) -> "Fabric":
        """The fabric in black, wherever the recipe names it: equal if the weave is."""
        warp, weft, yarn = (y and y.undyed for y in (self.warp, self.weft, self.yarn))
        finish = self.finish.undyed
        return replace(self, warp=warp, weft=weft, yarn=yarn, finish=finish, line=None)


@dataclass(frozen=True, slots=True, kw_only=True)
class Thread:
    """Sewing thread. ``colour`` None: the cloth's own, a little darker."""

    colour: Colour | None = None
    count_tex: float = 60.0
    metallic: bool = False


StitchNumber = Literal["301", "304", "401", "406", "504", "514", "516", "602", "605", "607"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Stitching:
    """What seams and hems share.

    Attributes
    ----------
    stitch : str or None
        An ISO 4915 number; None: nothing is stitched.
    seen : 'face' or 'inside'
        Which side of the stitch the garment shows.
    gauge_mm : float or None
        Distance of the outer needles, or width of the stitch; None: usual for its type.
    trim : Colour or None
        Colour of a piping or a binding; None: the cloth's.
    cloth : str or None
        The fabric that a piping, a binding or a band is of; a key of ``fabrics``.
    tack : bool
        Whether a few stitches go back over the open ends of rows.
    pucker : float
        How strongly thread draws the cloth in; 1 as usual.
    """

    stitch: StitchNumber | None = None
    seen: Literal["face", "inside"] = "face"
    gauge_mm: float | None = None
    rows: int = 1
    length_mm: float = 2.5
    from_edge_mm: float = 2.0
    spacing_mm: float = 6.0
    thread: Thread = Thread()
    trim: Colour | None = None
    cloth: str | None = None
    tack: bool = True
    pucker: float = 1.0
    scale: float = 1.0
    line: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class SeamRecipe(Stitching):
    """How the seams between two panels are made. ``between`` may say "all"."""

    between: tuple[str, str] = ("all", "all")
    side: str = "both"
    groove_mm: float = 0.4
    construction: Literal["pressed", "lapped", "felled", "piped"] = "pressed"
    cord_mm: float = 3.0


@dataclass(frozen=True, slots=True, kw_only=True)
class HemRecipe(Stitching):
    """How open edges are finished. ``fold_mm`` None: the fold is as high as the cloth is thick."""

    on: tuple[str, ...] = ("all",)
    width_mm: float = 12.0
    construction: Literal["turned", "bound", "banded"] = "turned"
    fold_mm: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class DetailRecipe:
    """Sewing at a place.

    Attributes
    ----------
    kind : 'bar tack' or 'buttonhole'
    at : tuple of 3 floats or None
        Its middle, mm, +Y up (turned and scaled as the mesh itself is); beside ``between`` or
        ``on``: only the chain nearest to it counts.
    between : tuple of two str or None
        The panels of the seam that it lies on.
    on : tuple of str or None
        The panels of the open edge that it lies on.
    shares : tuple of float
        Places along the chain, 0 at its start, 1 at its end.
    every_mm : float or None
        Distance from one to the next along the chain, instead of ``shares``.
    from_edge_mm : float
        From the chain to its middle.
    panel : str or None
        The panel that it lies on; None: the nearest cloth, of a seam the first that it names.
    angle_rad : float
        Turn from the panel's grain, or from the chain, counter-clockwise from outside.
    length_mm, width_mm : float or None
        None: as usual.
    """

    kind: Literal["bar tack", "buttonhole"]
    at: Triple | None = None
    between: tuple[str, str] | None = None
    on: tuple[str, ...] | None = None
    shares: tuple[float, ...] = ()
    every_mm: float | None = None
    from_edge_mm: float = 10.0
    panel: str | None = None
    angle_rad: float = 0.0
    length_mm: float | None = None
    width_mm: float | None = None
    thread: Thread = Thread()
    scale: float = 1.0
    line: int | None = None


Up = Literal["x", "y", "z", "-x", "-y", "-z"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Recipe:
    """One colourway of a garment, complete.

    Attributes
    ----------
    path : Path
        The recipe file, as it was named.
    included : tuple of Path
        The files whose fabrics it includes.
    mesh : Path
        Absolute.
    mesh_unit_mm : float or None
        Millimetres in one unit of the mesh; None: by its format.
    fabrics : mapping of str to Fabric
    fabric : str
        The fabric of panels that name none; a key of ``fabrics``.
    gone : tuple of str
        Panels of an earlier bake that are no more.
    delivery : Delivery
        The files of a set.
    zipped : bool
        Each set also as one zip.
    lines : mapping of str to int
        Dotted path of each key (``seams.0.thread``) to its line.
    """

    path: Path
    garment: str
    mesh: Path
    fabrics: Mapping[str, Fabric]
    fabric: str
    mesh_unit_mm: float | None = None
    up: Up = "y"
    uv_set: int = 0
    tile: tuple[int, int] = (0, 0)
    size_px: int = 1024
    gutter_px: int = 16
    seed: int = 1
    normal_bits: Literal[8, 16] = 8
    panels: Mapping[str, PanelRecipe] = field(default_factory=lambda: MappingProxyType({}))
    gone: tuple[str, ...] = ()
    seams: tuple[SeamRecipe, ...] = ()
    hems: tuple[HemRecipe, ...] = ()
    details: tuple[DetailRecipe, ...] = ()
    creases: CreaseRecipe | None = None
    prints: tuple[PrintRecipe, ...] = ()
    file_name: str = "{garment}_{colourway}_{map}"
    delivery: Delivery = field(default_factory=Delivery)
    zipped: bool = False
    included: tuple[Path, ...] = ()
    lines: Mapping[str, int] = field(default_factory=lambda: MappingProxyType({}))

    def __post_init__(self) -> None:
        """Refuse what cannot be."""
        if self.fabric not in self.fabrics:
            raise ValueError(f"fabric {self.fabric!r} is none of {sorted(self.fabrics)}")


@dataclass(frozen=True, slots=True, kw_only=True)
class Project:
    """A recipe file: the base, its colourways (at least "standard"), notes on lost colours."""

    recipe: Recipe
    colourways: Mapping[str, Recipe]
    notes: tuple[str, ...] = ()
