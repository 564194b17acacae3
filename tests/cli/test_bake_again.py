"""`texbake bake` on sets that are there: what is kept, what is baked, and why."""

import json
import os
import shutil
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.cli_run import Run, everything, refused, texbake, tube_recipe
from texbake.arrays import U8, U16
from texbake.batch import one, run
from texbake.deliver.png import Sink, write_png_rows
from texbake.lots import MOST

Rows = Callable[[slice], U8 | U16]

ROOT = Path(__file__).resolve().parents[2]
TEXT = """\
garment: tube
mesh: tube.obj
fabric: shell
fabrics:
  shell: {weave: plain, warp: {colour: navy}, scale: 5}
  lining: {weave: twill 2/1, weft: {colour: gray}, scale: 5}
  spare: {weave: plain, colour: tan, scale: 5}
  shelf: {felt: plain}
panels:
  front: {group: front}
  back: {group: back, fabric: lining}
seams:
  - {between: [front, back], thread: {colour: white}, scale: 3}
hems:
  - {on: all, width: 10 mm, thread: white}
colourways:
  navy: {}
  red: {shell.warp.colour: red}
  tan: {back.fabric: spare}
"""


def bake(folder: Path, *words: object, beside: bool = False) -> Run:
    made = texbake(
        "bake", folder / "tube.yaml", "--size", 64, "--out", folder / "sets", *words, beside=beside
    )
    assert made.code == 0, made.err
    return made


def told(folder: Path, *words: object) -> dict[str, str]:
    """What is said of each colourway, without the place and the time."""
    lines = bake(folder, *words).out.splitlines()
    return {line.split(": ")[0]: line.split(": ", 1)[1].rsplit(": ", 1)[0] for line in lines}


def planned(folder: Path, *words: object) -> dict[str, tuple[str, list[str]]]:
    """What a dry run says of each colourway."""
    sets = json.loads(bake(folder, "--dry-run", "--json", *words).out)["sets"]
    return {entry["colourway"]: (entry["action"], entry["why"]) for entry in sets}


@pytest.fixture(scope="module")
def first(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("first")
    tube_recipe(folder, TEXT)
    bake(folder)
    return folder


@pytest.fixture
def baked(first: Path, tmp_path: Path) -> Path:
    """A recipe and its three sets."""
    return shutil.copytree(first, tmp_path / "baked")


def change(folder: Path, old: str, new: str) -> None:
    text = (folder / "tube.yaml").read_text()
    assert old in text
    (folder / "tube.yaml").write_text(text.replace(old, new))


def assert_as_if_baked_anew(folder: Path) -> None:
    """Every set, its record too, is to the byte what a bake into an empty folder gives."""
    texbake("bake", folder / "tube.yaml", "--size", 64, "--out", folder / "anew")
    assert everything(folder / "sets") == everything(folder / "anew")


def test_a_set_that_nothing_changed_is_kept_and_not_written(baked: Path) -> None:
    stamps = {p: p.stat().st_mtime_ns for p in (baked / "sets").rglob("*")}
    assert told(baked) == dict.fromkeys(["navy", "red", "tan"], "kept, nothing changed")
    assert {p: p.stat().st_mtime_ns for p in (baked / "sets").rglob("*")} == stamps


def test_nothing_to_do_rebuilds_no_garment(baked: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def never(*_: object, **__: object) -> None:
        raise AssertionError("the mesh was rebuilt")

    monkeypatch.setattr(run, "prepare", never)
    monkeypatch.setattr(run, "read_garment", never)
    monkeypatch.setattr(one, "render_lot", never)
    told(baked)


def test_comments_order_and_the_recipes_name_bake_nothing_but_the_record_follows(
    baked: Path,
) -> None:
    head, tail = TEXT.split("seams:\n")
    lines = head.splitlines()
    text = "# as it was\n" + "seams:\n" + tail + "\n".join([*lines[3:], *lines[:3]]) + "\n"
    (baked / "tube.yaml").write_text(text)
    assert set(told(baked).values()) == {"kept, nothing changed"}
    assert_as_if_baked_anew(baked)


def test_the_folder_may_be_moved(baked: Path) -> None:
    moved = baked.with_name(baked.name + "-moved")
    baked.rename(moved)
    assert set(told(moved).values()) == {"kept, nothing changed"}
    moved.rename(baked)


def test_a_change_of_one_fabric_bakes_the_sets_that_wear_it(baked: Path) -> None:
    change(baked, "weave: twill 2/1", "weave: twill 1/2")
    assert {name: said.rsplit("(")[-1] for name, said in told(baked).items()} == {
        "navy": "fabric 'lining' changed)",
        "red": "fabric 'lining' changed)",
        "tan": "kept, nothing changed",
    }
    assert_as_if_baked_anew(baked)


CHANGES = {
    "colour": (
        *("warp: {colour: navy}", "warp: {colour: teal}", ["navy", "tan"]),
        "colours of fabric 'shell' changed",
    ),
    "one": ("colour: tan", "colour: gold", ["tan"], "colours of fabric 'spare' changed"),
    "unworn": ("shelf: {felt: plain}", "shelf: {felt: {thickness: 4 mm}}", [], ""),
    "new": ("  spare:", "  aaa: {felt: plain}\n  spare:", [], ""),
    "seam": ("scale: 3}", "scale: 2}", [], "seam 1 changed"),
    "thread": ("colour: white", "colour: lime", [], "colours of seam 1 changed"),
    "hem": ("10 mm", "8 mm", [], "hem 1 changed"),
    "added": ("hems:\n", "hems:\n  - {on: front, width: 5 mm}\n", [], "hem 2 is new"),
    "panel": ("{group: front}", "{group: front, grain: 9 deg}", [], "how panels are found"),
    "unit": ("garment: tube", "garment: tube\nmesh_unit: in", [], "unit, axis, UV set or tile"),
    "seed": ("garment: tube", "garment: tube\nseed: 5", [], "the seed is 5, was 1"),
    "gutter": ("garment: tube", "garment: tube\ngutter: 4", [], "the gutter is 4 px, was 16"),
    "bits": ("garment: tube", "garment: tube\nnormal_bits: 16", [], "normals have 16 bits, had 8"),
    "file": ("garment: tube", "garment: tube\nfile_name: '{map}'", [], "files are named otherwise"),
    "worn": ("fabric: shell", "fabric: lining", [], "panels wear other fabrics"),
}


@pytest.mark.parametrize("name", CHANGES)
def test_each_change_says_why_and_gives_what_a_new_bake_gives(baked: Path, name: str) -> None:
    old, new, ways, said = CHANGES[name]
    change(baked, old, new)
    plans = planned(baked)
    for colourway, (action, why) in plans.items():
        touched = bool(said) and (not ways or colourway in ways)
        assert action == ("bake" if touched else "keep"), (colourway, why)
        assert any(reason.startswith(said) for reason in why) if touched else not why
    if any(action == "keep" for action, _ in plans.values()):
        bake(baked)
        assert_as_if_baked_anew(baked)


def test_a_change_of_a_bindings_cloth_is_seen(baked: Path) -> None:
    change(
        baked,
        "{on: all, width: 10 mm, thread: white}",
        "{on: all, construction: bound, cloth: spare}",
    )
    bake(baked)
    assert set(told(baked).values()) == {"kept, nothing changed"}
    change(baked, "weave: plain, colour: tan", "weave: twill 2/1, colour: tan")
    assert planned(baked)["navy"] == ("bake", ["fabric 'spare' changed"])


def test_a_changed_mesh_and_size_are_told(baked: Path) -> None:
    with (baked / "tube.obj").open("a") as file:
        file.write("# another export\n")
    assert planned(baked)["red"] == ("bake", ["the mesh changed"])
    assert planned(baked, "--size", 32)["red"][1] == [
        "the mesh changed",
        "the size is 32 px, was 64",
    ]


def test_another_texbake_bakes_anew(baked: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("texbake.batch.program.texbake_version", lambda: "99.0")
    assert planned(baked)["navy"] == ("bake", ["Texbake itself changed"])
    monkeypatch.setattr("texbake.batch.reasons.texbake_version", lambda: "99.0")
    ((why,),) = [planned(baked)["navy"][1]]
    assert why.startswith("Texbake is 99.0, was ")


def test_a_dry_run_writes_nothing_and_ends_well(tmp_path: Path) -> None:
    recipe = tube_recipe(tmp_path, TEXT)
    before = everything(tmp_path)
    made = bake(tmp_path, "--dry-run")
    assert made.out.splitlines()[0] == (
        f"navy: to bake: it is not there yet: {tmp_path / 'sets' / 'tube' / 'navy'}"
    )
    assert everything(tmp_path) == before
    bake(tmp_path, "--colourway", "red")
    recipe.write_text(TEXT.replace("navy", "teal"))
    before = everything(tmp_path)
    assert [action for action, _ in planned(tmp_path).values()] == ["bake", "keep", "bake"]
    assert everything(tmp_path) == before


def test_only_albedos_are_encoded_where_colours_alone_differ(
    baked: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    encoded: list[tuple[int, ...]] = []

    def counted(
        out: Sink,
        rows: Callable[[slice], U8 | U16],
        shape: tuple[int, ...],
        *,
        bits: int,
        srgb: bool,
    ) -> None:
        encoded.append(shape)
        write_png_rows(out, rows, shape, bits=bits, srgb=srgb)

    monkeypatch.setattr("texbake.deliver.pictures.write_png_rows", counted)
    monkeypatch.setattr("texbake.hands.CAN_FORK", False)  # what others encode is not seen here
    change(baked, "warp: {colour: navy}", "warp: {colour: teal}")
    bake(baked)  # navy is baked anew, beside red, which is there; tan has another cloth
    assert encoded == [(64, 64, 3)] * 2
    assert_as_if_baked_anew(baked)
    assert len(encoded) == 2 + 7 + 1 + 7


def test_a_map_that_is_painted_in_place_changes_no_other_colourways(baked: Path) -> None:
    paths = list((baked / "sets").rglob("*.png"))
    assert all(path.stat().st_nlink == 1 for path in paths)  # copies, not links
    names = {path.name.replace("_navy_", "_red_") for path in paths if path.parent.name == "navy"}
    red = {name for name in names if "albedo" not in name}
    assert all(
        (baked / "sets/tube/red" / name).read_bytes()
        == (baked / "sets/tube/navy" / name.replace("_red_", "_navy_")).read_bytes()
        for name in red
    )


def test_a_damaged_file_is_not_copied_on(baked: Path) -> None:
    lost = baked / "sets" / "tube" / "red" / "tube_red_height.png"
    lost.write_bytes(b"")
    (baked / "sets" / "tube" / "navy" / "tube_navy_height.png").unlink()
    bake(baked)
    assert_as_if_baked_anew(baked)


def test_all_forces(baked: Path) -> None:
    stamps = {p: p.stat().st_mtime_ns for p in (baked / "sets").rglob("*.png")}
    assert planned(baked, "--all")["red"] == ("bake", ["all were asked for"])
    bake(baked, "--all")
    assert all(p.stat().st_mtime_ns > stamps[p] for p in stamps)
    assert_as_if_baked_anew(baked)


def test_a_lost_or_damaged_file_is_made_again(baked: Path) -> None:
    sets = baked / "sets" / "tube"
    (sets / "navy" / "tube_navy_height.png").unlink()
    cut = sets / "red" / "tube_red_albedo.png"
    cut.write_bytes(cut.read_bytes()[:-20])
    assert planned(baked) == {
        "navy": ("bake", ["tube_navy_height.png is missing"]),
        "red": ("bake", ["tube_red_albedo.png is damaged"]),
        "tan": ("keep", []),
    }
    bake(baked)
    assert_as_if_baked_anew(baked)


def test_a_painted_file_is_never_written_over_nor_told_as_to_be_baked(baked: Path) -> None:
    mine = baked / "sets" / "tube" / "red" / "tube_red_albedo.png"
    other = baked / "sets" / "tube" / "navy" / "tube_navy_albedo.png"
    mine.write_bytes(other.read_bytes())  # a whole PNG, but not the one that was baked
    for words in ((), ("--dry-run",)):
        asked = ("bake", baked / "tube.yaml", "--size", 64, "--out", baked / "sets", *words)
        ((what, fix),) = refused(baked, *asked)
        assert what.startswith(f"{mine}: ")
        assert "move it away" in fix


def test_a_lost_record_leaves_all_as_it_is_and_a_damaged_one_too(baked: Path) -> None:
    record = baked / "sets" / "tube" / "red" / "record.json"
    whole = record.read_text()
    asked = ("bake", baked / "tube.yaml", "--size", 64, "--out", baked / "sets")
    newer = json.dumps({**json.loads(whole), "version": 99})
    for text, said in ((whole[:100], "damaged"), (newer, "version 99")):
        record.write_text(text)
        ((what, fix),) = refused(baked, *asked)
        assert said in what
        assert "bake anew" in fix
    record.unlink()
    ((what, _),) = refused(baked, *asked)
    assert "did not write" in what


def test_a_set_copied_to_another_colourways_folder_is_not_taken_for_it(baked: Path) -> None:
    sets = baked / "sets" / "tube"
    shutil.rmtree(sets / "tan")
    shutil.copytree(sets / "red", sets / "tan")
    action, why = planned(baked)["tan"]
    assert action == "bake"
    assert "the set is of another garment or colourway" in why


def test_what_goes_beside_the_maps_is_added_without_a_bake(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    text = TEXT.replace("weave: plain, colour: tan", "net: tulle")  # with an opacity map
    tube_recipe(tmp_path, text)
    words = ("--colourway", "tan")
    bake(tmp_path, *words)
    folder = tmp_path / "sets" / "tube" / "tan"
    stamps = {path.name: path.read_bytes() for path in folder.glob("*.png")}
    with monkeypatch.context() as patched:
        patched.setattr(one, "render_lot", None)  # a bake would fail
        made = bake(tmp_path, *words, beside=True)
        assert made.out.startswith("tan: added glb, sheet, view in ")
        (folder / "tube_tan.glb").unlink()
        said = bake(tmp_path, *words, beside=True).out
        assert "added glb in" in said
        assert "(tube_tan.glb is missing)" in said
        assert "kept" in bake(tmp_path, *words, beside=True).out
        assert "kept" in bake(tmp_path, *words).out  # what is not asked for stays
    assert {n: (folder / n).read_bytes() for n in stamps} == stamps
    recipe = tmp_path / "tube.yaml"
    texbake("bake", recipe, "--size", 64, "--out", tmp_path / "anew", *words, beside=True)
    assert everything(tmp_path / "sets") == everything(tmp_path / "anew")


STOPPED = """
import signal, sys
from pathlib import Path
from texbake.cli import main, terms

second, told = Path(sys.argv.pop(1)), terms.Progress.__call__

def call(self, stage, share):
    told(self, stage, share)
    if stage == "bake" and second.exists():
        signal.raise_signal(signal.SIGINT)

terms.Progress.__call__ = call
main()
"""


@pytest.mark.skipif(os.name == "nt", reason="signals are sent otherwise there")
def test_a_stopped_batch_goes_on_where_it_was(tmp_path: Path) -> None:
    count = 3 * MOST  # of three lots: the stop comes before the last
    ways = "".join(f"  c{k}: {{shell.warp.colour: '#{k:02d}0000'}}\n" for k in range(count))
    recipe = tube_recipe(tmp_path, TEXT.partition("  navy: {}")[0] + ways)
    words = ["bake", str(recipe), "--size", "256", "--out", str(tmp_path / "sets"), "--maps-only"]
    second = tmp_path / "sets" / "tube" / "c1" / "record.json"
    stopped = subprocess.run(
        [sys.executable, "-c", STOPPED, str(second), *words],
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        capture_output=True,
        check=False,
        timeout=120,
    )
    assert stopped.returncode == 130, stopped.stderr.decode()
    there = {p.parent.name for p in (tmp_path / "sets" / "tube").glob("[a-z]*/record.json")}
    assert "c1" in there
    assert there < {f"c{k}" for k in range(count)}
    made = texbake(*words)
    kept = {line.split(":")[0] for line in made.out.splitlines() if "kept" in line}
    assert kept == there
    assert texbake(*words).out.count("kept") == count
