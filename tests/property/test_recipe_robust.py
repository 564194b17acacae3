"""Whatever stands in a file: it is read, or its mistakes are told with lines that exist."""

import math
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from texbake.errors import UserError, UserErrors
from texbake.recipe import Colour, loads
from texbake.recipe.colours import parse_colour
from texbake.recipe.units import ANGLE, COUNT, DENSITY, LENGTH, Quantity, parse

PATH = Path("vest.yaml")
LINES = """\
garment: vest
mesh: vest.obj
colour: "#3d5a6c"
fabric: drill
fabrics:
  drill:
    weave: twill 2/1 Z
    warp: {count: 30 tex, per_cm: 24, colour: navy}
  knit: {knit: rib 2x2, yarn: {melange: {red: 60 %, blue: 40 %}}, wales: 9 /cm}
  drawn: {draft: ["x.", ".x"]}
  pad: {felt: {thickness: 2 mm}}
panels:
  front: {at: [0, 1, 2], fabric: pad}
seams:
  - {between: [front, all], thread: {colour: red}, length: 2 mm}
hems:
  - {on: front, width: 1/2 in}
colourways:
  sand: {drill.warp.colour: tan, seams.0.thread: red}
""".splitlines()
SCRAPS = ["", "~", "3", "-1", ".nan", "true", "x", "[1, 2]", "{a: 1}", "2 mm", "#fff", "*a", "&a b"]


def check(text: str) -> None:
    found = mistakes(text)
    lines = [e.line or 0 for e in found]
    assert lines == sorted(lines)
    assert all(1 <= line <= max(len(text.splitlines()), 1) for line in lines)
    assert all(e.fix and e.what and e.path == PATH for e in found)


def mistakes(text: str) -> tuple[UserError, ...]:
    try:
        loads(text, PATH)
    except UserErrors as found:
        return found.errors
    except UserError as found:
        return (found,)
    return ()


def test_the_text_that_is_mangled_below_is_a_recipe() -> None:
    loads("\n".join(LINES), PATH)


@given(st.integers(0, len(LINES) - 1), st.sampled_from(SCRAPS), st.integers(0, 3))
@settings(max_examples=150, deadline=None)
def test_a_recipe_with_one_value_replaced_is_read_or_told(row: int, scrap: str, where: int) -> None:
    lines = list(LINES)
    parts = lines[row].split(": ")
    keep = min(where + 1, len(parts))
    lines[row] = ": ".join([*parts[:keep], scrap])
    check("\n".join(lines))


@given(st.lists(st.sampled_from(LINES), max_size=25))
@settings(max_examples=100, deadline=None)
def test_lines_of_recipes_in_any_order_are_read_or_told(lines: list[str]) -> None:
    check("\n".join(lines))


@given(st.text(alphabet="ab:-{}[],#&*!|>'\"%@` \n\t~0.", max_size=60))
@settings(max_examples=200, deadline=None)
def test_any_text_is_read_or_told(text: str) -> None:
    check(text)


QUANTITIES = [LENGTH, ANGLE, DENSITY, COUNT]


@given(st.sampled_from(QUANTITIES), st.decimals(1, 1000, places=3), st.data())
def test_units_convert_into_each_other(
    quantity: Quantity, number: float, data: st.DataObject
) -> None:
    value = float(number)
    unit = data.draw(st.sampled_from(quantity.all_units))
    inside = parse(quantity, f"{value} {unit}", "x")
    factor = quantity.units.get(unit)
    back = inside / factor if factor is not None else quantity.inverse[unit] / inside
    assert math.isclose(back, value, rel_tol=1e-12)


@given(st.integers(0, 0xFFFFFF))
def test_hex_colours_come_back(code: int) -> None:
    assert parse_colour(f"#{code:06x}").hex == f"#{code:06x}"


@given(st.floats(0, 100), st.floats(-160, 160), st.floats(-160, 160))
def test_lab_is_inside_srgb_or_offers_a_colour_that_is(
    lightness: float, a: float, b: float
) -> None:
    try:
        found = parse_colour(f"lab({lightness:.4f} {a:.4f} {b:.4f})")
    except ValueError as error:
        near = str(getattr(error, "fix", "")).split("'")[1]
        found = parse_colour(near)
    assert isinstance(found, Colour)
    assert all(0.0 <= c <= 1.0 for c in found.srgb)


@pytest.mark.parametrize("text", ["2mm", " 2 mm ", "2.0 mm", "+2 mm", "2. mm"])
def test_blanks_and_signs_do_not_matter(text: str) -> None:
    assert parse(LENGTH, text, "2.5 mm") == 2.0
