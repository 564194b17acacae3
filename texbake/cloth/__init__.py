"""Cloth as functions of the pattern plane: yarn, weave, knit, felt."""

from texbake.cloth.facts import (
    colours,
    has_holes,
    has_yarns,
    pitch_mm,
    thickness_mm,
    yarn_mm,
    yarns,
)
from texbake.cloth.hash import hash01, hash32
from texbake.cloth.mean import colour_shares, dyed, mean_colour
from texbake.cloth.noise import noise2, noise3
from texbake.cloth.repeat import Repeat, repeat_of
from texbake.cloth.values import Cloth
from texbake.cloth.weaver import Weaver, prepare, render, weave
from texbake.cloth.yarn import cloth_cover, cover_fraction, diameter_mm, twist_angle_rad

__all__ = [
    "Cloth",
    "Repeat",
    "Weaver",
    "cloth_cover",
    "colour_shares",
    "colours",
    "cover_fraction",
    "diameter_mm",
    "dyed",
    "has_holes",
    "has_yarns",
    "hash01",
    "hash32",
    "mean_colour",
    "noise2",
    "noise3",
    "pitch_mm",
    "prepare",
    "render",
    "repeat_of",
    "thickness_mm",
    "twist_angle_rad",
    "weave",
    "yarn_mm",
    "yarns",
]
