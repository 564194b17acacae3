"""Fabrics from other files: laid under the recipe's own, each mistake told in its own file."""

from pathlib import Path

import pytest

from texbake.errors import UserErrors
from texbake.recipe import Project, fingerprint, load
from texbake.recipe.shipped import fabric_names

HEAD = "garment: vest\nmesh: vest.obj\n"
AWNING = "fabrics:\n  awning:\n    weave: plain\n    colour: navy\n    warp: {count: 30 tex}\n"


def recipe(folder: Path, text: str, **files: str) -> Path:
    for name, inside in files.items():
        (folder / f"{name}.yaml").write_text(inside, encoding="utf-8")
    path = folder / "vest.yaml"
    path.write_text(HEAD + text, encoding="utf-8")
    return path


def read(folder: Path, text: str, **files: str) -> Project:
    return load(recipe(folder, text, **files))


def told(folder: Path, text: str, **files: str) -> str:
    with pytest.raises(UserErrors) as found:
        read(folder, text, **files)
    return str(found.value)


def test_a_bare_name_is_a_shipped_fabric_and_a_path_is_a_file_beside_the_recipe(
    tmp_path: Path,
) -> None:
    project = read(tmp_path, "include: [denim, awning.yaml]\n", awning=AWNING)
    assert sorted(project.recipe.fabrics) == ["awning", "denim"]
    assert [path.name for path in project.recipe.included] == ["denim.yaml", "awning.yaml"]


def test_own_keys_lie_over_the_included_fabric_key_by_key(tmp_path: Path) -> None:
    own = "include: awning.yaml\nfabrics: {awning: {scale: 7, warp: {per_cm: 30}}}\n"
    awning = read(tmp_path, own, awning=AWNING).recipe.fabrics["awning"]
    assert awning.warp is not None
    assert (awning.scale, awning.warp.per_cm) == (7.0, 30.0)
    assert (awning.warp.count_tex, awning.warp.colour.hex) == (30.0, "#000080")


def test_another_dye_takes_the_place_of_the_one_that_a_yarn_had(tmp_path: Path) -> None:
    grey = (
        "fabrics:\n  grey:\n    knit: single jersey\n    yarn: {melange: {black: 50%, white: 50%}}"
    )
    plain = read(tmp_path, "include: g.yaml\nfabrics: {grey: {yarn: {colour: red}}}\n", g=grey)
    yarn = plain.recipe.fabrics["grey"].yarn
    assert yarn is not None
    assert (yarn.melange, yarn.colour.hex) == (None, "#ff0000")
    mixed = "include: g.yaml\nfabrics: {grey: {yarn: {melange: {red: 1, blue: 0}}}}\n"
    yarn = read(tmp_path, mixed, g=grey).recipe.fabrics["grey"].yarn
    assert yarn is not None
    assert yarn.melange is not None
    assert {c.hex for c, _ in yarn.melange.parts} == {"#ff0000", "#0000ff"}


def test_colourways_change_included_fabrics_by_their_paths(tmp_path: Path) -> None:
    text = "include: denim\ncolourways: {ink: {denim.warp.colour: black}}\n"
    warp = read(tmp_path, text).colourways["ink"].fabrics["denim"].warp
    assert warp is not None
    assert warp.colour.hex == "#000000"


def test_a_mistake_in_a_fragment_names_its_file_and_line(tmp_path: Path) -> None:
    text = told(tmp_path, "include: awning.yaml\n", awning=AWNING.replace("30 tex", "thick"))
    assert f"{tmp_path / 'awning.yaml'}:5: fabrics.awning.warp.count" in text
    text = told(
        tmp_path, "include: awning.yaml\nfabrics: {awning: {warp: {count: fat}}}\n", awning=AWNING
    )
    assert f"{tmp_path / 'vest.yaml'}:4: fabrics.awning.warp.count" in text
    text = told(tmp_path, "include: awning.yaml\n", awning=AWNING.replace("colour", "colur"))
    assert "awning.yaml:4:" in text
    assert "did you mean 'colour'" in text


@pytest.mark.parametrize(
    ("text", "where", "what", "fix"),
    [
        ("include: denin\n", "vest.yaml:3", "no fabric 'denin'", "did you mean 'denim'"),
        ("include: [denim,\n  awnin.yaml]\n", "vest.yaml:4", "no file awnin.yaml", "'awning.yaml'"),
        ("include: awning\n", "vest.yaml:3", "no fabric 'awning'", "write awning.yaml"),
        ("include: [denim, denim]\n", "vest.yaml:3", "included twice", "take one out"),
        ("include: vest.yaml\n", "vest.yaml:3", "includes itself", "take it out"),
        ("include: ./other.yaml\n", "other.yaml:1", "'garment' does not belong", "take it out"),
        ("include: [awning.yaml, a.yaml]\n", "vest.yaml:3", "stands in a.yaml", "one of the two"),
        ("include: empty.yaml\n", "empty.yaml:1", "is empty", "fabrics by name"),
        ("include: list.yaml\n", "list.yaml:1", "not a list", "fabrics by name"),
        ("include: none.yaml\n", "none.yaml:1", "found 'drill'", "fabrics by name"),
        ("include: broken.yaml\n", "broken.yaml:", "not YAML", "colons"),
        ("include: 7\nfabric: plain\n", "vest.yaml:3", "found 7", "one file or name"),
        ("include: 'a\\b.yaml'\n", "vest.yaml:3", "has \\ in it", "a/b.yaml"),
        ("include: ./\n", "vest.yaml:3", "is a folder", "name a file"),
    ],
)  # fmt: skip
def test_what_cannot_be_included_is_told_with_its_cure(
    tmp_path: Path, text: str, where: str, what: str, fix: str
) -> None:
    files = {
        "awning": AWNING,
        "a": AWNING,
        "other": f"{HEAD}include: vest.yaml\n{AWNING}",
        "empty": "",
        "list": "- denim\n",
        "none": "fabrics: drill\n",
        "broken": "fabrics: {a: [}\n",
    }
    message = told(tmp_path, text, **files)
    assert where in message
    assert what in message
    assert fix in message


def test_a_shipped_fabric_that_is_not_included_is_offered(tmp_path: Path) -> None:
    assert "add include: denim" in told(tmp_path, "fabric: denim\n")


def test_lines_of_included_keys_are_those_of_include(tmp_path: Path) -> None:
    project = read(tmp_path, "include: awning.yaml\n", awning=AWNING)
    assert project.recipe.lines["fabrics.awning.warp"] == 3
    assert project.recipe.fabrics["awning"].line == 3


def test_the_fingerprint_follows_the_included_files(tmp_path: Path) -> None:
    path = recipe(tmp_path, "include: awning.yaml\n", awning=AWNING)
    before = fingerprint(load(path).recipe)
    assert fingerprint(load(path).recipe) == before
    (tmp_path / "awning.yaml").write_text(AWNING.replace("navy", "red"), encoding="utf-8")
    assert fingerprint(load(path).recipe) != before


def test_every_shipped_name_can_be_included_alone(tmp_path: Path) -> None:
    for name in fabric_names():
        assert list(read(tmp_path, f"include: {name}\n").recipe.fabrics) == [name]
