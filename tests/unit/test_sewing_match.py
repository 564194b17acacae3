from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from tests.garments_by_hand import garment
from tests.straight_seams import straight
from texbake.errors import UserErrors
from texbake.garment.values import Garment, Panel
from texbake.recipe.values import Colour, Fabric, Felt, HemRecipe, Recipe, SeamRecipe, Thread
from texbake.sewing.facts import ClothFacts
from texbake.sewing.match import specs
from texbake.sewing.spec import SewnSpec

PANELS = ("front", "back", "sleeve-1", "sleeve-2")
GREY = ClothFacts(colour_linear=(0.2, 0.2, 0.2), thickness_mm=0.5)
LINES = SeamRecipe(stitch="301", line=7)


def ferry_shirt() -> Garment:
    """Front and back are sewn together and to two sleeves; the front closes on itself."""
    joins = ((0, 1), (2, 0), (3, 1), (0, 0))
    seams = [replace(straight(100.0 + 10.0 * k), panels=join) for k, join in enumerate(joins)]
    hems = [replace(straight(200.0, kind="hem"), panels=(panel, -1)) for panel in (0, 2)]
    cut = replace(straight(50.0), kind="cut", panels=(1, 1))
    panels = tuple(
        Panel(
            name=name,
            islands=(k,),
            faces=np.array([k], np.int32),
            area_mm2=1.0,
            stretch_rms=0.0,
            stretch_max=0.0,
        )
        for k, name in enumerate(PANELS)
    )
    return replace(garment(np.zeros((4, 3, 2))), panels=panels, chains=(*seams, cut, *hems))


def sewn(
    seams: tuple[SeamRecipe, ...] = (),
    hems: tuple[HemRecipe, ...] = (),
    cloths: tuple[ClothFacts, ...] = (GREY,) * 4,
) -> dict[int, SewnSpec]:
    recipe = Recipe(
        path=Path("ferry-shirt.yaml"),
        garment="ferry-shirt",
        mesh=Path("/ferry-shirt.obj"),
        fabrics={"felt": Fabric(name="felt", structure=Felt())},
        fabric="felt",
        seams=seams,
        hems=hems,
    )
    return {spec.chain: spec for spec in specs(ferry_shirt(), recipe, cloths)}


def told(seams: tuple[SeamRecipe, ...] = (), hems: tuple[HemRecipe, ...] = ()) -> list[str]:
    with pytest.raises(UserErrors) as caught:
        sewn(seams, hems)
    return [str(error) for error in caught.value.errors]


def rows(spec: SewnSpec) -> tuple[int, int]:
    return len(spec.across[0].rows_mm), len(spec.across[1].rows_mm)


def test_without_a_word_seams_are_pressed_and_hems_are_cut_edges() -> None:
    found = sewn()
    assert sorted(found) == [0, 1, 2, 3]
    assert all(spec.kind == "seam" and spec.table is None for spec in found.values())
    assert all(spec.across[0].groove_mm == 0.4 for spec in found.values())


def test_panels_are_named_in_either_order() -> None:
    found = sewn((replace(LINES, between=("back", "front")),))
    assert [rows(found[chain]) for chain in range(4)] == [(1, 1), (0, 0), (0, 0), (0, 0)]


def test_all_means_every_seam_and_a_name_its_numbered_panels() -> None:
    assert all(rows(spec) == (1, 1) for spec in sewn((LINES,)).values())
    found = sewn((replace(LINES, between=("sleeve", "all")),))
    assert [bool(found[chain].table) for chain in range(4)] == [False, True, True, False]


def test_a_panel_sewn_to_itself_is_named_twice() -> None:
    found = sewn((replace(LINES, between=("front", "front")),))
    assert [bool(found[chain].table) for chain in range(4)] == [False, False, False, True]


def test_names_beat_all_and_later_beats_earlier() -> None:
    named = replace(LINES, between=("front", "back"), rows=2)
    later = replace(LINES, between=("front", "back"), rows=3)
    everywhere = replace(LINES, rows=4)
    half = replace(LINES, between=("all", "front"), rows=1)
    assert rows(sewn((named, half, everywhere))[0]) == (2, 2)
    assert rows(sewn((named, later))[0]) == (3, 3)
    assert rows(sewn((half, everywhere))[1]) == (1, 1)
    assert rows(sewn((half, everywhere))[2]) == (4, 4)


def test_a_side_is_a_panel() -> None:
    found = sewn((replace(LINES, between=("sleeve", "all"), side="sleeve"),))
    assert rows(found[1]) == rows(found[2]) == (1, 0)
    found = sewn((replace(LINES, between=("front", "back"), side="back"),))
    assert rows(found[0]) == (0, 1)


def test_thread_follows_the_cloth_that_it_is_seen_on() -> None:
    pale = ClothFacts(colour_linear=(0.8, 0.8, 0.8), thickness_mm=0.5)
    cloths = (GREY, pale, GREY, GREY)
    entry = replace(LINES, between=("front", "back"))
    assert sewn((entry,), (), cloths)[0].thread == pytest.approx([0.375] * 3)
    entry = replace(entry, side="back")
    assert sewn((entry,), (), cloths)[0].thread == pytest.approx([0.6] * 3)
    entry = replace(entry, thread=Thread(colour=Colour((1.0, 1.0, 1.0))))
    assert sewn((entry,), (), cloths)[0].thread == pytest.approx([1.0] * 3)


def test_hems_are_named_by_panel() -> None:
    found = sewn(hems=(HemRecipe(stitch="301"), HemRecipe(on=("sleeve",), width_mm=6.0)))
    assert found[5].across[0].lift_to_mm == 12.0
    assert found[6].across[0].lift_to_mm == 6.0
    assert sorted(sewn(hems=(HemRecipe(on=("front", "sleeve-1")),))) == [0, 1, 2, 3, 5, 6]


def test_chains_with_stitches_of_one_length_share_their_drawing() -> None:
    found = sewn((LINES,))
    assert found[0].table is found[1].table
    assert not np.array_equal(found[0].tone, found[1].tone)


def test_a_seam_that_is_not_there_is_told_with_those_that_are() -> None:
    message = told((replace(LINES, between=("back", "back")),))
    assert message == [
        (
            "ferry-shirt.yaml:7: there is no seam between 'back' and 'back'\n"
            "  fix: the seams are between back and front; back and sleeve-2; front and front;"
            " front and sleeve-1"
        )
    ]


def test_a_panel_that_is_not_there_is_told_with_those_that_are() -> None:
    message = told((replace(LINES, between=("front", "bakc")),))
    assert message == [
        (
            "ferry-shirt.yaml:7: there is no panel 'bakc'\n"
            "  fix: the panels are back, front, sleeve-1, sleeve-2"
        )
    ]


def test_a_side_that_no_seam_has_is_told() -> None:
    message = told((replace(LINES, between=("front", "back"), side="sleeve"),))
    assert message == [
        (
            "ferry-shirt.yaml:7: no seam between 'front' and 'back' lies on 'sleeve'\n"
            "  fix: side is 'both' or one of back, front"
        )
    ]


def test_a_hem_where_no_cloth_ends_is_told() -> None:
    message = told(hems=(HemRecipe(on=("back",), line=9),))
    assert message == [
        "ferry-shirt.yaml:9: no open edge on 'back'\n  fix: these have one: front, sleeve-1"
    ]


def test_rows_that_do_not_fit_a_hem_are_told() -> None:
    entry = HemRecipe(stitch="301", rows=3, width_mm=12.0, from_edge_mm=2.0, spacing_mm=6.0, line=9)
    assert told(hems=(entry,)) == [
        (
            "ferry-shirt.yaml:9: 3 rows of stitches do not fit a hem 12 mm wide\n"
            "  fix: make it at least 14 mm wide, or bring the rows closer"
        )
    ]


def test_all_mistakes_are_told_at_once_in_the_order_of_their_lines() -> None:
    messages = told(
        (replace(LINES, between=("back", "back"), line=12), replace(LINES, side="hood", line=3)),
        (HemRecipe(on=("back",), line=9),),
    )
    assert [message.split(":")[1] for message in messages] == ["3", "9", "12"]
