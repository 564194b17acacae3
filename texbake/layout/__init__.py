"""From a garment to its texels: which face, which millimetre, how far from a seam."""

from texbake.layout.build import lay_out
from texbake.layout.ends import borders_of
from texbake.layout.near import Reach, near, reach_of
from texbake.layout.runs import face_starts, part_of, runs_of
from texbake.layout.tables import space_mm, texels
from texbake.layout.values import Layout, Near, Overlap, Texels

__all__ = [
    "Layout",
    "Near",
    "Overlap",
    "Reach",
    "Texels",
    "borders_of",
    "face_starts",
    "lay_out",
    "near",
    "part_of",
    "reach_of",
    "runs_of",
    "space_mm",
    "texels",
]
