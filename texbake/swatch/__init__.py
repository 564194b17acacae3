"""Swatches: a fabric alone, as maps that tile, with its pictures and figures."""

from texbake.swatch.facts import Facts, facts_of
from texbake.swatch.piece import Piece, cut
from texbake.swatch.run import Swatch, bake_swatch, whole_size
from texbake.swatch.words import as_json, lines, notes

__all__ = [
    "Facts",
    "Piece",
    "Swatch",
    "as_json",
    "bake_swatch",
    "cut",
    "facts_of",
    "lines",
    "notes",
    "whole_size",
]
