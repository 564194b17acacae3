"""Tables of colourways: CSV as spreadsheets write it, every cell with its line and column."""

import csv
import io
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from texbake.errors import UserError
from texbake.recipe.colourway_keys import MOST
from texbake.recipe.include import marked
from texbake.recipe.mistake import nearest, shown
from texbake.recipe.tree import Node, parse, resolve

MAX_BYTES: Final = 16 * 1024 * 1024
_FIX: Final = "the first row has name and paths: name,drill.warp.colour,seams.sides.thread"
_MARKS: Final = (b"\xff\xfe", b"\xfe\xff")  # UTF-16, as spreadsheets write "Unicode text"


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One colourway of a table: its name, and the cells that say something."""

    name: str
    line: int
    cells: Mapping[str, Node]


@dataclass(frozen=True, slots=True)
class _Sheet:
    """A table, and the line of the recipe that names it."""

    path: Path
    home: int

    def wrong(self, what: str, fix: str, line: int | None) -> UserError:
        return UserError(what, fix=fix, path=self.path, line=line)


def read_palette(path: Path, home: int) -> tuple[list[Row], list[UserError]]:
    """Read a table of colourways.

    Parameters
    ----------
    path : Path
        CSV in UTF-8, with commas, semicolons or tabs; the first row is the heading, the first
        column the names. An empty cell says nothing.
    home : int
        The line of the recipe that names it.

    Returns
    -------
    list of Row
        In the order of the file.
    list of UserError
        What is wrong with rows, each with file, line and column.

    Raises
    ------
    UserError
        The file cannot be read at all, or its heading not be used.
    """
    sheet = _Sheet(path, home)
    lines = _records(sheet, _text(sheet))
    first, heading = next(lines, (1, []))
    heads = _heads(sheet, heading, first)
    rows, errors = [], []
    for line, cells in lines:
        if not any(cells):
            continue
        found = _row(sheet, heads, cells, line, first)
        if isinstance(found, UserError):
            errors.append(found)
        else:
            rows.append(found)
        if len(rows) > MOST:
            raise sheet.wrong(f"more than {MOST} rows", "make several recipes of it", line)
    if not rows and not errors:
        raise sheet.wrong("the table has no rows", "write a row for each colourway", first)
    return rows, errors


def place_of(text: str, recipe: Path, line: int) -> Path:
    """Return the file that ``from`` means.

    Raises
    ------
    UserError
        There is none.
    """
    if "\\" in text:
        fix = f"write {text.replace(chr(92), '/')}"
        raise UserError(f"from: {text!r} has \\ in it", fix=fix, path=recipe, line=line)
    where = recipe.parent / text
    if where.is_file():
        return where
    if where.is_dir():
        fix = "name a file in it"
        raise UserError(f"from: {text} is a folder", fix=fix, path=recipe, line=line)
    folder = where.parent
    files = sorted(p.name for p in folder.glob("*.csv")) if folder.is_dir() else []
    near = nearest(where.name, files)
    there = f"; there: {', '.join(files[:12])}" if files else ""
    fix = "paths begin at the recipe's folder"
    fix += there if near is None else f"; did you mean {near!r}?"
    raise UserError(f"from: there is no file {text}", fix=fix, path=recipe, line=line)


def _text(sheet: _Sheet) -> str:
    try:
        with sheet.path.open("rb") as file:
            data = file.read(MAX_BYTES + 1)
    except OSError as error:
        fix = "check that you may read it"
        raise sheet.wrong(f"cannot be read: {error.strerror}", fix, None) from None
    if len(data) > MAX_BYTES:
        raise sheet.wrong("the table is too large", "a table has at most 16 MiB", None)
    fix = "save it as CSV in UTF-8 (spreadsheets ask for the encoding when saving)"
    if data.startswith(_MARKS):
        raise sheet.wrong("this is UTF-16, not UTF-8", fix, 1)
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise sheet.wrong(f"byte 0x{data[error.start]:02x} is not UTF-8", fix, line) from None


def _records(sheet: _Sheet, text: str) -> Iterator[tuple[int, list[str]]]:
    """Give each record with the line that it begins in, blanks around cells taken off."""
    head = text.split("\n", 1)[0]
    mark = max(",;\t", key=head.count)
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=mark, strict=True)
    line = 0
    try:
        for cells in reader:
            yield line + 1, [cell.strip() for cell in cells]
            line = reader.line_num
    except csv.Error as error:
        fix = 'check the quotes: a cell begins and ends with ", and " inside it is written ""'
        raise sheet.wrong(f"this is no CSV: {error}", fix, line + 1) from None


def _heads(sheet: _Sheet, heading: list[str], line: int) -> list[str]:
    """Check the heading; empty columns at its end, as spreadsheets leave them, are none."""
    heads = list(heading)
    while heads and not heads[-1]:
        heads.pop()
    if not heads:
        raise sheet.wrong("the table is empty", _FIX, line)
    if "." in heads[0]:
        what = f"column 1 has the names, and this one is headed {shown(heads[0])}"
        raise sheet.wrong(what, f"put a column of names in front; {_FIX}", line)
    if len(heads) == 1:
        raise sheet.wrong(f"the table has one column, {shown(heads[0])}, and no paths", _FIX, line)
    for number, head in enumerate(heads, start=1):
        if not head:
            raise sheet.wrong(f"column {number} has no heading", _FIX, line)
        if head in heads[: number - 1]:
            twice = heads.index(head) + 1
            what = f"columns {twice} and {number} are both {shown(head)}"
            raise sheet.wrong(what, "keep one of them", line)
    return heads


def _row(
    sheet: _Sheet, heads: list[str], cells: list[str], line: int, head_line: int
) -> Row | UserError:
    while len(cells) > len(heads) and not cells[-1]:
        cells.pop()
    if len(cells) != len(heads):
        more = "a cell with the separator in it stands in quotes"
        fix = f"write {len(heads)} cells, empty ones too; {more}"
        what = f"the row {shown(cells[0])} has {len(cells)} cells, the heading {len(heads)}"
        if len(cells) > len(heads):
            what += f": column {len(heads) + 1} has no heading"
        return sheet.wrong(what, fix, line)
    found: dict[str, Node] = {}
    for number, (head, text) in enumerate(zip(heads, cells, strict=True), start=1):
        if number > 1 and text:
            place = f"column {number}"
            try:
                value = _value(sheet, text, line)
            except UserError as error:
                return sheet.wrong(f"{place}: {error.what}", error.fix, line)
            node = Node(value, line, head_line, "", sheet.path, sheet.home, place)
            found[head] = node if isinstance(value, (str, int, float)) else _brought(sheet, node)
    return Row(name=cells[0], line=line, cells=found)


def _brought(sheet: _Sheet, node: Node) -> Node:
    return marked(node, sheet.path, sheet.home)


def _value(sheet: _Sheet, text: str, line: int) -> object:
    """Return what a cell means: a scalar as YAML has it, or a list or mapping in brackets."""
    if text[0] not in "[{":
        return resolve(text)
    try:
        tree, wrong = parse(f"cell: {text}", sheet.path)
    except UserError as error:
        fix = 'write it as in a recipe, in quotes where it has commas: "{red: 50 %, tan: 50 %}"'
        raise sheet.wrong(f"{shown(text)}: {error.what}", fix, line) from None
    if wrong:
        raise sheet.wrong(wrong[0].what, wrong[0].fix, line)
    return _moved(tree.value["cell"], line).value


def _moved(node: Node, line: int) -> Node:
    """Return a node, and all below it, in another line."""
    value = node.value
    if isinstance(value, dict):
        value = {key: _moved(below, line) for key, below in value.items()}
    elif isinstance(value, list):
        value = [_moved(below, line) for below in value]
    return Node(value, line, line)
