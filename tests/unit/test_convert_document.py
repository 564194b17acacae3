"""recipes/NORMALS.md says what is so."""

import re
from pathlib import Path

import pytest

from texbake.cli import app
from texbake.convert.document import normals_markdown

ROOT = Path(__file__).resolve().parents[2]
WRITTEN = (ROOT / "recipes" / "NORMALS.md").read_text("utf-8")
NUMBER = re.compile(r"(?<![\w.])\d+\.\d+(?![\w.])")


def test_it_is_what_the_measures_give_now() -> None:
    now = normals_markdown()
    assert NUMBER.sub("#", WRITTEN) == NUMBER.sub("#", now), "run python -m texbake.convert"
    # Sines differ in the last bit from system to system, so a rounded figure may by one.
    for old, new in zip(NUMBER.findall(WRITTEN), NUMBER.findall(now), strict=True):
        last = 10.0 ** -len(old.partition(".")[2])
        assert abs(float(old) - float(new)) < 1.5 * last, (old, new)


def rows(title: str) -> list[list[str]]:
    """The rows of the table under the line that begins so."""
    part = WRITTEN.split(title)[1]
    lines = [line for line in part.split("\n\n| ")[1].splitlines() if line.startswith("|")]
    return [[cell.strip() for cell in line.strip("|").split("|")] for line in lines[1:]]


def test_the_tables_show_what_the_text_claims() -> None:
    waves = {row[0]: [float(cell) for cell in row[1:]] for row in rows("Greatest angle between")}
    for true, _even, short, sobel, scharr in waves.values():
        assert true <= min(short, sobel, scharr)
    assert waves["4"][0] < 0.05
    backs = [(float(row[2]), float(row[3])) for row in rows("1 is perfect")]
    assert len(backs) == 6
    assert all(r >= 0.9999 and abs(slope - 1.0) <= 0.005 for r, slope in backs)
    lengths = {row[0]: float(row[1]) for row in rows("Slopes up to 85 degrees")}
    assert lengths["8 bits"] <= 0.5
    assert lengths["16 bits"] <= 0.5


def test_commands_and_options_it_names_exist() -> None:
    named = set(re.findall(r"texbake (\w+) ", WRITTEN))
    there = {c.name or c.callback.__name__ for c in app.registered_commands if c.callback}
    assert named <= there
    help_text = " ".join(_help(command) for command in sorted(named))
    for option in set(re.findall(r"(?<![-|])--[a-z][a-z-]+", WRITTEN)):
        assert option in help_text, option


def _help(command: str) -> str:
    from typer.testing import CliRunner

    return CliRunner().invoke(app, [command, "--help"]).output


@pytest.mark.parametrize("name", ["height_to_normal", "normal_to_height", "flip_green", "inspect"])
def test_functions_it_names_are_public(name: str) -> None:
    import texbake.convert

    assert f"`{name}`" in WRITTEN
    assert name in texbake.convert.__all__
