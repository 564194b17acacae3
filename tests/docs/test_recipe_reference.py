"""The reference and the schema say what the models say, and let right recipes pass."""

import json
import re
from pathlib import Path
from typing import Any

import pytest

from texbake.recipe import (
    colourway_keys,
    crease_keys,
    delivery_keys,
    json_schema,
    keys,
    loads,
    models,
    reference_markdown,
    sewing_keys,
)
from texbake.recipe.__main__ import REFERENCE, SCHEMA, write
from texbake.recipe.document import _SECTIONS
from texbake.recipe.tree import parse, plain

ROOT = Path(__file__).resolve().parents[2]
PATH = Path("vest.yaml")
RIGHT = [
    'garment: tee\nmesh: tee.obj\nfabric: plain\ncolour: "#3d5a6c"\n',
    "garment: tee\nmesh: tee.obj\nfabric: felt\ncolor: DarkSlateGray\nseams: none\nhems: []\n",
    """\
garment: ferry-vest
mesh: meshes/ferry-vest.glb
mesh_unit: m
up: -z
tile: [1, 0]
normal_bits: 16
file_name: "{map}_{garment}"
colour: lab(46 -20 10)
fabrics:
  drill:
    weave: twill 2/1 Z
    colour: "#FFF"
    warp: {count: Ne 40/2, per_cm: 24, colour: navy, twist: S}
    weft: {count: 34.5 tex, per_cm: 60 /in, irregularity: 0.1, lustre: 60 %}
    scale: 4
  twilled: {draft: ["xx.", ".xx", "x.x"]}
  lining:
    knit: rib 2x2
    yarn: {count: 170 dtex, melange: {"#e8e4dc": 60 %, tan: 0.4}, metallic: false}
    wales: 14 /cm
    courses: 18/cm
  pad: {felt: {thickness: 1/8 in}, yarn: {color: red}}
  pad2: {felt: plain}
panels:
  front: {at: [0, 120.5, -14], fabric: drill, grain: -15 deg}
  back: {islands: [2, 5], object: vest, group: g, material: m}
  yoke: {island: 3, grain: 0.2 rad, fabric: single jersey}
seams:
  - {between: [front, back], stitch: 301, rows: 2, length: 2.5 mm, thread: "#d8cfb8", side: back}
  - {between: [all, yoke], stitch: none, groove: 0.02 in, thread: {color: red, count: 60 tex}}
hems:
  - {on: all, width: 1 1/4 in, stitch: "301", fold: 1 mm, scale: 2.5}
  - {on: [front, back], from_edge: 0 mm, spacing: .25 in}
colourways:
  slate: {}
  plain:
  sand: {drill.warp.colour: "#b59b74", seams.0.rows: 1}
""",
]
WRONG = [
    ("size: 17", "size"),
    ("fabric: 3", "fabric"),
    ("colour: bleu", "colour"),
    ("hems: [{width: 12}]", "hems"),
    ("hems: [{widht: 12 mm}]", "hems"),
    ("fabrics: {f: {weave: twil 2/1}}", "fabrics"),
    ("fabrics: {f: {weave: plain, wales: 3 /cm}}", "fabrics"),
    ("panels: {p: {at: [1, 2]}}", "panels"),
    ("sizze: 16", "sizze"),
]


def accepts(schema: dict[str, Any], value: Any, root: dict[str, Any]) -> bool:
    """Check a value by the keywords of JSON Schema that ours uses (draft 2020-12)."""
    linked = schema.get("$ref", "").split("/")[-1]
    any_of, one_of = schema.get("anyOf"), schema.get("oneOf")
    rules = (
        not linked or accepts(root["$defs"][linked], value, root),
        is_a(schema.get("type"), value),
        "enum" not in schema or value in schema["enum"],
        "const" not in schema or value == schema["const"],
        any_of is None or any(accepts(s, value, root) for s in any_of),
        one_of is None or sum(accepts(s, value, root) for s in one_of) == 1,
    )
    return all(rules) and inside(schema, value, root)


def is_a(kind: str | None, value: Any) -> bool:
    kinds: dict[str, tuple[type, ...]] = {
        "object": (dict,),
        "array": (list,),
        "string": (str,),
        "boolean": (bool,),
        "null": (type(None),),
        "integer": (int,),
        "number": (int, float),
    }
    truth = isinstance(value, bool) and kind != "boolean"
    return kind is None or (isinstance(value, kinds[kind]) and not truth)


def inside(schema: dict[str, Any], value: Any, root: dict[str, Any]) -> bool:
    match value:
        case str():
            long = schema.get("minLength", 0) <= len(value) <= schema.get("maxLength", 1e9)
            return long and bool(re.search(schema.get("pattern", ""), value))
        case bool() | None:
            return True
        case int() | float():
            return bool(schema.get("minimum", -1e99) <= value <= schema.get("maximum", 1e99))
        case list():
            fits = schema.get("minItems", 0) <= len(value) <= schema.get("maxItems", 1e9)
            return fits and all(accepts(schema.get("items", {}), v, root) for v in value)
        case _:
            return mapping(schema, value, root)


def mapping(schema: dict[str, Any], value: dict[str, Any], root: dict[str, Any]) -> bool:
    if not set(schema.get("required", [])) <= value.keys():
        return False
    names = schema.get("propertyNames", {})
    if not all(accepts({"type": "string", **names}, key, root) for key in value):
        return False
    for key, item in value.items():
        specs = [spec for spec in (schema.get("properties", {}).get(key),) if spec is not None]
        patterns = schema.get("patternProperties", {}).items()
        specs += [spec for pattern, spec in patterns if re.search(pattern, key)]
        rest = schema.get("additionalProperties", True)
        if not specs and rest is False:
            return False
        specs = specs or ([rest] if isinstance(rest, dict) else [])
        if not all(accepts(spec, item, root) for spec in specs):
            return False
    return True


@pytest.mark.parametrize("text", RIGHT)
def test_the_schema_lets_right_recipes_pass(text: str) -> None:
    loads(text, PATH)
    schema = json_schema()
    assert accepts(schema, plain(parse(text, PATH)[0]), schema)


@pytest.mark.parametrize(("line", "key"), WRONG)
def test_the_schema_flags_wrong_recipes(line: str, key: str) -> None:
    schema = json_schema()
    data = plain(parse(f"garment: tee\nmesh: tee.obj\n{line}\n", PATH)[0])
    assert not accepts(schema, data, schema)
    del data[key]
    assert accepts(schema, data, schema)


def test_the_schema_uses_only_keywords_that_these_tests_check() -> None:
    known = {"$ref", "additionalProperties", "anyOf", "const", "enum", "items", "maxItems"}
    known |= {"maxLength", "maximum", "minItems", "minLength", "minimum", "oneOf", "pattern"}
    known |= {"patternProperties", "properties", "propertyNames", "required", "type"}
    notes = {"title", "description", "default", "examples", "$schema", "$defs", "uniqueItems"}

    def keywords(node: Any) -> set[str]:
        if isinstance(node, list):
            return set().union(*map(keywords, node))
        if not isinstance(node, dict):
            return set()
        below = [v for k, v in node.items() if k not in {"default", "examples", "enum", "const"}]
        named = ("properties", "patternProperties", "$defs")
        maps = [v for k in named for v in node.get(k, {}).values()]
        plain_below = [v for k, v in node.items() if k not in named and v in below]
        return set(node) | set().union(*map(keywords, maps + plain_below))

    assert keywords(json_schema()) <= known | notes


def test_the_files_in_the_project_are_what_the_models_say() -> None:
    assert (ROOT / REFERENCE).read_text(encoding="utf-8") == reference_markdown()
    assert json.loads((ROOT / SCHEMA).read_text(encoding="utf-8")) == json_schema()


def test_writing_gives_both_files(tmp_path: Path) -> None:
    for name in (REFERENCE, SCHEMA):
        (tmp_path / name).parent.mkdir(parents=True)
    write(tmp_path)
    for name in (REFERENCE, SCHEMA):
        assert (tmp_path / name).read_bytes() == (ROOT / name).read_bytes()


def test_every_model_and_every_key_is_in_the_reference() -> None:
    shown = {model for _, _, model in _SECTIONS}
    bases = {keys.Keys, models.Cloth, models.Looped, models.WovenFabric, sewing_keys.Stitching}
    found = {
        m
        for module in (models, sewing_keys, crease_keys, colourway_keys, delivery_keys)
        for m in vars(module).values()
        if isinstance(m, type) and issubclass(m, keys.Keys)
    }
    assert found - bases == shown
    text = reference_markdown()
    for model in shown:
        for key, field in model.model_fields.items():
            assert f"| `{field.alias or key}` | {field.description} |" in text


def test_every_recipe_in_the_reference_is_right() -> None:
    blocks = re.findall(r"```yaml\n(.*?)```", reference_markdown(), re.DOTALL)
    assert len(blocks) == 3
    cloth = """\
fabrics:
  drill: {weave: twill 2/1}
  jersey: {knit: single jersey, yarn: {melange: {"#aeb4b5": 60 %, "#8d9496": 40 %}}}
seams: [{between: [all, all], name: sides}]
"""
    loads(blocks[0], PATH)
    first = loads(blocks[0] + cloth + blocks[1], PATH)
    assert list(first.colourways) == ["slate", "sand", "dune"]
    many = loads(blocks[0] + cloth + blocks[2], PATH)
    assert list(many.colourways) == ["sand", "buoy", *(f"blue-{k}" for k in range(1, 7))]


def example_lines(model: type[keys.Keys]) -> list[str]:
    rows = re.findall(r"^\| `(\w+)` .* \| (.*) \|$", section(model), re.MULTILINE)
    return [f"{key}: {value}" for key, cell in rows for value in re.findall(r"`([^`]+)`", cell)]


def section(model: type[keys.Keys]) -> str:
    title = next(title for title, _, shown in _SECTIONS if shown is model)
    return reference_markdown().split(f"\n## {title}\n")[1].split("\n## ")[0]


WHERE = {
    models.WovenYarn: "fabrics: {{drill: {{weave: plain, warp: {{{}}}}}}}",
    models.KnitYarn: "fabrics: {{drill: {{knit: rib 1x1, yarn: {{{}}}}}}}",
    models.Fibre: "fabrics: {{drill: {{felt: plain, yarn: {{{}}}}}}}",
    models.FeltForm: "fabrics: {{drill: {{felt: {{{}}}}}}}",
    sewing_keys.ThreadKeys: "hems: [{{thread: {{{}}}}}]",
    sewing_keys.HemKeys: "hems: [{{{}}}]",
}


@pytest.mark.parametrize("model", WHERE)
def test_every_example_in_the_reference_is_read(model: type[keys.Keys]) -> None:
    lines = example_lines(model)
    assert lines
    for line in lines:
        needs = "construction: bound, " if line.startswith("cloth:") else ""
        keys_there = WHERE[model].format(needs + line)
        loads(f"garment: tee\nmesh: tee.obj\nfabric: plain\n{keys_there}\n", PATH)
