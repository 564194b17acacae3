"""The order of a range, the colours it tells, and how cards are set."""

import colorsys

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from texbake.arrays import F64
from texbake.colour import linear_to_lab, srgb_decode
from texbake.range.order import SORTS, is_grey, ordered
from texbake.range.picture import columns_for, range_picture, view_size
from texbake.range.values import Card, Entry, Main, Value


def entry(name: str, colour: str, *more: Main) -> Entry:
    """A colourway of one fabric, 'drill'."""
    srgb: F64 = np.array(list(bytes.fromhex(colour[1:])), np.float64) / 255.0
    return Entry(
        name=name,
        mains=(Main(fabric="drill", hex=colour), *more),
        values=(Value(of="drill", share="", hex=colour),),
        lab=linear_to_lab(srgb_decode(srgb)),
    )


def names(entries: list[Entry]) -> list[str]:
    return [one.name for one in entries]


def test_hues_run_round_the_circle_light_before_dark_and_greys_come_last() -> None:
    # CSS colours, by their names in CSS Color 4: which family each is of, nobody doubts.
    given_in = {
        "black": "#000000",
        "royal-blue": "#4169e1",
        "dark-green": "#006400",
        "crimson": "#dc143c",
        "white": "#ffffff",
        "light-green": "#90ee90",
        "grey": "#808080",
        "gold": "#ffd700",
        "light-pink": "#ffb6c1",
    }
    found = names(ordered([entry(*item) for item in given_in.items()], "hue"))
    assert found == [
        *("light-pink", "crimson", "gold", "light-green", "dark-green", "royal-blue"),
        *("white", "grey", "black"),
    ]


def test_lightness_runs_from_light_to_dark() -> None:
    shades = [entry(f"s{k}", f"#{k:02x}{k:02x}{k:02x}") for k in (128, 255, 0, 60)]
    assert names(ordered(shades, "lightness")) == ["s255", "s128", "s60", "s0"]


def test_as_listed_is_as_listed_and_ties_stay_so_in_every_order() -> None:
    same = [entry(name, "#3d5a6c") for name in ("b", "c", "a")]
    for sort in SORTS:
        assert names(ordered(same, sort)) == ["b", "c", "a"]


@given(st.lists(st.tuples(*[st.integers(0, 255)] * 3), max_size=30), st.sampled_from(SORTS))
def test_every_order_keeps_all_and_does_not_hang_on_the_order_given(
    colours: list[tuple[int, int, int]], sort: str
) -> None:
    entries = [entry(str(k), "#" + bytes(c).hex()) for k, c in enumerate(colours)]
    found = ordered(entries, sort)
    assert sorted(names(found)) == sorted(names(entries))
    lightness = [round(float(one.lab[0]), 6) for one in entries]
    if sort != "listed" and len(set(lightness)) == len(entries):
        assert names(ordered(entries[::-1], sort)) == names(found)


def test_a_full_colour_is_never_a_grey() -> None:
    for step in range(36):
        r, g, b = (round(255 * c) for c in colorsys.hls_to_rgb(step / 36, 0.5, 0.4))
        assert not is_grey(entry("x", f"#{r:02x}{g:02x}{b:02x}"))
    assert is_grey(entry("x", "#8f9192"))


@pytest.mark.parametrize("count", [1, 2, 5, 12, 40, 100, 120])
def test_cards_fill_a_sheet_of_good_shape(count: int) -> None:
    cell = (330, 480)
    columns = columns_for(count, cell)
    rows = -(-count // columns)
    assert (rows - 1) * columns < count <= rows * columns
    assert rows * columns - count <= columns / 2
    if count >= 5:
        assert 0.9 < columns * cell[0] / (rows * cell[1]) < 2.2


def cards(count: int, *more: Main) -> list[Card]:
    wide, high = view_size(count, 2.0)
    found = []
    for k in range(count):
        view = np.full((high, wide, 3), 255 * k // max(count - 1, 1), np.uint8)
        found.append(Card(entry=entry(f"shade-{k}", f"#{k:02x}40a0", *more), view=view))
    return found


@pytest.mark.parametrize("count", [1, 5, 40, 100])
def test_margins_are_even_and_views_are_pasted_as_they_are(count: int) -> None:
    picture = range_picture("vest", cards(count))
    paper = picture[0, 0]
    inked = (picture != paper).any(axis=2)
    columns, rows = np.flatnonzero(inked.any(axis=0)), np.flatnonzero(inked.any(axis=1))
    left, right = columns[0], picture.shape[1] - 1 - columns[-1]
    margin = 72 if count <= 12 else 60
    assert abs(int(left) - margin) <= 3
    assert abs(int(right) - margin) <= 3
    assert margin <= rows[0] < margin + 40
    assert margin - 5 <= picture.shape[0] - 1 - rows[-1] < margin + 30
    wide, high = view_size(count, 2.0)
    black = (picture == 0).all(axis=2)
    if count > 1:
        assert black.sum() == wide * high


@pytest.mark.parametrize(
    ("shape", "high"), [(3.0, 375), (1.0, 345), (0.2, 225)], ids=["trousers", "vest", "scarf"]
)
def test_views_are_as_high_as_the_garment_needs(shape: float, high: int) -> None:
    assert view_size(40, shape) == (300, high)


def test_what_all_have_is_told_once_and_takes_no_line_of_each_card() -> None:
    lining = Main(fabric="jersey", hex="#aeb4b5")
    bare, lined = range_picture("vest", cards(40)), range_picture("vest", cards(40, lining))
    assert bare.shape == lined.shape
    single = range_picture("vest", cards(1, lining))
    assert single.shape[0] > range_picture("vest", cards(1)).shape[0]


@pytest.mark.parametrize("name", ["x" * 64, "W" * 200, "Rücken", "船", '<b>&"'])
def test_long_and_foreign_names_stay_within_their_card(name: str) -> None:
    (one,) = cards(1)
    named = Card(entry=entry(name, "#3d5a6c", Main(fabric=name, hex="#000000")), view=one.view)
    picture = range_picture(name, [named])
    inked = (picture != picture[0, 0]).any(axis=(0, 2))
    assert not inked[: 72 - 3].any()
    assert not inked[-(72 - 3) :].any()
