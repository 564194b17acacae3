"""What the models of a recipe's keys are made of."""

from typing import Annotated, Any, ClassVar

from pydantic import BaseModel, ConfigDict, Field
from pydantic.functional_validators import WrapValidator

from texbake.recipe import units, words
from texbake.recipe.kinds import Amount, Number
from texbake.recipe.mistake import WrongValueError
from texbake.recipe.values import Colour

ALL, BOTH, NONE = "all", "both", "none"


def key(default: str | float | None, description: str, *examples: object) -> Any:  # noqa: ANN401
    """Describe a key; its default is written as a recipe would, and read as such."""
    shown = list(examples) or None
    if default is None:
        return Field(default=None, description=description, examples=shown)
    return Field(default=default, validate_default=True, description=description, examples=shown)


def need(description: str, *examples: object) -> Any:  # noqa: ANN401  # as pydantic's Field
    """Describe a key that must be given."""
    return Field(description=description, examples=list(examples) or None)


def _spelling(schema: dict[str, Any]) -> None:
    """Let ``color`` stand wherever ``colour`` does, and no key be empty."""
    keys = schema.get("properties", {})
    for spec in keys.values():
        if spec.get("default", "") is None:
            del spec["default"]
    for ours, theirs in (("colour", "color"), ("colourways", "colorways")):
        if ours in keys:
            keys[theirs] = {**keys[ours], "description": f"Another spelling of {ours}."}


class Keys(BaseModel):
    """Keys of one mapping; any other key is a mistake."""

    noun: ClassVar[str]
    # Built at the first use: importing the package stays quick.
    model_config = ConfigDict(
        extra="forbid", frozen=True, defer_build=True, json_schema_extra=_spelling
    )


def length_of(low: float, high: float, example: str) -> Amount:
    """Return the kind of a length; limits in mm."""
    return Amount(of=units.LENGTH, low=low, high=high, example=example)


COUNT = Amount(of=units.COUNT, low=1.0, high=2000.0, example="20 tex")
SCALE = Number(low=0.1, high=100.0)
ColourValue = Annotated[Colour, words.ColourText()]

SHARE = Amount(of=units.SHARE, low=0.0, high=1.0, example="60 %")
_SUM_SLACK = 0.001  # 0.1 %: three thirds written as 33.3 %


def _whole_melange(value: Any, read: Any) -> dict[Colour, float]:  # noqa: ANN401  # pydantic's
    """Check that the shares make a whole yarn, and that no colour hides behind another."""
    parts: dict[Colour, float] = read(value)
    if len(parts) != len(value):
        raise WrongValueError("one colour stands twice", fix="add its shares up")
    total = sum(parts.values())
    if abs(total - 1.0) > _SUM_SLACK:
        fix = f"change the shares by {100 * (1 - total):+.6g} % in all, so that they sum to 100 %"
        raise WrongValueError(f"shares sum to {100 * total:.6g} %", fix=fix)
    return parts


MelangeValue = Annotated[dict[ColourValue, Annotated[float, SHARE]], WrapValidator(_whole_melange)]
