"""Creases: folds that wear and drape leave in cloth, as a height in space."""

from texbake.crease.field import Field
from texbake.crease.layer import crease, prepare

__all__ = ["Field", "crease", "prepare"]
