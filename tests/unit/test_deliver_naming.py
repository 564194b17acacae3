"""Names that do on every system."""

from pathlib import Path

import pytest

from texbake.deliver import MAPS, extra_names, file_names, set_folder
from texbake.errors import UserError


def test_the_default_pattern_names_every_map() -> None:
    names = file_names("{garment}_{colourway}_{map}", "deck-coat", "slate")
    assert set(names) == set(MAPS)
    assert names["normal-down"] == "deck-coat_slate_normal-down.png"


def test_a_set_lies_in_its_garments_folder() -> None:
    assert set_folder(Path("out"), "deck-coat", "slate") == Path("out/deck-coat/slate")


@pytest.mark.parametrize(
    ("pattern", "said"),
    [
        ("{garment}_{colourway}", "no field {map}"),
        ("{garment}_{scale}_{map}", "{scale}"),
        ("{map.upper}", "{map.upper}"),
        ("{map!r}", "{map!r}"),
        ("{map:>9}", "{map:>9}"),
        ("{}_{map}", "{}"),
        ("{map", "expected '}'"),
        ("maps/{map}", "'/'"),
        ("..{map}", "starts with '.'"),
        ("{map}\n", "'\\n'"),
    ],
)
def test_a_pattern_that_gives_no_good_names_is_refused(pattern: str, said: str) -> None:
    with pytest.raises(UserError) as caught:
        file_names(pattern, "deck-coat", "slate")
    assert said in caught.value.what
    assert caught.value.fix


@pytest.mark.parametrize(
    "name", ["", "..", ".hidden", "a/b", "a\\b", "C:", "aux", "Com1.x", "end.", "end ", "x" * 201]
)
def test_a_name_that_some_system_cannot_hold_is_refused(name: str) -> None:
    with pytest.raises(UserError, match="garment name"):
        set_folder(Path("out"), name, "slate")
    with pytest.raises(UserError, match="colourway name"):
        set_folder(Path("out"), "deck-coat", name)


@pytest.mark.parametrize("name", ["Größe 2", "auxiliary", "v1.2", "制服", "x" * 200])
def test_a_name_that_every_system_can_hold_is_taken(name: str) -> None:
    assert set_folder(Path("out"), name, name) == Path("out") / name / name


def test_pictures_follow_the_pattern_and_the_garment_in_one_file_has_its_own_name() -> None:
    assert extra_names("{map}-{colourway}", "deck-coat", "slate") == {
        "glb": "deck-coat_slate.glb",
        "view": "view-slate.png",
        "sheet": "sheet-slate.png",
    }
    assert extra_names("{map}", "a", "b", ["near"]) == {"glb": "a_b.glb", "near": "near.png"}


def test_a_name_too_long_for_one_file_is_refused() -> None:
    with pytest.raises(UserError, match="bytes, over"):
        extra_names("{map}", "c" * 120, "d" * 120)
