"""YAML text to a tree of values that know their lines.

The tree is built straight from the parser's events, so that nothing is constructed before it is
counted: nesting, the number of values and what aliases expand to are limited, which takes the
harm out of hostile files. Plain scalars follow the core schema of YAML 1.2: ``on`` and ``yes``
are words, not truth values.
"""

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from texbake.errors import UserError
from texbake.recipe.axes import UNIT_MM
from texbake.recipe.mistake import nearest, shown

MAX_BYTES = 1024 * 1024
MAX_NODES = 20_000
MAX_DEPTH = 20
MAX_KEY = 200
_LOOK = 500  # characters of a line that are searched: a hostile line can have a million

Scalar = None | bool | int | float | str

# YAML 1.2.2, section 10.3.2, tag resolution of the core schema.
_WORDS: dict[str, Scalar] = {
    **dict.fromkeys(("", "~", "null", "Null", "NULL")),
    **dict.fromkeys(("true", "True", "TRUE"), True),
    **dict.fromkeys(("false", "False", "FALSE"), False),
}
_INT = re.compile(r"[-+]?[0-9]{1,300}|0o[0-7]{1,300}|0x[0-9a-fA-F]{1,300}")
_FLOAT = re.compile(r"[-+]?(\.[0-9]+|[0-9]+(\.[0-9]*)?)([eE][-+]?[0-9]+)?")
_ENDLESS = re.compile(r"[-+]?\.(inf|Inf|INF)|\.(nan|NaN|NAN)")
_BARE_HEX = re.compile(r"(?:^|[\s:,\[{-])(#(?:[0-9a-fA-F]{6}|[0-9a-fA-F]{3}))\b")
# The same inside brackets, where the comment swallows the closing one and YAML breaks.
_BARE_IN_LINE = re.compile(
    r"""^(?:[^#"']|"[^"]*"|'[^']*')*?[\[{,:]\s+(#(?:[0-9a-fA-F]{6}|[0-9a-fA-F]{3}))\b"""
)
COMMA = "in { } a comma begins another key: several names stand in [ ], a text in quotes"
QUOTES = "put the colour in quotes ({}): without them YAML takes everything after # as a comment"


@dataclass(frozen=True, slots=True)
class Node:
    """One value of the file.

    Attributes
    ----------
    value : scalar, dict of str to Node, or list of Node
    line : int
        Line of the value, from 1.
    key_line : int
        Line of its key; of the value itself in a list.
    swallowed : str
        For an empty value: the colour that stands behind it as a comment.
    source : Path or None
        The file that it stands in, if that is not the recipe's.
    home : int
        The line of the recipe that brings it, if it stands in another file; else 0.
    place : str
        Where in its line it stands, for messages; empty if its path says so.
    """

    value: Any
    line: int
    key_line: int
    swallowed: str = ""
    source: Path | None = None
    home: int = 0
    place: str = ""


def with_value(node: Node, value: object) -> Node:
    """Return a node with another value; a quarter of the time that ``replace`` takes."""
    return Node(value, node.line, node.key_line, node.swallowed, node.source, node.home, node.place)


@dataclass(frozen=True, slots=True)
class Form:
    """What a kind of file is called, and what it has at least."""

    noun: str
    least: str
    begin: str


RECIPE = Form(
    "recipe",
    "write at least garment, mesh, fabric and colour",
    "begin with garment: NAME and mesh: FILE",
)


def plain(node: Node) -> Any:  # noqa: ANN401  # any YAML value
    """Return the values without their lines."""
    match node.value:
        case dict():
            return {k: plain(v) for k, v in node.value.items()}
        case list():
            return [plain(v) for v in node.value]
        case _:
            return node.value


def find(node: Node, at: tuple[int | str, ...]) -> Node | None:
    """Return the node at a path, or None."""
    for part in at:
        inside = node.value
        if isinstance(inside, list):
            inside = dict(enumerate(inside))
        if not isinstance(inside, dict) or part not in inside:
            return None
        node = inside[part]
    return node


def walk(
    node: Node, at: tuple[int | str, ...] = ()
) -> Iterator[tuple[tuple[int | str, ...], Node]]:
    """Yield every path and node below ``node``, in the order of the file."""
    yield at, node
    inner: Iterator[tuple[int | str, Node]] = iter(())
    if isinstance(node.value, dict):
        inner = iter(node.value.items())
    elif isinstance(node.value, list):
        inner = iter(enumerate(node.value))
    for part, below in inner:
        yield from walk(below, (*at, part))


def read_text(path: Path) -> str:
    """Return the text of a recipe file.

    Raises
    ------
    UserError
        Missing, a folder, too large, or not UTF-8.
    """
    if path.is_dir():
        fix = f"name a recipe; in that folder: {', '.join(_recipes_in(path)) or 'none'}"
        raise UserError("this is a folder", fix=fix, path=path)
    if path.suffix.lower() in UNIT_MM:
        fix = f"`texbake new {path}` writes a recipe for it"
        raise UserError("this is a mesh, not a recipe", fix=fix, path=path)
    try:
        with path.open("rb") as file:
            data = file.read(MAX_BYTES + 1)
    except FileNotFoundError:
        near = nearest(path.name, _recipes_in(path.parent))
        guess = "check the name" if near is None else f"did you mean {near!r}?"
        fix = f"{guess}{';' if near is None else ''} `texbake new MESH` writes a first recipe"
        raise UserError("there is no such file", fix=fix, path=path) from None
    except OSError as error:
        fix = "check that you may read it"
        raise UserError(f"cannot be read: {error.strerror}", fix=fix, path=path) from None
    return _decode(data, path)


def _recipes_in(folder: Path) -> list[str]:
    """Names of what may be recipes in a folder, sorted; none if it cannot be looked into."""
    try:
        return sorted(p.name for p in folder.iterdir() if p.suffix.lower() in {".yaml", ".yml"})
    except OSError:
        return []


def _decode(data: bytes, path: Path) -> str:
    if len(data) > MAX_BYTES:
        fix = "a recipe has at most 1 MiB; is this the right file?"
        raise UserError("the file is too large", fix=fix, path=path)
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        what = f"byte 0x{data[error.start]:02x} is not UTF-8"
        raise UserError(what, fix="save the file as UTF-8", path=path, line=line) from None


def parse(text: str, path: Path, *, form: Form = RECIPE) -> tuple[Node, list[UserError]]:
    """Return the tree of a recipe, and the keys in it that stand twice or are no text.

    ``form`` says what the file should have, for who left it out.

    Raises
    ------
    UserError
        Broken YAML, more than one document, no mapping at the top, or beyond the limits.
    """
    from ruamel.yaml import YAML
    from ruamel.yaml.error import MarkedYAMLError
    from ruamel.yaml.reader import ReaderError

    if len(text.encode()) > MAX_BYTES:
        _decode(text.encode(), path)
    try:
        events = YAML(typ="safe", pure=True).parse(text)
        builder = _Builder(events, text.splitlines(), path, form)
        return builder.document(), builder.problems
    except ReaderError as error:
        line = text.count("\n", 0, error.position) + 1
        found = chr(error.character) if isinstance(error.character, int) else error.character
        what = f"character {found!r} is not allowed in YAML"
        raise UserError(what, fix="delete it", path=path, line=line) from None
    except MarkedYAMLError as error:
        raise _broken(error, text.splitlines(), path) from None


def _broken(error: Any, lines: list[str], path: Path) -> UserError:  # noqa: ANN401  # ruamel's
    """Say what the parser met; a colour without quotes is the usual cause in ``{...}``."""
    mark = error.problem_mark or error.context_mark
    line = min(mark.line, max(len(lines) - 1, 0)) + 1
    for k in range(line, 0, -1):
        if lines and (found := _BARE_IN_LINE.search(lines[k - 1])):
            fix = QUOTES.format(f'"{found[1]}"')
            return UserError(f"{found[1]} has no quotes", fix=fix, path=path, line=k)
    what = f"this is not YAML: {error.problem or error.context}"
    fix = "check colons, brackets, quotes and indentation here and in the line before"
    if lines and re.search(r":\s*\{\w+\}\S", lines[line - 1][:_LOOK]):
        fix = "put the text in quotes: without them { begins a mapping"
    elif "expected <block end>" in what:
        what = "this line does not follow from those before it"
        fix = "begin it exactly below the first letter of the key that it belongs with"
    if "\\t" in what or "\t" in (lines[line - 1] if lines else ""):
        fix = "indent with spaces: YAML does not allow tabs there"
    return UserError(what, fix=fix, path=path, line=line)


@dataclass(slots=True)
class _Builder:
    """Turns the parser's events into nodes, counting as it goes."""

    events: Iterator[Any]
    lines: list[str]
    path: Path
    form: Form
    problems: list[UserError] = field(default_factory=list)
    anchors: dict[str, tuple[Node, int]] = field(default_factory=dict)
    nodes: int = 0

    def document(self) -> Node:
        """Read the one document of the file."""
        next(self.events)
        event = next(self.events)
        if type(event).__name__ != "DocumentStartEvent":
            what = f"the {self.form.noun} is empty"
            raise UserError(what, fix=self.form.least, path=self.path, line=1)
        root = self.node(next(self.events), 0, None)
        next(self.events)
        if type(after := next(self.events)).__name__ == "DocumentStartEvent":
            self.fail("a second document begins", "keep one recipe a file: take the --- out", after)
        if root.value is None:
            what = f"the {self.form.noun} is empty"
            raise UserError(what, fix=self.form.least, path=self.path, line=1)
        if not isinstance(root.value, dict):
            what = f"a {self.form.noun} is a mapping of keys, not {shown(plain(root))}"
            raise UserError(what, fix=self.form.begin, path=self.path, line=root.line)
        return root

    def fail(self, what: str, fix: str, event: Any) -> None:  # noqa: ANN401  # ruamel's
        """Stop here."""
        line = event.start_mark.line + 1
        raise UserError(what, fix=fix, path=self.path, line=line)

    def node(self, event: Any, depth: int, key_line: int | None) -> Node:  # noqa: ANN401
        """Read one value and all below it."""
        self.count(1, event)
        if depth > MAX_DEPTH:
            self.fail("nested too deeply", f"a recipe has at most {MAX_DEPTH} levels", event)
        kind, line = type(event).__name__, event.start_mark.line + 1
        if kind == "AliasEvent":
            return self.alias(event, key_line or line)
        if event.tag is not None:
            self.fail(f"tag {event.tag!r}", "leave it out: recipes have no tags", event)
        before, key_line = self.nodes, key_line or line
        if kind == "MappingStartEvent":
            node = Node(self.mapping(depth), line, key_line)
        elif kind == "SequenceStartEvent":
            node = Node(self.sequence(depth), line, key_line)
        else:
            node = self.scalar(event, key_line)
        if event.anchor is not None:
            self.anchors[event.anchor] = node, self.nodes - before + 1
        return node

    def count(self, more: int, event: Any) -> None:  # noqa: ANN401  # ruamel's
        """Add to the number of values, aliases counted as what they stand for."""
        self.nodes += more
        if self.nodes > MAX_NODES:
            fix = f"a recipe has at most {MAX_NODES} values, what aliases (*) repeat included"
            self.fail("too many values", fix, event)

    def alias(self, event: Any, key_line: int) -> Node:  # noqa: ANN401  # ruamel's
        """Return the node that an alias repeats."""
        if event.anchor not in self.anchors:
            fix = f"write &{event.anchor} in front of a value that ends before this line"
            self.fail(f"*{event.anchor} repeats nothing", fix, event)
        node, size = self.anchors[event.anchor]
        self.count(size, event)
        return Node(node.value, key_line, key_line)

    def sequence(self, depth: int) -> list[Node]:
        """Read the items up to the end of the list."""
        items = []
        while type(event := next(self.events)).__name__ != "SequenceEndEvent":
            items.append(self.node(event, depth + 1, None))
        return items

    def mapping(self, depth: int) -> dict[str, Node]:
        """Read keys and values up to the end of the mapping; of a double key the first holds."""
        items: dict[str, Node] = {}
        while type(event := next(self.events)).__name__ != "MappingEndEvent":
            key = self.node(event, depth + 1, None)
            value = self.node(next(self.events), depth + 1, key.line)
            fits = isinstance(key.value, str) and len(key.value) <= MAX_KEY
            if fits and key.value not in items:
                items[key.value] = value
            else:
                self.problems.append(self.bad_key(key, items))
        return items

    def bad_key(self, key: Node, items: Mapping[str, Node]) -> UserError:
        """Say why a key cannot stand."""
        if isinstance(key.value, str) and len(key.value) > MAX_KEY:
            fix = f"a key has at most {MAX_KEY} characters"
            what = f"key {shown(key.value)} is too long"
            return UserError(what, fix=fix, path=self.path, line=key.line)
        if isinstance(key.value, str):
            what = f"key {key.value!r} stands twice, first in line {items[key.value].key_line}"
            return UserError(what, fix="keep one of them", path=self.path, line=key.line)
        what = f"a key must be text, not {shown(plain(key))}"
        fix = f"put it in quotes; {COMMA}"
        if isinstance(key.value, (dict, list)):
            fix = "write a word"
        if key.value is None:
            fix = QUOTES.format(f'"{key.swallowed}"') if key.swallowed else "write a word"
        return UserError(what, fix=fix, path=self.path, line=key.line)

    def scalar(self, event: Any, key_line: int) -> Node:  # noqa: ANN401  # ruamel's
        """Read a scalar; an empty one is marked at the next token, so its line is looked for."""
        if event.style is not None:
            return Node(event.value, event.start_mark.line + 1, key_line)
        value = resolve(event.value)
        if event.value:
            return Node(value, event.start_mark.line + 1, key_line)
        line = self.home(event.start_mark.line, event.start_mark.column)
        found = _BARE_HEX.search(self.lines[line - 1][:_LOOK]) if line <= len(self.lines) else None
        return Node(value, line, min(line, key_line), found[1] if found else "")

    def home(self, line: int, column: int) -> int:
        """Return the line, from 1, of the last text before a place."""
        if line < len(self.lines) and self.lines[line][max(column - _LOOK, 0) : column].strip():
            return line + 1
        for k in range(min(line, len(self.lines)) - 1, -1, -1):
            text = self.lines[k].strip()
            if text and not text.startswith("#"):
                return k + 1
        return line + 1


def resolve(text: str) -> Scalar:
    """Return what an unquoted scalar means.

    >>> resolve("on"), resolve("0x10"), resolve("1.5"), resolve("true"), resolve("~")
    ('on', 16, 1.5, True, None)
    """
    if text in _WORDS:
        return _WORDS[text]
    if _INT.fullmatch(text):
        return int(text, 0) if text.startswith(("0x", "0o")) else int(text)
    if _FLOAT.fullmatch(text):
        return float(text)
    return float(text.replace(".", "")) if _ENDLESS.fullmatch(text) else text
