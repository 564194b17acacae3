"""The cache folder: same values back, damage seen, bound kept, two processes at once."""

import os
import subprocess
import sys
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from tests.cli_run import SHORTEST, texbake, tube_recipe
from texbake.layout.values import Overlap
from texbake.store import DamagedError, Store, pack, unpack


def some() -> tuple[object, ...]:
    runs = np.repeat(np.array([[-1], [3], [7]], np.int32), 500, axis=1)
    noisy = np.arange(12, dtype=np.int32).reshape(3, 4)
    return (
        Overlap(panels=(1, 2), texels=9),
        runs,
        noisy,
        np.zeros((0, 2)),
        np.float32(0.1),
        (None, True, 0.1, "ä", -3, Path("a/b")),
    )


def test_values_come_back_as_they_were() -> None:
    back = unpack(pack(some()))
    old: Any
    for old, new in zip(some(), back, strict=True):
        assert type(old) is type(new)
        if isinstance(old, np.ndarray):
            assert old.dtype == new.dtype
            np.testing.assert_array_equal(old, new, strict=True)
        else:
            assert old == new


def test_long_runs_of_one_face_take_little_room() -> None:
    image = np.repeat(np.arange(512, dtype=np.int32)[:, None], 512, axis=1)
    assert len(pack(image)) < image.nbytes / 50


@pytest.mark.parametrize("at", [0, 20, 45, 200, -70, -1])
def test_any_changed_byte_is_seen(at: int) -> None:
    data = bytearray(pack(some()))
    data[at] ^= 1
    with pytest.raises(DamagedError):
        unpack(bytes(data))


@pytest.mark.parametrize("length", [0, 3, 40, 300])
def test_a_file_cut_short_is_seen(length: int) -> None:
    with pytest.raises(DamagedError):
        unpack(pack(some())[:length])


def test_only_values_of_our_own_are_made() -> None:
    data = pack(Overlap(panels=(1, 2), texels=9))
    with pytest.raises(TypeError, match="cannot keep a dict"):
        pack({"a": 1})
    forged = data.replace(b"texbake.layout.values:Overlap", b"subprocess.popenxxxxxx:Popenxx")
    with pytest.raises(DamagedError):
        unpack(forged)


def counted(store: Store, parts: tuple[object, ...]) -> tuple[int, int]:
    calls = []

    def make() -> int:
        calls.append(1)
        return 42

    return store.keep("thing", parts, make), len(calls)


def test_what_is_kept_is_not_made_again(tmp_path: Path) -> None:
    store = Store(folder=tmp_path / "new")
    key = ("a", np.arange(3), 0.5)
    assert counted(store, key) == (42, 1)
    assert counted(store, key) == (42, 0)
    for other in (("a", np.arange(3), 0.6), ("a", np.arange(3.0), 0.5), ("a", np.arange(4), 0.5)):
        assert counted(store, other) == (42, 1)


def test_a_damaged_entry_is_made_again_and_mended(tmp_path: Path) -> None:
    store = Store(folder=tmp_path)
    counted(store, ("a",))
    (entry,) = store.entries()
    entry.path.write_bytes(entry.path.read_bytes()[:-1])
    assert counted(store, ("a",)) == (42, 1)
    assert counted(store, ("a",)) == (42, 0)


def test_a_folder_that_cannot_be_made_only_costs_time(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("in the way")
    store = Store(folder=tmp_path / "file")
    assert counted(store, ("a",)) == (42, 1)
    assert store.entries() == []


def test_the_longest_unused_go_first(tmp_path: Path) -> None:
    store = Store(folder=tmp_path, most_bytes=50_000)
    values = [np.full(1000, k, np.float64) for k in range(7)]  # 8 kB each: six fit
    for k, value in enumerate(values[:6]):
        store.keep("thing", (k,), partial(np.copy, value))
        (newest,) = {e.path for e in store.entries() if e.used > 1000.0}
        os.utime(newest, (k + 1, k + 1))
    store.keep("thing", (0,), lambda: pytest.fail("it is there"))  # used again: now the newest
    store.keep("thing", (6,), lambda: values[6])
    assert sum(entry.size for entry in store.entries()) <= 50_000
    assert counted(store, (0,))[1] == 0
    assert counted(store, (1,))[1] == 1


def test_one_entry_does_not_drive_out_all_others(tmp_path: Path) -> None:
    store = Store(folder=tmp_path, most_bytes=50_000)
    store.keep("thing", ("big",), lambda: np.zeros(2000))
    assert store.entries() == []


RACE = """
import sys, numpy as np
from functools import partial
from pathlib import Path
from typing import Any
from texbake.store import Store
store = Store(folder=Path(sys.argv[1]), most_bytes=200_000)
for k in range(150):
    value = store.keep("thing", (k % 30,), lambda: np.full(2000, float(k % 30)))
    assert (value == k % 30).all() and value.shape == (2000,)
"""


def test_two_processes_share_a_folder(tmp_path: Path) -> None:
    command = [sys.executable, "-c", RACE, str(tmp_path)]
    both = [subprocess.Popen(command, stderr=subprocess.PIPE) for _ in range(2)]
    for one in both:
        _, errors = one.communicate(timeout=60)
        assert one.returncode == 0, errors.decode()
    assert not list(tmp_path.glob("*.part"))


def test_a_bake_from_the_cache_has_the_same_bytes(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    kept = tmp_path / "kept"
    monkeypatch.setenv("TEXBAKE_CACHE", str(kept))
    recipe = tube_recipe(tmp_path, SHORTEST + "hems: [{on: all, stitch: 301}]\n")
    for out in ("cold", "warm", "none"):
        more = ["--no-cache"] if out == "none" else []
        run = texbake("bake", recipe, "--size", 128, "--out", tmp_path / out, *more)
        assert run.code == 0, run.err
    sets = [sorted((tmp_path / out).rglob("*.png")) for out in ("cold", "warm", "none")]
    assert len(sets[0]) == 7
    for cold, warm, none in zip(*sets, strict=True):
        assert cold.read_bytes() == warm.read_bytes() == none.read_bytes()
    told = texbake("cache").out
    assert all(kind in told for kind in ("cloth", "garment", "layout", "reach", "stitch"))
    assert texbake("cache", "--clear").code == 0
    assert not list(kept.glob("*.kept"))
