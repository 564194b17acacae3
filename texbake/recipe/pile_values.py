"""Pile, skins and nets as frozen values. Take them from ``texbake.recipe.values``."""

from dataclasses import dataclass
from typing import Literal


@dataclass(frozen=True, slots=True)
class Fleece:
    """Knit whose back is brushed to a soft pile."""

    kind: Literal["fleece"] = "fleece"

    @property
    def words(self) -> str:
        """As a recipe writes it."""
        return "fleece"


@dataclass(frozen=True, slots=True, kw_only=True)
class Corduroy:
    """Cut pile in ridges along the grain, so many to the inch."""

    wales_per_inch: float = 11.0
    kind: Literal["corduroy"] = "corduroy"

    def __post_init__(self) -> None:
        """Refuse what cannot be."""
        if not 1.0 <= self.wales_per_inch <= 30.0:
            raise ValueError(f"{self.wales_per_inch} wales per inch; 1 to 30 are woven")

    @property
    def words(self) -> str:
        """As a recipe writes it."""
        return f"corduroy {self.wales_per_inch:g}"


@dataclass(frozen=True, slots=True)
class Towelling:
    """Standing loops of pile yarn that lean every way."""

    kind: Literal["towelling"] = "towelling"

    @property
    def words(self) -> str:
        """As a recipe writes it."""
        return "towelling"


@dataclass(frozen=True, slots=True)
class Leather:
    """Pebbled grain: rounded cells between creases."""

    kind: Literal["leather"] = "leather"

    @property
    def words(self) -> str:
        """As a recipe writes it."""
        return "leather"


@dataclass(frozen=True, slots=True)
class Coated:
    """A smooth film over plain cloth, whose yarns show through softly."""

    kind: Literal["coated"] = "coated"

    @property
    def words(self) -> str:
        """As a recipe writes it."""
        return "coated"


@dataclass(frozen=True, slots=True)
class Tulle:
    """Net of six-sided meshes of fine yarn."""

    kind: Literal["tulle"] = "tulle"

    @property
    def words(self) -> str:
        """As a recipe writes it."""
        return "tulle"


@dataclass(frozen=True, slots=True)
class Eyelet:
    """Knit with rows of small round holes, as in sports shirts."""

    kind: Literal["eyelet"] = "eyelet"

    @property
    def words(self) -> str:
        """As a recipe writes it."""
        return "eyelet"


Pile = Fleece | Corduroy | Towelling
Skin = Leather | Coated
Net = Tulle | Eyelet
