"""A cloth with holes brings an opacity map; other cloth has none."""

import json
from io import BytesIO
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from tests.tube import bake_tube, upright
from texbake.deliver import file_names
from texbake.deliver.glb import write_glb
from texbake.deliver.pictures import pictures
from texbake.deliver.sheen import sheen_of

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


def test_a_glb_of_a_net_has_its_opacity_as_alpha(tmp_path: Path) -> None:
    baked = bake_tube(tmp_path, upright, NET)
    net = baked.prepared.recipe.fabrics["net"]
    sheen = sheen_of(net, (0.5, 0.5, 0.5))
    assert sheen is not None
    out = BytesIO()
    garment = baked.prepared.garment
    looks = [sheen] * len(garment.panels)
    write_glb(out, garment, baked.maps, name="tube", version="1", sheen=looks)
    data = out.getvalue()
    length = int.from_bytes(data[12:16], "little")
    document = json.loads(data[20 : 20 + length])
    assert [one["alphaMode"] for one in document["materials"]] == ["BLEND"]
    start = data.index(b"\x89PNG")
    image = Image.open(BytesIO(data[start:]))
    assert image.mode == "RGBA"
    np.testing.assert_array_equal(np.asarray(image)[..., 3], baked.maps.opacity)
    np.testing.assert_array_equal(np.asarray(image)[..., :3], baked.maps.albedo)
