"""`texbake check`: each rule with what just passes and what just fails, and wrong input."""

import json
import shutil
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image

from tests.cli_run import Run, everything, refused, texbake, tube_recipe
from tests.tube import mirrored_and_stretched, upright, write_tube
from texbake.arrays import F64
from texbake.deliver import encode_png

RECIPE = """garment: tube
mesh: tube.obj
mesh_unit: cm
size: 256
gutter: 4
fabrics:
  drill: {weave: twill 2/1 Z, warp: {colour: '#22324d'}, weft: {colour: '#34486a'}, scale: 10}
seams:
  - {between: [front, back], stitch: 301, scale: 4, thread: '#d9902f'}
hems: none
colourways:
  navy: {}
  fog: {drill.warp.colour: '#8f979b', drill.weft.colour: '#b4babb'}
"""
# 14 % of a square is little, and gutter 4 promises level 2; all else is as usual.
BASE = "unused: 75 %\nmip_level: 2\n"
ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture(scope="module")
def baked(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("baked")
    recipe = tube_recipe(folder, RECIPE)
    run = texbake("bake", recipe, "--out", folder / "out", "--no-cache")
    assert run.code == 0, run.err
    return folder


@pytest.fixture
def folder(baked: Path, tmp_path: Path) -> Path:
    """A copy that a test may spoil."""
    return Path(shutil.copytree(baked, tmp_path / "tube"))


def check(folder: Path, budget: str = "", *words: object, base: str = BASE) -> Run:
    (folder / "budget.yaml").write_text(base + budget, encoding="utf-8")
    where = ("--out", folder / "out", "--budget", folder / "budget.yaml", "--no-cache")
    return texbake("check", folder / "tube.yaml", *where, *words)


def findings(folder: Path, budget: str = "", base: str = BASE) -> list[dict[str, Any]]:
    run = check(folder, budget, "--json", base=base)
    found: list[dict[str, Any]] = json.loads(run.out)["findings"]
    assert run.code == (1 if found else 0), run.err
    assert all(one["what"] and one["fix"] for one in found)
    return found


def rules(folder: Path, budget: str = "") -> list[str]:
    return [one["rule"] for one in findings(folder, budget)]


def albedo(folder: Path, colourway: str = "navy", kind: str = "albedo") -> Path:
    return folder / "out" / "tube" / colourway / f"tube_{colourway}_{kind}.png"


def rewrite(path: Path, image: np.ndarray) -> None:
    path.write_bytes(encode_png(image))


def test_a_garment_within_its_budget_passes_and_nothing_is_written(baked: Path) -> None:
    check(baked)
    before = everything(baked)
    run = check(baked)
    assert (run.code, run.err) == (0, "")
    assert run.out == "tube: nothing over its limit (288 triangles, 2 sets looked into)\n"
    assert everything(baked) == before
    assert check(baked, "", "--quiet").out == ""


def test_a_finding_says_where_what_and_what_to_do(baked: Path) -> None:
    run = check(baked, "triangles: 287\n")
    assert run.code == 1
    assert run.out.splitlines() == [
        f"{baked}/tube.obj: the mesh has 288 triangles, over 287",
        "  fix: reduce it: flat places and edges that no silhouette shows first",
        "tube: 1 finding (288 triangles, 2 sets looked into)",
    ]
    (told,) = findings(baked, "triangles: 287\n")
    assert (told["rule"], told["value"], told["limit"]) == ("triangles", 288, 287)


def sizes(folder: Path) -> tuple[int, int]:
    """Bytes of the largest file of a set, and of the largest set."""
    sets = [
        [p.stat().st_size for p in (folder / "out" / "tube" / way).glob("*.png")]
        for way in ("navy", "fog")
    ]
    return max(map(max, sets)), max(map(sum, sets))


@pytest.mark.parametrize(
    ("rule", "passes", "fails"),
    [
        ("triangles", "288", "287"),
        # The islands are 0.08 of 256 apart: 20.5 texels. Level 2 needs 12, level 3 needs 24.
        ("mip_level", "2", "3"),
        ("map_size", "256", "128"),
        ("file_size", "{file} bytes", "{less} bytes"),
        ("set_size", "{set} bytes", "{fewer} bytes"),
        # 2 x 0.42 x 0.42 * 100 / (40 pi) of the sheet are covered: 28 %.
        ("unused", "72.5 %", "71.5 %"),
    ],
)
def test_numbers_pass_at_the_limit_and_fail_beyond(
    baked: Path, rule: str, passes: str, fails: str
) -> None:
    file, whole = sizes(baked)
    at = {"file": file, "less": file - 1, "set": whole, "fewer": whole - 1}
    for text, clean in ((passes, True), (fails, False)):
        others = [line for line in BASE.splitlines() if not line.startswith(rule)]
        budget = "\n".join([*others, f"{rule}: {text.format(**at)}\n"])
        told = {one["rule"] for one in findings(baked, base=budget)}
        assert told == (set() if clean else {rule})


@pytest.mark.parametrize(
    ("rule", "figure", "unit", "wider"),
    [
        ("normal_length", "normal_length", "", 1.01),
        ("normal_tilt", "normal_tilt", " deg", 1.01),
        ("height_used", "height_used", "", 0.99),
        ("albedo_low", "albedo_darkest", "", 0.99),
        ("albedo_high", "albedo_lightest", "", 1.01),
    ],
)
def test_texels_pass_at_what_they_have_and_fail_within_it(
    baked: Path, rule: str, figure: str, unit: str, wider: float
) -> None:
    """The figures are checked by hand in test_check_maps: here they meet their limits."""
    sets = json.loads(check(baked, "", "--json").out)["sets"]
    values = [figures[figure] for figures in sets.values()]
    edge = min(values) if wider < 1.0 else max(values)
    strict = "albedo_outside: 0 %\n" if rule.startswith("albedo") else ""
    named = "albedo_outside" if rule.startswith("albedo") else rule
    assert rules(baked, f"{strict}{rule}: {edge * wider:.9f}{unit}\n") == []
    assert named in rules(baked, f"{strict}{rule}: {edge * (2.0 - wider):.9f}{unit}\n")


def test_uv_rules_of_the_budget_count(tmp_path: Path) -> None:
    recipe = tube_recipe(tmp_path, RECIPE, mirrored_and_stretched)
    base = "unused: 90 %\nmip_level: 2\nuv_stretch_mean: 2\nmissing: allowed\n"
    for text, told in (("", []), ("mirrored: refused\n", ["mirrored"])):
        (tmp_path / "b.yaml").write_text(base + text)
        run = texbake("check", recipe, "--budget", tmp_path / "b.yaml", "--json")
        assert [one["rule"] for one in json.loads(run.out)["findings"]] == told


def test_a_gutter_that_is_too_thin_is_told_with_its_line(baked: Path) -> None:
    told, gap = findings(baked, base="unused: 75 %\nmip_level: 3\n")
    assert (told["rule"], told["line"], told["value"], told["limit"]) == ("mip_level", 5, 4, 8)
    assert told["fix"] == "gutter: 8"
    assert gap["limit"] == 24
    assert gap["value"] == pytest.approx(0.08 * 256, abs=1e-3)


def test_sets_that_are_not_baked_are_told_with_the_command_unless_allowed(folder: Path) -> None:
    shutil.rmtree(folder / "out" / "tube" / "fog")
    (told,) = findings(folder)
    assert (told["rule"], told["what"]) == ("missing", "colourway 'fog' is not baked")
    assert f"texbake bake {folder}/tube.yaml --colourway fog" in told["fix"]
    assert rules(folder, "missing: allowed\n") == []
    shutil.rmtree(folder / "out")
    assert rules(folder) == ["missing", "missing"]
    assert check(folder, "", "--colourway", "navy").out.count("is not baked") == 1


def test_a_map_that_is_gone_and_one_cut_short_are_told_each_with_its_file(folder: Path) -> None:
    albedo(folder, kind="height").unlink()
    damaged = albedo(folder, "fog", "normal-up")
    damaged.write_bytes(damaged.read_bytes()[:5000])
    told = findings(folder)
    assert [(one["rule"], Path(one["path"]).name) for one in told] == [
        ("missing", "tube_navy_height.png"),
        ("damaged", "tube_fog_normal-up.png"),
    ]
    # What is damaged is never allowed.
    assert rules(folder, "missing: allowed\nchanged: allowed\n") == ["damaged"]


def test_a_damaged_record_is_a_finding_and_the_other_set_is_still_looked_into(
    folder: Path,
) -> None:
    (folder / "out" / "tube" / "navy" / "record.json").write_text("{")
    run = check(folder)
    assert run.code == 1
    assert "the record is damaged" in run.out
    assert "1 set looked into" in run.out


def test_a_change_of_the_recipe_makes_stale_what_it_touches_and_a_comment_does_not(
    folder: Path,
) -> None:
    recipe = folder / "tube.yaml"
    recipe.write_text("# The crew's sleeve.\n" + RECIPE)
    assert rules(folder) == []
    recipe.write_text(RECIPE.replace("#8f979b", "#8f979c"))
    (told,) = findings(folder)
    assert (told["rule"], Path(told["path"]).name) == ("stale", "fog")
    assert told["what"] == "the set is not of now: colours of fabric 'drill' changed"
    assert rules(folder, "stale: allowed\n") == []
    write_tube(folder / "tube.obj", upright, top=0.95)
    assert rules(folder).count("stale") == 2
    assert "stale" in rules(folder)


def test_a_set_of_another_size_is_stale_unless_that_size_is_asked_for(folder: Path) -> None:
    for words, code in (((), 0), (("--size", 512), 1)):
        assert check(folder, "", *words).code == code
    assert "the size is 512 px, was 256" in check(folder, "", "--size", 512).out


def test_what_is_the_same_of_many_sets_is_printed_once_with_their_places(folder: Path) -> None:
    run = check(folder, "height_used: 99 %\n")
    whole = [albedo(folder, way, "height").as_posix() for way in ("navy", "fog")]
    first, cure, last = run.out.splitlines()
    assert first.startswith(f"{whole[0]}, {whole[1]}: ")
    assert cure.startswith("  fix: ")
    assert last == "tube: 1 finding (288 triangles, 2 sets looked into)"
    assert rules(folder, "height_used: 99 %\n") == ["height_used", "height_used"]


def test_a_map_that_was_painted_on_is_told_and_looked_into_all_the_same(folder: Path) -> None:
    path = albedo(folder)
    with Image.open(path) as picture:
        image = np.asarray(picture).copy()
    image[100:180] = 0
    rewrite(path, image)
    told = {one["rule"]: one for one in findings(folder)}
    assert set(told) == {"changed", "albedo_outside"}
    assert "if it was you" in told["changed"]["fix"]
    assert told["albedo_outside"]["value"] > 0.2
    assert rules(folder, "changed: allowed\n") == ["albedo_outside"]


def test_a_normal_map_that_was_saved_badly_is_found_out(folder: Path) -> None:
    """As if it had gone through the sRGB curve, which bends codes and with them the vectors."""
    path = albedo(folder, kind="normal-up")
    with Image.open(path) as picture:
        light = np.asarray(picture).astype(np.float64) / 255
    rewrite(path, np.floor(255 * light ** (1 / 2.2) + 0.5).astype(np.uint8))
    assert rules(folder, "changed: allowed\n") == ["normal_length", "normal_tilt"]


def test_a_map_swapped_for_another_size_or_kind_is_damaged(folder: Path) -> None:
    rewrite(albedo(folder, kind="height"), np.zeros((64, 64), np.uint16))
    rewrite(albedo(folder, kind="roughness"), np.zeros((256, 256, 3), np.uint8))
    what = [one["what"] for one in findings(folder, "changed: allowed\n")]
    assert sorted(what) == [
        "the map has 3 channels of 8 bits",
        "the map is 64 x 64 px, its record says 256",
    ]


def test_alike_colourways_and_faint_threads_are_told_before_anything_is_baked(
    tmp_path: Path,
) -> None:
    text = RECIPE + "  mist: {drill.warp.colour: '#8f979b', drill.weft.colour: '#b4babc'}\n"
    text += "  amber: {drill.warp.colour: '#d9902f', drill.weft.colour: '#d9922f'}\n  blue: {}\n"
    tube_recipe(tmp_path, text)
    told = findings(tmp_path, "missing: allowed\n")
    assert [(one["rule"], one["line"]) for one in told] == [
        ("apart", 14),
        ("identical", 16),
        ("thread_contrast", 9),
    ]
    assert "'fog' and 'mist'" in told[0]["what"]
    assert "'blue' has the same colours as 'navy'" in told[1]["what"]
    assert "seams.0.thread: in colourway 'amber'" in told[2]["what"]


def test_mean_colours_are_those_of_the_maps_where_all_are_baked(folder: Path) -> None:
    """Painted alike, two colourways are alike, whatever the recipe says of their yarns."""
    recipe = folder / "tube.yaml"
    text = RECIPE.replace(
        "fog: {drill.warp.colour: '#8f979b'", "fog: {drill.warp.colour: '#22324e'"
    )
    recipe.write_text(text.replace("drill.weft.colour: '#b4babb'", "drill.weft.colour: '#34486a'"))
    loose = "stale: allowed\nchanged: allowed\n"
    assert "apart" not in rules(folder, loose)
    albedo(folder, "fog").write_bytes(albedo(folder).read_bytes())
    assert rules(folder, loose) == ["apart"]


def test_islands_off_the_square_are_a_finding_and_if_allowed_wrong_input(tmp_path: Path) -> None:
    def off(panel: int, s: F64, t: F64) -> tuple[F64, F64]:
        u, v = upright(panel, s, t)
        return u + 0.25 * panel, v

    recipe = tube_recipe(tmp_path, RECIPE, off)
    run = texbake("check", recipe, "--json")
    assert run.code == 1
    read = json.loads(run.out)
    (told,) = read["findings"]
    assert (told["rule"], read["triangles"]) == ("in_square", 288)
    assert "1 of 2 islands lie outside UV tile" in told["what"]
    (tmp_path / "b.yaml").write_text("in_square: allowed\n")
    ((what, _),) = refused(tmp_path, "check", recipe, "--budget", tmp_path / "b.yaml")
    assert "outside UV tile" in what


def test_what_is_odd_about_the_mesh_is_noted(tmp_path: Path) -> None:
    recipe = tube_recipe(tmp_path, RECIPE.replace("mesh_unit: cm", "mesh_unit: m"))
    (tmp_path / "b.yaml").write_text(BASE + "missing: allowed\n")
    run = texbake("check", recipe, "--budget", tmp_path / "b.yaml")
    assert run.code == 0
    assert run.notes[0].startswith("the garment measures 8000 x 10000 x 8000 mm")


def test_wrong_input_exits_2(baked: Path) -> None:
    recipe, budget = baked / "tube.yaml", baked / "budget.yaml"
    budget.write_text("triangles: many\nlength: 3\n")
    mistakes = refused(baked, "check", recipe, "--budget", budget)
    assert [what for what, _ in mistakes] == [
        f"{budget}:1: triangles: 'many' is no whole number",
        f"{budget}:2: length: a budget has no key 'length'",
    ]
    ((what, _),) = refused(baked, "check", recipe, "--budget", baked / "none.yaml")
    assert what == f"{baked}/none.yaml: --budget: there is no such file"
    ((what, fix),) = refused(baked, "check", recipe, "--colourway", "navi")
    assert (what, fix.split("?")[0]) == (
        f"{recipe}:11: there is no colourway 'navi'",
        "did you mean 'navy'",
    )
    ((what, _),) = refused(baked, "check", baked / "tub.yaml")
    assert what == f"{baked}/tub.yaml: there is no such file"


def test_the_demo_is_within_the_budget_that_comes_with_it(tmp_path: Path) -> None:
    """Mesh, layout and colours; the sets are 2048 px and take a minute to bake."""
    budget = tmp_path / "budget.yaml"
    budget.write_text((ROOT / "recipes" / "budget.yaml").read_text("utf-8"))
    budget.write_text(budget.read_text("utf-8").replace("missing: refused", "missing: allowed"))
    for name in ("vest", "pullover", "trousers"):
        recipe = ROOT / "recipes" / f"ferry-{name}.yaml"
        run = texbake("check", recipe, "--budget", budget, "--out", tmp_path / "out")
        assert (run.code, run.err) == (0, ""), run.out
