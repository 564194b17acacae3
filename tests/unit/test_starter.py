"""Starter recipes: what is written must load, and give the same panels again."""

import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from tests.garments_by_hand import box, sheet
from texbake import cloth
from texbake.arrays import F64
from texbake.demo.garments import write_meshes
from texbake.errors import UserError
from texbake.garment.build import build_garment
from texbake.garment.values import Garment, Mesh
from texbake.layout import lay_out
from texbake.prepared import read_garment
from texbake.recipe import PanelRecipe, load, loads
from texbake.recipe.values import Up
from texbake.starter import bare_recipe, starter_recipe, unit_guess, write_starter
from texbake.starter.quoting import scalar
from texbake.starter.text import garment_word

SHARED = Path(__file__).resolve().parents[2].parent / "shared" / "meshes" / "garments"
UPS: tuple[Up, ...] = ("y", "z", "-x")


def pieces(
    count: int = 3,
    *,
    materials: tuple[str, ...] = ("",),
    material_of: tuple[int, ...] = (0, 0, 0),
    apart_mm: float = 10.0,
    depth_mm: float = 0.0,
) -> Garment:
    """Pieces of cloth 300 mm wide, 600 long, in a row or behind each other."""
    uv, points = [], []
    for k in range(count):
        uv.append(sheet(2, 4, box(0.05 + 0.3 * k, 0.1, 0.3 + 0.3 * k, 0.6)))
        left = k * (300 + apart_mm) if depth_mm == 0.0 else 0.0
        flat = sheet(2, 4, box(left, 0, left + 300, 600))
        points.append(np.concatenate([flat, np.full((16, 3, 1), -k * depth_mm)], axis=2))
    return build_garment(_mesh(np.concatenate(uv), np.concatenate(points), materials, material_of))


def _mesh(uv: F64, points: F64, materials: tuple[str, ...], material_of: tuple[int, ...]) -> Mesh:
    zeros = np.zeros(len(uv), np.int32)
    piece = np.arange(len(uv)) // 16
    return Mesh(
        path=Path("pieces.obj"),
        points_mm=points.reshape(-1, 3),
        faces=np.arange(3 * len(uv), dtype=np.int32).reshape(-1, 3),
        uv=uv,
        polygon=np.arange(len(uv), dtype=np.int32),
        object_of=zeros,
        group_of=zeros,
        material_of=np.array(material_of, np.int32)[piece],
        objects=("",),
        groups=("",),
        materials=materials,
    )


def started(made: Garment, *, unit_mm: float = 1.0, size_px: int = 1024) -> str:
    return starter_recipe(made, name="pieces", mesh="pieces.obj", unit_mm=unit_mm, size_px=size_px)


def same_panels(a: Garment, b: Garment) -> bool:
    return [(p.name, p.islands) for p in a.panels] == [(p.name, p.islands) for p in b.panels] and (
        np.array_equal(a.panel, b.panel)
    )


@pytest.mark.parametrize(
    ("greatest", "usual_mm", "word", "guessed"),
    [
        (70.0, 10.0, "cm", False),  # a jacket in cm
        (0.7, 10.0, "m", True),  # an OBJ in metres: 7 mm
        (700.0, 10.0, "mm", True),  # in millimetres: 7 m
        (70.0, 1000.0, "cm", True),  # a glTF that did not keep to metres: 70 m
        (1.8, 1000.0, "m", False),
        (28.0, 1.0, "in", True),  # 28 mm; only inches make it a garment
        (20.0, 10.0, "cm", False),  # a glove is small and right
        (9000.0, 10.0, "cm", False),  # nothing fits: the usual one stays
    ],
)
def test_a_unit_is_guessed_only_where_the_usual_one_is_absurd(
    greatest: float, usual_mm: float, word: str, guessed: bool
) -> None:
    points = np.array([[0.0, 0.0, 0.0], [0.3, 1.0, 0.2]]) * greatest
    unit = unit_guess(points, usual_mm=usual_mm)
    assert (unit.word, unit.guessed) == (word, guessed)
    assert unit.size_mm[1] == pytest.approx(greatest * unit.mm)
    assert unit.plausible == (greatest < 9000.0)


def test_what_the_user_says_of_the_unit_stands() -> None:
    points = np.array([[0.0, 0.0, 0.0], [0.3, 0.7, 0.2]])
    unit = unit_guess(points, usual_mm=10.0, sure=True)
    assert (unit.word, unit.guessed, unit.plausible) == ("cm", False, False)
    with pytest.raises(ValueError, match="100"):
        unit_guess(points, usual_mm=100.0)


def test_a_starter_gives_the_same_panels_again() -> None:
    made = pieces()
    recipe = loads(started(made), Path("pieces.yaml")).recipe
    assert set(recipe.panels) == {panel.name for panel in made.panels}
    assert all(panel.at is not None for panel in recipe.panels.values())
    assert same_panels(build_garment(made.mesh, recipe.panels), made)


@pytest.mark.parametrize("up", UPS)
@pytest.mark.parametrize(("unit", "unit_mm"), [("mm", 1.0), ("cm", 10.0), ("m", 1000.0)])
def test_points_are_written_in_the_meshs_own_unit_and_axes(
    tmp_path: Path, up: Up, unit: str, unit_mm: float
) -> None:
    lines = []
    for k, (left, v) in enumerate([(-0.3, 0.1), (0.1, 0.5)]):
        for x, y in ((left, 0.0), (left + 0.25, 0.0), (left + 0.25, 0.7), (left, 0.7)):
            turned = {"y": (x, y, 0.1), "z": (x, -0.1, y), "-x": (-y, x, 0.1)}[up]
            lines.append("v {} {} {}".format(*(a * 1000 / unit_mm for a in turned)))
        lines += [f"vt {u} {v + w}" for u, w in ((0.1, 0), (0.4, 0), (0.4, 0.3), (0.1, 0.3))]
        a, b, c, d = (f"{4 * k + n}/{4 * k + n}" for n in (1, 2, 3, 4))
        lines.append(f"f {a} {b} {c} {d}")
    (tmp_path / "two.obj").write_text("\n".join(lines), "utf-8")
    bare = replace(bare_recipe(tmp_path / "two.obj"), mesh_unit_mm=unit_mm, up=up)
    made = read_garment(bare)
    text = starter_recipe(made, name="two", mesh="two.obj", unit_mm=unit_mm, guess=False, up=up)
    assert f"mesh_unit: {unit} " in text
    (tmp_path / "two.yaml").write_text(text, "utf-8")
    assert len(re.findall(r"(?m)^  .*{at:", text)) == 2
    again = read_garment(load(tmp_path / "two.yaml").recipe)
    assert same_panels(again, made)


AWKWARD = ("on", "12", "lining: inner", "#3d5a6c", "- x", 'the "best"', "größe", "null", "a, b")


@pytest.mark.parametrize("name", AWKWARD)
def test_names_that_yaml_would_misread_are_quoted(name: str) -> None:
    made = pieces(materials=(name, "shell"), material_of=(0, 1, 1))
    recipe = loads(started(made), Path("pieces.yaml")).recipe
    assert name in {panel.material for panel in recipe.panels.values()}
    assert same_panels(build_garment(made.mesh, recipe.panels), made)


@pytest.mark.parametrize("name", [*AWKWARD, "true", "0x1f", "1e3", "~", "", "front-left"])
def test_a_scalar_reads_back_in_any_yaml_reader(name: str) -> None:
    from ruamel.yaml import YAML

    for version in ("1.1", "1.2"):
        reader = YAML(typ="safe", pure=True)
        reader.version = version
        assert reader.load(f"key: {scalar(name)}")["key"] == name


def test_a_name_with_a_meaning_of_its_own_is_replaced() -> None:
    made = pieces(materials=("all", "shell"), material_of=(0, 1, 1))
    assert "all" in {panel.name for panel in made.panels}
    recipe = loads(started(made), Path("pieces.yaml")).recipe
    assert recipe.panels["panel-0"].material == "all"


def test_where_cloth_lies_on_cloth_the_island_is_named() -> None:
    made = pieces(2, depth_mm=1e-4)
    recipe = loads(started(made), Path("pieces.yaml")).recipe
    assert {panel.islands for panel in recipe.panels.values()} == {(0,), (1,)}
    lined = pieces(2, depth_mm=1.0)  # a lining 1 mm behind can be told by a point
    recipe = loads(started(lined), Path("pieces.yaml")).recipe
    assert all(panel.at is not None for panel in recipe.panels.values())
    assert same_panels(build_garment(lined.mesh, recipe.panels), lined)


def test_joined_islands_stay_joined() -> None:
    joined = PanelRecipe(name="skirt", islands=(0, 2))
    made = build_garment(pieces().mesh, {"skirt": joined})
    recipe = loads(started(made), Path("pieces.yaml")).recipe
    assert recipe.panels["skirt"].islands == (0, 2)
    assert same_panels(build_garment(made.mesh, recipe.panels), made)


@pytest.mark.parametrize("size_px", [256, 1024, 4096])
def test_yarns_are_about_four_texels_apart(size_px: int) -> None:
    made = pieces()
    text = started(made, size_px=size_px)
    recipe = loads(_uncommented(text), Path("pieces.yaml")).recipe
    texel_mm = float(np.median(lay_out(made, size_px, gutter_px=0).texel_mm))
    assert set(recipe.fabrics) == {"serge", "jersey"}
    for fabric in recipe.fabrics.values():
        assert max(cloth.pitch_mm(fabric)) / texel_mm == pytest.approx(4.0, rel=0.05)


def _uncommented(text: str) -> str:
    """The text with the second fabric in use."""
    return re.sub(r"(?m)^  # (jersey:|  )", r"  \1", text)


def test_a_guessed_unit_is_told_and_scales_what_follows() -> None:
    made = pieces()
    tiny = build_garment(replace(made.mesh, points_mm=made.mesh.points_mm / 100))
    text = started(tiny, unit_mm=10.0)
    assert "mesh_unit: m " in text
    assert "a guess" in text
    right = started(made, unit_mm=1000.0)
    scale = [line.split("#")[0] for line in text.splitlines() if "scale:" in line]
    assert scale == [line.split("#")[0] for line in right.splitlines() if "scale:" in line]
    assert "1800 cm2" in text  # 300 x 600 mm
    assert "1800 cm2" in right


def test_seams_and_hems_are_listed_with_their_lengths() -> None:
    made = pieces(2, apart_mm=0.0)
    text = started(made)
    first, second = (panel.name for panel in made.panels)
    assert f"#   {first} and {second}, 600 mm\n" in text
    assert f"#   {first}, 1200 mm\n" in text
    project = loads(text, Path("pieces.yaml"))
    assert [s.stitch for s in project.recipe.seams] == ["301"]
    assert [h.on for h in project.recipe.hems] == [("all",)]
    assert len(project.colourways) == 2


def test_what_the_mesh_has_not_is_said_to_be_none() -> None:
    recipe = loads(started(pieces(1)), Path("pieces.yaml")).recipe
    assert recipe.seams == ()
    assert "seams: none" in started(pieces(1))
    closed = _closed()
    assert all(chain.kind == "seam" for chain in closed.chains)
    text = started(closed)
    assert "hems: none" in text
    assert loads(text, Path("pieces.yaml")).recipe.hems == ()


def _closed() -> Garment:
    """Two pieces, one before the other, sewn together all round: a cushion without filling."""
    front = sheet(2, 4, box(0, 0, 300, 600))
    bulge = np.where((front == [150.0, 300.0]).all(axis=2), 50.0, 0.0)[..., None]
    points = np.concatenate([front, bulge], axis=2)
    back = np.concatenate([front, -bulge], axis=2)[:, ::-1]
    uv = sheet(2, 4, box(0.05, 0.1, 0.3, 0.6))
    other = sheet(2, 4, box(0.5, 0.1, 0.75, 0.6))[:, ::-1]
    return build_garment(
        _mesh(np.concatenate([uv, other]), np.concatenate([points, back]), ("",), (0, 0))
    )


@pytest.mark.parametrize(
    ("name", "word"),
    [("deck vest", "deck-vest"), ("con", "con-1"), ("x" * 99, "x" * 60), ("***", "garment")],
)
def test_the_garments_name_is_made_fit_for_files(name: str, word: str) -> None:
    assert garment_word(name) == word


def test_a_file_that_is_there_is_never_written_over(tmp_path: Path) -> None:
    mesh, recipe = tmp_path / "meshes" / "flag.obj", tmp_path / "flag.yaml"
    mesh.parent.mkdir()
    corners = "v 0 0 0\nv 90 0 0\nv 0 60 0\nvt 0 0\nvt 0.9 0\nvt 0 0.6\n"
    mesh.write_text(f"{corners}f 1/1 2/2 3/3\n", "utf-8")
    assert write_starter(mesh, recipe) == recipe
    assert "mesh: meshes/flag.obj" in recipe.read_text("utf-8")
    assert "90.0 x 60.0 x 0 cm" in recipe.read_text("utf-8")
    assert [panel.name for panel in read_garment(load(recipe).recipe).panels] == ["front"]
    recipe.write_text("mine", "utf-8")
    with pytest.raises(UserError, match="there already"):
        write_starter(mesh, recipe)
    assert recipe.read_text("utf-8") == "mine"


def test_a_mesh_without_an_ending_of_one_is_refused(tmp_path: Path) -> None:
    (tmp_path / "vest.txt").write_text("v 0 0 0\n", "utf-8")
    with pytest.raises(UserError, match=r"'vest\.txt' has no ending"):
        write_starter(tmp_path / "vest.txt", tmp_path / "vest.yaml")
    assert not (tmp_path / "vest.yaml").exists()


def _round_trip(mesh: Path, tmp_path: Path) -> None:
    made = read_garment(bare_recipe(mesh))
    path = write_starter(mesh, tmp_path / "new.yaml")
    assert same_panels(read_garment(load(path).recipe), made)


def test_starters_of_the_ferry_uniform_give_the_same_panels(tmp_path: Path) -> None:
    for mesh in write_meshes(tmp_path / "meshes"):
        _round_trip(mesh, tmp_path)
        (tmp_path / "new.yaml").unlink()


@pytest.mark.skipif(not SHARED.exists(), reason="needs the shared meshes")
@pytest.mark.parametrize(
    "name",
    [
        "apron-215-islands.obj",
        "hoodie.glb",
        "mask-mirrored.obj",
        "polo-2-materials.obj",
        "shirt-two-tiles.obj",
        "tee-4-panels.obj",
        "vest-folded.obj",
    ],
)
def test_starters_of_real_garments_give_the_same_panels(name: str, tmp_path: Path) -> None:
    _round_trip(SHARED / name, tmp_path)
