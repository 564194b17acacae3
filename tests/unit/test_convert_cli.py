"""The commands normal, height and inspect: what they print, write and refuse."""

import json
from pathlib import Path

import numpy as np
import pytest

from tests.cli_run import texbake
from tests.convert_by_hand import codes16, save_png, waves
from texbake.convert import flip_green
from texbake.convert.pictures import read_picture


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The working folder, with a height map in it."""
    save_png(tmp_path / "brick.png", codes16(waves(64, 80)))
    monkeypatch.chdir(tmp_path)
    return tmp_path


def test_normal_writes_both_and_says_the_steepest_angle(folder: Path) -> None:
    run = texbake("normal", "brick.png", "--depth", "2mm", "--width", "4cm", "--edge", "wrap")
    assert run.code == 0, run.err
    assert "steepest angle" in run.out
    assert "0.5 mm a texel" in run.out
    up, down = (read_picture(folder / f"brick_normal-{g}.png").samples for g in ("up", "down"))
    np.testing.assert_array_equal(down, flip_green(up))
    assert run.err == ""


def test_all_options_reach_the_converter(folder: Path) -> None:
    words = "--green down --kernel even --smooth 1 --mend --bits 16 --dither --threads 2 -o x.png"
    run = texbake("normal", "brick.png", "--depth", "2mm", "--texel", "1mm", *words.split())
    assert run.code == 0, run.err
    assert read_picture(folder / "x.png").samples.dtype == np.uint16
    assert run.notes == [
        "brick.png: it has no stair-steps that would be seen: nothing was mended",
        "brick.png: its borders meet: --edge wrap makes it seamless",
    ]


def test_height_inspect_and_flip_go_on_from_there(folder: Path) -> None:
    assert texbake("normal", "brick.png", "--depth", "2mm", "--width", "4cm").code == 0
    run = texbake("height", "brick_normal-up.png", "-o", "back.png")
    assert run.code == 0, run.err
    assert "black to white is 2" in run.out
    run = texbake("inspect", "brick_normal-down.png")
    assert run.code == 0
    assert "green down, as in DirectX" in run.out
    (folder / "brick_normal-down.png").unlink()
    assert texbake("normal", "--flip-green", "brick_normal-up.png").code == 0
    assert (folder / "brick_normal-down.png").exists()


@pytest.mark.usefixtures("folder")
def test_json_has_it_all() -> None:
    run = texbake("normal", "brick.png", "--strength", "2", "--json")
    (entry,) = json.loads(run.out)["pictures"]
    assert entry["files"] == ["brick_normal-up.png", "brick_normal-down.png"]
    assert entry["steepest_deg"] > 1.0
    assert run.err == ""
    (entry,) = json.loads(texbake("inspect", "brick_normal-up.png", "--json").out)["pictures"]
    assert entry["green"] == "up"
    assert entry["source"] == "brick_normal-up.png"
    (entry,) = json.loads(texbake("height", "brick_normal-up.png", "--json").out)["pictures"]
    assert entry["depth_mm"] is None


def test_quiet_prints_nothing(folder: Path) -> None:
    run = texbake("normal", "brick.png", "--quiet")
    assert (run.code, run.out, run.err) == (0, "", "")
    assert (folder / "brick_normal-up.png").exists()


@pytest.mark.parametrize(
    ("words", "what", "cure"),
    [
        ("normal brick.png --edge warp", "--edge: 'warp' is not known", "did you mean 'wrap'?"),
        ("normal brick.png --green left", "--green: 'left' is not known", "up, down, both"),
        ("normal brick.png --kernel tru", "--kernel: 'tru' is not known", "'true'"),
        ("normal brick.png --bits 12", "--bits: '12' is not known", "8, 16"),
        ("normal brick.png --smooth -1", "--smooth is -1", "0 to 64"),
        ("normal brick.png --depth 2mm", "nothing says how large a texel is", "--width"),
        ("normal brick.png --depth 2", "--depth: 2 has no unit", "2 mm"),
        ("normal brick.png --flip-green --mend", "only turns green over", "--flip-green"),
        ("normal brick.png --flip-green", "this is grey", "texbake normal"),
        ("normal brik.png", "no such file", "did you mean 'brick.png'?"),
        ("height brick.png", "this is grey", "texbake normal"),
        ("height brick.png --green both", "--green: 'both' is not known", "up, down"),
        ("inspect brick.png", "this is grey", "texbake normal"),
        ("normal brick.png --green up -o brick.png", "which is read", "-o"),
        ("normal brick.png -o con", "name of a device", "letters"),
    ],
)
def test_mistakes_are_told_with_their_cure_and_nothing_is_written(
    folder: Path, words: str, what: str, cure: str
) -> None:
    run = texbake(*words.split())
    assert run.code == 2
    ((wrong, fix),) = run.mistakes
    assert what in wrong
    assert cure in fix
    assert [path.name for path in folder.iterdir()] == ["brick.png"]
