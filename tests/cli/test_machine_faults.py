"""What the machine refuses, and what the user stops: code, words, and the earlier set whole."""

import errno
import hashlib
import json
import os
import signal
import subprocess
import sys
import threading
import time
from contextlib import suppress
from pathlib import Path
from typing import Any

import pytest

from tests.cli_run import SHORTEST, everything, refused, texbake, tube_recipe
from texbake import maps
from texbake.batch import one
from texbake.deliver import files

ROOT = Path(__file__).resolve().parents[2]


def baked(folder: Path) -> Path:
    """Bake a first set in red, then ask for blue."""
    recipe = tube_recipe(folder, SHORTEST.replace("#3d5a6c", "red"))
    run = texbake("bake", recipe, "--size", 64, "--out", folder / "sets", "--quiet")
    assert run.code == 0
    recipe.write_text(SHORTEST.replace("#3d5a6c", "blue"))
    return recipe


def failed(folder: Path, recipe: Path) -> tuple[str, str]:
    """Bake where the machine refuses; return what is told, notes aside."""
    words = ("bake", recipe, "--size", 64, "--out", folder / "sets")
    ((what, fix),) = refused(folder, *words, code=3)
    return what, fix


def test_a_file_where_the_sets_should_go(tmp_path: Path) -> None:
    recipe = tube_recipe(tmp_path)
    (tmp_path / "sets").write_text("mine")
    what, fix = failed(tmp_path, recipe)
    assert what == f"{tmp_path}/sets: a file stands where a folder is needed"
    assert "deliver to another folder" in fix


def test_a_folder_that_nothing_can_be_written_in(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Permissions do not stop the superuser, so the system's answer is acted."""
    recipe = baked(tmp_path)

    def denied(path: Path, *_: Any, **__: Any) -> None:
        raise PermissionError(errno.EACCES, os.strerror(errno.EACCES), str(path))

    monkeypatch.setattr(Path, "mkdir", denied)
    what, fix = failed(tmp_path, recipe)
    assert what == f"{tmp_path}/sets/tube: writing is not permitted"
    assert "allow yourself to write" in fix


@pytest.mark.skipif(os.name == "nt" or os.geteuid() == 0, reason="the superuser may write anywhere")
def test_a_folder_without_permission(tmp_path: Path) -> None:
    recipe = tube_recipe(tmp_path)
    (tmp_path / "sets").mkdir(mode=0o500)
    assert "writing is not permitted" in failed(tmp_path, recipe)[0]


@pytest.mark.parametrize("written", [0, 3, 7])
def test_a_disk_that_fills_up_leaves_the_earlier_set_whole(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, written: int
) -> None:
    """The disk has room for so many files, then no more."""
    recipe = baked(tmp_path)
    lock, left = threading.Lock(), [written]

    def full(self: files._Counted, data: bytes, /) -> None:
        del self, data
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    class Last(files._Counted):
        def __init__(self, file: Any) -> None:
            super().__init__(file)
            with lock:
                left[0] -= 1
                if left[0] < 0:
                    self.write = full.__get__(self)  # type: ignore[method-assign]

    monkeypatch.setattr(files, "_Counted", Last)
    what, fix = failed(tmp_path, recipe)
    assert what.startswith(f"{tmp_path}/sets/tube/standard")
    assert what.endswith(": the disk is full")
    assert fix.startswith("free some space")
    monkeypatch.undo()
    assert texbake("bake", recipe, "--size", 64, "--out", tmp_path / "sets").code == 0


def test_too_little_memory_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    recipe = baked(tmp_path)

    def greedy(*_: Any, **__: Any) -> None:
        raise MemoryError

    monkeypatch.setattr(maps, "blank", greedy)
    what, fix = failed(tmp_path, recipe)
    assert what == "out of memory"
    assert "--size" in fix


def test_a_map_that_was_painted_over_is_kept(tmp_path: Path) -> None:
    recipe = baked(tmp_path)
    mine = tmp_path / "sets" / "tube" / "standard" / "tube_standard_albedo.png"
    mine.write_bytes(b"painted")
    words = ("bake", recipe, "--size", 64, "--out", tmp_path / "sets")
    ((what, fix),) = refused(tmp_path, *words)
    assert what.startswith(f"{mine}: ")
    assert fix


def test_a_bug_is_no_users_mistake_and_keeps_its_traceback(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def wrong(*_: Any, **__: Any) -> None:
        raise ZeroDivisionError

    monkeypatch.setattr(one, "render_lot", wrong)
    with pytest.raises(ZeroDivisionError):
        texbake("bake", baked(tmp_path))


def test_who_stops_a_bake_keeps_the_earlier_set(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    recipe = baked(tmp_path)
    before = everything(tmp_path)

    def stopped(*_: Any, **__: Any) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(maps, "fill", stopped)
    run = texbake("bake", recipe, "--size", 64, "--out", tmp_path / "sets")
    assert run.code == 130  # 128 and the signal's number, as shells have it
    assert "Traceback" not in run.err
    assert run.out == ""
    assert everything(tmp_path) == before


@pytest.mark.skipif(os.name == "nt", reason="signals are sent otherwise there")
def test_a_program_that_is_stopped_leaves_every_set_whole(tmp_path: Path) -> None:
    text = SHORTEST.replace("#3d5a6c", "red") + "colourways: {a: {}, b: {}, c: {}, d: {}, e: {}}\n"
    recipe, sets = tube_recipe(tmp_path, text), tmp_path / "sets" / "tube"
    texbake("bake", recipe, "--size", 64, "--out", tmp_path / "sets")
    recipe.write_text(text.replace("red", "blue"))
    first = sets / "a" / "record.json"
    old = first.read_bytes()
    words = ["bake", str(recipe), "--size", "1024", "--out", str(tmp_path / "sets")]
    running = subprocess.Popen(
        [sys.executable, "-m", "texbake.cli", *words],
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    patience = time.monotonic() + 60.0
    while time.monotonic() < patience:
        with suppress(FileNotFoundError):  # for a moment, while the folders change places
            if first.read_bytes() != old:
                break
        time.sleep(0.005)
    running.send_signal(signal.SIGINT)
    out, err = running.communicate(timeout=60)
    assert (running.returncode, out) == (130, "")
    assert "Traceback" not in err
    found = sizes(sets)  # that each set has the files that its record tells of
    assert list(found) == ["a", "b", "c", "d", "e"]
    assert (found["a"], found["e"]) == (1024, 64)
    texbake("bake", recipe, "--size", 64, "--out", tmp_path / "sets")
    assert all(not path.name.startswith(".") for path in sets.iterdir())


def sizes(sets: Path) -> dict[str, int]:
    """Size of each set; its files are all as its record says."""
    found = {}
    for folder in sorted(sets.glob("[a-z]")):
        record = json.loads((folder / "record.json").read_text())
        for entry in record["maps"]:
            data = (folder / entry["file"]).read_bytes()
            assert hashlib.sha256(data).hexdigest() == entry["sha256"]
        found[folder.name] = record["size_px"]
    return found
