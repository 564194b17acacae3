"""`texbake demo`: the ferry's uniform, copied and baked."""

from pathlib import Path

import pytest

from tests.cli_run import everything, refused, texbake
from texbake.recipe import load

GARMENTS = ("ferry-pullover", "ferry-trousers", "ferry-vest")


def test_the_demo_copies_and_bakes_three_garments_and_may_be_repeated(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    run = texbake("demo", "--size", 64)
    assert run.code == 0, run.err
    copied = sorted(path.name for path in Path("ferry-uniform").glob("*.yaml"))
    assert copied == ["budget.yaml", *(f"{name}.yaml" for name in GARMENTS)]
    assert sorted(path.name for path in Path("out").iterdir()) == list(GARMENTS)
    for name in GARMENTS:
        ways = load(Path("ferry-uniform") / f"{name}.yaml").colourways
        for way in ways:
            assert len(list((Path("out") / name / way).glob("*.png"))) == 7
            assert f"{way}: 7 maps of 64 px in " in run.out
    first = everything(tmp_path)
    again = texbake("demo", "--size", 64, "--quiet")
    assert (again.code, again.out, again.err) == (0, "", "")
    assert everything(tmp_path) == first


def test_a_changed_recipe_is_the_users_own(tmp_path: Path) -> None:
    (tmp_path / "mine").mkdir()
    (tmp_path / "mine" / "ferry-vest.yaml").write_text("garment: mine\n")
    words = ("demo", tmp_path / "mine", "--out", tmp_path / "out", "--size", 64)
    ((what, fix),) = refused(tmp_path, *words)
    assert what == f"{tmp_path}/mine: not the demo's own files: ferry-vest.yaml"
    assert "another folder" in fix


def test_a_file_in_the_folders_place_is_told(tmp_path: Path) -> None:
    (tmp_path / "mine").write_text("")
    words = ("demo", tmp_path / "mine", "--out", tmp_path / "out", "--size", 64)
    ((what, _),) = refused(tmp_path, *words, code=3)
    assert "a file stands where a folder is needed" in what
