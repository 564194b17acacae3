"""Law 8: same in, same bytes, whatever the threads, processes, bands and the order of keys.

Law 4: green-down is green-up with G' = 255 - G, to the bit.
"""

import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from tests.reference.test_png import read
from tests.tube import upright, write_tube
from texbake import hands
from texbake.bake import render
from texbake.batch import bake_recipe
from texbake.prepared import Prepared, prepare
from texbake.recipe import Recipe, loads

RECIPE = """
garment: tube
mesh: upright.obj
size: 256
fabrics:
  shell:
    weave: twill 3/1 Z
    warp: {count: 80 tex, per_cm: 26, colour: "#26364f"}
    weft: {count: 98 tex, per_cm: 17, colour: "#d8d2c2"}
    scale: 3
  lining:
    knit: single jersey
    yarn: {count: 20 tex, melange: {"#e8e4dc": 60 %, "#3b3733": 40 %}}
    wales: 14 /cm
    courses: 18 /cm
    scale: 4
panels:
  front: {group: front, fabric: shell}
  back: {group: back, fabric: lining}
seams: [{between: [front, back], stitch: 301, rows: 2, from_edge: 2 mm, spacing: 4 mm}]
hems: [{on: all, width: 8 mm, stitch: 301, thread: "#d8cfb8"}]
"""
BACKWARDS = """
hems: [{thread: "#d8cfb8", stitch: 301, width: 8 mm, on: all}]
seams: [{spacing: 4 mm, rows: 2, from_edge: 2 mm, stitch: 301, between: [front, back]}]
panels:
  back: {fabric: lining, group: back}
  front: {fabric: shell, group: front}
fabrics:
  lining:
    scale: 4
    courses: 18 /cm
    wales: 14 /cm
    yarn: {melange: {"#e8e4dc": 60 %, "#3b3733": 40 %}, count: 20 tex}
    knit: single jersey
  shell:
    scale: 3
    weft: {colour: "#d8d2c2", per_cm: 17, count: 98 tex}
    warp: {colour: "#26364f", per_cm: 26, count: 80 tex}
    weave: twill 3/1 Z
size: 256
mesh: upright.obj
garment: tube
"""


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    write_tube(tmp_path / "upright.obj", upright)
    return tmp_path


def _ready(folder: Path, text: str = RECIPE) -> tuple[Prepared, Recipe]:
    recipe = next(iter(loads(text, folder / "tube.yaml").colourways.values()))
    return prepare(recipe), recipe


def test_threads_and_bands_change_no_byte(folder: Path) -> None:
    prepared, recipe = _ready(folder)
    first = render(prepared, recipe, threads=1, band_texels=1 << 20)
    for threads, band_texels in ((2, 1 << 15), (3, 256), (1, 5000)):
        again = render(prepared, recipe, threads=threads, band_texels=band_texels)
        for one, other in zip(first.images, again.images, strict=True):
            assert (one == other).all()


def test_the_order_of_keys_changes_no_byte(folder: Path) -> None:
    first, again = (render(*_ready(folder, text)) for text in (RECIPE, BACKWARDS))
    for one, other in zip(first.images, again.images, strict=True):
        assert (one == other).all()


def test_a_seed_changes_the_cloth_and_another_bake_of_it_does_not(folder: Path) -> None:
    first = render(*_ready(folder))
    other = render(*_ready(folder, RECIPE + "seed: 2\n"))
    assert (first.albedo != other.albedo).any()
    again = render(*_ready(folder, RECIPE + "seed: 2\n"))
    assert (other.albedo == again.albedo).all()


def test_a_set_baked_twice_has_the_same_files(folder: Path) -> None:
    (folder / "tube.yaml").write_text(RECIPE)
    for out, threads in (("a", 1), ("b", 2)):
        bake_recipe(folder / "tube.yaml", out=folder / out, threads=threads)
    files = sorted(p.relative_to(folder / "a") for p in (folder / "a").rglob("*.*"))
    assert len(files) == 12  # seven maps, view, sheet, GLB, the record, and the layout
    for name in files:
        assert (folder / "a" / name).read_bytes() == (folder / "b" / name).read_bytes()


FORKED = """
import hashlib, os, sys
from pathlib import Path
from texbake import hands
from texbake.batch import bake_recipe
forks = []
forked = os.fork
def fork():
    forks.append(1)
    return forked()
os.fork = fork
hands.CAN_FORK = sys.argv[1] == "processes"
bake_recipe(Path("tube.yaml"), out=Path(sys.argv[1]), threads=2, beside=())
print(len(forks))
for file in sorted(Path(sys.argv[1]).rglob("*.png")):
    print(file.name, hashlib.sha256(file.read_bytes()).hexdigest())
"""


@pytest.mark.skipif(not hands.CAN_FORK, reason="processes are forked on Linux only")
def test_processes_and_threads_write_the_same_files(folder: Path) -> None:
    (folder / "tube.yaml").write_text(RECIPE.replace("size: 256", "size: 1024"))
    told = {}
    for kind in ("processes", "threads"):  # each in a process without pytest's own threads
        run = subprocess.run(
            [sys.executable, "-c", FORKED, kind],
            cwd=folder,
            check=True,
            capture_output=True,
            text=True,
        )
        count, *told[kind] = run.stdout.splitlines()
        assert (int(count) >= 3) == (kind == "processes")  # bands, background, files
    assert len(told["threads"]) == 7
    assert told["processes"] == told["threads"]


@pytest.mark.parametrize(("bits", "top"), [(8, 255), (16, 65535)])
def test_green_down_is_green_up_turned_to_the_bit(folder: Path, bits: int, top: int) -> None:
    text = RECIPE.replace("size: 256", "size: 64") + f"normal_bits: {bits}\n"
    (folder / "tube.yaml").write_text(text)
    (done,) = bake_recipe(folder / "tube.yaml", out=folder / "out", beside=())
    up, down = (
        read((done.folder / f"tube_standard_normal-{way}.png").read_bytes()).astype(np.int64)
        for way in ("up", "down")
    )
    assert (up[..., [0, 2]] == down[..., [0, 2]]).all()
    assert (up[..., 1] + down[..., 1] == top).all()
    assert np.ptp(up[..., 1]) > top // 4  # there is relief to turn
