"""Further weaves that have a name, as frozen values."""

import math
from dataclasses import dataclass
from typing import Literal


def _at_least_one(name: str, *numbers: int) -> None:
    if min(numbers) < 1:
        raise ValueError(f"{name} {numbers}: each must be at least 1")


@dataclass(frozen=True, slots=True, kw_only=True)
class Basket:
    """Plain weave of groups: ``ends`` ends and ``picks`` picks work as one."""

    ends: int
    picks: int
    kind: Literal["basket"] = "basket"

    def __post_init__(self) -> None:
        """Refuse what cannot be."""
        _at_least_one("basket", self.ends, self.picks)

    @property
    def words(self) -> str:
        """As a recipe writes it."""
        return f"basket {self.ends}x{self.picks}"


@dataclass(frozen=True, slots=True, kw_only=True)
class RepWeave:
    """Rib weave (rep). Warp rib: ends float over picks, ribs lie across; weft rib the reverse."""

    system: Literal["warp", "weft"]
    over: int
    under: int
    kind: Literal["rep"] = "rep"

    def __post_init__(self) -> None:
        """Refuse what cannot be."""
        _at_least_one("rib", self.over, self.under)

    @property
    def words(self) -> str:
        """As a recipe writes it."""
        return f"{self.system} rib {self.over}/{self.under}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Herringbone:
    """A twill that leans as Z for ``turn`` ends, then as S for as many, cut where it turns."""

    over: int
    under: int
    turn: int
    kind: Literal["herringbone"] = "herringbone"

    def __post_init__(self) -> None:
        """Refuse what cannot be."""
        _at_least_one("herringbone", self.over, self.under, self.turn)

    @property
    def words(self) -> str:
        """As a recipe writes it."""
        return f"herringbone {self.over}/{self.under} {self.turn}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Sateen:
    """Satin turned over: the weft floats, each pick under one end only (ISO 3572: weft satin)."""

    ends: int
    move: int
    kind: Literal["sateen"] = "sateen"

    def __post_init__(self) -> None:
        """Refuse what cannot be."""
        if not 1 < self.move < self.ends - 1 or math.gcd(self.ends, self.move) != 1:
            raise ValueError(f"sateen {self.ends}/{self.move} does not bind evenly")

    @property
    def words(self) -> str:
        """As a recipe writes it."""
        return f"sateen {self.ends}/{self.move}"


@dataclass(frozen=True, slots=True)
class Crepe:
    """An irregular weave without lines: short floats, strewn."""

    kind: Literal["crepe"] = "crepe"

    @property
    def words(self) -> str:
        """As a recipe writes it."""
        return "crepe"
