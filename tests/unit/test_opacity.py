"""A cloth with holes brings an opacity map; other cloth has none."""

from pathlib import Path

import numpy as np
import pytest

from tests.tube import bake_tube, upright
from texbake.deliver import file_names
from texbake.deliver.sets import pictures

PLAIN = "size: 256\nfabric: plain\nseams: none\nhems: none\n"
NET = "size: 256\nfabrics: {net: {net: tulle, scale: 8}}\nseams: none\nhems: none\n"


def test_cloth_without_holes_has_no_opacity(tmp_path: Path) -> None:
    maps = bake_tube(tmp_path, upright, PLAIN).maps
    assert maps.opacity is None
    assert "opacity" not in pictures(maps)


def test_opacity_of_a_net_is_its_cover(tmp_path: Path) -> None:
    baked = bake_tube(tmp_path, upright, NET)
    opacity = baked.maps.opacity
    assert opacity is not None
    seen = opacity[baked.prepared.layout.face >= 0] / 255.0
    # Bars of 1.5 yarns of 5.9 tex (0.0909 mm each, Peirce) on meshes of 1.6 mm.
    assert seen.mean() == pytest.approx(1.0 - (1.0 - 1.5 * 0.0909 / 1.6) ** 2, abs=0.02)
    assert seen.min() == 0.0
    assert seen.max() > 0.9
    assert "opacity" in pictures(baked.maps)


def test_thread_closes_holes(tmp_path: Path) -> None:
    sewn = NET.replace("hems: none", "hems: [{on: all, scale: 8, width: 20 mm, from_edge: 10 mm}]")
    bare, closed = (bake_tube(tmp_path, upright, text).maps.opacity for text in (NET, sewn))
    assert bare is not None
    assert closed is not None
    assert (closed >= bare).all()
    assert (closed.astype(np.int32) - bare).max() > 100


def test_only_nets_have_a_name_for_opacity() -> None:
    assert "opacity" not in file_names("{map}", "g", "c")
    assert file_names("{map}", "g", "c", holes=True)["opacity"] == "opacity.png"
