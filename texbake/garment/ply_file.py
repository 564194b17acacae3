"""A PLY file's elements as columns of numbers, ASCII or binary.

Lists may differ in length from row to row, so elements with lists are read row by row (24,000
triangles: 0.05 s); all others at once.
Format: G. Turk, "The PLY Polygon File Format", Stanford 1994.
"""

import re
import struct
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType
from typing import Protocol

import numpy as np

from texbake.arrays import F64, I64
from texbake.errors import UserError

# To the letters that both struct and numpy use.
_OLD_NAMES = ("char", "uchar", "short", "ushort", "int", "uint", "float", "double")
_NEW_NAMES = ("int8", "uint8", "int16", "uint16", "int32", "uint32", "float32", "float64")
TYPES: Mapping[str, str] = MappingProxyType(
    dict(zip(_OLD_NAMES + _NEW_NAMES, "bBhHiIfd" * 2, strict=True))
)
ORDERS: Mapping[str, str] = MappingProxyType(
    {"ascii": "", "binary_little_endian": "<", "binary_big_endian": ">"}
)
AGAIN = "export it again as PLY with faces and UVs, or as OBJ"


@dataclass(frozen=True, slots=True, eq=False)
class Lists:
    """A column of lists: their lengths (N,), and all their numbers one after the other."""

    count: I64
    values: F64


Columns = Mapping[str, F64 | Lists]


@dataclass(frozen=True, slots=True)
class _Property:
    """A column: its number type, and for a list the type of its length."""

    name: str
    kind: str
    length: str | None


@dataclass(frozen=True, slots=True)
class _Element:
    name: str
    count: int
    properties: list[_Property]


class _Body(Protocol):
    """What follows the header, taken from front to back; EOFError where it ends too soon."""

    def take(self, kind: str, count: int) -> tuple[float, ...]:
        """Take numbers of one kind."""

    def block(self, element: _Element) -> Columns:
        """Take all of an element without lists."""


def read_tables(path: Path, data: bytes) -> dict[str, Columns]:
    """Read all elements of a PLY file.

    Returns
    -------
    dict of str to Columns
        By element and property; plain numbers as (N,) float64.

    Raises
    ------
    UserError
        If the header has mistakes (with the line), or the body does not hold what it promises.
    """
    elements, order, rest = _header(path, data)
    body: _Body = _Binary(order, rest) if order else _Ascii(rest.split())
    tables = {}
    for element in elements:
        try:
            lists = any(column.length for column in element.properties)
            tables[element.name] = _rows(body, element) if lists else body.block(element)
        except EOFError:
            what = f"the PLY is cut short: it ends within its {element.count} '{element.name}'"
            raise UserError(what, fix=f"copy it again, or {AGAIN}", path=path) from None
        except ValueError as error:
            what = f"element '{element.name}' of the PLY is wrong: {error}"
            raise UserError(what, fix=AGAIN, path=path) from None
    return tables


class _Ascii:
    """Numbers as words."""

    def __init__(self, words: list[bytes]) -> None:
        self._words, self._at = words, 0

    def take(self, kind: str, count: int) -> tuple[float, ...]:
        """Take numbers; their kind does not matter."""
        del kind
        end = self._at + count
        if end > len(self._words):
            raise EOFError
        words = self._words[self._at : end]
        self._at = end
        return tuple(map(float, words))

    def block(self, element: _Element) -> Columns:
        """Take all rows at once."""
        width = len(element.properties)
        values = np.array(self.take("", element.count * width), np.float64)
        rows = values.reshape(element.count, width)
        return {column.name: rows[:, k] for k, column in enumerate(element.properties)}


class _Binary:
    """Numbers as bytes, without padding."""

    def __init__(self, order: str, data: bytes) -> None:
        self._order, self._data, self._at = order, data, 0

    def take(self, kind: str, count: int) -> tuple[float, ...]:
        """Take numbers of one kind."""
        form = f"{self._order}{count}{kind}"
        start = self._move(struct.calcsize(form))
        return struct.unpack_from(form, self._data, start)

    def block(self, element: _Element) -> Columns:
        """Take all rows at once."""
        names = [f"{k}" for k in range(len(element.properties))]
        kinds = [self._order + column.kind for column in element.properties]
        row = np.dtype(list(zip(names, kinds, strict=True)))
        start = self._move(element.count * row.itemsize)
        rows = np.frombuffer(self._data, row, element.count if row.itemsize else 0, start)
        return {
            column.name: rows[name].astype(np.float64)
            for name, column in zip(names, element.properties, strict=True)
        }

    def _move(self, size: int) -> int:
        """Go past ``size`` bytes and return where they begin."""
        start = self._at
        if start + size > len(self._data):
            raise EOFError
        self._at += size
        return start


def _rows(body: _Body, element: _Element) -> Columns:
    """Take an element with lists, row by row. About 3 us a row with one list."""
    plain: dict[str, list[float]] = {c.name: [] for c in element.properties if not c.length}
    count: dict[str, list[int]] = {c.name: [] for c in element.properties if c.length}
    values: dict[str, list[float]] = {name: [] for name in count}
    for _ in range(element.count):
        for column in element.properties:
            if column.length is None:
                plain[column.name] += body.take(column.kind, 1)
                continue
            size = float(body.take(column.length, 1)[0])
            if size < 0.0 or not size.is_integer():
                raise ValueError(f"a list '{column.name}' of {size:g} numbers")
            count[column.name].append(int(size))
            values[column.name] += body.take(column.kind, int(size))
    lists = {
        name: Lists(np.array(count[name], np.int64), np.array(values[name], np.float64))
        for name in count
    }
    return {name: np.array(column, np.float64) for name, column in plain.items()} | lists


def _header(path: Path, data: bytes) -> tuple[list[_Element], str, bytes]:
    """Return the elements, the byte order ('<', '>' or '' for ASCII), and what follows."""
    end = re.search(rb"[\r\n]end_header[ \t]*(\r\n|\n|\r)", data)
    if end is None:
        raise UserError("the PLY is cut short: its header does not end", fix=AGAIN, path=path)
    order, elements = None, list[_Element]()
    lines = re.split(r"\r\n|\n|\r", data[: end.start()].decode("latin-1"))
    for number, line in enumerate(lines, 1):
        match line.split():
            case ["format", form, *_] if form in ORDERS:
                order = ORDERS[form]
            case ["element", name, count] if re.fullmatch("[0-9]{1,15}", count):
                elements.append(_Element(name, int(count), []))
            case ["property", "list", length, kind, name] if elements and _known(length, kind):
                elements[-1].properties.append(_Property(name, TYPES[kind], TYPES[length]))
            case ["property", kind, name] if elements and _known(kind):
                elements[-1].properties.append(_Property(name, TYPES[kind], None))
            case [] | ["ply" | "comment" | "obj_info", *_]:
                pass
            case _:
                what = f"the PLY's header has '{line[:60]}'"
                raise UserError(what, fix=AGAIN, path=path, line=number)
    if order is None:
        raise UserError("the PLY names no format in its header", fix=AGAIN, path=path)
    return elements, order, data[end.end() :]


def _known(*kinds: str) -> bool:
    return all(kind in TYPES for kind in kinds)
