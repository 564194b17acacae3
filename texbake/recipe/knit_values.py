"""Knits as frozen values. They are taken from ``texbake.recipe.values``, where all values are."""

from dataclasses import dataclass
from typing import Literal


@dataclass(frozen=True, slots=True)
class Jersey:
    """Single jersey: every loop faces the front, or on its back none does."""

    side: Literal["face", "back"] = "face"
    kind: Literal["jersey"] = "jersey"

    @property
    def words(self) -> str:
        """As a recipe writes it."""
        return "single jersey" if self.side == "face" else "single jersey back"


@dataclass(frozen=True, slots=True, kw_only=True)
class Rib:
    """``face`` wales of front loops, then ``back`` wales of back loops."""

    face: int
    back: int
    kind: Literal["rib"] = "rib"

    def __post_init__(self) -> None:
        """Refuse what cannot be."""
        if min(self.face, self.back) < 1:
            raise ValueError(f"rib {self.face}x{self.back}: each must be at least 1")

    @property
    def words(self) -> str:
        """As a recipe writes it."""
        return f"rib {self.face}x{self.back}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Chart:
    """A drawn knit: 'k' = face loop, 'p' = back loop. ``rows[0]`` is the bottom row."""

    rows: tuple[str, ...]
    kind: Literal["chart"] = "chart"

    def __post_init__(self) -> None:
        """Refuse what cannot be."""
        widths = {len(row) for row in self.rows}
        if len(widths) != 1 or 0 in widths or set("".join(self.rows)) - set("kp"):
            raise ValueError(f"a chart is rows of 'k' and 'p', equally long, not {self.rows}")


@dataclass(frozen=True, slots=True)
class Interlock:
    """Two ribs knitted through each other: face loops on both sides, wales half a course apart."""

    kind: Literal["interlock"] = "interlock"

    @property
    def words(self) -> str:
        """As a recipe writes it."""
        return "interlock"


@dataclass(frozen=True, slots=True, kw_only=True)
class Cable:
    """Two strands of ``strand`` face wales that cross once in ``every`` courses."""

    strand: int = 3
    every: int = 8
    kind: Literal["cable"] = "cable"

    def __post_init__(self) -> None:
        """Refuse what cannot be."""
        if self.strand < 1 or self.every < self.strand + 1:
            raise ValueError(f"a cable of {self.strand} wales cannot cross in {self.every} courses")

    @property
    def words(self) -> str:
        """As a recipe writes it."""
        return f"cable {self.strand}x{self.strand}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Terry:
    """French terry from its back: a yarn that hangs in loops, bound in one of ``every`` wales."""

    every: int = 3
    kind: Literal["terry"] = "terry"

    def __post_init__(self) -> None:
        """Refuse what cannot be."""
        if self.every < 2:
            raise ValueError(f"loops of {self.every} wales: each spans at least 2")

    @property
    def words(self) -> str:
        """As a recipe writes it."""
        return "french terry back"


Knit = Jersey | Rib | Chart | Interlock | Cable | Terry
