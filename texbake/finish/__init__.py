"""Dyeing and finish of the sewn garment, in space, so that no seam shows them."""

from texbake.finish.dye import dyed_along
from texbake.finish.edge import Edge, Marks, marks
from texbake.finish.finisher import Finisher, apply, finished_colours, finisher
from texbake.finish.ground import Ground, edges_of, ground

__all__ = [
    "Edge",
    "Finisher",
    "Ground",
    "Marks",
    "apply",
    "dyed_along",
    "edges_of",
    "finished_colours",
    "finisher",
    "ground",
    "marks",
]
