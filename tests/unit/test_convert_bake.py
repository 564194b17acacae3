"""The height map of a bake, converted with nothing said, gives the normals of the bake."""

from pathlib import Path

import numpy as np
import pytest

from tests.cli_run import texbake
from tests.convert_by_hand import angle_deg, decoded
from texbake.convert.from_height import Asked, convert_heights
from texbake.convert.from_normal import inspect_files
from texbake.convert.pictures import read_picture

SQUARE = (  # 200 mm to a side, in cm, with the same texels everywhere
    "v 0 0 0\nv 20 0 0\nv 20 20 0\nv 0 20 0\n"
    "vt 0.02 0.02\nvt 0.98 0.02\nvt 0.98 0.98\nvt 0.02 0.98\nf 1/1 2/2 3/3 4/4\n"
)
RECIPE = (
    "garment: cloth\nmesh: cloth.obj\nmesh_unit: cm\nnormal_bits: 16\n"
    "fabrics:\n  f: {{{structure}, scale: {scale}}}\nfabric: f\nseams: none\nhems: none\n"
)


@pytest.mark.parametrize(
    ("structure", "scale"),
    [("weave: plain", 24), ("weave: twill 2/1", 16), ("knit: single jersey", 16)],
)
def test_baked_heights_give_the_baked_normals(tmp_path: Path, structure: str, scale: int) -> None:
    (tmp_path / "cloth.obj").write_text(SQUARE, "utf-8")
    recipe = tmp_path / "cloth.yaml"
    recipe.write_text(RECIPE.format(structure=structure, scale=scale), "utf-8")
    run = texbake("bake", recipe, "--size", "512", "--out", tmp_path / "out")
    assert run.code == 0, run.err
    (made,) = convert_heights([tmp_path / "out"], Asked(greens=("up",)), out=tmp_path / "made")
    assert made.texel_mm == pytest.approx(200 / (0.96 * 512), rel=1e-3)
    baked = next((tmp_path / "out").rglob("*normal-up.png"))
    inner = slice(24, -24)
    found, want = (decoded(read_picture(p).samples)[inner, inner] for p in (made.files[0], baked))
    errors = angle_deg(found, want)
    tilt = angle_deg(want, np.broadcast_to([0.0, 0.0, 1.0], want.shape))
    assert np.median(errors) < 0.04 * np.median(tilt)
    ((_, seen),) = inspect_files([baked])
    assert seen.green == "up"
