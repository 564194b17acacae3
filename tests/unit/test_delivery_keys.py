"""What a recipe may say of its files, and what is told of mistakes."""

from pathlib import Path

import pytest

from texbake.errors import UserErrors
from texbake.recipe import Recipe, loads
from texbake.recipe.delivery_keys import READY
from texbake.recipe.delivery_values import MAPS

BASE = "garment: tee\nmesh: tee.obj\nfabric: plain\nsize: 512\n"


def read(text: str) -> Recipe:
    return loads(BASE + text, Path("tee.yaml")).recipe


# Text, the line of the mistake, what is said and part of the cure.
WRONG = [
    ("delivery: smal", 5, "'smal' is not known", "did you mean 'small'"),
    ("delivery: {maps: [albedo, roughnes]}", 5, "'roughnes' is no map", "mean 'roughness'"),
    ("delivery:\n  maps: [metal, metal]", 6, "'metal' stands twice", "once"),
    ("delivery: {maps: none}", 5, "no map is delivered", "name a map"),
    ("delivery:\n  sizes: [full, 1024]", 6, "1024 px is more than", "512 or less"),
    ("delivery:\n  sizes:\n    - full\n    - 100", 8, "100 is not a power", "128"),
    ("delivery: {sizes: [half, half]}", 5, "size half stands twice", "once"),
    ("delivery: {sizes: thrid}", 5, "'thrid' is no size", "full, half"),
    ("delivery: {sizes: []}", 5, "empty list", "write full"),
    ("delivery: {format: jpeg}", 5, "'jpeg' is not known", "png, tiff, exr"),
    ("delivery:\n  format: {orm: exr}", 6, "'orm' is no map", "it has: all, albedo"),
    ("delivery:\n  bits: {albedo: 32}", 6, "PNG has no 32 bits", "8 or 16"),
    ("delivery: {bits: 8, format: exr}", 5, "EXR has no 8 bits", "16 or 32"),
    ("delivery: {bits: {albedo: 12}}", 5, "12 is out of range", "8 or 16 or 32"),
    ("delivery: {zip: 1}", 5, "1 is neither", "true or false"),
    ("delivery:\n  packed:\n    a: {red: roughnes}", 7, "'roughnes' is no map", "'roughness'"),
    ("delivery: {packed: {a: {red: albedo}}}", 5, "albedo has three channels", "albedo red"),
    ("delivery: {packed: {a: {red: metal green}}}", 5, "no channel 'green'", "write metal"),
    ("delivery: {packed: {a: {colour: metal}}}", 5, "has not three channels", "albedo or"),
    ("delivery:\n  packed:\n    a: {red: metal,\n      red: height}", 8, "stands twice", "keep"),
    ("delivery: {packed: {a: {colour: albedo, blue: metal}}}", 5, "blue is used twice", "keep"),
    ("delivery: {packed: {a: {grey: metal, blue: metal}}}", 5, "both grey and blue", "keep one"),
    ("delivery: {packed: {a: {alpha: metal}}}", 5, "nothing says what", "red: occlusion"),
    ("delivery: {packed: {Metal: {red: metal}}}", 5, "would have one name", "another name"),
    ("delivery: {packed: {sheet: {red: metal}}}", 5, "would have one name", "another name"),
    ("delivery: {packed: {x: {red: metal}, X: {red: metal}}}", 5, "one name", "another name"),
    ("delivery: {packed: {a/b: {red: metal}}}", 5, "part of a file name", "letters"),
    ('file_name: "{map}"\ndelivery: near-and-far', 5, "has no {size}", "put {size} in"),
    ("delivery: {packt: {}}", 5, "no key 'packt'", "did you mean 'packed'"),
]


@pytest.mark.parametrize(("text", "line", "what", "fix"), WRONG, ids=range(len(WRONG)))
def test_mistakes_are_told_with_line_and_cure(text: str, line: int, what: str, fix: str) -> None:
    with pytest.raises(UserErrors) as caught:
        read(text + "\n")
    (error,) = caught.value.errors
    assert error.line == line
    assert what in error.what
    assert fix in error.fix


def test_left_out_it_is_everything_as_ever() -> None:
    recipe = read("")
    assert recipe.delivery == READY["everything"][0]
    assert recipe.delivery.maps == MAPS
    assert recipe.delivery.names(holes=False) == tuple(n for n in MAPS if n != "opacity")
    assert {recipe.delivery.format_of(name) for name in MAPS} == {"png"}
    bits = {name: recipe.delivery.bits_of(name, 8) for name in MAPS}
    assert bits == {**dict.fromkeys(MAPS, 8), "height": 16}
    assert recipe.file_name == "{garment}_{colourway}_{map}"
    assert not recipe.zipped


def test_normal_bits_count_where_nothing_else_is_said() -> None:
    delivery = read("normal_bits: 16\ndelivery: {bits: {normal-down: 8}}\n").delivery
    assert delivery.bits_of("normal-up", 16) == 16
    assert delivery.bits_of("normal-down", 16) == 8


def test_keys_lie_over_a_ready_made_delivery_one_by_one() -> None:
    delivery = read("delivery: {ready: deep, bits: {albedo: 8}, sizes: half}\n").delivery
    assert [delivery.bits_of(name, 8) for name in ("albedo", "metal", "height")] == [8, 16, 32]
    assert [delivery.format_of(name) for name in ("albedo", "height")] == ["tiff", "exr"]
    assert delivery.sizes_px(512) == (256,)
    plain = read("delivery: {ready: deep, format: png}\n").delivery
    assert plain.format_of("height") == "png"  # one for all takes the place of all
    assert plain.bits_of("height", 8) == 16


def test_several_sizes_have_their_own_names_and_a_smaller_bake_has_fewer() -> None:
    recipe = read("delivery: {sizes: [full, 256, quarter]}\n")
    assert recipe.file_name == "{garment}_{colourway}_{map}_{size}"
    assert recipe.delivery.sizes_px(512) == (512, 256, 128)
    assert recipe.delivery.sizes_px(128) == (128, 32)  # as asked for on the command line
    assert read("delivery: small\n").delivery.sizes_px(512) == (512,)
    assert read("delivery: small\n").delivery.sizes_px(4096) == (1024,)


def test_every_map_is_baked_as_deep_as_a_file_wants_it() -> None:
    text = "delivery: {bits: {a: 16, metal: 16}, packed: {a: {red: opacity, green: albedo red}}}\n"
    depths = read(text).delivery.depths(8)
    assert {name for name, bits in depths.items() if bits == 16} - {"height"} == {
        *("albedo", "opacity", "metal"),
    }
    assert read("delivery: {format: exr}\n").delivery.depths(8)["roughness"] == 16


def test_short_words_of_channels() -> None:
    text = "delivery: {packed: {a: {color: normal-down, alpha: inverted roughness}}}\n"
    (packed,) = read(text).delivery.packed
    assert {name: source.words for name, source in packed.channels.items()} == {
        "red": "normal-down red",
        "green": "normal-down green",
        "blue": "normal-down blue",
        "alpha": "inverted roughness",
    }
    assert not packed.is_colour
