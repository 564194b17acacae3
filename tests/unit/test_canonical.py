"""Digests of a recipe's values: equal if what they say is."""

from dataclasses import dataclass, replace
from pathlib import Path

import pytest

from texbake.recipe import loads
from texbake.recipe.canonical import digest
from texbake.recipe.values import Fabric, Recipe, SeamRecipe, Thread
from texbake.recipe.yarn_values import Colour

TEXT = """\
garment: cap
mesh: cap.obj
fabrics:
  twill: {weave: twill 2/1, warp: {colour: navy}, weft: {melange: {"#eee": 50 %, "#333": 50 %}}}
seams:
  - {between: [all, all], thread: {colour: white}}
"""


def read(text: str) -> Recipe:
    return loads(text, Path("cap.yaml")).recipe


def fabric(text: str) -> Fabric:
    return read(text).fabrics["twill"]


def test_lines_and_spelling_count_for_nothing() -> None:
    other = TEXT.replace("fabrics:", "# cloth\n\nfabrics:").replace("navy", "'#000080'")
    assert fabric(other).line != fabric(TEXT).line
    assert digest(fabric(other)) == digest(fabric(TEXT))


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("2/1", "2/2"),
        ("navy", "teal"),
        ("#333", "#334"),
        ("{colour: navy", "{ply: 2, colour: navy"),
    ],
)
def test_any_value_counts(old: str, new: str) -> None:
    assert digest(fabric(TEXT.replace(old, new))) != digest(fabric(TEXT))


def test_colours_count_only_if_asked_for() -> None:
    white, lime = (read(TEXT.replace("white", name)).seams[0] for name in ("white", "lime"))
    assert digest(white) != digest(lime)
    assert digest(white, dyed=False) == digest(lime, dyed=False)
    bare = replace(white, thread=Thread())
    assert digest(white, dyed=False) != digest(bare, dyed=False)  # that there is one counts
    assert digest(white, dyed=False) != digest(replace(white, rows=2), dyed=False)


def test_values_of_two_kinds_with_equal_fields_differ() -> None:
    @dataclass(frozen=True)
    class Other:
        srgb: tuple[float, float, float]

    assert digest(Colour((0.0, 0.5, 1.0))) != digest(Other((0.0, 0.5, 1.0)))


def test_a_file_counts_by_what_is_in_it(tmp_path: Path) -> None:
    one, two = tmp_path / "one.png", tmp_path / "two.png"
    one.write_bytes(b"print")
    two.write_bytes(b"print")
    assert digest({"mask": one}) == digest({"mask": two})
    two.write_bytes(b"another")
    assert digest({"mask": one}) != digest({"mask": two})
    assert digest({"mask": tmp_path / "none"}) != digest({"mask": one})


def test_what_is_no_value_is_refused() -> None:
    with pytest.raises(TypeError, match="set"):
        digest({"mask": {1, 2}})
    with pytest.raises(ValueError, match="not JSON compliant"):
        digest(replace(SeamRecipe(), scale=float("nan")))
