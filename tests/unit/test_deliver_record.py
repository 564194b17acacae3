"""The record: what was baked, from what."""

import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from texbake.deliver import ExtraFile, MapFile, PanelNote, Record, Source
from texbake.errors import UserError

PATH = Path("out/deck-coat/slate/record.json")
RECORD = Record(
    texbake="0.1.0",
    garment="deck-coat",
    colourway="slate",
    recipe=Source(name="deck-coat.yaml", sha256="1" * 64),
    mesh=Source(name="deck-coat.obj", sha256="2" * 64),
    size_px=2048,
    gutter_px=16,
    seed=7,
    normal_bits=8,
    height_lo_mm=-0.5,
    height_hi_mm=1.5,
    panels=(
        PanelNote(
            name="Rücken",
            area_mm2=81_000.5,
            stretch_rms=0.001,
            stretch_max=0.02,
            texels_per_cm=11.25,
        ),
    ),
    maps=(
        MapFile(
            map="normal-up",
            file="deck-coat_slate_normal-up.png",
            sha256="3" * 64,
            file_bytes=99,
            width_px=2048,
            height_px=2048,
            channels=3,
            bits=8,
            colour_space="linear",
            convention="green-up",
        ),
    ),
    extras=(ExtraFile(kind="glb", file="deck-coat_slate.glb", sha256="4" * 64, file_bytes=99_000),),
)


def test_a_record_is_read_as_it_was_written() -> None:
    assert Record.from_json(RECORD.to_json(), path=PATH) == RECORD


def test_keys_are_sorted_so_that_equal_records_are_equal_texts() -> None:
    data = json.loads(RECORD.to_json())
    assert list(data) == sorted(data)
    assert RECORD.to_json() == replace(RECORD).to_json()
    assert RECORD.to_json().endswith("}\n")


def test_the_record_says_what_a_code_of_height_is_worth() -> None:
    assert json.loads(RECORD.to_json())["height_step_mm"] == pytest.approx(2.0 / 65535)


def test_names_are_kept_readable() -> None:
    assert "Rücken" in RECORD.to_json()


def changed(**fields: Any) -> str:
    return json.dumps(json.loads(RECORD.to_json()) | fields)


def without(field: str) -> str:
    data = json.loads(RECORD.to_json())
    del data[field]
    return json.dumps(data)


def map_with(**fields: Any) -> str:
    (entry,) = json.loads(RECORD.to_json())["maps"]
    return changed(maps=[entry | fields])


def extra_with(**fields: Any) -> str:
    (entry,) = json.loads(RECORD.to_json())["extras"]
    return changed(extras=[entry | fields])


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "line 1"),
        (RECORD.to_json()[:200], "damaged"),
        ("[1, 2]", "list"),
        (changed(size_px="2048"), "size_px"),
        (changed(height_lo_mm=None), "height_lo_mm"),
        (without("mesh"), "mesh"),
        (changed(maps=[{}]), "maps.0"),
        (map_with(colour_space="ultra"), "colour_space"),
        (map_with(sha256="abc"), "sha256"),
        (map_with(file="../../../precious.png"), "'/'"),
        (map_with(file=".."), "starts with '.'"),
        (extra_with(file="../precious.glb"), "'/'"),
        (extra_with(sha256="abc"), "sha256"),
        (extra_with(kind=3), "extras.0.kind"),
    ],
)
def test_a_damaged_record_is_refused_with_its_place(text: str, said: str) -> None:
    with pytest.raises(UserError) as caught:
        Record.from_json(text, path=PATH)
    assert said in str(caught.value)
    assert str(PATH) in str(caught.value)
    assert "bake anew" in caught.value.fix


def test_a_record_of_a_newer_version_is_refused_whatever_it_holds() -> None:
    with pytest.raises(UserError, match="version 2; this Texbake knows up to 1"):
        Record.from_json('{"version": 2, "panels": "as yet unknown"}', path=PATH)


def test_fields_that_a_later_texbake_adds_are_passed_over() -> None:
    assert Record.from_json(changed(weather="fog"), path=PATH) == RECORD


def test_a_record_from_before_there_were_extras_has_none() -> None:
    assert Record.from_json(without("extras"), path=PATH) == replace(RECORD, extras=())
