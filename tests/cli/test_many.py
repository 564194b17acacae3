"""`texbake bake` of many recipes and folders."""

import json
from pathlib import Path
from unittest import mock

import pytest

from tests.cli_run import SHORTEST, everything, refused, texbake, tube_recipe
from texbake.errors import MachineError
from texbake.lots import MOST
from texbake.many import Order, Outcome, do, find_recipes, run_here, split
from texbake.many.split import LEAST

SMALL = SHORTEST + "size: 32\ngutter: 2\n"


def recipes(folder: Path, *names: str) -> list[Path]:
    """Recipes of one mesh, each of a garment named as its file."""
    folder.mkdir(parents=True, exist_ok=True)
    made = tube_recipe(folder, SMALL)
    made.unlink()
    found = []
    for name in names:
        path = folder / f"{name}.yaml"
        path.write_text(SMALL.replace("garment: tube", f"garment: {name}"), encoding="utf-8")
        found.append(path)
    return found


def garments(out: Path) -> list[str]:
    return sorted(path.parent.parent.name for path in out.glob("*/standard/record.json"))


@pytest.mark.parametrize("words", [(), ("--jobs", 2)], ids=["in turn", "side by side"])
def test_files_and_folders_are_baked_and_what_is_named_twice_once(
    tmp_path: Path, words: tuple[object, ...]
) -> None:
    (vest,) = recipes(tmp_path / "one", "vest")
    recipes(tmp_path / "two", "cap", "apron")
    (tmp_path / "two" / "budget.yaml").write_text("triangles: 4000\n", encoding="utf-8")
    (tmp_path / "two" / "notes.txt").write_text("garment: none\n", encoding="utf-8")
    out = tmp_path / "out"
    twice = tmp_path / "two" / ".." / "one" / "vest.yaml"
    run = texbake("bake", vest, tmp_path / "two", twice, tmp_path / "one", "--out", out, *words)
    assert run.code == 0, run.err
    assert garments(out) == ["apron", "cap", "vest"]
    assert sorted(line.split(": ")[-1] for line in run.out.splitlines()) == [
        str(out / name / "standard") for name in ("apron", "cap", "vest")
    ]
    assert texbake("bake", vest, "--out", tmp_path / "alone").code == 0
    alone = everything(tmp_path / "alone" / "vest")
    assert everything(out / "vest") == alone


def test_what_is_wrong_with_some_is_told_at_the_end_and_stops_no_other(tmp_path: Path) -> None:
    first, second, third, last = recipes(tmp_path, "a", "b", "c", "d")
    first.write_text(SMALL.replace("plain", "plian"), encoding="utf-8")
    second.write_text(SMALL.replace("tube.obj", "none.obj"), encoding="utf-8")
    third.write_text(SMALL.replace("garment: tube", "garment: D"), encoding="utf-8")
    out, none = tmp_path / "out", tmp_path / "none.yaml"
    run = texbake("bake", first, second, none, third, last, "--out", out)
    assert run.code == 2
    assert [path.parent.parent.name for path in out.glob("*/*/record.json")] == ["D"]
    assert [what.removeprefix(f"{tmp_path}/").split(" ")[0] for what, _ in run.mistakes] == [
        "a.yaml:3:",
        "b.yaml:2:",
        "d.yaml:1:",
        "none.yaml:",
    ]
    assert "also the garment of" in run.mistakes[2][0]


def test_the_worst_exit_code_counts_and_json_tells_all(tmp_path: Path) -> None:
    first, second = recipes(tmp_path, "a", "b")
    out = tmp_path / "out"
    (out / "a").mkdir(parents=True)
    (out / "a" / "standard").write_text("in the way", encoding="utf-8")
    broken = tmp_path / "c.yaml"
    broken.write_text("garment: c\n", encoding="utf-8")
    run = texbake("bake", first, second, broken, "--out", out, "--json")
    assert run.code == 3
    told = json.loads(run.out)
    assert [entry["recipe"] for entry in told["sets"]] == [second.as_posix()]
    assert {Path(str(one["path"])).name for one in told["errors"]} == {"c.yaml", "standard"}
    assert any(one["machine"] for one in told["errors"])


def test_a_folder_without_recipes_says_so(tmp_path: Path) -> None:
    (tmp_path / "budget.yaml").write_text("triangles: 4000\n", encoding="utf-8")
    ((what, fix),) = refused(tmp_path, "bake", tmp_path)
    assert what == f"{tmp_path}: there is no recipe in this folder, of 1 YAML files"
    assert "garment: and mesh:" in fix


def test_a_dry_run_of_a_folder_plans_all_and_writes_nothing(tmp_path: Path) -> None:
    recipes(tmp_path, "cap", "vest")
    before = everything(tmp_path)
    run = texbake("bake", tmp_path, "--out", tmp_path / "out", "--dry-run")
    assert run.code == 0
    assert [line.split(": ")[-1] for line in run.out.splitlines()] == [
        str(tmp_path / "out" / name / "standard") for name in ("cap", "vest")
    ]
    assert everything(tmp_path) == before


def many(folder: Path, count: int) -> Path:
    lines = "".join(f"  c{k}: {{colour: '#40{k:04x}'}}\n" for k in range(count))
    return tube_recipe(folder, SMALL + "colourways:\n" + lines)


@pytest.mark.parametrize(("count", "workers"), [(1, 4), (5, 2), (40, 2), (100, 8), (100, 50)])
def test_jobs_share_a_recipe_evenly_and_none_is_a_crumb(
    tmp_path: Path, count: int, workers: int
) -> None:
    recipe = many(tmp_path, count)
    jobs, errors = split([recipe], Order(out=tmp_path), workers=workers)
    assert not errors
    assert [name for job in jobs for name in job.colourways] == [f"c{k}" for k in range(count)]
    sizes = [len(job.colourways) for job in jobs]
    assert max(sizes) <= MOST
    assert max(sizes) - min(sizes) <= 1
    assert min(sizes) >= min(count, LEAST // 2)
    assert len(jobs) >= min(workers, count // LEAST)
    whole, _ = split([recipe], Order(out=tmp_path, update_recipe=True), workers=workers)
    assert len(whole) == 1


def test_jobs_of_one_garment_side_by_side_make_the_very_same_sets(tmp_path: Path) -> None:
    recipe = many(tmp_path, 8)
    jobs, _ = split([recipe], Order(out=tmp_path / "out", cached=False), workers=2)
    told: list[Outcome] = []
    outcomes = run_here(jobs, side=2, tell=told.append)
    assert len(outcomes) == 2
    assert sorted(told, key=lambda o: o.job.colourways) == list(outcomes)
    assert [one.colourway for o in outcomes for one in o.done] == [f"c{k}" for k in range(8)]
    assert texbake("bake", recipe, "--out", tmp_path / "alone").code == 0
    assert everything(tmp_path / "out") == everything(tmp_path / "alone")


def test_what_the_machine_lacks_comes_back_as_a_value(tmp_path: Path) -> None:
    (recipe,) = recipes(tmp_path, "vest")
    job = split([recipe], Order(out=tmp_path / "out"))[0][0]
    for raised, what in ((MachineError("full", fix="empty it"), "full"), (MemoryError(), "out of")):
        with mock.patch("texbake.many.job.bake_recipe", side_effect=raised):
            (trouble,) = do(job).troubles
        assert trouble.machine
        assert trouble.what.startswith(what)
        assert isinstance(trouble.error, MachineError)


def test_a_file_that_means_to_be_a_recipe_is_found_however_broken(tmp_path: Path) -> None:
    (tmp_path / "a.yml").write_text('"garment": [\n', encoding="utf-8")
    (tmp_path / "b.yaml").write_text("fabrics: {mesh: x}\n", encoding="utf-8")
    found, errors = find_recipes([tmp_path])
    assert found == (tmp_path / "a.yml",)
    assert not errors
