"""What a set depends on: code, mesh files, and the parts of a recipe."""

import json
from dataclasses import dataclass, fields, make_dataclass, replace
from pathlib import Path

import pytest

from texbake.batch import program
from texbake.batch.parts import Common, parts_of
from texbake.deliver.record import key_of
from texbake.errors import UserError
from texbake.garment.content import mesh_digest
from texbake.recipe import Recipe, loads
from texbake.recipe.values import HemRecipe


def test_a_key_is_of_names_and_digests_in_any_order() -> None:
    assert key_of({"a": "1", "b": "2"}) == key_of({"b": "2", "a": "1"})
    assert key_of({"a": "1", "b": "2"}) != key_of({"a": "2", "b": "1"})
    assert key_of({}) == ""


@pytest.fixture
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A small program."""
    monkeypatch.setattr(program, "_HOME", tmp_path)
    for name in ("cloth/woven.py", "view/shade.py", "cli/bake.py"):
        (tmp_path / name).parent.mkdir()
        (tmp_path / name).write_text(f"# {name}\nSIZE = 1\n")
    return tmp_path


def test_the_code_that_makes_maps_counts_for_maps(home: Path) -> None:
    maps, beside = program.maps_program(), program.beside_program()
    (home / "cli" / "bake.py").write_text("SIZE = 2\n")
    assert (program.maps_program(), program.beside_program()) == (maps, beside)
    (home / "view" / "shade.py").write_text("SIZE = 2\n")
    assert program.maps_program() == maps
    assert program.beside_program() != beside
    (home / "cloth" / "woven.py").write_text("SIZE = 2\n")
    assert program.maps_program() != maps


def test_ends_of_lines_are_the_systems_own(home: Path) -> None:
    maps = program.maps_program()
    path = home / "cloth" / "woven.py"
    path.write_bytes(path.read_bytes().replace(b"\n", b"\r\n"))
    assert program.maps_program() == maps


def test_where_only_compiled_code_is_the_version_counts(home: Path) -> None:
    for path in home.rglob("*.py"):
        path.unlink()
    assert program.maps_program() == program.beside_program() != ""


def test_a_package_that_is_new_counts(home: Path) -> None:
    maps = program.maps_program()
    (home / "embroidery").mkdir()
    (home / "embroidery" / "satin.py").write_text("SIZE = 1\n")
    assert program.maps_program() != maps


TEXT = "garment: cap\nmesh: cap.obj\nfabric: plain\ncolour: navy\n"
COMMON = Common(mesh="1", maps="2", beside="3")


def parts(recipe: Recipe) -> dict[str, str]:
    return parts_of(recipe, "navy", COMMON, [])


def test_whatever_a_recipe_gains_counts() -> None:
    recipe = loads(TEXT, Path("cap.yaml")).recipe
    own = {field.name: getattr(recipe, field.name) for field in fields(recipe)}
    more = [("trims", tuple), ("dust", float)]
    kind = make_dataclass("Later", more, bases=(Recipe,), frozen=True, kw_only=True)
    first, second = (kind(**own, trims=trims, dust=0.5) for trims in ((), (hem(),)))
    assert set(parts(first)) - set(parts(recipe)) == {"dust", "dust.colours"}
    assert set(parts(second)) - set(parts(first)) == {"trims.0", "trims.0.colours"}


def hem() -> HemRecipe:
    return HemRecipe(on=("all",))


def test_a_fabric_that_sewing_names_counts_though_no_panel_wears_it() -> None:
    recipe = loads(
        TEXT + "fabrics:\n  rib: {knit: rib 2x2}\n  shelf: {felt: plain}\n", Path("cap.yaml")
    )
    bound = replace(recipe.recipe, details=(Bound(cloth="rib"),))  # type: ignore[arg-type]
    assert "fabrics.rib" in parts(bound)
    assert "fabrics.shelf" not in parts(bound)
    assert "fabrics.rib" not in parts(recipe.recipe)


@dataclass(frozen=True)
class Bound:
    """Some sewing that lays a cloth of its own."""

    cloth: str


def test_only_where_things_are_counts_for_nothing() -> None:
    recipe = loads(TEXT, Path("cap.yaml")).recipe
    moved = replace(
        recipe,
        path=Path("b.yaml"),
        mesh=Path("b.obj"),
        included=(Path("c.yaml"),),
        lines={"mesh": 9},
    )
    assert parts(moved) == parts(recipe)
    others = {"mesh_unit_mm": 2.0, "up": "z", "uv_set": 1, "tile": (1, 0), "size_px": 16}
    others |= {"gutter_px": 3, "seed": 4, "normal_bits": 16, "file_name": "{map}"}
    others |= {"garment": "hat", "lines": {"tile": 3}, "hems": (hem(),)}
    for name, value in others.items():
        assert parts(replace(recipe, **{name: value})) != parts(recipe), name  # type: ignore[arg-type]


def test_of_a_table_only_the_row_s_own_values_count(tmp_path: Path) -> None:
    table = "name,colour,hems.0.thread\nfog,gray,white\nbuoy,red,white\n"
    first = ways_of(tmp_path, "from: dyes.csv", table)
    assert ways_of(tmp_path, "from: dyes.csv", table.replace("red", "tan"))["fog"] == first["fog"]
    more = table.replace("gray,white", '"#808080",#fff') + "tan,tan,\n"
    moved = ways_of(tmp_path, "from: dyes.csv", more)
    assert moved["fog"] == first["fog"]
    assert moved["buoy"] == first["buoy"]
    said = ways_of(tmp_path, "fog: {colour: gray, hems.0.thread: white}", "")
    assert said["fog"] == first["fog"]
    other = ways_of(tmp_path, "from: dyes.csv", table.replace("gray,white", "gray,tan"))
    assert other["fog"] != first["fog"]


def ways_of(folder: Path, ways: str, table: str) -> dict[str, dict[str, str]]:
    (folder / "dyes.csv").write_text(table, encoding="utf-8")
    text = "garment: cap\nmesh: cap.obj\nfabric: plain\nhems: [{on: all}]\n"
    project = loads(f"{text}colourways: {{{ways}}}\n", folder / "cap.yaml")
    return {name: parts(way) for name, way in project.colourways.items()}


def gltf(folder: Path, uri: object) -> Path:
    path = folder / "cap.gltf"
    path.write_text(json.dumps({"asset": {"version": "2.0"}, "buffers": [{"uri": uri}]}))
    return path


def test_the_data_beside_a_gltf_counts(tmp_path: Path) -> None:
    path = gltf(tmp_path, "cap%20data.bin")
    bare = mesh_digest(path)
    (tmp_path / "cap data.bin").write_bytes(b"points")
    first = mesh_digest(path)
    (tmp_path / "cap data.bin").write_bytes(b"others")
    assert len({bare, first, mesh_digest(path)}) == 3
    obj = tmp_path / "cap.obj"
    obj.write_text("v 0 0 0\n")
    only = mesh_digest(obj)
    (tmp_path / "cap.mtl").write_text("newmtl felt\n")  # never read
    assert mesh_digest(obj) == only


@pytest.mark.parametrize("uri", [None, 3, "data:;base64,AAAA", "nowhere.bin", "a\0b"])
def test_strange_uris_are_for_the_reader_to_tell(tmp_path: Path, uri: object) -> None:
    assert len(mesh_digest(gltf(tmp_path, uri))) == 64


@pytest.mark.parametrize("text", ["{", "[1]", '{"buffers": 3}', '{"buffers": [4]}', "{" * 9000])
def test_a_damaged_gltf_is_for_the_reader_to_tell(tmp_path: Path, text: str) -> None:
    (tmp_path / "cap.gltf").write_text(text)
    assert len(mesh_digest(tmp_path / "cap.gltf")) == 64


def test_no_mesh_is_told_as_when_it_is_read(tmp_path: Path) -> None:
    with pytest.raises(UserError, match="no such mesh file"):
        mesh_digest(tmp_path / "cap.obj")
