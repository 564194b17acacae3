"""Dyeing and finish of the sewn garment, in space, so that no seam shows them."""

from texbake.finish.edge import Marks
from texbake.finish.finishing import Finishing, dyed, finishing

__all__ = ["Finishing", "Marks", "dyed", "finishing"]
