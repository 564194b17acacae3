"""The cloths of ``recipes/FABRICS.md``: one for every structure, as a recipe would write it.

What a sample leaves out is as usual for its structure (`recipe.structures`). Colours are those of
the uniforms of the Lantern Bay ferry.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from texbake.recipe import Fabric, loads
from texbake.recipe.shipped import fabric_names, fabrics_folder

SHIPPED = "Twelve fabrics ready to use"


@dataclass(frozen=True, slots=True, kw_only=True)
class Sample:
    """One cloth of the page.

    Attributes
    ----------
    key : str
        Name of its picture, without folder and ending.
    title, group : str
    text : str
        The lines to copy into a recipe.
    source : str
        Where the figures are from.
    fabric : Fabric
    """

    key: str
    title: str
    group: str
    text: str
    source: str
    fabric: Fabric


# Groups, and in each its cloths: title, source, and what stands under the fabric's name.
_OWN = """\
## Weaves

# plain
# Ne 32 x 32 / 68 x 68, quoted by a trader
weave: plain
colour: "#b9c9d6"

# basket 2x2
# hopsack Ne 20 x 20 / 76 x 64, common practice, no source
weave: basket 2x2
colour: "#c8b48a"

# warp rib 2/2
# poplin's setting, Ne 40 x 40 / 133 x 72: amzfabric.com, What is poplin fabric
weave: warp rib 2/2
colour: "#3a4a63"

# weft rib 2/2
# poplin's setting turned round
weave: weft rib 2/2
colour: "#7d4a3f"

# twill 2/1 Z
# drill Ne 20 x 16 / 108 x 56, quoted by traders: Fabric Notes, scribd.com/document/50357247
weave: twill 2/1 Z
colour: "#22324d"

# twill 2/2 S
# worsted suiting, common practice, no source
weave: twill 2/2 S
colour: "#55606b"
warp: {count: Nm 32/2, ply: 2, per_cm: 20}
weft: {count: Nm 32/2, ply: 2, per_cm: 18}

# herringbone 2/2 8
# Ne 16 x 16 / 64 x 56, common practice, no source
weave: herringbone 2/2 8
warp: {count: Ne 16, per_cm: 25.2, colour: "#4b4f57"}
weft: {count: Ne 16, per_cm: 22, colour: "#a9abab"}

# satin 8/3
# lining of filament yarn, common practice, no source
weave: satin 8/3
colour: "#7a2733"
warp: {count: 8 tex, per_cm: 96, lustre: 100 %, hair: 0, irregularity: 3 %}
weft: {count: 11 tex, per_cm: 40, lustre: 100 %, hair: 0, irregularity: 3 %}

# sateen 5/2
# dress sateen Ne 40 x 40 / 86 x 135, from memory
weave: sateen 5/2
colour: "#d9cdb8"

# crepe
# dress crepe, common practice, no source
weave: crepe
colour: "#6b5a6e"
warp: {count: Ne 40, per_cm: 30}
weft: {count: Ne 40, per_cm: 26}

# a drawn weave
# a fancy twill of our own; Ne 20 both ways, common practice, no source
draft: [xx..x..x, xxx..x.., .xxx..x., ..xxx..x, x..xxx.., .x..xxx., ..x..xxx, x..x..xx]
warp: {count: Ne 20, per_cm: 24, colour: "#2f3d36"}
weft: {count: Ne 20, per_cm: 22, colour: "#b7b08f"}

## Colours and yarns

# houndstooth
# four dark, four light both ways in a twill 2/2; wool of Nm 20/2, common practice, no source
weave: twill 2/2 Z
colours: {soot: "#23252b", fog: "#d5d8da"}
sett: soot 4 fog 4
warp: {count: Nm 20/2, ply: 2, per_cm: 14}
weft: {count: Nm 20/2, ply: 2, per_cm: 13}

# striped shirting
# Ne 60 x 60 / 120 x 76: sixdragontex.com, Clothing fabrics
weave: plain
colours: {sea: "#3f6285", chalk: "#e9ebea"}
warp: {count: Ne 60, per_cm: 47.2, order: sea 30 chalk 30}
weft: {count: Ne 60, per_cm: 29.9, colour: "#e9ebea"}

# marled wool
# homespun of two plies, common practice, no source
weave: plain
warp: {count: 84 tex, ply: 2, per_cm: 10, marl: ["#c9c2b0", "#4a4038"]}
weft: {count: 84 tex, ply: 2, per_cm: 9.5, marl: ["#c9c2b0", "#4a4038"]}

# slub linen
# shirt linen, common practice, no source; slubs by eye
weave: plain
colour: "#c4b797"
warp: {count: 42 tex, per_cm: 15, slub: 45 %, irregularity: 22 %}
weft: {count: 42 tex, per_cm: 14, slub: 60 %, irregularity: 22 %}

# metallic weft
# drawn by eye, no source
weave: plain
colour: "#1f2a44"
warp: {count: Ne 40, per_cm: 30}
weft: {count: 14 tex, per_cm: 26, colour: "#c9a85a", metallic: true, hair: 0}

# space-dyed jersey
# common practice, no source; colours by eye
knit: single jersey
yarn: {count: Ne 20, spaced: 25 mm, melange: {"#33506e": 40 %, "#8aa3b5": 35 %, "#d8dadb": 25 %}}
wales: 12 /cm
courses: 16 /cm

## Knits

# single jersey
# Ne 30; Munden 1959 with loops of 2.7 mm
knit: single jersey
colour: "#b23a2e"
wales: 14 /cm
courses: 18 /cm

# single jersey back
# as single jersey
knit: single jersey back
colour: "#b23a2e"
wales: 14 /cm
courses: 18 /cm

# rib 1x1
# Ne 30, 20 x 15 to the cm, from memory
knit: rib 1x1
colour: "#d9d4c7"

# rib 2x2
# cuff, Ne 20, 14 x 14, common practice, no source
knit: rib 2x2
colour: "#22324d"

# interlock
# Ne 40, 15 x 17, from memory
knit: interlock
colour: "#8fa08c"

# moss
# jumper, Ne 10, 8 x 11, common practice, no source
knit: moss
colour: "#a88f6a"

# purl
# jumper, Ne 10, 8 x 15, common practice, no source
knit: purl
colour: "#5d6f7c"

# cable 3x3
# heavy jumper, Ne 4, 5 x 7, common practice, no source
knit: cable 3x3
colour: "#e0d8c4"

# a drawn knit
# basket stitch; jumper, Ne 10, 8 x 11, common practice, no source
chart: [kkkppp, kkkppp, kkkppp, pppkkk, pppkkk, pppkkk]
colour: "#6f4b3e"

# french terry back
# Ne 28, 12 x 16, from memory
knit: french terry back
colour: "#9a9ea1"

## Felt, pile and skins

# felt
# drawn by eye, no source
felt: plain
colour: "#4a5d4f"

# fleece
# drawn by eye, no source
pile: fleece
colour: "#b8452f"

# corduroy 16
# fine wale, common practice, no source
pile: corduroy 16
colour: "#5a3b57"

# towelling
# 11 pile ends and 6 rows of loops to the cm, common practice, no source
pile: towelling
colour: "#dfe6e4"

# leather
# drawn by eye, no source
skin: leather
colour: "#5b3a29"

# coated
# drawn by eye, no source
skin: coated
colour: "#d9a427"

## Nets

# tulle
# meshes of 1.6 mm, common practice, no source
net: tulle
colour: "#e9e4da"

# eyelet
# sports knit, Ne 30, 14 x 18, common practice, no source
net: eyelet
colour: "#cfd6d9"
"""


def samples() -> tuple[Sample, ...]:
    """All cloths of the page, in its order."""
    return (*_own(), *_shipped())


def _own() -> Iterator[Sample]:
    """One cloth for each structure."""
    for part in _OWN.split("## ")[1:]:
        group, *blocks = part.strip().split("\n\n")
        for block in blocks:
            title, source, *body = block.splitlines()
            yield _sample(group, title.removeprefix("# "), source.removeprefix("# "), body)


def _sample(group: str, title: str, source: str, body: list[str]) -> Sample:
    key = title.removeprefix("a ").replace("/", "-").replace(" ", "-").lower()
    text = "\n".join(["fabrics:", f"  {key}:", *(f"    {line}" for line in body), ""])
    return Sample(
        key=key, title=title, group=group, text=text, source=source, fabric=_read(text)[key]
    )


def _shipped() -> Iterator[Sample]:
    """The fabrics that come with Texbake, with their files' own words for sources."""
    for name in fabric_names():
        text = f"include: {name}\n"
        file = (fabrics_folder() / f"{name}.yaml").read_text(encoding="utf-8")
        head = [line.lstrip("# ") for line in file.split("fabrics:")[0].splitlines()]
        yield Sample(
            key=f"shipped-{name}",
            title=name,
            group=SHIPPED,
            text=text,
            source=" ".join(head),
            fabric=_read(text)[name],
        )


def _read(text: str) -> dict[str, Fabric]:
    """Fabrics of a recipe that has only these lines beside what every recipe needs."""
    project = loads(f"garment: page\nmesh: none.obj\n{text}", Path("page.yaml"))
    return dict(project.recipe.fabrics)
