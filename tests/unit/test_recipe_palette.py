"""Tables of colourways: what spreadsheets write is read, and what is wrong has line and column."""

from pathlib import Path

import pytest

from texbake.errors import UserError, UserErrors
from texbake.recipe import Project, Recipe, fingerprint, load

BASE = """\
garment: vest
mesh: vest.obj
fabrics:
  drill: {weave: twill 2/1, warp: {colour: navy}}
  jersey: {knit: single jersey, yarn: {melange: {red: 50 %, tan: 50 %}}}
seams:
  - {name: sides, between: [all, all], thread: {colour: white, count: 40 tex}}
"""  # the next line is 8


def read(folder: Path, table: str | bytes, ways: str = "colourways: {from: dyes.csv}\n") -> Project:
    data = table if isinstance(table, bytes) else table.encode()
    (folder / "dyes.csv").write_bytes(data)
    (folder / "vest.yaml").write_text(BASE + ways, encoding="utf-8")
    return load(folder / "vest.yaml")


def told(folder: Path, table: str | bytes, ways: str = "colourways: {from: dyes.csv}\n") -> str:
    with pytest.raises(UserError) as caught:
        read(folder, table, ways)
    return str(caught.value).replace(f"{folder}/", "")


def warp(recipe: Recipe) -> str:
    yarn = recipe.fabrics["drill"].warp
    assert yarn is not None
    return yarn.colour.hex


def test_each_row_is_a_colourway_and_an_empty_cell_says_nothing(tmp_path: Path) -> None:
    found = read(tmp_path, "name,drill.warp.colour,seams.sides.thread\nsand,tan,\nbuoy,,red\n")
    assert list(found.colourways) == ["sand", "buoy"]
    sand, buoy = found.colourways.values()
    assert (warp(sand), warp(buoy)) == ("#d2b48c", "#000080")
    threads = [way.seams[0].thread for way in (sand, buoy)]
    assert [t.colour and t.colour.hex for t in threads] == ["#ffffff", "#ff0000"]
    assert [t.count_tex for t in threads] == [40.0, 40.0]  # a colour alone leaves the count


@pytest.mark.parametrize(
    "table",
    [
        "\ufeffname;drill.warp.colour\r\nsand;tan\r\n",
        "name\tdrill.warp.colour\nsand\ttan\n",
        'name,drill.warp.colour,\n"sand"," tan ",\n\n,,\n',
        "Colour name,drill.warp.color\nsand,tan",
    ],
)
def test_what_spreadsheets_write_is_read(tmp_path: Path, table: str) -> None:
    found = read(tmp_path, table)
    assert [(name, warp(way)) for name, way in found.colourways.items()] == [("sand", "#d2b48c")]


def test_cells_may_be_numbers_quantities_and_mappings(tmp_path: Path) -> None:
    table = "name,drill.warp.lustre,drill.scale,jersey.yarn.melange\n"
    table += 'a,60 %,4,"{""#fff"": 25 %, black: 75 %}"\n'
    way = read(tmp_path, table).colourways["a"]
    drill, yarn = way.fabrics["drill"], way.fabrics["jersey"].yarn
    assert drill.warp is not None
    assert yarn is not None
    assert yarn.melange is not None
    assert (drill.warp.lustre, drill.scale) == (0.6, 4.0)
    assert [(colour.hex, share) for colour, share in yarn.melange.parts] == [
        ("#000000", 0.75),
        ("#ffffff", 0.25),
    ]


def test_rows_build_on_others_and_on_what_the_entry_says(tmp_path: Path) -> None:
    ways = """\
colourways:
  base: {drill.weft.colour: red}
  dyed: {from: dyes.csv, like: base, drill.weft.lustre: 90 %}
"""
    table = "name,drill.warp.colour,like\na,tan,\nb,,a\n"
    found = read(tmp_path, table, ways)
    assert list(found.colourways) == ["base", "a", "b"]
    wefts = [way.fabrics["drill"].weft for way in found.colourways.values()]
    assert [(w.colour.hex, w.lustre) for w in wefts if w] == [
        ("#ff0000", 0.2),
        ("#ff0000", 0.9),
        ("#ff0000", 0.9),
    ]
    assert [warp(way) for way in found.colourways.values()] == ["#000080", "#d2b48c", "#d2b48c"]


def test_lines_of_a_row_lead_to_the_recipe_and_its_name_to_the_table(tmp_path: Path) -> None:
    found = read(tmp_path, "name,drill.warp.colour\nsand,tan\n")
    assert found.colourways["sand"].lines["fabrics.drill.warp.colour"] == 8
    assert found.colourways["sand"].lines["fabrics.drill.weave"] == 4
    assert "fabrics.drill.warp.colour" in found.colourways["sand"].lines
    assert "fabrics.drill.weft" not in found.colourways["sand"].lines
    assert set(found.colourways["sand"].lines) == set(found.recipe.lines) - {
        "colourways",
        "colourways.from",
        "colourways.sand",
    }
    assert found.recipe.lines["colourways.sand"] == 8


def test_a_table_is_no_part_of_the_recipe_s_own_files(tmp_path: Path) -> None:
    before = fingerprint(read(tmp_path, "name,drill.warp.colour\nsand,tan\n").recipe)
    assert fingerprint(read(tmp_path, "name,drill.warp.colour\nsand,red\n").recipe) == before


@pytest.mark.parametrize(
    ("table", "start", "part"),
    [
        ("", "dyes.csv:1: the table is empty", "the first row has name and paths"),
        ("name\na\n", "dyes.csv:1: the table has one column, 'name', and no paths", "first row"),
        ("name,drill.colour\n", "dyes.csv:1: the table has no rows", "a row for each"),
        ("name,drill.colour\n,\n\n", "dyes.csv:1: the table has no rows", "a row for each"),
        ("n,,drill.colour\na,b,red\n", "dyes.csv:1: column 2 has no heading", "first row"),
        ("n,drill.colour\na,red,1\n", "dyes.csv:2: the row 'a' has 3 cells", "write 2 cells"),
        ("n,colour,drill.colour\na,red\n", "dyes.csv:2: the row 'a' has 2 cells", "write 3 cells"),
        ("n,colour,colour\na,red,red\n", "dyes.csv:1: columns 2 and 3 are both 'colour'", "keep"),
        ("drill.colour,colour\nred,red\n", "dyes.csv:1: column 1 has the names", "in front"),
        ("n,drill.clour\na,red\n", "dyes.csv:1: column 2: path 'drill.clour'", "'drill.colour'?"),
        ("n,size\na,16\n", "dyes.csv:1: column 2: 'size' is the garment's", "changes colour"),
        ("n,colour\na,red\n\nb,bleu\n", "dyes.csv:4: column 2: colour: 'bleu' is no", "'blue'?"),
        ("n,colour\na,~\n", "dyes.csv:2: column 2: colour: empty", "write a colour"),
        ("n,colour,like\na,red,b\n", "dyes.csv:2: column 3: there is no colourway 'b'", "are: a"),
        ('n,colour\na,"red\n', "dyes.csv:2: this is no CSV", "check the quotes"),
        ("n,colour\na,{red: \n", "dyes.csv:2: column 2: '{red:': this is not YAML", "in quotes"),
        ("n,colour\na/b,red\n", "dyes.csv:2: column 1: 'a/b' cannot be part of", "'a-b'?"),
        ("n,colour\n.,red\n", "dyes.csv:2: column 1: '.' cannot be part of", "letters"),
        ("n,colour\nnul,red\n", "dyes.csv:2: column 1: 'nul' is the name of a device", "nul-1"),
        ("n,colour\nn\u0430vy,red\n", "dyes.csv:2: column 1: ", "2 is CYRILLIC SMALL LETTER A"),
        ("n,colour\ncr\u00e8me,red\n", "dyes.csv:2: column 1: 'cr\u00e8me' cannot", "'creme'?"),
        ("n,colour\na,red\nA,tan\n", "dyes.csv:3: column 1: the name differs from 'a' in", "other"),
        ("n,colour\na,red\na,tan\n", "dyes.csv:3: column 1: the name 'a' stands twice", "csv:2"),
        (b"n,colour\ncr\xe8me,red\n", "dyes.csv:2: byte 0xe8 is not UTF-8", "CSV in UTF-8"),
        ("n,colour\na,red\n".encode("utf-16"), "dyes.csv:1: this is UTF-16", "CSV in UTF-8"),
    ],
)
def test_mistakes_are_told_with_line_and_column(
    tmp_path: Path, table: str | bytes, start: str, part: str
) -> None:
    message = told(tmp_path, table)
    assert message.startswith(start), message
    assert part in message, message
    assert message.count("\n  fix: ") == 1, message


@pytest.mark.parametrize(
    ("name", "start", "part"),
    [
        ("dye.csv", "vest.yaml:8: from: there is no file dye.csv", "did you mean 'dyes.csv'?"),
        ("'a\\b.csv'", "vest.yaml:8: from: 'a\\\\b.csv' has \\ in it", "write a/b.csv"),
        (".", "vest.yaml:8: from: . is a folder", "name a file"),
        ("3", "vest.yaml:8: colourways.from: found 3", "write a mapping"),
    ],
)
def test_a_table_that_is_not_there_is_told_in_the_recipe(
    tmp_path: Path, name: str, start: str, part: str
) -> None:
    message = told(tmp_path, "n,colour\na,red\n", f"colourways: {{from: {name}}}\n")
    assert message.startswith(start), message
    assert part in message, message


def test_ten_thousand_wrong_rows_are_not_told_one_by_one(tmp_path: Path) -> None:
    rows = "".join(f"a{k},bleu{k}\n" for k in range(10_000))
    with pytest.raises(UserErrors) as caught:
        read(tmp_path, f"n,colour\n{rows}")
    assert len(caught.value.errors) < 60
    assert any("the rest is not looked at" in e.what for e in caught.value.errors)


def test_a_row_takes_a_small_part_of_what_a_recipe_takes(tmp_path: Path) -> None:
    rows = "".join(f"a{k},#{k:06x},lab({k % 60 + 20} 5 5),tan\n" for k in range(1000))
    found = read(tmp_path, f"n,drill.warp.colour,drill.weft.colour,seams.sides.thread\n{rows}")
    assert len(found.colourways) == 1000
    # Only by the short way is a cloth shared: 0.3 s for all, where from scratch they take 3 s.
    jerseys = [way.fabrics["jersey"] for way in found.colourways.values()]
    assert all(jersey is jerseys[0] for jersey in jerseys)


def test_more_than_the_most_colourways_are_refused(tmp_path: Path) -> None:
    rows = "".join(f"a{k},red\n" for k in range(20_001))
    assert "more than 20000 rows" in told(tmp_path, f"n,colour\n{rows}")
