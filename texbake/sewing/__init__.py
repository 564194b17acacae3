"""Sewing: seams, hems and stitches, as a function of the distance to a chain and of its length."""

from texbake.sewing.build import footprint, sew
from texbake.sewing.facts import ClothFacts
from texbake.sewing.match import specs
from texbake.sewing.spec import SewnSpec, reach_mm, spec_for_hem, spec_for_seam
from texbake.sewing.values import Sewn

__all__ = [
    "ClothFacts",
    "Sewn",
    "SewnSpec",
    "footprint",
    "reach_mm",
    "sew",
    "spec_for_hem",
    "spec_for_seam",
    "specs",
]
