"""Figures of a UV layout, each beside its limit, and what to do where it is over."""

from texbake.advice.gaps import Gap, clean_level, gap_wanted, gaps
from texbake.advice.judge import judge
from texbake.advice.limits import LIMITS, Limits
from texbake.advice.measure import (
    Figures,
    Mirrored,
    Off,
    PanelFigures,
    Shared,
    flipped,
    measure,
    off_square,
    panel_figures,
)
from texbake.advice.per_face import Density, density, face_areas, uv_stretch
from texbake.advice.values import Finding, as_plain

__all__ = [
    "LIMITS",
    "Density",
    "Figures",
    "Finding",
    "Gap",
    "Limits",
    "Mirrored",
    "Off",
    "PanelFigures",
    "Shared",
    "as_plain",
    "clean_level",
    "density",
    "face_areas",
    "flipped",
    "gap_wanted",
    "gaps",
    "judge",
    "measure",
    "off_square",
    "panel_figures",
    "uv_stretch",
]
