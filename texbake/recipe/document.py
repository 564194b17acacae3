"""The JSON Schema and the reference of recipes, written from the models."""

from collections.abc import Iterator
from typing import Any

from texbake.recipe import (
    colourway_keys,
    crease_keys,
    delivery_keys,
    finish_keys,
    keys,
    models,
    panel_keys,
    print_keys,
    sewing_keys,
    structures,
    units,
)
from texbake.recipe.kinds import Kind
from texbake.recipe.messages import written
from texbake.recipe.shape import has_origin, inner_models
from texbake.recipe.shipped import fabric_names, fabrics_folder
from texbake.recipe.words import ColourText

Json = dict[str, Any]


def json_schema() -> Json:
    """Return the JSON Schema (draft 2020-12) of a recipe file, for editors."""
    schema = models.RecipeKeys.model_json_schema()
    schema = _share(schema, ColourText().json()["anyOf"])
    schema["$defs"] = {"Colour": ColourText().json(), **schema["$defs"]}
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        **schema,
        "title": "Texbake recipe",
    }


def _share(node: Any, forms: list[Json]) -> Any:  # noqa: ANN401  # any JSON
    """Replace each copy of the colour forms by a reference: 148 names stand once."""
    if isinstance(node, list):
        return [_share(item, forms) for item in node]
    if not isinstance(node, dict):
        return node
    if node.get("anyOf") == forms:
        rest = {k: v for k, v in node.items() if k not in {"anyOf", "type"}}
        return {"$ref": "#/$defs/Colour", **rest}
    return {key: _share(value, forms) for key, value in node.items()}


_SECTIONS: tuple[tuple[str, str, type[keys.Keys]], ...] = (
    ("The recipe", "", models.RecipeKeys),
    ("A weave", "fabrics.NAME, by its name", models.WeaveFabric),
    ("A drawn weave", "fabrics.NAME, drawn", models.DraftFabric),
    ("Warp and weft", "fabrics.NAME.warp, fabrics.NAME.weft", models.WovenYarn),
    ("A knit", "fabrics.NAME, knitted", models.KnitFabric),
    ("A drawn knit", "fabrics.NAME, charted", models.ChartFabric),
    ("A net", "fabrics.NAME, with holes", models.NetFabric),
    ("Knitting yarn", "fabrics.NAME.yarn of a knit", models.KnitYarn),
    ("A felt", "fabrics.NAME, matted", models.FeltFabric),
    ("Body of a felt", "fabrics.NAME.felt", models.FeltForm),
    ("Fibres of a felt", "fabrics.NAME.yarn of a felt", models.Fibre),
    ("A pile cloth", "fabrics.NAME, with pile", models.PileFabric),
    ("A skin", "fabrics.NAME, closed", models.SkinFabric),
    ("Surface of a skin", "fabrics.NAME.yarn of a skin", models.Finish),
    ("A finish", "fabrics.NAME.finish", finish_keys.FinishKeys),
    ("A panel", "panels.NAME", panel_keys.PanelKeys),
    ("A seam", "an entry of seams", sewing_keys.SeamKeys),
    ("A hem", "an entry of hems", sewing_keys.HemKeys),
    ("A detail", "an entry of details", sewing_keys.DetailKeys),
    ("Creases", "creases", crease_keys.CreaseKeys),
    ("A place of creases", "an entry of creases.places", crease_keys.CreasePlaceKeys),
    ("A print", "an entry of prints", print_keys.PrintKeys),
    ("A colourway", "colourways.NAME", colourway_keys.ColourwayKeys),
    ("Shades", "colourways.NAME.shades", colourway_keys.ShadesKeys),
    ("Delivery", "delivery", delivery_keys.DeliveryKeys),
    ("A packed map", "delivery.packed.NAME", delivery_keys.PackedKeys),
    ("Thread", "thread of seams, hems and details", sewing_keys.ThreadKeys),
)

_INTRO = """\
# Recipe reference

Written from the models in `texbake/recipe/models.py` by `python -m texbake.recipe`; a test keeps
it true. An editor that knows JSON Schema checks recipes with `texbake/recipe/recipe.schema.json`.

A recipe is YAML 1.2. The shortest:

```yaml
garment: tee
mesh: tee.obj
fabric: plain
colour: "#3d5a6c"
```

Colours that begin with `#` stand in quotes: without them YAML takes the rest of the line as a
comment. `color` may stand wherever `colour` does.
"""

_RULES = """
## Rules between keys

- A fabric has exactly one of `weave`, `draft`, `knit`, `chart`, `felt`, `pile`, `skin`, `net`.
  What it leaves open is as usual: see the table of usual cloths.
- `fabric` and the fabric of a panel name a key of `fabrics`, or a structure (`plain`,
  `twill 2/1 Z`, `satin 5/2`, `single jersey`, `rib 2x2`, `felt`), which is then the usual cloth.
  Where `fabric` is left out, it is the only one of `fabrics`, or the first in the alphabet.
- `include` brings fabrics from other files: a path from the recipe's folder with its `.yaml`
  (`fabrics/awning.yaml`), or the bare name of a fabric that comes with Texbake, see the table of
  shipped fabrics. Such a file has `fabrics` and nothing else. A fabric of the recipe with the same
  name is laid over the included one, key by key: `fabrics: {denim: {scale: 5}}` changes the
  scale alone. A yarn that gets another of `colour`, `melange`, `marl`, `order` loses the one it
  had. Two included files with the same fabric are a mistake.
- A yarn takes its colours from one of its `colour`, `melange`, `marl`, `order`; else from the sett
  of its fabric; else its colour is the fabric's, else the recipe's.
- `sett` and `order` are colours and numbers of yarns, from the left and from below, as in
  `navy 8 white 4`. A sett that turns round has a stroke where it turns, `navy/24 white 4 red/6`,
  and neither turning stripe is doubled. A colour is a name of the fabric's `colours`, or written as
  any other colour.
- `herringbone 2/2 8` is a twill whose bones are 8 ends wide.
- A panel needs at least one of `at`, `object`, `group`, `material`, `island`, `islands`. Where
  several are given, all must hold; `island` and `islands` exclude each other.
- `at` is written in the mesh's own unit and axes.
- `seams` left out: all seams, without visible stitches. `hems` left out: every open edge, 12 mm,
  lockstitched. `none` for either: nothing.
- Stitches 504, 514 and 516 go round a raw edge: a hem is then not turned in (`width`, `rows` and
  `from_edge` do not count), and a seam shows them only with `seen: inside`. Rows of two or more
  needles count from the needle that is nearest to the edge.
- Of several entries of `seams` or `hems` that fit a place, the one that names more panels counts,
  and of equals the last.
- `finish` lies in space, so seams and UV cuts do not show it. Which of it shifts the mean colour of
  plain cloth: `faded` takes dye (its K/S, after Kubelka and Munk) in proportion to the share of
  the sky that cloth faces, all of what is said where it lies face up, half where it hangs upright,
  none face down; `stone_washed` takes the colour 35 % of the way to that of the rubbed yarn at
  100 %, which is `core` with a trace (4 %) of the dye. `unlevel`, `garment_dyed`, `faded_edges`,
  `pressed` and `pilling` leave it. Crests of `creases` are rubbed and fade like ridges of seams.
  No standard gives numbers for these: pilling is graded by eye (ISO 12945), and so were they.
- A print has one of `picture`, `mask`. It is a square picture of a whole UV layout: that of
  `painted_on`, from which it is carried through space, or that of `mesh`. Unit and axes of
  `painted_on` are those of `mesh`, if the format is the same.
- Smaller sizes of `delivery` are filtered from the maps as baked, each as what it stands for: light
  as light, normals as slopes, and what slopes lose goes into roughness. Each has a gutter of its
  own, as wide in px. `--size` below a size of `delivery` stands for it.
- Values of a file: PNG and TIFF hold codes (albedo sRGB, all else linear; `record.json` has the mm
  of height); EXR holds linear light for albedo, vectors of -1 to 1 for normals, mm for height,
  shares of 0 to 1 for the rest. A packed EXR holds the same, channel by channel; each channel of
  a packed PNG or TIFF holds the code that the map itself has. A map of 16 bits is baked in 16.
- Where no cloth has holes, `opacity` is not delivered, and is white in packed maps.
- Island numbers and the entries of `seams`, `hems` and `prints` in paths are counted from 0.

## Colourways

A colourway maps paths to other values. A path is the keys on the way with dots between them, in
full (`fabrics.drill.warp.colour`, `seams.0.thread`) or from the name of a fabric or panel on
(`drill.warp.colour`). Entries of `seams`, `hems`, `details` and `prints` go by number, from 0, or
by their `name`: `seams.sides.thread` changes every seam that is called `sides`. The value takes the
place of the whole value there; but a colour in place of a thread leaves the rest of the thread, and
a yarn that gets another of `colour`, `melange`, `marl`, `order` loses the one it had. A colourway
changes `colour`, `fabric`, `fabrics`, `seams`, `hems`, `details`, `prints` and the fabric of
panels; all else is the garment's. A recipe without colourways has one, `standard`.

```yaml
colourways:
  slate: {}
  sand: {drill.warp.colour: "#b59b74", seams.sides.thread: "#6b5637"}
  dune: {like: sand, drill.weft.colour: "#d8cfb8"}    # sand, with another weft
```

A table has a row for each colourway: names in the first column, then a column for each path, which
the heading says; one headed `like` may be among them. It is CSV in UTF-8, with commas, semicolons
or tabs. An empty cell leaves what is there. `colourways: {from: palette.csv}` is short for an entry
with `from` alone, and other colourways may stand beside it.

```text
name,drill.warp.colour,drill.weft.colour,seams.sides.thread
sand,#b59b74,#d8cfb8,#6b5637
buoy,#b3352b,lab(52 60 38),
```

A list of colours (`each`) or a row of shades is an entry that makes many; their colour goes to all
paths of `set`. Other paths beside them hold for all. In `name`, `{colour}` is a colour's own name
in `each`, else its CSS name or six hexadecimal digits; `{lightness}` is L*, `{number}` counts.

```yaml
colourways:
  dyed:
    each: {sand: "#b59b74", buoy: "#b3352b"}
    set: [drill.warp.colour, drill.weft.colour]
  blue:                                         # blue-1 to blue-6, dark to light
    shades: {of: "#3d5a6c", count: 6, lightness: [25, 80]}
    set: drill.warp.colour
    tones:                                      # tone on tone
      drill.weft.colour: [8, 0, 0]              # the weft is lighter by 8 L*
      seams.sides.thread: [-12, 0, 0]
      jersey.yarn.melange: [15, 0, 0]           # as a whole: its mean is lighter by 15 L*
```

`tones` are differences of L*, a*, b* from the colour of `each` or `shades`, or from that at the
path `of`; so threads follow in a table too. Lab is that of `lab(L a b)`, relative to D50. Shades
keep hue and chroma and step evenly in L*. A colour that a screen cannot show keeps L* and hue and
loses chroma until sRGB holds it; the bake notes which, and the CIEDE2000 between the two.
"""


def reference_markdown() -> str:
    """Return ``recipes/REFERENCE.md``."""
    parts = [_INTRO]
    for title, where, model in _SECTIONS:
        parts.append("\n".join(_section(title, where, model)) + "\n")
    parts += ["\n".join(_quantities()) + "\n", "\n".join(_usual()) + "\n"]
    parts += [_ready(), _shipped(), _RULES.lstrip("\n")]
    return "\n".join(parts)


def _section(title: str, where: str, model: type[keys.Keys]) -> Iterator[str]:
    yield f"## {title}"
    yield ""
    about = " ".join((model.__doc__ or "").split())
    yield f"{about} Stands at: {where}." if where else about
    yield ""
    yield "| key | what | values | default | example |"
    yield "| --- | --- | --- | --- | --- |"
    for name, field in model.model_fields.items():
        key = field.alias or name
        cells = (f"`{key}`", field.description or "", _values(field), _default(field))
        shown = ", ".join(f"`{written(e)}`" for e in field.examples or [])
        yield f"| {' | '.join(cell.replace('|', chr(92) + '|') for cell in (*cells, shown))} |"


def _values(field: Any) -> str:  # noqa: ANN401  # pydantic's FieldInfo
    """Say what may be written, by the kind of the field or the models it leads to."""
    kind = next((m for m in field.metadata if isinstance(m, Kind)), None)
    if kind is not None:
        return kind.words
    inner = inner_models(field.annotation)
    if not inner:
        colours = has_origin(field.annotation, dict) and "Colour" in str(field.annotation)
        return "mapping of colours to shares" if colours else "mapping of names to mappings"
    names = " or ".join(dict.fromkeys(model.noun for model in inner))
    if has_origin(field.annotation, list):
        return f"list: {names}; or none"
    return f"mapping of names: {names}" if has_origin(field.annotation, dict) else names


def _default(field: Any) -> str:  # noqa: ANN401  # pydantic's FieldInfo
    """Write the default as a recipe would."""
    if field.is_required():
        return "**needed**"
    if field.default_factory is not None or field.default is None:
        return ""
    return f"`{written(field.default)}`"


def _quantities() -> Iterator[str]:
    yield "## Quantities"
    yield ""
    yield "A number and its unit, as text. A number without a unit is a mistake, except for"
    yield "shares (0 to 1) and ends and picks (per cm). Lengths may be fractions: `1 1/4 in`. In"
    yield "`Ne 40/2` and `Nm 50/2` the second number is that of plies."
    yield ""
    yield "| quantity | units |"
    yield "| --- | --- |"
    for quantity in units.QUANTITIES:
        yield f"| {quantity.name} | {', '.join(f'`{u}`' for u in quantity.all_units)} |"


def _usual() -> Iterator[str]:
    yield "## Usual cloths"
    yield ""
    yield "| structure | cloth | warp or yarn | ends or wales | weft | picks or courses |"
    yield "| --- | --- | --- | --- | --- | --- |"
    rows = (
        ("plain, crepe, drafts", structures.PLAIN_CLOTH),
        ("twill", structures.DRILL),
        ("satin; sateen turned over", structures.SATEEN),
        ("basket", structures.HOPSACK),
        ("warp rib; weft rib turned", structures.REP),
        ("herringbone", structures.HERRINGBONE),
        ("single jersey", structures.T_SHIRT),
        ("rib 1x1", structures.FINE_RIB),
        ("other ribs", structures.CUFF_RIB),
        ("interlock", structures.INTERLOCK),
        ("moss, charts", structures.JUMPER),
        ("purl", structures.PURL),
        ("cable", structures.CABLED),
        ("French terry", structures.TERRY),
        ("eyelet", structures.EYELET),
    )
    for name, usual in rows:
        first = f"{usual.first_tex:.3g} tex | {usual.first_per_cm:.3g} /cm"
        second = f"{usual.second_tex:.3g} tex | {usual.second_per_cm:.3g} /cm"
        yield f"| {name} | {usual.cloth} | {first} | {second} |"
    yield ""
    yield "Felt is 2 mm thick. Sources are in `texbake/recipe/structures.py`."


def _shipped() -> str:
    """Return the table of the fabrics that ``include`` knows by name, from their first lines."""
    rows = ["## Shipped fabrics", ""]
    rows += ["`include` knows them by name; their files say their sources.", ""]
    rows += ["| name | cloth |", "| --- | --- |"]
    for name in fabric_names():
        first = (fabrics_folder() / f"{name}.yaml").read_text(encoding="utf-8").split("\n")[0]
        rows.append(f"| [`{name}`](fabrics/{name}.yaml) | {first.removeprefix('# ')} |")
    return "\n".join(rows) + "\n"


def _ready() -> str:
    """Return the table of ready-made deliveries."""
    rows = ["## Ready-made deliveries", ""]
    rows += [
        "`delivery: NAME`, or `delivery: {ready: NAME, ...}` with other keys laid over it.",
        "",
    ]
    rows += ["| name | what it writes |", "| --- | --- |"]
    rows += [f"| `{name}` | {what} |" for name, (_, what) in delivery_keys.READY.items()]
    return "\n".join(rows) + "\n"
