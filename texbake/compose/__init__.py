"""The compositing engine: layers over a base, in linear light."""

from texbake.compose.engine import compose
from texbake.compose.values import Ink, Surface

__all__ = ["Ink", "Surface", "compose"]
