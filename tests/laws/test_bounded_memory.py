"""Law 10: temporaries are bands; peak memory is what the maps of one set need, plus a constant."""

import tracemalloc
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from tests.tube import upright, write_tube
from texbake import hands
from texbake.bake import render
from texbake.prepared import prepare
from texbake.recipe import loads

RECIPE = """
garment: tube
mesh: upright.obj
fabric: twill 2/1 Z
colour: "#3d5a6c"
hems: [{on: all, width: 8 mm, stitch: 301}]
"""
# albedo 3, normal 3, roughness, metal and occlusion 1 each, height 2; the face of each texel 4.
BYTES_PER_TEXEL = 15


def _peak_mib(folder: Path, size_px: int) -> float:
    recipe = loads(RECIPE, folder / "tube.yaml").recipe
    recipe = replace(recipe, size_px=size_px)
    tracemalloc.start()
    try:
        render(prepare(recipe), recipe, threads=2)
        return tracemalloc.get_traced_memory()[1] / 2**20
    finally:
        tracemalloc.stop()


def test_memory_grows_as_the_maps_do_and_no_faster(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(hands, "CAN_FORK", False)  # what other processes hold is not traced,
    monkeypatch.setattr(hands, "sheet", np.zeros)  # nor what they share
    write_tube(tmp_path / "upright.obj", upright)
    small, large = _peak_mib(tmp_path, 2048), _peak_mib(tmp_path, 4096)
    grown = (4096**2 - 2048**2) * BYTES_PER_TEXEL / 2**20
    # A quarter more for what grows with the picture's sides: gutter, spans of the raster.
    assert large - small <= 1.25 * grown
    assert large <= 1.25 * 4096**2 * BYTES_PER_TEXEL / 2**20 + 96.0
