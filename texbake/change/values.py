"""What the layout record keeps of a garment, so that the next bake knows its cloth again.

Cloth is known by where it lies in space. So the whole mesh is kept, which at 24,000 triangles is
under a megabyte; what painted pictures are carried from is then at hand too, when the old mesh
file is lost.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

from texbake.arrays import F64, I32
from texbake.recipe.values import PanelRecipe, Triple, Up


@dataclass(frozen=True, slots=True, kw_only=True)
class Picks:
    """How a recipe finds a panel: what stands in the keys of its entry, other than the cloth."""

    at: Triple | None = None
    object: str | None = None
    group: str | None = None
    material: str | None = None
    islands: tuple[int, ...] = ()


def picks_of(entry: PanelRecipe) -> Picks:
    """Return how an entry of ``panels`` finds its islands."""
    return Picks(
        at=entry.at,
        object=entry.object,
        group=entry.group,
        material=entry.material,
        islands=entry.islands,
    )


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class KeptPanel:
    """A panel as it was baked.

    Attributes
    ----------
    name : str
    entry : str or None
        The key of the recipe's ``panels`` that made it; None for a default panel.
    islands : tuple of int
    sewn_mm : (E, 2, 3) float64
        Edges in space along which it is sewn to itself, or was cut open to lie flat.
    """

    name: str
    entry: str | None
    islands: tuple[int, ...]
    sewn_mm: F64


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Kept:
    """The garment as it was last baked.

    Attributes
    ----------
    garment : str
    mesh_name : str
        Name of the mesh file, without folders.
    mesh_digest : str
        Digest of what is in it.
    mesh_key : str
        Digest of what is in it and of how it is to be read.
    unit_mm : float
    up : str
        Unit and up axis of the file.
    size_px : int
        Of the maps.
    points_mm : (V, 3) float64
    faces : (F, 3) int32
    uv : (F, 3, 2) float64
    island, panel : (F,) int32
        ``panel`` is -1 for faces on none.
    tag : (F,) int32
        Index into ``tags``: object, group and material name of each face.
    tags : tuple of (object, group, material)
    panels : tuple of KeptPanel
    known : (F,) int32
        Index into ``panels`` of each face whose panel was known from the bake before; -1
        elsewhere. All -1: panels were found by the recipe alone.
    entries : mapping of name to Picks
        The recipe's ``panels`` as they were written.
    """

    garment: str
    mesh_name: str
    mesh_digest: str
    mesh_key: str
    unit_mm: float
    up: Up
    size_px: int
    points_mm: F64
    faces: I32
    uv: F64
    island: I32
    panel: I32
    tag: I32
    tags: tuple[tuple[str, str, str], ...]
    panels: tuple[KeptPanel, ...]
    known: I32
    entries: Mapping[str, Picks] = field(default_factory=lambda: MappingProxyType({}))

    @property
    def followed(self) -> bool:
        """Whether panels were known from the bake before."""
        return bool((self.known >= 0).any())
