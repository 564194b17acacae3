"""README says what is so: its recipes bake, its commands exist, its links lead somewhere."""

import re
from pathlib import Path

import pytest
from typer.testing import CliRunner

from tests.cli_run import texbake
from texbake.cli import app
from texbake.recipe import loads

ROOT = Path(__file__).resolve().parents[2]
README = (ROOT / "README.md").read_text("utf-8")


def _blocks(language: str) -> list[str]:
    return re.findall(rf"```{language}\n(.*?)```", README, re.DOTALL)


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    mesh = ROOT / "recipes" / "meshes" / "ferry-vest.obj"
    (tmp_path / "ferry-vest.obj").write_bytes(mesh.read_bytes())
    monkeypatch.chdir(tmp_path)
    return tmp_path


@pytest.mark.parametrize("number", range(len(_blocks("yaml"))))
def test_every_recipe_bakes(folder: Path, number: int) -> None:
    (folder / "deck-vest.yaml").write_text(_blocks("yaml")[number], "utf-8")
    run = CliRunner().invoke(app, ["bake", "deck-vest.yaml", "--size", "128", "--maps-only"])
    assert run.exit_code == 0, run.output
    colourways = loads(_blocks("yaml")[number], folder / "deck-vest.yaml").colourways
    for name in colourways:
        maps = {p.name for p in (folder / "out" / "deck-vest" / name).glob("*.png")}
        for kind in re.findall(
            r"`([a-z-]+)`", README.split("with MAP one of")[1].split("Beside them")[0]
        ):
            if kind != "record.json":
                assert f"deck-vest_{name}_{kind}.png" in maps


def test_what_the_readme_shows_of_a_bake_is_what_it_prints(folder: Path) -> None:
    """Word for word, but for the seconds: those of the note, the line of the set, the mistake."""
    shown = [b for b in _blocks("console") if b.startswith("$ texbake bake deck-vest.yaml\n")]
    recipe = _blocks("yaml")[0]
    for block, text in zip(shown, (recipe, recipe.replace("twill", "twil")), strict=True):
        (folder / "deck-vest.yaml").write_text(text, "utf-8")
        run = texbake("bake", "deck-vest.yaml")
        printed = (run.err + run.out).splitlines()
        assert [_timeless(line) for line in printed] == [
            _timeless(line) for line in block.splitlines()[1:]
        ]


def _timeless(line: str) -> str:
    return re.sub(r"in [0-9.]+ s:", "in so many s:", line)


def test_the_library_example_runs(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (folder / "deck-vest.yaml").write_text(_blocks("yaml")[0], "utf-8")
    (code,) = _blocks("python")
    exec(compile(code, "README.md", "exec"), {})  # noqa: S102 - that is the test
    assert capsys.readouterr().out.startswith("standard ")


def test_commands_in_the_readme_are_commands() -> None:
    named = set(re.findall(r"texbake (bake|panels|new|demo|[a-z]+) ", " ".join(_blocks("console"))))
    there = {c.name or c.callback.__name__ for c in app.registered_commands if c.callback}
    assert named
    assert named <= there


def test_links_lead_somewhere() -> None:
    for target in re.findall(r"\]\(([^)#]+)\)", README):
        assert (ROOT / target).exists(), target


def test_ci_calls_the_test_command_of_the_readme() -> None:
    (command,) = (b for b in _blocks("sh") if "pytest" in b)
    # The same, in a fresh environment of CI's own, which it activates.
    _, _, rest = command.strip().replace(".venv/bin/", "").partition(" && ")
    assert "pytest" in rest
    assert f"\n{rest}\n" in (ROOT / ".ci" / "run").read_text("utf-8")


def test_it_is_short_and_begins_with_the_job() -> None:
    assert len(README.splitlines()) <= 150
    first = README.split("\n\n")[1]
    for word in ("recipe", "cloth", "albedo", "roughness", "normal", "height", "UVs change"):
        assert word in first
