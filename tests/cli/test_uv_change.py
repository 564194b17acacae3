"""A bake after a UV change, as a user meets it."""

import json
from pathlib import Path

import numpy as np
from PIL import Image

from tests.cli_run import everything, refused, texbake
from tests.tube import cut_once_more, half_turned, in_one_island, turned, upright, write_tube

RECIPE = """\
# The tube of the ferry's funnel.
garment: tube
mesh: tube.obj
size: 128
fabric: plain
colour: "#3d5a6c"   # slate
panels:
  sail:
    island: 0         # found by number
    fabric: twill 2/1
  mast: {islands: [1], grain: 90 deg}  # the rest
seams:
    - between: [sail, mast]
      stitch: none
"""


def _garment(folder: Path, recipe: str = RECIPE) -> Path:
    write_tube(folder / "tube.obj", upright)
    path = folder / "tube.yaml"
    path.write_text(recipe, encoding="utf-8")
    assert texbake("bake", path, "--out", folder / "sets", "--quiet").code == 0
    return path


def _backwards(path: Path) -> None:
    """The faces of an OBJ in another order: islands are numbered by their first face."""
    lines = path.read_text().splitlines()
    faces = [line for line in lines if line.startswith("f ")]
    rest = [line for line in lines if line[:2] in {"v ", "vt"}]
    path.write_text("\n".join([*rest, *faces[::-1]]) + "\n")


def _albedo(folder: Path) -> np.ndarray:
    return np.asarray(Image.open(folder / "sets/tube/standard/tube_standard_albedo.png"))


def test_numbers_of_an_earlier_layout_are_followed_and_told(tmp_path: Path) -> None:
    path = _garment(tmp_path)
    before = _albedo(tmp_path)
    _backwards(tmp_path / "tube.obj")
    run = texbake("bake", path, "--out", tmp_path / "sets")
    assert run.code == 0, run.err
    assert "panels 'sail', 'mast': same" in run.notes
    assert any(
        "panels.sail: island 0 of the recipe, from an earlier layout, is island 1 now" in note
        for note in run.notes
    )
    assert np.array_equal(_albedo(tmp_path), before)
    assert path.read_text(encoding="utf-8") == RECIPE
    again = texbake("bake", path, "--out", tmp_path / "sets")
    assert "kept" in again.out


def test_update_recipe_changes_the_numbers_and_nothing_else(tmp_path: Path) -> None:
    path = _garment(tmp_path)
    before = _albedo(tmp_path)
    _backwards(tmp_path / "tube.obj")
    assert texbake("bake", path, "--out", tmp_path / "sets", "--update-recipe").code == 0
    want = RECIPE.replace("island: 0 ", "island: 1 ").replace("islands: [1]", "island: 0")
    assert path.read_text(encoding="utf-8") == want
    assert "kept" in texbake("bake", path, "--out", tmp_path / "sets").out
    # By itself, without what the last bake knew, the recipe now means the same.
    assert texbake("bake", path, "--out", tmp_path / "other" / "sets").code == 0
    assert np.array_equal(_albedo(tmp_path / "other"), before)


def test_a_moved_and_cut_layout_is_told_panel_by_panel_and_drawn(tmp_path: Path) -> None:
    path = _garment(tmp_path)
    write_tube(tmp_path / "tube.obj", cut_once_more, split=True)
    run = texbake("bake", path, "--out", tmp_path / "sets")
    assert run.code == 0, run.err
    assert any(n.startswith("panel 'sail': split into islands 0, 1") for n in run.notes)
    assert "panel 'mast': same" in run.notes
    picture = tmp_path / "sets" / "tube" / "tube_change.png"
    assert f"picture of the change: {picture}" in run.notes
    with Image.open(picture) as image:
        assert image.width == 1800


def test_a_turn_and_the_texel_density_are_told(tmp_path: Path) -> None:
    path = _garment(tmp_path, RECIPE.replace("twill 2/1", "felt").replace("size: 128", "size: 512"))
    write_tube(tmp_path / "tube.obj", turned)
    run = texbake("bake", path, "--out", tmp_path / "sets")
    assert any("moved, turned 30 deg, scaled, 17.1 -> 15.4 texels/cm" in n for n in run.notes)


def test_a_panel_that_is_gone_stops_the_bake_and_leaves_the_sets_whole(tmp_path: Path) -> None:
    path = _garment(tmp_path, RECIPE.replace("seams:", "hems: none\nseams:"))
    lines = (tmp_path / "tube.obj").read_text().splitlines()
    cut = lines.index("g back")
    (tmp_path / "tube.obj").write_text("\n".join(lines[:cut]) + "\n")
    sets = everything(tmp_path / "sets" / "tube" / "standard")
    run = texbake("bake", path, "--out", tmp_path / "sets")
    assert run.code == 2
    assert "panel 'mast' is gone" in run.err
    assert "gone: [mast]" in run.err
    picture = tmp_path / "sets" / "tube" / "tube_change.png"
    assert f"see {picture}" in run.err
    assert picture.exists()
    assert everything(tmp_path / "sets" / "tube" / "standard") == sets
    without = RECIPE.split("  mast:", maxsplit=1)[0] + "hems: none\ngone: [mast]\n"
    path.write_text(without, encoding="utf-8")
    assert texbake("bake", path, "--out", tmp_path / "sets").code == 0


def test_another_garment_under_the_same_name_is_refused(tmp_path: Path) -> None:
    path = _garment(tmp_path)
    obj = tmp_path / "tube.obj"
    far = [
        f"v {line.split()[1]} {float(line.split()[2]) + 40.0} {line.split()[3]}"
        if line.startswith("v ")
        else line
        for line in obj.read_text().splitlines()
    ]
    obj.write_text("\n".join(far) + "\n")
    ((what, fix),) = refused(tmp_path, "bake", path, "--out", tmp_path / "sets")
    assert "0% of their surface in common" in what
    assert "--out" in fix
    assert texbake("bake", path, "--out", tmp_path / "elsewhere").code == 0


def test_a_damaged_layout_record_is_refused_and_nothing_is_lost(tmp_path: Path) -> None:
    path = _garment(tmp_path)
    record = tmp_path / "sets" / "tube" / "layout.json"
    record.write_text(record.read_text()[:-40])
    ((what, fix),) = refused(tmp_path, "bake", path, "--out", tmp_path / "sets")
    assert "the layout record is damaged" in what
    assert "move it away" in fix
    record.unlink()
    assert texbake("bake", path, "--out", tmp_path / "sets").code == 0
    assert record.exists()


def test_a_dry_run_after_a_change_writes_nothing(tmp_path: Path) -> None:
    path = _garment(tmp_path)
    _backwards(tmp_path / "tube.obj")
    before = everything(tmp_path)
    run = texbake("bake", path, "--out", tmp_path / "sets", "--dry-run", "--json")
    assert [one["action"] for one in json.loads(run.out)["sets"]] == ["bake"]
    assert everything(tmp_path) == before


def test_panels_and_check_follow_the_cloth_as_the_bake_does(tmp_path: Path) -> None:
    path = _garment(tmp_path)
    out = ("--out", tmp_path / "sets")
    picture = ("--picture", tmp_path / "a.png")
    rows = json.loads(texbake("panels", path, *out, *picture, "--json").out)["panels"]
    assert [(row["name"], row["islands"]) for row in rows] == [("sail", [0]), ("mast", [1])]
    _backwards(tmp_path / "tube.obj")
    for _ in range(2):  # before the bake that writes the new layout down, and after it
        rows = json.loads(texbake("panels", path, *out, *picture, "--json").out)["panels"]
        assert [(row["name"], row["islands"]) for row in rows] == [("sail", [1]), ("mast", [0])]
        assert texbake("bake", path, *out, "--quiet").code == 0
    found = json.loads(texbake("check", path, *out, "--json").out)["findings"]
    assert "stale" not in [one["rule"] for one in found]


def test_a_dry_run_tells_what_became_of_the_panels_and_writes_nothing(tmp_path: Path) -> None:
    path = _garment(tmp_path)
    write_tube(tmp_path / "tube.obj", half_turned)
    before = everything(tmp_path / "sets")
    run = texbake("bake", path, "--out", tmp_path / "sets", "--dry-run")
    assert run.code == 0, run.err
    assert "panels 'sail', 'mast': moved, turned 180 deg" in run.notes
    assert "the mesh changed" in run.out
    assert everything(tmp_path / "sets") == before


def test_a_lost_layout_record_is_told_if_the_sets_are_of_another_mesh(tmp_path: Path) -> None:
    path = _garment(tmp_path)
    (tmp_path / "sets/tube/layout.json").unlink()
    assert texbake("bake", path, "--out", tmp_path / "sets").notes == []
    (tmp_path / "sets/tube/layout.json").unlink()
    _backwards(tmp_path / "tube.obj")
    for words in (["--dry-run"], []):
        run = texbake("bake", path, "--out", tmp_path / "sets", *words)
        assert run.code == 0, run.err
        assert any("layout.json is missing" in note for note in run.notes)


def test_panels_of_one_island_are_told_together_and_stay_apart(tmp_path: Path) -> None:
    path = _garment(tmp_path)
    write_tube(tmp_path / "tube.obj", in_one_island)
    run = texbake("bake", path, "--out", tmp_path / "sets", "--update-recipe")
    assert run.code == 0, run.err
    (told,) = [note for note in run.notes if "which a recipe cannot say" in note]
    assert told.startswith("panels 'mast', 'sail': in islands that several share")
    assert path.read_text(encoding="utf-8") == RECIPE


def test_a_print_of_no_named_layout_is_told_and_can_be_brought_along(tmp_path: Path) -> None:
    printed = RECIPE + "prints: [{picture: logo.png, on: sail}]\n"
    logo = np.zeros((128, 128, 4), np.uint8)
    logo[:, :64] = (200, 30, 40, 255)
    Image.fromarray(logo).save(tmp_path / "logo.png")
    path = _garment(tmp_path, printed)
    write_tube(tmp_path / "tube.obj", half_turned)
    run = texbake("bake", path, "--out", tmp_path / "sets")
    assert run.code == 0, run.err
    (told,) = [note for note in run.notes if "painted_on" in note]
    assert told.startswith("prints.0: logo.png has no painted_on")
    words = told.partition("texbake ")[2].replace("NEW.png", str(tmp_path / "new.png")).split()
    assert texbake(*words).code == 0
    with Image.open(tmp_path / "new.png") as picture:
        carried = np.asarray(picture)
    # Half a turn: what was on the left half is on the right.
    assert carried[64, 100, 0] == 200
    path.write_text(printed.replace("on: sail", "painted_on: old.obj, on: sail"), "utf-8")
    write_tube(tmp_path / "old.obj", upright)
    write_tube(tmp_path / "tube.obj", upright)
    run = texbake("bake", path, "--out", tmp_path / "sets")
    assert (run.code, [note for note in run.notes if "painted_on" in note]) == (0, [])
