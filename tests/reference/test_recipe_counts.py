"""Yarn counts and colours against published numbers."""

import pytest
from PIL import ImageColor

from texbake.recipe.colours import parse_colour
from texbake.recipe.css_names import CSS_NAMES
from texbake.recipe.units import COUNT, LENGTH, parse

# shared/tables/yarn_count_diameter.csv: Ne (cotton), tex, denier, Nm, from the definitions of
# ISO 1144; rounded there to 4 or 3 decimals.
COUNTS = [
    (4, 147.6353, 1328.718, 6.7734),
    (10, 59.0541, 531.487, 16.9336),
    (20, 29.5271, 265.744, 33.8672),
    (30, 19.6847, 177.162, 50.8009),
    (60, 9.8424, 88.581, 101.6017),
    (120, 4.9212, 44.291, 203.2034),
]


@pytest.mark.parametrize(("ne", "tex", "denier", "nm"), COUNTS)
def test_counts_agree_with_the_table(ne: float, tex: float, denier: float, nm: float) -> None:
    texts = (f"Ne {ne}", f"{ne} Ne", f"{denier} den", f"{denier} denier", f"Nm {nm}", f"{nm} Nm")
    for text in (*texts, f"{tex} tex", f"{tex * 10:.3f} dtex"):
        assert parse(COUNT, text, "20 tex") == pytest.approx(tex, rel=2e-5), text


def test_plies_divide_an_indirect_count() -> None:
    # shared/tables/woven_constructions.csv, "fine canvas": 10/2 to 21/6 plied are 58 tex a strand
    # (Ne 10 = 59.05 tex), so Ne 10/2 is two of them.
    assert parse(COUNT, "Ne 10/2", "20 tex") == pytest.approx(2 * 59.0541, rel=1e-5)


@pytest.mark.parametrize(
    ("text", "mm"),
    # shared/tables/seam_hem_widths.csv: inches and mm, rounded to 0.1 mm.
    [("3/8 in", 9.5), ("1/2 in", 12.7), ("1/8 in", 3.2), ("1/4 in", 6.4), ("1 1/2 in", 38.1)],
)
def test_fractions_of_an_inch_agree_with_the_table(text: str, mm: float) -> None:
    assert parse(LENGTH, text, "2.5 mm") == pytest.approx(mm, abs=0.051)


@pytest.mark.parametrize(
    ("name", "code"),
    # CSS Color Module Level 4, section 6.1, the table of named colours.
    [
        ("aliceblue", "#f0f8ff"),
        ("darkslategrey", "#2f4f4f"),
        ("goldenrod", "#daa520"),
        ("grey", "#808080"),
        ("navy", "#000080"),
        ("rebeccapurple", "#663399"),
        ("Teal", "#008080"),
        ("yellowgreen", "#9acd32"),
    ],
)
def test_names_have_the_colours_of_css(name: str, code: str) -> None:
    assert parse_colour(name).hex == code


def test_all_148_names_agree_with_another_copy_of_the_table() -> None:
    other = {name: ImageColor.getrgb(name) for name in ImageColor.colormap}
    assert len(CSS_NAMES) == 148
    ours = {name: tuple(bytes.fromhex(code[1:])) for name, code in CSS_NAMES.items()}
    assert ours == other


def test_short_hex_doubles_each_digit() -> None:
    # CSS Color Module Level 4, section 5.2: #0f0 is #00ff00.
    assert parse_colour("#1aF").hex == "#11aaff"


def test_lab_agrees_with_the_worked_values_of_css() -> None:
    # W3C web-platform-tests css-color/lab-001: lab(46.2775% -47.5621 48.5837) is green.
    assert parse_colour("lab(46.2775% -47.5621 48.5837)").hex == "#008000"
    assert parse_colour("lab(100 0 0)").hex == "#ffffff"
    # CSS Color Module Level 4, section 9.3, first example; sRGB as other converters of the
    # specification's sample code publish it in their tests.
    found = parse_colour("lab(29.2345% 39.3825 20.0664)").srgb
    assert found == pytest.approx((0.490634, 0.138671, 0.159006), abs=2e-5)


@pytest.mark.parametrize("lightness", [1, 5, 8, 50, 96])
def test_greys_in_lab_are_neutral_and_as_light_as_cie_says(lightness: float) -> None:
    colour = parse_colour(f"lab({lightness} 0 0)")
    fy = (lightness + 16) / 116  # CIE 15:2004, section 8.2.1: Y of L*
    luminance = fy**3 if lightness > 8 else lightness * 27 / 24389
    assert colour.linear == pytest.approx((luminance,) * 3, rel=2e-4)
