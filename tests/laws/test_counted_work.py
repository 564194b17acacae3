"""The work of a bake, counted, not timed: calls of a band, bytes of a texel, modules of a process.

The bounds are what was counted with numpy 2.4 and a quarter more: whoever makes a bake do more sees
it here, on any machine, however busy.
"""

import os
import subprocess
import sys
import tracemalloc
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from types import FrameType

import pytest

from tests.tube import upright, write_tube
from texbake import cloth
from texbake.cloth.weaver import AT_ONCE
from texbake.layout import texels
from texbake.prepared import Prepared, prepare
from texbake.recipe import loads

SIZE = 512
SEWN = "garment: tube\nmesh: upright.obj\nfabric: twill 2/1 Z\n"
BARE = SEWN + "seams: none\nhems: none\n"
NOT_TO_BAKE = (
    *("scipy", "PIL"),
    *("texbake.view", "texbake.chart", "texbake.sheet", "texbake.advice"),
    *("texbake.carry", "texbake.convert", "texbake.crease", "texbake.deliver.glb"),
    *("texbake.change.picture", "texbake.change.renew", "texbake.garment.flatten"),
    *("texbake.garment.gltf", "texbake.garment.ply"),
)
BAKE = """
import sys
sys.argv = ["texbake", "bake", "tube.yaml", "--size", "64", "--maps-only", "--quiet", "--all"]
from texbake.cli import app
try:
    app()
except SystemExit as done:
    assert not done.code
print(*sorted(sys.modules))
"""


def _ready(folder: Path, text: str) -> Prepared:
    write_tube(folder / "upright.obj", upright)
    recipe = loads(text, folder / "tube.yaml").recipe
    return prepare(replace(recipe, size_px=SIZE))


def _calls(work: Callable[[], object]) -> int:
    """Count calls of functions, Python's and C's."""
    calls = 0

    def count(_frame: FrameType, event: str, _arg: object) -> None:
        nonlocal calls
        calls += event in {"call", "c_call"}

    before = sys.getprofile()
    sys.setprofile(count)
    try:
        work()
    finally:
        sys.setprofile(before)
    return calls


def _peak(work: Callable[[], object]) -> int:
    """Most bytes held at a time, above those held before."""
    tracemalloc.start()
    try:
        work()
        return tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()


def test_cloth_is_read_in_few_calls_and_bytes(tmp_path: Path) -> None:
    ready = _ready(tmp_path, BARE)
    band, weaver = texels(ready.layout, slice(0, SIZE)), ready.wears[0].weaver
    assert 2 * AT_ONCE < band.index.size < 3 * AT_ONCE
    assert _calls(lambda: cloth.weave(weaver, band)) <= 1445
    assert _peak(lambda: cloth.weave(weaver, band)) <= 144 * band.index.size


@pytest.mark.parametrize(("text", "most"), [(BARE, 3240), (SEWN, 13900)], ids=["bare", "sewn"])
def test_a_band_takes_few_calls_and_bytes(tmp_path: Path, text: str, most: int) -> None:
    from texbake import bake, maps

    ready = _ready(tmp_path, text)
    low, high = bake.height_range_mm(ready)
    out = maps.blank(SIZE, height_lo_mm=low, height_hi_mm=high, normal_bits=8, holes=False)

    def work() -> None:
        bake._bake_band(ready, slice(0, SIZE), out, ())  # one band, one thread

    count = texels(ready.layout, slice(0, SIZE)).index.size
    assert _calls(work) <= most
    assert _peak(work) <= 190 * count


def _baked(folder: Path, environment: dict[str, str]) -> set[str]:
    """Bake in a process of its own, and return the modules that it has then."""
    run = subprocess.run(
        [sys.executable, "-c", BAKE],
        cwd=folder,
        env=environment,
        check=True,
        capture_output=True,
        text=True,
    )
    return set(run.stdout.split())


def test_a_bake_of_maps_alone_imports_nothing_else_once_its_cache_is_warm(tmp_path: Path) -> None:
    write_tube(tmp_path / "upright.obj", upright)
    (tmp_path / "tube.yaml").write_text(SEWN, "utf-8")
    there = {**os.environ, "TEXBAKE_CACHE": str(tmp_path / "kept")}
    there["PYTHONPATH"] = str(Path(__file__).resolve().parents[2])
    _baked(tmp_path, there)
    found = _baked(tmp_path, there)
    assert "texbake.bake" in found
    assert [name for name in NOT_TO_BAKE if name in found] == []
