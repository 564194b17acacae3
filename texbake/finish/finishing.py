"""The finishes of a whole garment: what a bake asks for, band by band."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from texbake.arrays import F32
from texbake.cloth.facts import colours
from texbake.cloth.values import Cloth
from texbake.finish.dye import dyed_along
from texbake.finish.edge import Edge, Marks, creased, marks
from texbake.finish.finisher import Finisher, apply, finisher
from texbake.finish.ground import Ground, edges_of, ground
from texbake.finish.pill import HIGH
from texbake.garment.values import Garment
from texbake.layout.values import Layout, Near, Texels
from texbake.recipe.values import Fabric
from texbake.sewing.facts import ClothFacts
from texbake.sewing.spec import SewnSpec
from texbake.sewing.values import Sewn


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Finishing:
    """What is done to a garment once it is sewn.

    Attributes
    ----------
    ground : Ground or None
        None where no fabric has a finish.
    edges : tuple of Edge
        One per chain that is sewn; none where no finish asks for them.
    finishers : tuple of (Finisher or None)
        One per fabric worn.
    colours : tuple of (S, 3) float32
        Linear colours of each fabric's weights.
    """

    ground: Ground | None
    edges: tuple[Edge, ...]
    finishers: tuple[Finisher | None, ...]
    colours: tuple[F32, ...]

    @property
    def high_mm(self) -> float:
        """How much the finish adds to the cloth's height at most."""
        strewn = [made.pills for made in self.finishers if made is not None]
        return max((HIGH * p.radius_mm for p in strewn if p is not None), default=0.0)

    def mark(
        self, number: int, chain: int, near: Near, sizes: tuple[F32, F32]
    ) -> tuple[Marks, ...]:
        """What a fabric's finish must know of the sewing along one chain, if anything.

        Parameters
        ----------
        number, chain : int
            Of the fabric among those worn; of the chain among those sewn.
        near : Near
        sizes : two of (M,) float32
            Size of each texel across and along the chain.
        """
        made = self.finishers[number]
        if made is None or not made.finish.by_edge:
            return ()
        return (marks(near, self.edges[chain], *sizes),)

    def creased(self, number: int, bent: Sewn) -> tuple[Marks, ...]:
        """What a fabric's finish must know of creases, if anything."""
        made = self.finishers[number]
        if made is None or not made.finish.by_edge:
            return ()
        return (creased(bent.at, bent.height_mm),)

    def done(
        self, number: int, cloth: Cloth, texels: Texels, layout: Layout, marked: Sequence[Marks]
    ) -> Cloth:
        """Finish the cloth of a band of texels; its weights then go with ``colours``."""
        made = self.finishers[number]
        return cloth if made is None else apply(made, cloth, texels, layout, marked)


def finishing(
    garment: Garment,
    layout: Layout,
    fabrics: Sequence[Fabric],
    sewn: Sequence[SewnSpec],
    seed: int,
    known: Finishing | None = None,
) -> Finishing:
    """Prepare the finishes of all ``fabrics`` worn; what is ``known`` of the garment is kept."""
    shared = ground(
        garment, layout, [f.finish for f in fabrics], seed, known.ground if known else None
    )
    finishers = tuple(finisher(fabric, shared, seed) for fabric in fabrics)
    return Finishing(
        ground=shared,
        edges=edges_of(sewn, shared),
        finishers=finishers,
        colours=tuple(
            colours(fabric) if made is None else made.colours
            for fabric, made in zip(fabrics, finishers, strict=True)
        ),
    )


def dyed(
    sewn: Sequence[SewnSpec],
    garment: Garment,
    fabrics: Sequence[Fabric],
    facts: Sequence[ClothFacts],
) -> tuple[SewnSpec, ...]:
    """Dye the threads of seams and hems along with the cloth that they hold.

    Parameters
    ----------
    sewn : sequence of SewnSpec
    garment : Garment
    fabrics, facts
        Of each panel. A seam's thread goes with the cloth of its first side.
    """
    panels = [garment.chains[spec.chain].panels[0] for spec in sewn]
    return tuple(
        _dyed(spec, fabrics[panel].finish.thread_dyed, facts[panel])
        for spec, panel in zip(sewn, panels, strict=True)
    )


def _dyed(spec: SewnSpec, share: float, facts: ClothFacts) -> SewnSpec:
    """One thread, its colour moved towards the cloth's."""
    if share == 0.0:
        return spec
    return replace(spec, thread=dyed_along(spec.thread, facts.colour_linear, share))
